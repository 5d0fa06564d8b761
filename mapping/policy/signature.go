package policy

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"
)

// Signature is a pharmacist's word for tables: who, in which role, on whose
// license, when, and the hash of every table as it was. A changed byte in a
// table voids it for that table.
type Signature struct {
	Name    string            `json:"name"`
	Role    string            `json:"role"`
	License string            `json:"license"`
	On      string            `json:"on"` // a date, 2026-11-25
	Tables  map[string]string `json:"tables"`
}

// PolicyTable is the name under which a site's own file is signed.
const PolicyTable = "policy"

// NewSignature refuses a signature that nobody could be asked about, or one
// under nothing. The hashes are those of the tables signed.
func NewSignature(name, role, license, on string, tables map[string]string) (Signature, error) {
	s := Signature{Name: strings.TrimSpace(name), Role: strings.TrimSpace(role), License: strings.TrimSpace(license), On: on, Tables: maps.Clone(tables)}
	return s, s.check()
}

func (s Signature) check() error {
	for _, x := range []struct{ key, value string }{{"name", s.Name}, {"role", s.Role}, {"license", s.License}} {
		if x.value == "" || strings.ContainsFunc(x.value, func(r rune) bool { return r < ' ' }) {
			return fmt.Errorf("signature: %s is %q; need one line of text", x.key, x.value)
		}
	}
	if _, err := time.Parse(time.DateOnly, s.On); err != nil {
		return fmt.Errorf("signature: on is %q; need a day of the calendar, written 2026-11-26", s.On)
	}
	if len(s.Tables) == 0 {
		return fmt.Errorf("signature: no table is signed; need at least one")
	}
	for name, hash := range s.Tables {
		if len(hash) != 64 || strings.Trim(hash, "0123456789abcdef") != "" {
			return fmt.Errorf("signature: the table %q has the hash %q; need 64 hexadecimal digits (SHA-256)", name, hash)
		}
	}
	return nil
}

// Signatures are all that stand beside a site's policy.
type Signatures []Signature

// ReadSignatures reads the file written by `weir tables sign`. Unknown keys
// are refused: what is not read is not signed.
func ReadSignatures(data []byte) (Signatures, error) {
	var file struct{ Signatures Signatures }
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	if err := d.Decode(&file); err != nil {
		return nil, fmt.Errorf("signature: %w", err)
	}
	for _, s := range file.Signatures {
		if err := s.check(); err != nil {
			return nil, err
		}
	}
	return file.Signatures, nil
}

// Write gives the file of signatures, the same bytes for the same content.
func (s Signatures) Write() []byte {
	out, _ := json.MarshalIndent(map[string]Signatures{"signatures": s}, "", " ") // text and maps of text
	return append(out, '\n')
}

// Of finds the newest signature that holds for a table with this hash. When
// there is none, void is the newest one for the table as it once was.
func (s Signatures) Of(table, hash string) (valid, void *Signature) {
	for i := range s {
		have, signed := s[i].Tables[table]
		if !signed {
			continue
		}
		at := &void
		if have == hash {
			at = &valid
		}
		if *at == nil || (*at).On <= s[i].On {
			*at = &s[i]
		}
	}
	return valid, void
}

// Add puts one signature behind the others. What it covers is taken out of
// older ones of the same person, so that a file does not grow with each
// change of a table.
func (s Signatures) Add(next Signature) Signatures {
	out := Signatures{}
	for _, old := range s {
		if old.Name == next.Name && old.License == next.License {
			old.Tables = maps.Clone(old.Tables)
			maps.DeleteFunc(old.Tables, func(name, _ string) bool { _, again := next.Tables[name]; return again })
			if len(old.Tables) == 0 {
				continue
			}
		}
		out = append(out, old)
	}
	return append(out, next)
}

// unsigned names the tables without a valid signature, sorted.
func (s Signatures) unsigned(hashes map[string]string) []string {
	var out []string
	for name, hash := range hashes {
		if valid, _ := s.Of(name, hash); valid == nil {
			out = append(out, name)
		}
	}
	slices.Sort(out)
	return out
}
