package policy

import (
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"
	"time"
	"unicode"
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

// longestSignatory is what a name, a role or a license has room for, in
// characters.
const longestSignatory = 200

var (
	tableName = regexp.MustCompile(`^[a-z]+(-[a-z]+)*$`)
	tableHash = regexp.MustCompile(`^[0-9a-f]{64}$`)
)

func (s Signature) check() error {
	for _, x := range []struct{ key, value string }{{"name", s.Name}, {"role", s.Role}, {"license", s.License}} {
		seen := strings.ContainsFunc(x.value, func(r rune) bool { return unicode.IsLetter(r) || unicode.IsDigit(r) })
		if !seen || !printable(x.value) || strings.TrimSpace(x.value) != x.value || len([]rune(x.value)) > longestSignatory {
			return fmt.Errorf("signature: %s is %.60q; need one line of text, every character of it to be seen", x.key, x.value)
		}
	}
	if _, err := time.Parse(time.DateOnly, s.On); err != nil {
		return fmt.Errorf("signature: on is %.40q; need a day of the calendar, written 2026-11-26", s.On)
	}
	if len(s.Tables) == 0 {
		return fmt.Errorf("signature: no table is signed; need at least one")
	}
	for _, name := range slices.Sorted(maps.Keys(s.Tables)) {
		switch hash := s.Tables[name]; {
		case !tableName.MatchString(name):
			return fmt.Errorf("signature: %.40q is no name of a table; need one that weir tables list shows", name)
		case !tableHash.MatchString(hash):
			return fmt.Errorf("signature: the table %q has the hash %.80q; need 64 hexadecimal digits (SHA-256)", name, hash)
		}
	}
	return nil
}

// Signatures are all that stand beside a site's policy.
type Signatures []Signature

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
			for table := range next.Tables {
				old = old.without(table)
			}
			if len(old.Tables) == 0 {
				continue
			}
		}
		out = append(out, old)
	}
	return append(out, next)
}

func (s Signature) without(table string) Signature {
	s.Tables = maps.Clone(s.Tables)
	delete(s.Tables, table)
	return s
}

// without are the signatures with one table taken out of each.
func (s Signatures) without(table string) Signatures {
	var out Signatures
	for _, x := range s {
		if x = x.without(table); len(x.Tables) > 0 {
			out = append(out, x)
		}
	}
	return out
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
