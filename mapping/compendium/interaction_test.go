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

// says: every statement of the second is one of the first.
func says(all, some string) bool {
	for _, s := range strings.Split(some, "; ") {
		if !slices.Contains(strings.Split(all, "; "), s) {
			return false
		}
	}
	return true
}

// Two names may meet in several rows: by name, by a group, by the other one's
// group. One effect is said once, with what to do of all rows.
func TestEveryInteractionIsFoundBothWays(t *testing.T) {
	for _, x := range compendium.Interactions() {
		for _, a := range interactionNames(x.A) {
			for _, b := range interactionNames(x.B) {
				if a == b {
					continue
				}
				found := compendium.Interact(a, b)
				assert.True(t, slices.ContainsFunc(found, func(f compendium.Interaction) bool {
					return says(f.Effect, x.Effect) && says(f.Action, x.Action) && says(f.Source, x.Source)
				}), "%s with %s: %s, %s", a, b, x.Effect, x.Action)
				assert.Equal(t, found, compendium.Interact(b, a))
				for i, f := range found {
					for j, o := range found {
						assert.False(t, i != j && says(f.Effect, o.Effect), "%s with %s: %q and %q are one effect", a, b, f.Effect, o.Effect)
					}
				}
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

func TestAnEffectIsSaidOnceWithAllThatIsToBeDone(t *testing.T) {
	found := compendium.Interact("tobramycin", "vancomycin")
	require.Len(t, found, 1, "a row on aminoglycosides and two on nephrotoxic drugs")
	assert.Equal(t, "kidney injury adds up; hearing loss adds up", found[0].Effect)
	assert.Contains(t, found[0].Action, "levels of both")
	found = compendium.Interact("amphotericin b liposomal", "gentamicin")
	require.Len(t, found, 1)
	assert.Contains(t, found[0].Action, "levels")
	assert.Contains(t, found[0].Action, "potassium and magnesium twice a week", "nothing of the other row is lost")
	found = compendium.Interact("quinidine", "voriconazole")
	require.Len(t, found, 1)
	assert.Equal(t, "QT interval longer; contraindicated", found[0].Effect, "the graver row stands")
	found = compendium.Interact("cidofovir", "tobramycin")
	require.Len(t, found, 1)
	assert.Contains(t, found[0].Effect, "contraindicated together")
	assert.Contains(t, found[0].Action, "levels")
	assert.Len(t, compendium.Interact("escitalopram", "ondansetron"), 2, "two effects are two")
	for _, x := range compendium.Interactions() {
		assert.NotContains(t, x.Action, "levels; fluid", "the rows are as they were")
	}
}

// Groups that a row relies on name every drug of our own table that belongs
// to them, and the common ones beside it (from memory).
func TestGroupsNameTheDrugsThatBelongToThem(t *testing.T) {
	nephrotoxic := interactionNames("nephrotoxic drugs")
	for _, d := range compendium.Embedded().Drugs {
		if d.Is("nephrotoxic") {
			assert.Contains(t, nephrotoxic, d.Name)
		}
	}
	lowering := interactionNames("blood-pressure-lowering drugs")
	for group, some := range map[string][]string{"angiotensin-converting enzyme inhibitors": {"lisinopril", "perindopril", "trandolapril"},
		"angiotensin receptor blockers": {"losartan", "azilsartan"}, "beta blockers": {"metoprolol", "nebivolol"}} {
		assert.Subset(t, interactionNames(group), some)
		assert.Subset(t, lowering, interactionNames(group), "%s lower the blood pressure", group)
	}
	assert.Subset(t, nephrotoxic, interactionNames("nonsteroidal anti-inflammatory drugs"))
	assert.Subset(t, nephrotoxic, interactionNames("calcineurin inhibitors"))
	assert.Subset(t, nephrotoxic, interactionNames("aminoglycosides"))
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
