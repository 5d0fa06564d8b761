package element

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// repeat gives n copies joined by commas.
func repeat(s string, n int) string { return strings.TrimSuffix(strings.Repeat(s+",", n), ",") }

// Both sides of every limit of reliability section B, at its default.
func TestLimitsAtTheirBoundary(t *testing.T) {
	deep := func(n int) string { // with the root and the innermost object
		return strings.Repeat(`"extension":[{`, (n-1)/2) + `"url":"u"` + strings.Repeat(`}]`, (n-1)/2)
	}
	odd := func(n int) string { // the innermost is an array
		return strings.Repeat(`"extension":[{`, (n-2)/2) + `"a":["u"]` + strings.Repeat(`}]`, (n-2)/2)
	}
	entries := func(n int) string { return `"entry":[` + repeat(`{"id":"e"}`, n) + `]` }
	cases := []struct {
		name, members string
		refused       string // expression, "" when accepted
	}{
		{"63 deep", deep(63), ""},
		{"64 deep", odd(64), ""},
		{"65 deep", deep(65), "Observation" + strings.Repeat(".extension[0]", 32)},
		{"a string of 1,048,576 bytes", `"a":"` + strings.Repeat("x", 1<<20) + `"`, ""},
		{"a string of 1,048,577 bytes", `"a":"` + strings.Repeat("x", 1<<20+1) + `"`, "Observation.a"},
		{"a name of 256 bytes", `"` + strings.Repeat("x", 256) + `":1`, ""},
		{"a name of 257 bytes", `"` + strings.Repeat("x", 257) + `":1`, "Observation"},
		{"5,000 entries", entries(5_000), ""},
		{"5,001 entries", entries(5_001), "Observation.entry"},
		{"100 contained", `"contained":[` + repeat(`{"id":"e"}`, 100) + `]`, ""},
		{"101 contained", `"contained":[` + repeat(`{"id":"e"}`, 101) + `]`, "Observation.contained"},
		{"200 extensions", `"extension":[` + repeat(`{"url":"u"}`, 200) + `]`, ""},
		{"201 extensions", `"extension":[` + repeat(`{"url":"u"}`, 201) + `]`, "Observation.extension"},
		{"201 modifier extensions", `"modifierExtension":[` + repeat(`{"url":"u"}`, 201) + `]`, "Observation.modifierExtension"},
		{"50 codings", `"code":{"coding":[` + repeat(`{"code":"c"}`, 50) + `]}`, ""},
		{"51 codings", `"code":{"coding":[` + repeat(`{"code":"c"}`, 51) + `]}`, "Observation.code.coding"},
		{"18 digits", `"a":123456789012345678`, ""},
		{"19 digits", `"a":1234567890123456789`, "Observation.a"},
		{"18 digits behind a point", `"a":0.123456789012345678`, ""},
		{"19 digits behind a point", `"a":0.1234567890123456789`, "Observation.a"},
		{"18 digits on both sides of the point, negative", `"a":-1234567.89012345678`, ""},
		{"leading zeros do not count", `"a":0.00000000000000000001`, ""},
		{"but they end somewhere", `"a":0.` + strings.Repeat("0", 40) + `1`, "Observation.a"},
		{"exponent 20", `"a":1E+20`, ""},
		{"exponent 21", `"a":1E21`, "Observation.a"},
		{"exponent -20", `"a":1e-20`, ""},
		{"exponent -21", `"a":1e-21`, "Observation.a"},
		{"exponent 0020", `"a":1e0020`, ""},
		{"exponent 400", `"a":1E+400`, "Observation.a"},
		{"exponent -400", `"a":1E-400`, "Observation.a"},
		{"exponent 100,000", `"a":1e100000`, "Observation.a"},
		{"exponent 1,000,000,000", `"a":1E+1000000000`, "Observation.a"},
		{"exponent beyond 64 bits", `"a":1E18446744073709551617`, "Observation.a"},
		{"a million digits", `"a":` + strings.Repeat("9", 1_000_000), "Observation.a"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			text := []byte(resource(c.members))
			_, findings := Read(text, Limit{})
			if c.refused == "" {
				assert.Empty(t, findings)
				return
			}
			require.Len(t, findings, 1)
			assert.Equal(t, limits, findings[0].Code)
			assert.Equal(t, c.refused, findings[0].Place.Expression)
			inDocument(t, text, findings[0])
			assert.Less(t, len(findings[0].Observed), 100, "a long number is cut")
		})
	}
}

