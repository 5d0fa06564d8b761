package compendium_test

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/notation"
)

var tablesOf = map[string]struct {
	file  func() []byte
	count func() compendium.Count
}{
	"devices": {compendium.DevicesFile, compendium.DevicesCount}, "access": {compendium.AccessFile, compendium.AccessCount}, "sterility": {compendium.SterilityFile, compendium.SterilityCount},
	"pairs": {compendium.PairsFile, compendium.PairsCount}, "interactions": {compendium.InteractionsFile, compendium.InteractionsCount}, "allergies": {compendium.AllergiesFile, compendium.AllergiesCount},
}

// walkTable visits every object of a file.
func walkTable(v any, visit func(map[string]any)) {
	switch v := v.(type) {
	case map[string]any:
		visit(v)
		for _, x := range v {
			walkTable(x, visit)
		}
	case []any:
		for _, x := range v {
			walkTable(x, visit)
		}
	}
}

// The count is taken again from the file, without the types: every standing
// counts, and none stands without a source.
func TestTheCountsAreThoseOfTheFiles(t *testing.T) {
	for name, x := range tablesOf {
		var file map[string]any
		require.NoError(t, json.Unmarshal(x.file(), &file), name)
		want := map[string]int{compendium.Sourced: 0, compendium.Corroborated: 0, compendium.Memory: 0}
		walkTable(file, func(o map[string]any) {
			if s, ok := o["standing"].(string); ok {
				want[s]++
				assert.NotEmpty(t, o["source"], name)
			}
		})
		got := x.count()
		assert.Equal(t, want, got.Standing, name)
		assert.Equal(t, file["edition"], got.Edition, name)
		rows := 0
		for _, list := range []string{"rows", "locks", "changes", "containers", "storages", "classes", "chains", "relations", "substances", "medicines", "supplies", "reactions", "apart"} {
			l, _ := file[list].([]any)
			rows += len(l)
		}
		assert.Equal(t, rows, got.Rows, name)
	}
}

// What a person may read of a table keeps to the rules for safe notation.
// Sources are left out: titles and addresses are kept as they are.
func TestNoErrorProneDesignationInTheTables(t *testing.T) {
	for name, x := range tablesOf {
		var file any
		require.NoError(t, json.Unmarshal(x.file(), &file))
		walkTable(file, func(o map[string]any) {
			for key, v := range o {
				text, ok := v.(string)
				if ok && key != "source" && key != "unit" && key != "edition" {
					assert.Empty(t, notation.Scan(text), "%s: %s", name, text)
				}
			}
		})
	}
}

// A value recalled says so, and one that is common practice is no more.
func TestTheStandingFitsTheSource(t *testing.T) {
	for name, x := range tablesOf {
		var file any
		require.NoError(t, json.Unmarshal(x.file(), &file))
		walkTable(file, func(o map[string]any) {
			source, _ := o["source"].(string)
			if strings.Contains(source, "no source") || strings.HasPrefix(source, "recalled FDA") {
				assert.Equal(t, compendium.Memory, o["standing"], "%s: %v", name, o)
			}
			if o["standing"] == compendium.Memory {
				assert.True(t, strings.Contains(source, "recalled") || source == "common practice, no source", "%s: %s", name, source)
			}
		})
	}
}
