// Package faults holds orders with exactly one fault each, as edits of a
// valid FHIR R4 Bundle (https://hl7.org/fhir/R4/bundle.html), for tests only.
// README.md describes the file. The folder is named testdata, so `./...`
// passes it by.
package faults

import (
	"bytes"
	_ "embed"
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"weir.example/weir/testdata/orders"
)

//go:embed faults.tsv
var file string

// Base is the valid order that every fault is an edit of.
const Base = "s1-cefazolin-elastomeric"

// Fault is one document: where the fault is listed, what it is, the edit that
// makes it, the finding code expected and how its expression ends.
type Fault struct{ Source, Name, Edit, Code, Place string }

// All gives every fault, in the order of the file.
func All() ([]Fault, error) {
	var out []Fault
	for line := range strings.Lines(file) {
		if strings.HasPrefix(line, "#") {
			continue
		}
		f := strings.Split(strings.TrimRight(line, "\n"), "\t")
		if len(f) != 5 {
			return nil, fmt.Errorf("faults.tsv: %d columns, want 5: %s", len(f), line)
		}
		out = append(out, Fault{f[0], f[1], f[2], f[3], f[4]})
	}
	return out, nil
}

// Valid is the order without any fault.
func Valid() ([]byte, error) {
	f, err := orders.Load(Base)
	return f.Document, err
}

// Document makes the document. An edit that changes nothing is an error.
func (f Fault) Document() ([]byte, error) {
	valid, err := Valid()
	if err != nil {
		return nil, err
	}
	if change, ok := strings.CutPrefix(f.Edit, "text "); ok {
		return replace(valid, change)
	}
	edit := strings.Replace(f.Edit, " MR ", " MedicationRequest/mr-cefazolin ", 1)
	x, err := orders.Variant(strings.ReplaceAll(f.Name, " ", "-"), "why: one fault\nbase: "+Base+"\n"+spell(edit)+"\nexpect refused "+f.Code+"\n")
	if err != nil {
		return nil, fmt.Errorf("%s: %w", f.Name, err)
	}
	return x.Document, nil
}

func replace(valid []byte, change string) ([]byte, error) {
	old, now, found := strings.Cut(" "+change, " => ")
	if !found {
		return nil, fmt.Errorf("no arrow in %q", change)
	}
	old, now = spell(strings.TrimPrefix(old, " ")), spell(now)
	switch old {
	case "":
		return append([]byte(now), valid...), nil
	case "$":
		return append(valid, now...), nil
	case "*":
		return []byte(now), nil
	}
	if !bytes.Contains(valid, []byte(old)) || old == now {
		return nil, fmt.Errorf("nothing to replace: %q", old)
	}
	return bytes.Replace(valid, []byte(old), []byte(now), 1), nil
}

var (
	escaped  = regexp.MustCompile(`\\x[0-9A-F]{2}|\\n`)
	repeated = regexp.MustCompile(`<<(\d+)\*(.*?)>>`)
)

// spell writes out line ends, bytes and repetitions.
func spell(s string) string {
	s = repeated.ReplaceAllStringFunc(s, func(m string) string {
		part := repeated.FindStringSubmatch(m)
		n, err := strconv.Atoi(part[1])
		if err != nil {
			return m
		}
		return strings.Repeat(part[2], n)
	})
	return escaped.ReplaceAllStringFunc(s, func(m string) string {
		if m == `\n` {
			return "\n"
		}
		b, err := strconv.ParseUint(m[2:], 16, 8)
		if err != nil {
			return m
		}
		return string([]byte{byte(b)})
	})
}
