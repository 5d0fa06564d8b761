package adapter

import (
	"bytes"
	"encoding/json"
	"fmt"
	"unicode"
	"unicode/utf16"

	"weir.example/weir/conformance"
	"weir.example/weir/mapping/r4"
)

// About says which program and standards this is.
func About() map[string]string {
	return map[string]string{"version": conformance.Version, "fhirVersion": "4.0.1"}
}

// FHIR writes the answers as R4: an OperationOutcome for a refused document,
// else the Bundle of its orders. Several documents give NDJSON: one value a
// line, in input order.
func FHIR(answers []Answer) []byte {
	outcome, bundles := r4.WriteOutcome, r4.WriteBundles
	if len(answers) > 1 {
		outcome, bundles = r4.WriteOutcomeLine, r4.WriteBundlesLine
	}
	var out bytes.Buffer
	for _, a := range answers {
		if len(a.Faults) > 0 {
			out.Write(outcome(a.Faults))
			continue
		}
		out.Write(bundles(a.Worksheets))
	}
	return visible(out.Bytes())
}

// failed stands in the place of a document that was refused.
type failed struct {
	Document int             `json:"document"`
	Outcome  json.RawMessage `json:"outcome"`
}

// Worksheets writes one object for one order, an array for several. A
// refused document alone gives its OperationOutcome.
func Worksheets(answers []Answer) []byte {
	if len(answers) == 1 && len(answers[0].Faults) > 0 {
		return visible(r4.WriteOutcome(answers[0].Faults))
	}
	var list []any
	for i, a := range answers {
		if len(a.Faults) > 0 {
			list = append(list, failed{i + 1, r4.WriteOutcome(a.Faults)})
		}
		for _, w := range a.Worksheets {
			list = append(list, w)
		}
	}
	if len(list) == 1 {
		return marshal(list[0], "  ")
	}
	return marshal(list, "  ")
}

// Lines writes one worksheet a line, in input order.
func Lines(answers []Answer) []byte {
	var out bytes.Buffer
	for i, a := range answers {
		if len(a.Faults) > 0 {
			out.Write(marshal(struct {
				Line    int             `json:"line"`
				Outcome json.RawMessage `json:"outcome"`
			}{i + 1, r4.WriteOutcome(a.Faults)}, ""))
		}
		for _, w := range a.Worksheets {
			out.Write(marshal(w, ""))
		}
	}
	return out.Bytes()
}

// marshal writes JSON without escaping for HTML and with a newline. The
// types are our own and always encode.
func marshal(v any, indent string) []byte {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", indent)
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
	out := make([]byte, 0, len(text))
	for _, r := range string(text) {
		obeyed := r >= 0x7f && unicode.IsControl(r) || unicode.In(r, unicode.Cf, unicode.Zl, unicode.Zp)
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
