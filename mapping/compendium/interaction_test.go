package compendium_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/compendium"
)

func interactionNames(side string) []string {
	for _, g := range compendium.InteractionGroups() {
		if g.Name == side {
			return g.Members
		}
	}
	return []string{side}
}

func TestEveryInteractionIsFoundBothWays(t *testing.T) {
	for _, x := range compendium.Interactions() {
		for _, a := range interactionNames(x.A) {
			for _, b := range interactionNames(x.B) {
				if a == b {
					continue
				}
				assert.Contains(t, compendium.Interact(a, b), x, "%s with %s", a, b)
				assert.Equal(t, compendium.Interact(a, b), compendium.Interact(b, a))
			}
		}
	}
}

// One side of every row is a drug of the drug table, by name or in a group.
func TestEveryInteractionConcernsADrugOfTheTable(t *testing.T) {
	var drugs []string
	for _, d := range compendium.Embedded().Drugs {
		drugs = append(drugs, compendium.Fold(d.Name))
	}
	listed := func(side string) bool {
		return slices.ContainsFunc(interactionNames(side), func(n string) bool { return slices.Contains(drugs, n) })
	}
	used := map[string]bool{}
	for _, x := range compendium.Interactions() {
		assert.True(t, listed(x.A) || listed(x.B), "%s with %s", x.A, x.B)
		used[x.A], used[x.B] = true, true
	}
	for _, g := range compendium.InteractionGroups() {
		assert.True(t, used[g.Name], "%s is in no row", g.Name)
	}
}

func TestKnownInteractions(t *testing.T) {
	for _, x := range [][2]string{
		{"daptomycin", "simvastatin"}, {"vancomycin", "piperacillin-tazobactam"}, {"vancomycin", "gentamicin"}, {"vancomycin", "amphotericin b liposomal"}, {"vancomycin", "ibuprofen"},
		{"ertapenem", "valproic acid"}, {"meropenem", "divalproex sodium"}, {"linezolid", "sertraline"}, {"linezolid", "meperidine"},
		{"ondansetron", "voriconazole"}, {"fluconazole", "ondansetron"}, {"parenteral nutrition (dextrose, amino acids, lipid)", "warfarin"},
		{"metronidazole", "warfarin"}, {"fluconazole", "warfarin"}, {"foscarnet", "tobramycin"}, {"Foscarnet", "Tobramycin"},
	} {
		found := compendium.Interact(x[0], x[1])
		require.NotEmpty(t, found, x)
		for _, i := range found {
			assert.Equal(t, "warn", i.Gate)
		}
	}
	for _, x := range [][2]string{{"cefazolin", "atorvastatin"}, {"vancomycin", "vancomycin"}, {"ibuprofen", "naproxen"}, {"", "warfarin"}, {"warfarin", "unheard-of"}, {"metronidazole benzoate", "warfarin"}} {
		assert.Empty(t, compendium.Interact(x[0], x[1]), x)
	}
}

func TestFaultyTablesOfInteractionsAreRefused(t *testing.T) {
	good := `{"edition": "2026-11", "notice": "n", "groups": [{"name": "g", "members": ["c"], "standing": "memory", "source": "s"}], "rows": [
	 {"a": "x", "b": "g", "effect": "e", "action": "a", "gate": "warn", "standing": "memory", "source": "s"}, {"a": "x", "b": "y", "effect": "e", "action": "a", "gate": "warn", "standing": "memory", "source": "t"}]}`
	_, err := compendium.ParseInteractions([]byte(good))
	require.NoError(t, err)
	for says, x := range map[string][2]string{
		"a block":          {`"gate": "warn"`, `"gate": "block"`},
		"no effect":        {`"effect": "e"`, `"effect": ""`},
		"turned and again": {`"a": "x", "b": "y"`, `"a": "g", "b": "x"`},
		"capitals":         {`"b": "y"`, `"b": "Y"`},
		"no source":        {`"source": "t"`, `"source": ""`},
		"an unknown key":   {`"action"`, `"acts"`},
		"an empty group":   {`["c"]`, `[]`},
	} {
		_, err := compendium.ParseInteractions([]byte(strings.Replace(good, x[0], x[1], 1)))
		assert.Error(t, err, says)
	}
	_, err = compendium.ParseInteractions([]byte(`{"edition": "2026-11", "rows": []}`))
	assert.Error(t, err)
}
