package schema

import (
	"encoding/json"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"weir.example/weir/mapping/notation"
	official "weir.example/weir/testdata/r4"
)

// Both sides of every boundary. The official pattern accepts what stands in
// "good" and refuses what stands in "bad"; what stands in "ours" it accepts
// and we do not, each for the reason given.
var formatCases = []struct {
	typ             string
	good, bad, ours []string
}{
	{"id", []string{"a", "A-1.b", strings.Repeat("x", 64), ".."}, []string{"a_b", "a/b", "é", strings.Repeat("x", 65)}, nil},
	{"code", []string{"a", "a b", "mL/h"}, []string{" a", "a ", "a  b", "a\tb "}, []string{"a\tb"}}, // white space other than one blank
	{"uri", []string{"x", "urn:oid:1", "http://a.example/b?c#d"}, []string{"a b", "a\tb", "\n"}, nil},
	{"oid", []string{"urn:oid:0.1", "urn:oid:2.16.840", "urn:oid:1.0"}, []string{"urn:oid:3.1", "urn:oid:1", "urn:oid:1.01", "urn:oid:1..2", "1.2", "urn:oid:1.2."}, nil},
	{"uuid", []string{"urn:uuid:9f1ea0d7-dc47-5cc8-b021-f5437e5a5aa9"}, []string{"9f1ea0d7-dc47-5cc8-b021-f5437e5a5aa9", "urn:uuid:9F1EA0D7-dc47-5cc8-b021-f5437e5a5aa9", "urn:uuid:9f1ea0d7dc475cc8b021f5437e5a5aa9"}, nil},
	{"date", []string{"1900", "2100", "2026-12", "2026-02-28", "2028-02-29"}, []string{"26", "2026-1-1", "2026-13", "2026-00", "2026-01-32", "2026-11-10T00:00:00Z", "10.11.2026"},
		[]string{"1899", "2101", "2026-02-29", "2026-04-31"}}, // years beyond ours; days that do not exist
	{"dateTime", []string{"2026", "2026-11-10T14:20:00Z", "2026-11-10T14:20:00-05:00", "2026-11-10T00:00:00+14:00", "2026-11-10T23:59:59.123456789-14:00"},
		[]string{"2026-11-10T14:20Z", "2026-11-10T14:20:00", "2026-11-10 14:20:00Z", "2026-11-10T24:00:00Z", "2026-11-10T14:60:00Z", "2026-11-10T14:20:00+14:01", "2026-11-10T14:20:00+15:00", "2026-11-10T14:20:00+05:60", "2026-11-10T14:20:00.Z", "2026-11-10T14:20:00z", "2026-11-10T14:20:61Z", "2026-11-10t14:20:00Z"},
		[]string{"2026-11-10T14:20:60Z", "2026-11-10T14:20:00.1234567890Z", "2026-02-30T14:20:00Z", "1899-12-31T14:20:00Z"}}, // leap second; ten digits; no such day; year
	{"instant", []string{"2026-11-10T14:20:00Z", "2026-11-10T14:20:00.5+01:00"}, []string{"2026-11-10", "2026", "2026-11-10T14:20:00"}, []string{"2026-11-10T14:20:60Z"}},
	{"time", []string{"00:00:00", "23:59:59", "08:00:00.5"}, []string{"24:00:00", "8:00:00", "08:00", "08:60:00", "08:00:00Z", "08:00:00."}, []string{"08:00:60"}},
	{"positiveInt", []string{"1", "2147483647"}, []string{"0", "-1", "1.0", "1e3"}, []string{"2147483648"}}, // beyond 32 bits
	{"unsignedInt", []string{"0", "2147483647"}, []string{"-1", "1.5"}, []string{"2147483648"}},
	{"integer", []string{"-2147483648", "0", "2147483647"}, []string{"1.0", "2.5e1"}, []string{"2147483648", "-2147483649"}},
	{"base64Binary", []string{"eA==", "eHg=", "eHh4", "eHh4 eHh4", "eHh4\neHg="}, []string{"eA=!", "x y", "é"}, []string{"eA", "eA=", "e===", "==eA"}}, // the schema's pattern does not count
}

func patterns(t testing.TB) map[string]*regexp.Regexp {
	t.Helper()
	text, err := official.Schema()
	require.NoError(t, err)
	var file struct {
		Definitions map[string]struct{ Pattern string }
	}
	require.NoError(t, json.Unmarshal(text, &file))
	out := map[string]*regexp.Regexp{}
	for name, d := range file.Definitions {
		if d.Pattern != "" {
			if p, err := regexp.Compile(d.Pattern); err == nil {
				out[name] = p
			}
		}
	}
	return out
}

func TestFormatsAgainstTheOfficialPatterns(t *testing.T) {
	official := patterns(t)
	for _, c := range formatCases {
		t.Run(c.typ, func(t *testing.T) {
			f := formats[c.typ]
			require.True(t, f.known())
			p := official[c.typ]
			if c.typ == "base64Binary" || c.typ == "unsignedInt" {
				p = nil // that schema does not anchor these two patterns, so they match parts
			}
			for _, s := range c.good {
				assert.Empty(t, f.fault(s), "%q", s)
				if p != nil {
					assert.True(t, p.MatchString(s), "official on %q", s)
				}
			}
			for _, s := range c.bad {
				fault := f.fault(s)
				assert.NotEmpty(t, fault, "%q", s)
				assert.Empty(t, notation.Scan(fault), fault)
				if p != nil {
					assert.False(t, p.MatchString(s), "official on %q", s)
				}
			}
			for _, s := range c.ours {
				assert.NotEmpty(t, f.fault(s), "%q", s)
				if p != nil {
					assert.True(t, p.MatchString(s), "official on %q: then it belongs to bad", s)
				}
			}
		})
	}
}

// Whatever we accept the official pattern accepts too: nothing that is no R4
// comes through.
func TestWeAreNeverLaxerThanThePatterns(t *testing.T) {
	all := patterns(t)
	for _, typ := range []string{"id", "code", "uri", "oid", "uuid", "date", "dateTime", "instant", "time"} {
		require.NotNil(t, all[typ], typ)
		rapid.Check(t, func(t *rapid.T) {
			s := rapid.OneOf(rapid.StringMatching(`[0-9TZ:+\-. ]{1,30}`), rapid.StringMatching(strings.TrimSuffix(strings.TrimPrefix(all[typ].String(), "^"), "$")),
				rapid.StringMatching(`(urn:(oid|uuid):)?[0-9a-fA-F.\-]{1,40}`), rapid.String()).Draw(t, "s")
			if s == "" || strings.ContainsFunc(s, func(r rune) bool { return r < ' ' }) {
				return // refused when the document was read
			}
			if formats[typ].fault(s) == "" && !all[typ].MatchString(s) {
				t.Fatalf("%s accepts %q", typ, s)
			}
		})
	}
}

func TestNarratives(t *testing.T) {
	for s, good := range map[string]bool{
		`<div xmlns="http://www.w3.org/1999/xhtml"><p>x</p></div>`: true,
		` <div>x<!-- remark --></div>`:                             true,
		`<div/>`:                                                   true,
		`x`:                                                        false,
		`<div>x`:                                                   false,
		`<div><!DOCTYPE x></div>`:                                  false,
		`<!DOCTYPE x><div></div>`:                                  false,
		`<div><!ENTITY a "b"></div>`:                               false,
		`<div><?php x ?></div>`:                                    false,
	} {
		assert.Equal(t, good, xhtml.fault(s) == "", s)
	}
}
