package terminal

import (
	"fmt"
	"io"
	"strings"

	"weir.example/weir/adapter"
)

// NewTable writes answers one after the other as Table does; of a line of a
// file it says which line it is.
func NewTable(out io.Writer, color bool) adapter.Writer { return &tableWriter{out: out, color: color} }

type tableWriter struct {
	out   io.Writer
	color bool
	some  bool
}

func (t *tableWriter) Prepare(r adapter.Row) []byte {
	if len(r.Faults) == 0 && len(r.Worksheets) == 0 {
		return nil
	}
	p := &page{color: t.color}
	if r.Line > 0 {
		p.line(clean(fmt.Sprintf("line %d of %s", r.Line, r.File)))
	}
	return []byte(p.b.String() + Table([]adapter.Answer{r.Answer}, t.color))
}

func (t *tableWriter) Write(r adapter.Row) error {
	if r.Text == nil {
		r.Text = t.Prepare(r)
	}
	if len(r.Text) == 0 {
		return nil
	}
	if t.some {
		r.Text = append([]byte("\n"+strings.Repeat("=", width)+"\n"), r.Text...)
	}
	t.some = true
	_, err := t.out.Write(r.Text)
	return err
}

func (t *tableWriter) Close() error { return nil }
