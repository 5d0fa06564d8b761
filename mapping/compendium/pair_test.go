package compendium_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"weir.example/weir/mapping/compendium"
)

// pairNames are the names a side stands for.
func pairNames(side string) []string {
	for _, g := range compendium.PairGroups() {
		if g.Name == side {
			return g.Members
		}
	}
	if side == compendium.AnyOther {
		return []string{"an unheard-of drug"}
	}
	return []string{side}
}

var gravity = []string{"incompatible", "conditional", "compatible"}

func TestEveryPairIsFoundBothWaysAndNeverMilder(t *testing.T) {
	for _, p := range compendium.Pairs() {
		for _, a := range pairNames(p.A) {
			for _, b := range pairNames(p.B) {
				if a == b {
					continue
				}
				there, ok := compendium.PairOf(a, b)
				require.True(t, ok, "%s with %s", a, b)
				back, ok := compendium.PairOf(b, a)
				require.True(t, ok, "%s with %s", b, a)
				assert.Equal(t, there, back)
				if direct := a == p.A && b == p.B; direct {
					assert.Equal(t, p, there, "a row that names both comes first")
				} else if there.A != a && there.B != a && there.A != b && there.B != b {
					assert.LessOrEqual(t, slices.Index(gravity, there.Verdict), slices.Index(gravity, p.Verdict), "%s with %s", a, b)
				}
			}
		}
	}
}

// Every name of the table is a drug of the drug table, another name of the
// file, or a group: a name nobody uses is never found.
func TestEveryNameOfAPairIsKnown(t *testing.T) {
	known := slices.Clone(compendium.PairOthers())
	for _, d := range compendium.Embedded().Drugs {
		known = append(known, compendium.Fold(d.Name))
	}
	groups := []string{compendium.AnyOther}
	for _, g := range compendium.PairGroups() {
		groups = append(groups, g.Name)
		assert.Subset(t, known, g.Members, g.Name)
	}
	for _, p := range compendium.Pairs() {
		assert.Subset(t, append(known, groups...), []string{p.A, p.B})
	}
}

func TestKnownPairs(t *testing.T) {
	const nutrition = "parenteral nutrition (dextrose, amino acids, lipid)"
	for _, x := range []struct{ a, b, want string }{
		// ceftriaxone label: calcium-containing fluids, nutrition included
		{"ceftriaxone", "calcium gluconate", "incompatible"}, {"ceftriaxone", "lactated Ringer's", "incompatible"},
		{"ceftriaxone", "Ringer's lactate solution, 500 mL", "incompatible"}, {"ceftriaxone", "dextrose 5 % in lactated Ringer's", "incompatible"},
		{"ceftriaxone", nutrition, "incompatible"},
		{"daptomycin", "dextrose 5 % in water", "incompatible"}, {"daptomycin", "Dextrose 5% in water, 100 mL", "incompatible"}, {"daptomycin", nutrition, "incompatible"},
		{"amphotericin b liposomal", "sodium chloride 0.9 %", "incompatible"}, {"amphotericin b liposomal", "dextrose 5 % in water", "compatible"},
		{"amphotericin b liposomal", "dextrose 5 % in sodium chloride 0.9 %", "incompatible"}, {"amphotericin b liposomal", "vancomycin", "incompatible"},
		{"amphotericin b liposomal", "sodium chloride 0.9% (hydration)", "incompatible"},
		// Hosp Pharm systematic review 2023
		{"vancomycin", "piperacillin-tazobactam", "conditional"}, {"vancomycin", "ceftazidime", "incompatible"}, {"vancomycin", "nafcillin", "conditional"},
		{"heparin", "vancomycin", "incompatible"}, {"heparin", "tobramycin", "incompatible"}, {"heparin", "gentamicin", "incompatible"}, {"heparin", "amikacin", "incompatible"},
		// J Pharm Pharmacol 2017;69(4):448
		{nutrition, "furosemide", "incompatible"}, {nutrition, "ondansetron", "compatible"}, {nutrition, "meropenem", "conditional"},
		{"epoprostenol", "ondansetron", "incompatible"}, {"gentamicin", "ampicillin", "incompatible"},
		{"piperacillin-tazobactam", "tobramycin", "incompatible"}, {"piperacillin-tazobactam", "gentamicin", "conditional"},
		{"milrinone", "furosemide", "incompatible"}, {"foscarnet", "acyclovir", "incompatible"},
		// unknown, and never compatible
		{"meropenem", "vancomycin", "unknown"}, {"cefazolin", "sodium chloride 0.9 %", "unknown"}, {"ceftriaxone", "sodium chloride 0.9 %", "unknown"},
		{"epoprostenol", "sodium chloride 0.9 %", "unknown"}, {"ceftriaxone", "ceftriaxone", "unknown"}, {"", "ceftriaxone", "unknown"},
		{"ceftriaxone sodium", "calcium gluconate", "unknown"}, // other names are folded into the row's before they are asked
	} {
		p, ok := compendium.PairOf(x.a, x.b)
		if x.want == "unknown" {
			assert.False(t, ok, "%s with %s: %+v", x.a, x.b, p)
			assert.Empty(t, p.Verdict)
			continue
		}
		assert.Equal(t, x.want, p.Verdict, "%s with %s", x.a, x.b)
	}
	p, _ := compendium.PairOf("ceftriaxone", "calcium gluconate")
	assert.Contains(t, p.Newborn, "28 days")
}

