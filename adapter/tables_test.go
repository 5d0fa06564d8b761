package adapter

import (
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/policy"
)

// Why each embedded data file is signed, or is not. A new one fails here
// until somebody has decided.
var decided = map[string]string{
	"mapping/finding/codes.json": "rules", "mapping/fulfillment/kit.json": "rules", "mapping/fulfillment/tasks.json": "rules",
	"conformance/arithmetic/customs.json": "rules", "mapping/sig/words.json": "rules", "mapping/sig/units.json": "rules",
	"mapping/schedule/abbreviations.json": "rules", "mapping/r4/measurements.json": "rules", "mapping/r4/access.json": "rules",
	"mapping/r4/laboratory.json": "rules", "mapping/r4/answers.json": "rules",
	"mapping/compendium/devices.json": "devices", "mapping/compendium/access.json": "access", "mapping/compendium/sterility.json": "sterility",
	"mapping/compendium/pairs.json": "pairs", "mapping/compendium/interactions.json": "interactions", "mapping/compendium/allergies.json": "allergies", "mapping/compendium/solutes.json": "solutes",
	"mapping/compendium/hazards.json": "hazards", "mapping/compendium/edition.json": "drugs",
	"mapping/r4/inputs.json":           "not signed: where FHIR puts a fact",
	"conformance/profile/systems.json": fhirOnly, "conformance/profile/extensions.json": fhirOnly, "conformance/profile/profiles.json": fhirOnly,
	"conformance/profile/searches.json": fhirOnly, "conformance/profile/capability.json": fhirOnly,
	"mapping/schedule/states.json":       "not signed: time zones",
	"mapping/notation/tallman.json":      "not signed: how a name is shown, never how it is matched",
	"mapping/notation/designations.json": "not signed: what may not be written",
}

// fhirOnly is why definitions of FHIR resources are not signed.
const fhirOnly = "not signed: how our resources are described to others"

func TestEveryEmbeddedTableIsSignedOrLeftOutForAReason(t *testing.T) {
	signed := map[string]bool{}
	for _, f := range Rules() {
		signed[string(f.Data)] = true
		assert.NotEmpty(t, f.Name)
	}
	seen := 0
	for _, ring := range []string{"mapping", "conformance"} {
		require.NoError(t, filepath.WalkDir("../"+ring, func(name string, d fs.DirEntry, err error) error {
			if err != nil {
				return err
			}
			if d.IsDir() && (d.Name() == "testdata" || d.Name() == "schema" || d.Name() == "drugs") {
				return filepath.SkipDir
			}
			if filepath.Ext(name) != ".json" {
				return nil
			}
			why, known := decided[strings.TrimPrefix(filepath.ToSlash(name), "../")]
			if !assert.True(t, known, "%s: is it signed?", name) {
				return nil
			}
			seen++
			data, err := os.ReadFile(name)
			assert.Equal(t, why == policy.RulesTable, signed[string(data)], name)
			return err
		}))
	}
	assert.Equal(t, len(decided), seen, "each file that is named here is there")
	assert.Len(t, Rules(), 11)
}

// A changed byte, another name, or a byte that moves from one file to the
// next is another table of rules.
func TestEveryByteOfTheRulesIsHashed(t *testing.T) {
	whole := hashOf(Rules())
	assert.Len(t, whole, 64)
	assert.Equal(t, whole, rulesHash())
	for i := range Rules() {
		for says, change := range map[string]func([]File){
			"a byte":      func(fs []File) { fs[i].Data = append([]byte{' '}, fs[i].Data...) },
			"a name":      func(fs []File) { fs[i].Name += " " },
			"a file less": func(fs []File) { fs[i] = File{} },
		} {
			files := Rules()
			change(files)
			assert.NotEqual(t, whole, hashOf(files), "%s of %s", says, Rules()[i].Name)
		}
	}
	assert.NotEqual(t, hashOf([]File{{"a", []byte("bc")}, {"d", nil}}), hashOf([]File{{"a", []byte("b")}, {"d", []byte("c")}}))
}

