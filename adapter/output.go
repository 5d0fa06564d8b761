package adapter

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"unicode"
	"unicode/utf16"

	"weir.example/weir/conformance"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/r4"
	"weir.example/weir/mapping/worksheet"
)

// About says which program and standards this is.
func About() map[string]string {
	return map[string]string{"version": conformance.Version, "fhirVersion": "4.0.1"}
}

// marshal writes JSON without escaping for HTML and with a newline. The
// types are our own and always encode.
func marshal(v any, indent string) []byte { return encoded(v, "", indent) }

// marshalAt writes JSON for people, all lines but the first moved in.
func marshalAt(v any, prefix string) []byte { return encoded(v, prefix, "  ") }

func encoded(v any, prefix, indent string) []byte {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent(prefix, indent)
	if err := e.Encode(v); err != nil {
		panic(err) // a fault of this build: only plain values are encoded
	}
	return visible(b.Bytes())
}

// visible writes the characters that a screen obeys instead of shows (the
// controls that JSON allows unescaped, and those that turn the direction of
// text) as escapes. In JSON such a character can only stand in a string, so
// the value stays the same.
func visible(text []byte) []byte {
	first := bytes.IndexFunc(text, func(r rune) bool { return r >= 0x7f })
	if first < 0 {
		return text // most answers: nothing to look at
	}
	out := append(make([]byte, 0, len(text)+len(text)/16), text[:first]...)
	for _, r := range string(text[first:]) {
		if r < 0x7f {
			out = append(out, byte(r))
			continue
		}
		obeyed := unicode.IsControl(r) || unicode.In(r, unicode.Cf, unicode.Zl, unicode.Zp)
		switch {
		case !obeyed:
			out = append(out, string(r)...)
		case r > 0xffff:
			high, low := utf16.EncodeRune(r)
			out = fmt.Appendf(out, `\u%04x\u%04x`, high, low)
		default:
			out = fmt.Appendf(out, `\u%04x`, r)
		}
	}
	return out
}

// Writer writes answers one after the other. Each is whole in the stream once
// Write returns; nothing of it is kept but what Close must still write.
// Prepare may be called by several goroutines at once, for Row.Text; it gives
// nil where an answer cannot be encoded without those before it.
type Writer interface {
	Prepare(Row) []byte
	Write(Row) error
	Close() error
}

// NewWriter writes fhir, worksheet or ndjson (the outside contract's outputs):
// as R4 an OperationOutcome for a refused document, else the Bundle of its
// orders; as worksheets one object for one order, an array for several, one a
// line in input order.
// Several says that more than one document comes, so that FHIR is written a
// line each and a line that failed names its file.
func NewWriter(out io.Writer, output string, several bool) Writer {
	switch output {
	case "worksheet":
		return &sheetWriter{out: out, several: several}
	case "ndjson":
		return &lineWriter{out: out, several: several}
	}
	return &fhirWriter{out: out, several: several}
}

// failed stands in the place of a document or a line that was refused.
type failed struct {
	File     string          `json:"file,omitempty"`
	Document int             `json:"document,omitempty"`
	Line     int             `json:"line,omitempty"`
	Outcome  json.RawMessage `json:"outcome"`
}

func (r Row) failed(several bool) failed {
	f := failed{Line: r.Line, Outcome: r4.WriteOutcome(r.Faults)}
	if r.Line > 0 && (several || r.Folder) {
		f.File = r.File
	}
	return f
}

// lineWriter writes one worksheet a line. A document that failed gives a line
// too: the number of the line it stood in, or of the document.
type lineWriter struct {
	out     io.Writer
	several bool
}

func (w *lineWriter) Prepare(r Row) []byte {
	var text []byte
	if len(r.Faults) > 0 {
		f := r.failed(w.several)
		if f.Line == 0 {
			f.Line = r.Document
		}
		text = marshal(f, "")
	}
	for _, s := range r.Worksheets {
		text = append(text, marshal(s, "")...)
	}
	return text
}

func (w *lineWriter) Write(r Row) error {
	if r.Text == nil {
		r.Text = w.Prepare(r)
	}
	return put(w.out, r.Text)
}

func (w *lineWriter) Close() error { return nil }

