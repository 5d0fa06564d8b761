// Package morning makes of the lines of a night what a pharmacy's staff read
// first in the morning: how many orders, what is new, every order that must
// not go on, worst first, and who calls whom by when; then what is only warned
// of, and the lines that could not be read. As a table, as a page to print, as
// FHIR, and as a page of the server. It judges nothing: every word about an
// order is the night's.
package morning

import (
	"bytes"
	"io"
	"time"

	"weir.example/weir/adapter"
)

// Formats are the forms that New writes.
const (
	Table  = "table"
	HTML   = "html"
	FHIR   = "fhir"
	NDJSON = "ndjson"
)

// Options say how a report is written.
type Options struct {
	Name  string         // of the pharmacy
	Zone  *time.Location // of the pharmacy; nil: times stand as the night wrote them
	Color bool           // of a table
	// Most bounds the orders that are shown with a block or a hold, and those
	// with warnings: 500. What there is no room for is counted.
	Most int
	// Store holds the resources of a Bundle, and Base is the address before
	// their type and id.
	Store adapter.Store
	Base  string
}

// canonical is the base of our own resources when no server has them.
const canonical = "https://weir.example/fhir"

// New takes the lines of a night through Write and writes its report to out,
// at the latest when it is closed. Only what is shown is kept in memory. A
// form that is not known is written as the lines are.
func New(out io.Writer, format string, o Options) io.WriteCloser {
	if o.Most < 1 {
		o.Most = 500
	}
	if o.Base == "" {
		o.Base = canonical
	}
	switch format {
	case Table, HTML:
		c := &collector{most: o.Most}
		return &lines{take: c.take, end: func() error {
			r := c.report(o)
			text := table(r, o.Color)
			if format == HTML {
				var err error
				if text, err = printed(r); err != nil {
					return err
				}
			}
			_, err := out.Write(text)
			return err
		}}
	case FHIR:
		b := &bundle{out: out, o: o}
		return &lines{take: b.take, end: b.end}
	}
	return plain{out}
}

// plain writes the lines as they come.
type plain struct{ io.Writer }

func (plain) Close() error { return nil }

// lines cuts what is written into lines, however it comes.
type lines struct {
	rest []byte
	take func(line []byte) error
	end  func() error
}

func (l *lines) Write(p []byte) (int, error) {
	n := len(p)
	for {
		at := bytes.IndexByte(p, '\n')
		if at < 0 {
			l.rest = append(l.rest, p...)
			return n, nil
		}
		line := p[:at]
		if len(l.rest) > 0 {
			line = append(l.rest, line...)
			l.rest = nil
		}
		p = p[at+1:]
		if err := l.take(line); err != nil {
			return 0, err
		}
	}
}

func (l *lines) Close() error {
	if len(l.rest) > 0 {
		if err := l.take(l.rest); err != nil {
			return err
		}
	}
	return l.end()
}