func TestTheRulesAreListedAndSigned(t *testing.T) {
	ref, err := Reference(policy.Default(), nil, nil)
	require.NoError(t, err)
	hashes := ref.Hashes()
	for _, name := range tableOrder {
		assert.Len(t, hashes[name], 64, name)
	}
	assert.Len(t, hashes, len(tableOrder), "nothing is signed that is not listed")
	list := Tables(ref)
	rules := list[len(list)-2]
	assert.Equal(t, policy.RulesTable, rules.Name)
	assert.Equal(t, "2026-11, FHIR R4 (4.0.1)", rules.Edition)
	assert.Greater(t, rules.Rows, len(finding.Codes())+30+25)
	all := 0
	for _, n := range rules.Standing {
		all += n
	}
	assert.Equal(t, rules.Rows, all, "each row counts once")
	delete(hashes, policy.RulesTable)
	s, err := policy.NewSignature("J. Example", "pharmacist", "EX 000000", "2026-09-01", hashes)
	require.NoError(t, err)
	ref.Signatures = policy.Signatures{s}
	assert.Equal(t, []string{policy.RulesTable}, ref.Unsigned(), "without them nothing is released")
	assert.Equal(t, []string{"hazards", "devices", "access", "sterility", "pairs", "interactions", "allergies", "solutes", "rules"}, Shown())
}

// A signature dated later does not count, and the list says so.
func TestTheListSaysWhyASignatureDoesNotCount(t *testing.T) {
	ref, err := Reference(policy.Default(), nil, nil)
	require.NoError(t, err)
	s, err := policy.NewSignature("J. Example", "pharmacist", "EX 000000", "2026-12-01", map[string]string{"hazards": ref.Hashes()["hazards"]})
	require.NoError(t, err)
	ref.Signatures = policy.Signatures{s}
	for _, x := range Tables(ref.At(time.Date(2026, 11, 10, 0, 0, 0, 0, time.UTC))) {
		want := map[bool]string{true: FutureTable, false: UnsignedTable}[x.Name == "hazards"]
		assert.Equal(t, want, x.State, x.Name)
		assert.Equal(t, x.Name == "hazards", x.Says != "", x.Name)
	}
}

// Two files hold the same order: what changes is listed for each, and a file
// that is no document is named.
func TestCompareListsEachDocument(t *testing.T) {
	const name = "../testdata/orders/s1-cefazolin-elastomeric/s1-cefazolin-elastomeric.json"
	data, err := os.ReadFile(name)
	require.NoError(t, err)
	before, err := Reference(policy.Default(), nil, nil)
	require.NoError(t, err)
	files := compendium.Shipped()
	for file, c := range map[string][2]string{"drugs/cefazolin.json": {`"value": {"value": 12, "unit": "g"}`, `"value": {"value": 5, "unit": "g"}`}, "devices.json": {`"edition": "2026-11"`, `"edition": "2027-02"`}} {
		require.Contains(t, string(files[file]), c[0])
		files[file] = []byte(strings.Replace(string(files[file]), c[0], c[1], 1))
	}
	tables, err := compendium.Load(files)
	require.NoError(t, err)
	after, err := Reference(policy.Default(), tables, nil)
	require.NoError(t, err)
	r := Request{Now: time.Date(2026, 11, 10, 19, 20, 0, 0, time.UTC), Stage: finding.Release}
	e := Compare([]Document{{"one.json", data}, {"two.json", data}, {"bad.json", []byte("{")}}, before, after, r)
	assert.Equal(t, 2, e.Judged)
	require.Len(t, e.Orders, 2)
	assert.Equal(t, [2]string{"one.json", "two.json"}, [2]string{e.Orders[0].Document, e.Orders[1].Document})
	assert.Contains(t, e.Orders[1].New, "hold dose-daily-above-maximum")
	require.Len(t, e.Refused, 1)
	assert.Equal(t, "bad.json", e.Refused[0].Document)
	assert.Contains(t, e.Refused[0].Faults[0], "document-json")
	assert.Equal(t, []string{"devices"}, e.Shipped, "no order was judged by these")
}
