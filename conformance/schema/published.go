package schema

import (
	"bytes"
	"embed"
	"strconv"
	"strings"
	"sync"

	"github.com/santhosh-tekuri/jsonschema/v5"

	"weir.example/weir/mapping/element"
)

//go:embed *.schema.json
var published embed.FS

// Published gives the text of one of our JSON Schemas, and false when there
// is none of that name: worksheet (the answer of the program), codes (the
// table of finding codes), drug, hazards, solutes, devices, access, sterility,
// pairs, interactions and allergies (the reference tables), kit and tasks (the
// tables of fulfillment), policy (a site's settings).
func Published(name string) ([]byte, bool) {
	text, err := published.ReadFile(name + ".schema.json")
	return text, err == nil
}

// Names lists our schemas, sorted.
func Names() []string {
	entries, _ := published.ReadDir(".") // an embedded folder can be read
	names := make([]string, 0, len(entries))
	for _, e := range entries {
		names = append(names, strings.TrimSuffix(e.Name(), ".schema.json"))
	}
	return names
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
