package schema_test

import (
	"encoding/json"
	"errors"
	"maps"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/conformance/schema"
	"weir.example/weir/mapping/compendium"
)

// ownTables are the reference tables beside drugs, hazards and solutes.
var ownTables = map[string]func() []byte{"devices": compendium.DevicesFile, "access": compendium.AccessFile, "sterility": compendium.SterilityFile,
	"pairs": compendium.PairsFile, "interactions": compendium.InteractionsFile, "allergies": compendium.AllergiesFile}

func TestEveryReferenceTableFitsItsSchema(t *testing.T) {
	for name, file := range ownTables {
		assert.NoError(t, schema.Own(name, file()), name)
		assert.Contains(t, schema.Names(), name)
	}
}

func TestOneFaultInAReferenceTableIsRefusedAtItsPlace(t *testing.T) {
	for name, list := range map[string][]oneFault{
		"devices": {
			{says: "no rows at all", at: "/rows", put: []any{}, need: "at least 1"},
			{says: "an edition without a month", at: "/edition", put: "2026", need: "Year and month"},
			{says: "another class", at: "/rows/0/class", put: "balloon", need: "elastomeric"},
			{says: "a number as such", at: "/rows/6/values/1/value", put: 0.1, need: "string"},
			{says: "a trailing zero", at: "/rows/6/values/1/value", put: "0.10", need: "matches"},
			{says: "a number without a unit", at: "/rows/6/values/1/unit", want: "/rows/6/values/1", need: "unit"},
			{says: "no source", at: "/rows/0/values/0/source", want: "/rows/0/values/0", need: "source"},
			{says: "an empty source", at: "/rows/0/values/0/source", put: "", need: "at least 1"},
			{says: "a standing of a site", at: "/rows/0/values/0/standing", put: "local", need: "sourced"},
			{says: "an unknown key", at: "/rows/0/values/0/sayz", put: "w", need: "says"},
		},
		"access": {
			{says: "a kind in capitals", at: "/rows/0/kind", put: "PICC", need: "matches"},
			{says: "another population", at: "/rows/2/values/3/population", put: "child", need: "pediatric"},
			{says: "another gate of a lock", at: "/locks/0/gate", put: "warn", need: "block"},
			{says: "no standing of a lock", at: "/locks/0/standing", want: "/locks/0", need: "standing"},
			{says: "no change cycles", at: "/changes", want: "/", need: "changes"},
		},
		"sterility": {
			{says: "a level of the older chapter", at: "/rows/1/category", put: "low-risk", need: "immediate-use"},
			{says: "a test as a boolean", at: "/rows/1/tested", put: true, need: "yes"},
			{says: "a check that is denied", at: "/rows/0/values/0/check", put: false, need: "true"},
			{says: "no storages", at: "/storages", want: "/", need: "storages"},
		},
		"pairs": {
			{says: "another verdict", at: "/rows/0/verdict", put: "fine", need: "incompatible"},
			{says: "a name in capitals", at: "/rows/0/a", put: "Ceftriaxone", need: "matches"},
			{says: "no source", at: "/rows/0/source", want: "/rows/0", need: "source"},
			{says: "an unknown key", at: "/rows/0/condtion", put: "w", need: "condition"},
		},
		"interactions": {
			{says: "a block", at: "/rows/0/gate", put: "block", need: "warn"},
			{says: "no action", at: "/rows/0/action", want: "/rows/0", need: "action"},
			{says: "an empty group", at: "/groups/0/members", put: []any{}, need: "at least 1"},
			{says: "a member twice", at: "/groups/0/members", put: []any{"amikacin", "amikacin"}, need: "no entry twice"},
		},
		"allergies": {
			{says: "another likeness", at: "/chains/0/likeness", put: "alike", need: "identical"},
			{says: "another position", at: "/chains/0/position", put: "R3", need: "R1"},
			{says: "a chain of nobody", at: "/chains/0/members", put: []any{}, need: "at least 1"},
			{says: "a name in capitals", at: "/classes/0/members", put: []any{"Ampicillin"}, want: "/classes/0/members/0", need: "matches"},
			{says: "another crossing", at: "/classes/0/cross", put: "always", need: "common"},
			{says: "no source", at: "/relations/0/source", want: "/relations/0", need: "source"},
			{says: "another kind of reaction", at: "/reactions/0/kind", put: "bad", need: "grave"},
			{says: "nothing instead", at: "/supplies/0/instead", put: "", need: "at least 1"},
			{says: "an unknown key", at: "/apart/0/wordz", put: "w", need: "words"},
		},
	} {
		for _, c := range list {
			t.Run(name+": "+c.says, func(t *testing.T) {
				var e *schema.OwnError
				require.True(t, errors.As(schema.Own(name, alter(t, ownTables[name](), c.at, c.put)), &e), "accepted")
				want := c.want
				if want == "" {
					want = c.at
				}
				f := e.Faults[0]
				assert.Equal(t, strings.TrimSuffix(want, "/"), f.Pointer, e.Error())
				assert.Contains(t, f.Expected, c.need)
				assert.Positive(t, f.Line)
			})
		}
	}
}