func TestTheOrderOfAPairNeverMatters(t *testing.T) {
	names := slices.Clone(compendium.PairOthers())
	for _, d := range compendium.Embedded().Drugs {
		names = append(names, d.Name)
	}
	rapid.Check(t, func(t *rapid.T) {
		a, b := rapid.SampledFrom(names).Draw(t, "a"), rapid.SampledFrom(names).Draw(t, "b")
		there, ok := compendium.PairOf(a, b)
		back, same := compendium.PairOf(b, a)
		assert.Equal(t, ok, same)
		assert.Equal(t, there, back)
	})
}

func TestFaultyTablesOfPairsAreRefused(t *testing.T) {
	good := `{"edition": "2026-11", "notice": "n", "others": [], "groups": [{"name": "g", "members": ["c", "d"], "standing": "memory", "source": "s"}], "rows": [
	 {"a": "x", "b": "g", "verdict": "conditional", "how": "y-site", "condition": "k", "concerns": "c", "standing": "memory", "source": "s"},
	 {"a": "x", "b": "y", "verdict": "compatible", "how": "y-site", "concerns": "c", "standing": "memory", "source": "s"}]}`
	rows, err := compendium.ParsePairs([]byte(good))
	require.NoError(t, err)
	assert.Len(t, rows, 2)
	for says, x := range map[string][2]string{
		"no condition":                  {`"condition": "k", `, ``},
		"no source":                     {`"concerns": "c", "standing": "memory", "source": "s"}]`, `"concerns": "c", "standing": "memory", "source": ""}]`},
		"the pair again, turned":        {`"a": "x", "b": "y"`, `"a": "g", "b": "x"`},
		"a name with itself":            {`"a": "x", "b": "y"`, `"a": "x", "b": "x"`},
		"compatible with everything":    {`"a": "x", "b": "y"`, `"a": "x", "b": "any other drug"`},
		"compatible by an admixture":    {`"verdict": "compatible", "how": "y-site"`, `"verdict": "compatible", "how": "admixture"`},
		"another verdict":               {`"compatible"`, `"fine"`},
		"known by another way":          {`"verdict": "compatible", "how": "y-site"`, `"verdict": "compatible", "how": "hearsay"`},
		"an empty group":                {`["c", "d"]`, `[]`},
		"a member twice":                {`["c", "d"]`, `["c", "c"]`},
		"a member that is not folded":   {`["c", "d"]`, `["C", "d"]`},
		"a group of unknown standing":   {`"standing": "memory", "source": "s"}], "rows"`, `"standing": "sure", "source": "s"}], "rows"`},
		"an unknown key":                {`"concerns": "c"`, `"concern": "c"`},
		"nothing happens":               {`"concerns": "c", "standing": "memory", "source": "s"}]`, `"concerns": "", "standing": "memory", "source": "s"}]`},
		"an edition that is left empty": {`"edition": "2026-11"`, `"edition": ""`},
	} {
		require.Contains(t, good, x[0], says)
		_, err := compendium.ParsePairs([]byte(strings.Replace(good, x[0], x[1], 1)))
		assert.Error(t, err, says)
	}
	_, err = compendium.ParsePairs([]byte(`{"edition": "2026-11", "rows": []}`))
	assert.Error(t, err)
}
