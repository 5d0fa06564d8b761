package schema

import (
	"bytes"
	"embed"
	"encoding/json"
	"slices"
	"strconv"
	"strings"
	"sync"

	"github.com/santhosh-tekuri/jsonschema/v5"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
)

//go:embed *.schema.json
var published embed.FS

// Published gives the text of one of our JSON Schemas, and false when there
// is none of that name: worksheet (the answer of the program), codes (the
// table of finding codes), drugs and hazards (the reference tables).
func Published(name string) ([]byte, bool) {
	text, err := published.ReadFile(name + ".schema.json")
	return text, err == nil
}

// Names lists our schemas.
func Names() []string {
	entries, _ := published.ReadDir(".") // an embedded folder can be read
	names := make([]string, 0, len(entries))
	for _, e := range entries {
		names = append(names, strings.TrimSuffix(e.Name(), ".schema.json"))
	}
	return names
}

// Validate judges data of our own by the schema of that name, with line and
// column of each fault. None means the data is as published. An unknown name
// is itself a finding: nothing was checked.
func Validate(name string, data []byte) []finding.Finding {
	compile, known := compiled()[name]
	if !known {
		return []finding.Finding{own(finding.Place{Expression: "$this", Line: 1, Column: 1}, "document-unsupported", "the name "+token(name),
			"one of "+strings.Join(Names(), ", "), "there is no schema of that name; nothing was checked")}
	}
	d, _ := element.Read(data, element.Limit{}) // for places; its rules on resources are not asked
	decoder := json.NewDecoder(bytes.NewReader(data))
	decoder.UseNumber()
	var v any
	if err := decoder.Decode(&v); err != nil || decoder.More() {
		return []finding.Finding{own(finding.Place{Expression: "$this", Line: 1, Column: 1}, "document-json", "text that is no JSON", "one JSON value", "the data is no JSON")}
	}
	err := compile().Validate(v)
	if err == nil {
		return nil
	}
	var out []finding.Finding
	for _, e := range leaves(err) {
		at := locate(d.Root(), e.InstanceLocation)
		out = append(out, own(at.Place(), "document-structure", "what breaks "+strings.TrimPrefix(e.KeywordLocation, "/"), "data that fits the schema "+name, e.Message))
	}
	finding.Sort(out)
	return slices.CompactFunc(out, func(a, b finding.Finding) bool { return a.Place == b.Place && a.Detail == b.Detail })
}

func own(p finding.Place, code finding.Code, observed, expected, detail string) finding.Finding {
	return finding.Finding{Code: code, Place: p, Observed: observed, Expected: expected,
		Remedy: "Correct the file at the line and column named.", Detail: detail, Diagnostic: detail}
}

// compiled are the schemas, each compiled when it is first asked.
var compiled = sync.OnceValue(func() map[string]func() *jsonschema.Schema {
	schemas := map[string]func() *jsonschema.Schema{}
	for _, name := range Names() {
		schemas[name] = sync.OnceValue(func() *jsonschema.Schema {
			text, _ := Published(name)
			c := jsonschema.NewCompiler()
			c.Draft = jsonschema.Draft2020
			if err := c.AddResource(name, bytes.NewReader(text)); err != nil {
				panic(err) // a fault of this build, caught by the first test
			}
			return c.MustCompile(name)
		})
	}
	return schemas
})

// leaves gives the faults at the bottom of the validator's tree.
func leaves(err error) []*jsonschema.ValidationError {
	e, ok := err.(*jsonschema.ValidationError)
	if !ok {
		return []*jsonschema.ValidationError{{Message: err.Error()}}
	}
	if len(e.Causes) == 0 {
		return []*jsonschema.ValidationError{e}
	}
	var out []*jsonschema.ValidationError
	for _, c := range e.Causes {
		out = append(out, leaves(c)...)
	}
	return out
}

// locate follows a JSON Pointer (RFC 6901) as far as it leads.
func locate(n element.Node, pointer string) element.Node {
	for part := range strings.SplitSeq(strings.TrimPrefix(pointer, "/"), "/") {
		part = strings.NewReplacer("~1", "/", "~0", "~").Replace(part)
		next := n.Get(part)
		if i, err := strconv.Atoi(part); err == nil && n.Kind() == element.Array {
			next = n.At(i)
		}
		if !next.Exists() {
			break
		}
		n = next
	}
	return n
}
