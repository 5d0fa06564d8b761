package schema

import (
	"bytes"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"weir.example/weir/mapping/element"
)

// Own judges a file of ours by the schema of its kind: drug, hazards, codes,
// kit, tasks, worksheet in JSON, policy in YAML (of which JSON is a part).
// Numbers are compared as written, never through a binary one. The error is
// an *OwnError; an unknown kind is one too, since nothing was checked.
func Own(name string, data []byte) error {
	compile, known := compiled()[name]
	if !known {
		return &OwnError{[]Fault{{File: name, Problem: "there is no schema of that name, so nothing was checked", Expected: "one of " + strings.Join(Names(), ", ")}}}
	}
	value, place, fault := readOwn(name, data)
	if fault != nil {
		fault.File = name
		return &OwnError{[]Fault{*fault}}
	}
	err := compile().Validate(value)
	if err == nil {
		return nil
	}
	text, _ := Published(name)
	rules, _ := decodeOwn(text) // it was compiled from the same text
	var out []Fault
	for _, leaf := range leaves(err) {
		for _, f := range ownFaults(leaf, rules, value) {
			f.File = name
			f.Line, f.Column = place(f.Pointer)
			out = append(out, f)
		}
	}
	slices.SortFunc(out, compareFaults)
	return &OwnError{slices.Compact(deepest(out))}
}

// readOwn reads the file and tells how to find a pointer's line and column.
func readOwn(name string, data []byte) (any, func(string) (line, column int), *Fault) {
	if name == "policy" {
		return readSettings(data)
	}
	value, err := decodeOwn(data)
	if err != nil {
		return nil, nil, &Fault{Line: 1, Column: 1, Problem: "the text is no JSON: " + err.Error(), Expected: "one JSON value"}
	}
	d, faults := element.Read(data, element.Limit{})
	for _, f := range faults {
		if name == "worksheet" && f.Expected == element.FewFaults {
			continue // empty texts, which R4 forbids and our own output has
		}
		switch f.Code {
		case "document-json": // a name that stands twice; of two values one would win by chance
			return nil, nil, &Fault{Line: f.Place.Line, Column: f.Place.Column, Problem: f.Detail, Expected: "strict JSON"}
		case "document-limit": // a number that the validator would reckon with for hours
			return nil, nil, &Fault{Line: f.Place.Line, Column: f.Place.Column, Problem: f.Detail, Expected: f.Expected}
		}
	}
	return value, func(pointer string) (int, int) {
		p := locate(d.Root(), pointer).Place()
		return p.Line, p.Column
	}, nil
}

func decodeOwn(data []byte) (any, error) {
	d := json.NewDecoder(bytes.NewReader(data))
	d.UseNumber()
	var v any
	if err := d.Decode(&v); err != nil {
		return nil, err
	}
	if d.More() {
		return nil, fmt.Errorf("something follows the first value")
	}
	return v, nil
}