// Conditions of two keys have no single place that is wrong, and are refused
// all the same.
func TestAnswersThatLackTheirOtherHalfAreRefused(t *testing.T) {
	pairs := compendium.Pairs()
	at := slices.IndexFunc(pairs, func(p compendium.Pair) bool { return p.Verdict == "conditional" })
	require.Positive(t, at)
	var file map[string]any
	require.NoError(t, json.Unmarshal(compendium.PairsFile(), &file))
	row := file["rows"].([]any)[at].(map[string]any)
	delete(row, "condition")
	data, err := json.Marshal(file)
	require.NoError(t, err)
	assert.Error(t, schema.Own("pairs", data), "a conditional pair without its condition")
	assert.Error(t, schema.Own("access", alter(t, compendium.AccessFile(), "/locks/0/from", "100")), "a limit above and from")
	assert.Error(t, schema.Own("access", alter(t, compendium.AccessFile(), "/locks/0/above", nil)), "a limit without a number")
	assert.Error(t, schema.Own("devices", alter(t, compendium.DevicesFile(), "/rows/0/values/0", map[string]any{"name": "use", "standing": "memory", "source": "s"})), "a value that says nothing")
}

// A key that only one of type and schema knows would be lost, or refused
// although it is ours.
func TestTypesAndSchemasOfTheTablesKnowTheSameKeys(t *testing.T) {
	for _, x := range []struct {
		schema, def string
		typ         any
	}{
		{"devices", "row", compendium.Device{}}, {"devices", "figure", compendium.Figure{}}, {"access", "figure", compendium.Figure{}}, {"sterility", "figure", compendium.Figure{}},
		{"access", "row", compendium.Access{}}, {"access", "lock", compendium.LockLimit{}}, {"access", "change", compendium.Change{}},
		{"sterility", "row", compendium.Sterility{}}, {"sterility", "container", compendium.Container{}}, {"sterility", "storage", compendium.Storage{}},
		{"pairs", "row", compendium.Pair{}}, {"pairs", "group", compendium.Group{}}, {"interactions", "row", compendium.Interaction{}},
		{"allergies", "class", compendium.AllergyClass{}}, {"allergies", "chain", compendium.SideChain{}}, {"allergies", "relation", compendium.AllergyRelation{}},
		{"allergies", "substance", compendium.Substance{}}, {"allergies", "words", compendium.AllergyWords{}}, {"allergies", "supply", compendium.SupplyAllergen{}},
		{"allergies", "reaction", compendium.ReactionWords{}},
	} {
		assert.Equal(t, keysOf(reflect.TypeOf(x.typ), "json"), properties(t, schemaTree(t, x.schema), "$defs", x.def), "%s %s", x.schema, x.def)
	}
	assert.Subset(t, keysOf(reflect.TypeOf(compendium.Group{}), "json"), properties(t, schemaTree(t, "interactions"), "$defs", "group"))
	assert.Equal(t, []string{"access", "allergies", "devices", "interactions", "pairs", "sterility"}, slices.Sorted(maps.Keys(ownTables)))
}
