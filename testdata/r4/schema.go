// Package r4 judges resources by the official JSON Schema of FHIR R4, in
// tests (https://hl7.org/fhir/R4/json.html#schema).
package r4

import (
	"bytes"
	"compress/gzip"
	_ "embed"
	"encoding/json"
	"fmt"
	"io"
	"sync"

	"github.com/santhosh-tekuri/jsonschema/v5"
)

//go:embed fhir.schema.json.gz
var file []byte

const address = "http://hl7.org/fhir/json-schema/4.0"

var (
	compiler = sync.OnceValue(func() *jsonschema.Compiler {
		r, err := gzip.NewReader(bytes.NewReader(file))
		if err != nil {
			panic(err)
		}
		data, err := io.ReadAll(r)
		if err != nil {
			panic(err)
		}
		c := jsonschema.NewCompiler()
		c.Draft = jsonschema.Draft6 // the file's key is `id`, so it is added under that address
		if err := c.AddResource(address, bytes.NewReader(data)); err != nil {
			panic(err)
		}
		return c
	})
	mutex    sync.Mutex
	compiled = map[string]*jsonschema.Schema{}
)

func of(kind string) (*jsonschema.Schema, error) {
	mutex.Lock()
	defer mutex.Unlock()
	if s, ok := compiled[kind]; ok {
		return s, nil
	}
	s, err := compiler().Compile(address + "#/definitions/" + kind)
	if err == nil {
		compiled[kind] = s
	}
	return s, err
}

// Errors lists what the schema has against a document: each resource of a
// Bundle and each contained one is judged alone, the container without them,
// because the schema's choice over 146 types answers nothing useful.
func Errors(document []byte) []string {
	d := json.NewDecoder(bytes.NewReader(document))
	d.UseNumber()
	var v map[string]any
	if err := d.Decode(&v); err != nil {
		return []string{err.Error()}
	}
	return judge(v)
}

func judge(v map[string]any) []string {
	var out []string
	kind, _ := v["resourceType"].(string)
	if list, ok := v["contained"].([]any); ok {
		delete(v, "contained")
		for _, c := range list {
			if r, ok := c.(map[string]any); ok {
				out = append(out, judge(r)...)
			}
		}
	}
	if list, ok := v["entry"].([]any); ok && kind == "Bundle" {
		for _, e := range list {
			entry, _ := e.(map[string]any)
			if r, ok := entry["resource"].(map[string]any); ok {
				delete(entry, "resource")
				out = append(out, judge(r)...)
			}
		}
	}
	s, err := of(kind)
	if err != nil {
		return append(out, fmt.Sprintf("%s: %v", kind, err))
	}
	if err := s.Validate(v); err != nil {
		out = append(out, fmt.Sprintf("%s: %v", kind, err))
	}
	return out
}
