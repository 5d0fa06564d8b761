package r4_test

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/r4"
	"weir.example/weir/mapping/r4/googlefhir"
	"weir.example/weir/mapping/worksheet"
	official "weir.example/weir/testdata/r4"
)

// value is decoded JSON with numbers as they are written.
type value = map[string]any

func decode(t require.TestingT, data []byte) value {
	d := json.NewDecoder(bytes.NewReader(data))
	d.UseNumber()
	var v value
	require.NoError(t, d.Decode(&v))
	return v
}

// at follows a path of names and indexes, nil where it ends.
func at(v any, path ...any) any {
	for _, p := range path {
		switch p := p.(type) {
		case string:
			m, _ := v.(value)
			v = m[p]
		case int:
			list, _ := v.([]any)
			if p >= len(list) {
				return nil
			}
			v = list[p]
		}
	}
	return v
}

func resources(t require.TestingT, w worksheet.Worksheet, kinds ...string) []value {
	var out []value
	bundle := decode(t, r4.WriteBundle(w))
	list, _ := bundle["entry"].([]any)
	for _, e := range list {
		r := at(e, "resource").(value)
		for _, k := range kinds {
			if r["resourceType"] == k {
				out = append(out, r)
			}
		}
	}
	return out
}

// byCode finds the resource whose first code is that.
func byCode(t *testing.T, list []value, code string) value {
	t.Helper()
	for _, r := range list {
		c := r["code"]
		if c == nil {
			c = r["codeCodeableConcept"]
		}
		if at(c, "coding", 0, "code") == code {
			return r
		}
	}
	require.Fail(t, "no resource with code "+code)
	return nil
}

// part is the value of an extension, by the end of its url.
func part(v any, url string) any {
	list, _ := at(v, "extension").([]any)
	for _, x := range list {
		if u, _ := at(x, "url").(string); u == url || strings.HasSuffix(u, "/"+url) {
			for name, inner := range x.(value) {
				if strings.HasPrefix(name, "value") {
					return inner
				}
			}
			return x
		}
	}
	return nil
}

// walk calls f for every object below v with the name it stands under.
func walk(name string, v any, f func(name string, v value)) {
	switch v := v.(type) {
	case value:
		f(name, v)
		for k, x := range v {
			walk(k, x, f)
		}
	case []any:
		for _, x := range v {
			walk(name, x, f)
		}
	}
}

// valid asks our strict reader, google/fhir and the official JSON Schema.
func valid(t assert.TestingT, data []byte) bool {
	d, faults := element.Read(data, element.Limit{})
	return assert.Empty(t, faults) && assert.Empty(t, googlefhir.Judge(d)) && assert.Empty(t, official.Errors(data))
}