func TestLimitOfBytes(t *testing.T) {
	text := resource(`"a":1`)
	_, findings := Read([]byte(text), Limit{Bytes: len(text)})
	assert.Empty(t, findings)
	d, findings := Read([]byte(text), Limit{Bytes: len(text) - 1})
	assert.Equal(t, []at{{limits, "$this", 1, 1}}, placed(findings))
	assert.Zero(t, d.Size(), "nothing of it was read")
}

func TestLimitOfNodes(t *testing.T) {
	text := []byte(resource(`"a":[1,2,3]`)) // root, resourceType, a, 1, 2, 3
	d, findings := Read(text, Limit{Nodes: 6})
	assert.Empty(t, findings)
	assert.Equal(t, 6, d.Size())
	d, findings = Read(text, Limit{Nodes: 5})
	assert.Equal(t, []at{{limits, "Observation.a", 2, 10}}, placed(findings))
	assert.Equal(t, 5, d.Size())
	assert.Equal(t, 2, d.Root().Get("a").Len(), "what was read hangs together")
	assert.Len(t, d.Root().Get("a").Each(), 2)
}

func TestAZeroFieldOfALimitIsTheDefault(t *testing.T) {
	_, findings := Read([]byte(resource(`"coding":[`+repeat(`{"code":"c"}`, 51)+`]`)), Limit{Depth: 3})
	require.Len(t, findings, 1)
	assert.Contains(t, findings[0].Detail, "more than 50 elements")
}

// The hostile list of the issue. The bound on time is not asserted here; the
// work is: what is refused was not read.
func TestHostileDocuments(t *testing.T) {
	arrays := `"a":[` + repeat(`[1]`, 1_000_000) + `]`
	many := func(member string, n int) string {
		var b strings.Builder
		for i := range n {
			fmt.Fprintf(&b, member+",", i)
		}
		return strings.TrimSuffix(b.String(), ",")
	}
	cases := []struct {
		name string
		text []byte
		want at // the first finding
		size int
	}{
		{"200 MB", make([]byte, 200_000_000), at{limits, "$this", 1, 1}, 0},
		{"100,000 deep in arrays", []byte(strings.Repeat("[", 100_000)), at{structure, "$this", 1, 1}, 65},
		{"100,000 deep in objects", []byte(`{"resourceType":"Observation","a":` + strings.Repeat(`{"a":`, 100_000)), at{limits, "Observation" + strings.Repeat(".a", 64), 1, 350}, 66},
		{"a million arrays", []byte(resource(arrays)), at{structure, "Observation.a[0]", 2, 6}, DefaultLimit.Nodes},
		{"100,000 contained", []byte(resource(`"contained":[` + repeat(`{"id":"c"}`, 100_000) + `]`)), at{limits, "Observation.contained", 2, 14 + 100*11}, 203},
		{"100,000 members of different names", []byte(resource(many(`"m%d":[null]`, 100_000))), at{structure, "Observation.m0[0]", 2, 7}, 200_002},
		{"100,000 members of one name", []byte(resource(repeat(`"a":1`, 100_000))), at{syntax, "Observation.a", 2, 7}, 100_002},
		{"100,000 names in escapes", []byte(resource(many(`"\u0061%d":1`, 100_000))), at{}, 100_002},
		{"a megabyte of names", []byte(resource(`"` + strings.Repeat("n.", 500_000) + `":{}`)), at{limits, "Observation", 2, 1}, 3},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			d, findings := Read(c.text, Limit{})
			assert.Equal(t, c.size, d.Size())
			if c.want == (at{}) {
				assert.Empty(t, findings)
				return
			}
			require.NotEmpty(t, findings)
			assert.Equal(t, c.want, placed(findings)[0])
			assert.LessOrEqual(t, len(findings), maxFaults+1)
			for _, f := range findings {
				assert.Less(t, len(f.Place.Expression), 1_000)
			}
		})
	}
}

func TestMoreFaultsThanAreListedAreCounted(t *testing.T) {
	_, findings := Read([]byte(resource(`"a":[`+repeat(`""`, maxFaults+1_234)+`]`)), Limit{})
	require.Len(t, findings, maxFaults+1)
	last := findings[maxFaults]
	assert.Equal(t, limits, last.Code)
	assert.Equal(t, "the first 1,000 faults found are listed, 1,234 more are not", last.Detail)
}
