package policy

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"

	"weir.example/weir/mapping/element"
)

// ReadSignatures reads the file written by `weir tables sign`: one JSON value
// and nothing behind it (RFC 8259). A key that is not known, stands twice or
// is written in other letters is refused: what is not read is not signed, and
// of two names one would win by chance.
func ReadSignatures(data []byte) (Signatures, error) {
	_, faults := element.Read(data, element.Limit{})
	for _, f := range faults {
		if f.Code == "document-json" || f.Code == "document-limit" { // not what makes a resource
			return nil, fmt.Errorf("signature: line %d, column %d: %s", f.Place.Line, f.Place.Column, f.Detail)
		}
	}
	var file map[string][]map[string]json.RawMessage
	if err := json.Unmarshal(data, &file); err != nil {
		return nil, fmt.Errorf("signature: %w", err)
	}
	if err := known("the file", file, "signatures"); err != nil {
		return nil, err
	}
	var list Signatures
	for i, keys := range file["signatures"] {
		if err := known(fmt.Sprintf("signature %d", i+1), keys, "name", "role", "license", "on", "tables"); err != nil {
			return nil, err
		}
		var s Signature
		for _, x := range []struct {
			key string
			to  any
		}{{"name", &s.Name}, {"role", &s.Role}, {"license", &s.License}, {"on", &s.On}, {"tables", &s.Tables}} {
			if raw, given := keys[x.key]; given {
				if err := json.Unmarshal(raw, x.to); err != nil {
					return nil, fmt.Errorf("signature: %s of signature %d: %w", x.key, i+1, err)
				}
			}
		}
		if err := s.check(); err != nil {
			return nil, err
		}
		list = append(list, s)
	}
	return list, nil
}

// known refuses a key outside a list. The JSON library would read NAME for
// name.
func known[V any](where string, keys map[string]V, list ...string) error {
	for _, key := range slices.Sorted(maps.Keys(keys)) {
		if !slices.Contains(list, key) {
			return fmt.Errorf("signature: %s has the key %.40q; need %s", where, key, strings.Join(list, ", "))
		}
	}
	return nil
}

// Write gives the file of signatures, the same bytes for the same content.
func (s Signatures) Write() []byte {
	out, _ := json.MarshalIndent(map[string]Signatures{"signatures": s}, "", " ") // text and maps of text
	return append(out, '\n')
}