// put writes all at once, so that what is interrupted ends between values.
func put(out io.Writer, text []byte) error {
	if len(text) == 0 {
		return nil
	}
	_, err := out.Write(text)
	return err
}

// sheetWriter writes an array once there are two values, else the one alone.
type sheetWriter struct {
	out     io.Writer
	several bool
	first   func(indent string) []byte // the first value, as long as it is the only one
	many    bool
}

func (w *sheetWriter) Prepare(Row) []byte { return nil }

func (w *sheetWriter) Write(r Row) error {
	if len(r.Faults) > 0 {
		f := r.failed(w.several)
		if f.Line == 0 {
			f.Document = r.Document
		}
		err := w.add(func(indent string) []byte {
			if indent == "" && !w.several && r.Line == 0 {
				return visible(r4.WriteOutcome(r.Faults)) // a refused document alone
			}
			return marshalAt(f, indent)
		})
		if err != nil {
			return err
		}
	}
	for _, s := range r.Worksheets {
		if err := w.add(func(indent string) []byte { return marshalAt(s, indent) }); err != nil {
			return err
		}
	}
	return nil
}

func (w *sheetWriter) add(value func(indent string) []byte) error {
	if w.first == nil && !w.many {
		w.first = value
		return nil
	}
	var text []byte
	if !w.many {
		w.many = true
		text = append([]byte("[\n  "), bytes.TrimSuffix(w.first("  "), []byte("\n"))...)
		w.first = nil
	}
	text = append(text, ",\n  "...)
	return put(w.out, append(text, bytes.TrimSuffix(value("  "), []byte("\n"))...))
}

func (w *sheetWriter) Close() error {
	switch {
	case w.many:
		return put(w.out, []byte("\n]\n"))
	case w.first != nil:
		return put(w.out, w.first(""))
	}
	return nil
}

// fhirWriter writes one value for one document, NDJSON for several or for the
// lines of a file. A folder is one document: its value is written when the
// last of it is there.
type fhirWriter struct {
	out     io.Writer
	several bool
	folder  []worksheet.Worksheet
	faults  []finding.Finding
	more    int
	open    int // the document that is a folder, 0 for none
}

// mostOutcomes bounds the faults of a folder that its one Bundle repeats.
const mostOutcomes = 1_000

func (w *fhirWriter) Prepare(r Row) []byte {
	line := w.several || r.Line > 0
	switch {
	case r.Folder:
		return nil
	case len(r.Faults) > 0 && line:
		return visible(r4.WriteOutcomeLine(r.Faults))
	case len(r.Faults) > 0:
		return visible(r4.WriteOutcome(r.Faults))
	case line:
		return visible(r4.WriteBundlesLine(r.Worksheets))
	}
	return visible(r4.WriteBundles(r.Worksheets))
}

func (w *fhirWriter) Write(r Row) error {
	if w.open > 0 && (!r.Folder || r.Document != w.open) {
		if err := w.flush(); err != nil {
			return err
		}
	}
	if r.Folder {
		w.open = r.Document
		w.folder = append(w.folder, r.Worksheets...)
		w.gather(r)
		return nil
	}
	if r.Text == nil {
		r.Text = w.Prepare(r)
	}
	return put(w.out, r.Text)
}

func (w *fhirWriter) gather(r Row) {
	for _, f := range r.Faults {
		if len(w.faults) == mostOutcomes {
			w.more++
			continue
		}
		if r.Line > 0 {
			f.Detail = fmt.Sprintf("line %d of %s: %s", r.Line, r.File, f.Detail)
		}
		w.faults = append(w.faults, f)
	}
}

func (w *fhirWriter) flush() error {
	if w.more > 0 {
		w.faults = append(w.faults, finding.Finding{Code: "document-limit", Place: w.faults[0].Place, Observed: fmt.Sprintf("%d more faults", w.more),
			Expected: "a folder without faults", Detail: "the folder has more faults than are listed here", Remedy: "Read them with --output ndjson."})
	}
	text := r4.WriteSet(w.folder, w.faults, w.several)
	w.open, w.folder, w.faults, w.more = 0, nil, nil, 0
	return put(w.out, visible(text))
}

func (w *fhirWriter) Close() error {
	if w.open == 0 {
		return nil
	}
	return w.flush()
}
