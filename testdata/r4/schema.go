// Package r4 judges resources by the JSON schema of FHIR R4
// (https://hl7.org/fhir/R4/json.html#schema), for tests only. README.md
// tells where the schema comes from and what it does not see. The folder is
// named testdata, so `./...` passes it by.
package r4

import (
	"bytes"
	"compress/gzip"
	_ "embed"
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"strings"
	"sync"

	"github.com/santhosh-tekuri/jsonschema/v5"
)

//go:embed fhir.schema.json.gz
var packed []byte

const address = "http://hl7.org/fhir/json-schema/4.0"

// Schema is the text of the schema.
var Schema = sync.OnceValues(func() ([]byte, error) {
	r, err := gzip.NewReader(bytes.NewReader(packed))
	if err != nil {
		return nil, err
	}
	return io.ReadAll(r)
})

type judge struct {
	mu       sync.Mutex
	compiler *jsonschema.Compiler
	known    map[string]*jsonschema.Schema
	types    map[string]bool
}

// The root of the schema is a choice of 146 types whose verdict says nothing,
// so each type is compiled alone, when it is first met.
var shared = sync.OnceValues(func() (*judge, error) {
	text, err := Schema()
	if err != nil {
		return nil, err
	}
	var head struct {
		Discriminator struct{ Mapping map[string]string }
	}
	if err := json.Unmarshal(text, &head); err != nil {
		return nil, err
	}
	j := &judge{compiler: jsonschema.NewCompiler(), known: map[string]*jsonschema.Schema{}, types: map[string]bool{}}
	for name := range head.Discriminator.Mapping {
		j.types[name] = true
	}
	j.compiler.Draft = jsonschema.Draft6
	return j, j.compiler.AddResource(address, bytes.NewReader(text))
})

func (j *judge) schema(name string) (*jsonschema.Schema, error) {
	j.mu.Lock()
	defer j.mu.Unlock()
	if !j.types[name] {
		return nil, fmt.Errorf("the schema has no resource type %q", name)
	}
	if s := j.known[name]; s != nil {
		return s, nil
	}
	s, err := j.compiler.Compile(address + "#/definitions/" + name)
	j.known[name] = s
	return s, err
}

// Errors gives what the schema has against a resource, and against those in
// the entries of a Bundle and the contained ones, each as `path: text`,
// sorted. None means the schema accepts it.
func Errors(resource []byte) []string {
	d := json.NewDecoder(bytes.NewReader(resource))
	d.UseNumber()
	var v any
	if err := d.Decode(&v); err != nil {
		return []string{": " + err.Error()}
	}
	j, err := shared()
	if err != nil {
		return []string{": " + err.Error()}
	}
	out := j.errors("", v)
	slices.Sort(out)
	return out
}

// errors judges the resources inside a resource alone, and the resource
// without them: a choice of 146 types at every entry would cost most of the
// time and blur every message.
func (j *judge) errors(path string, v any) []string {
	object, ok := v.(map[string]any)
	if !ok {
		return []string{path + ": a resource is no object"}
	}
	name, _ := object["resourceType"].(string)
	schema, err := j.schema(name)
	if err != nil {
		return []string{path + ": " + err.Error()}
	}
	var out []string
	bare := map[string]any{}
	for key, value := range object {
		bare[key] = value
	}
	if list, ok := object["contained"].([]any); ok {
		for i, c := range list {
			out = append(out, j.errors(fmt.Sprintf("%s/contained/%d", path, i), c)...)
		}
		delete(bare, "contained")
	}
	if list, ok := object["entry"].([]any); ok && name == "Bundle" {
		entries := make([]any, len(list))
		for i, e := range list {
			entry, isObject := e.(map[string]any)
			entries[i] = e
			if inside, there := entry["resource"]; isObject && there {
				out = append(out, j.errors(fmt.Sprintf("%s/entry/%d/resource", path, i), inside)...)
				without := map[string]any{}
				for key, value := range entry {
					if key != "resource" {
						without[key] = value
					}
				}
				entries[i] = without
			}
		}
		bare["entry"] = entries
	}
	if err := schema.Validate(bare); err != nil {
		out = append(out, leaves(path, err)...)
	}
	return out
}

func leaves(path string, err error) []string {
	e, ok := err.(*jsonschema.ValidationError)
	if !ok {
		return []string{path + ": " + err.Error()}
	}
	if len(e.Causes) == 0 {
		return []string{path + e.InstanceLocation + ": " + strings.TrimSpace(e.Message)}
	}
	var out []string
	for _, c := range e.Causes {
		out = append(out, leaves(path, c)...)
	}
	return out
}
