package compendium_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"weir.example/weir/mapping/compendium"
)

// Every drug by each of its codes and names, alone and as an ingredient.
func TestEveryDrugIsFoundByEachOfItsCodesAndNames(t *testing.T) {
	tables := compendium.Embedded()
	require.Len(t, tables.Drugs, 60)
	asked := 0
	for _, d := range tables.Drugs {
		items := []compendium.Item{{Names: []string{d.Name}}}
		for _, n := range d.Also {
			items = append(items, compendium.Item{Names: []string{n}})
		}
		for _, c := range d.Codes.RxNorm {
			items = append(items, compendium.Item{RxNorm: []string{c}})
		}
		for _, c := range d.Codes.ATC {
			items = append(items, compendium.Item{ATC: []string{c}})
		}
		for _, i := range items {
			asked += 2
			for says, a := range map[string]compendium.Asked{"as the drug": {Item: i}, "as the ingredient": {Ingredients: []compendium.Item{i}}} {
				found, why := tables.Find(a)
				assert.Equal(t, d.Name, found.Name, "%v %s: %s", i, says, why)
				assert.NotEqual(t, "unassessed", tables.Hazard(a).Listed, "%s is unassessed by accident", d.Name)
			}
		}
		for _, a := range d.Codes.Ambiguous {
			for says, i := range map[string]compendium.Item{"as RxNorm": {RxNorm: []string{a.Code}}, "as ATC": {ATC: []string{a.Code}}} {
				_, why := tables.Find(compendium.Asked{Item: i})
				assert.NotEmpty(t, why, "%s %s of %s is ambiguous and finds it", a.Code, says, d.Name)
			}
		}
		for _, n := range d.NotThis {
			for _, code := range append([]string{""}, d.Codes.RxNorm...) {
				found, why := tables.Find(compendium.Named(code, n))
				assert.NotEqual(t, d.Name, found.Name, "%q is not %s", n, d.Name)
				assert.False(t, why == "" && found.Name == d.Name)
			}
		}
	}
	t.Logf("%d look-ups", asked)
}

// Codes and names that are nearly right, or right for another product, find
// nothing and are unassessed.
func TestWhatIsNotExactlyOneDrugIsUnknownAndSaysWhy(t *testing.T) {
	tables := compendium.Embedded()
	item := func(name string, codes ...string) compendium.Item {
		return compendium.Item{Names: []string{name}, RxNorm: codes}
	}
	for _, c := range []struct {
		says string
		a    compendium.Asked
		why  string
	}{
		{"amphotericin without its form", compendium.Named("732"), "ambiguous"},
		{"amphotericin by a class code of all forms", compendium.Asked{Item: compendium.Item{ATC: []string{"J02AA01"}}}, "ambiguous"},
		{"the conventional form by name", compendium.Named("", "amphotericin B"), "none of its codes and names"},
		{"a liposomal form of a plain drug", compendium.Named("7052", "morphine sulfate liposomal"), `"morphine sulfate liposomal"`},
		{"a pegylated form of a plain drug", compendium.Named("3131", "pegylated deferoxamine"), `"pegylated"`},
		{"a code of every salt", compendium.Named("7980", "penicillin G benzathine"), "ambiguous"},
		{"a depot salt under the plain code", compendium.Named("203133", "penicillin G benzathine"), "is not penicillin g potassium"},
		{"two drugs in one bag", compendium.Asked{Ingredients: []compendium.Item{item("vancomycin", "11124"), item("heparin", "5224")}}, "several active ingredients"},
		{"half of a combination is not the combination", compendium.Asked{Ingredients: []compendium.Item{item("piperacillin", "8339")}}, "none of its codes"},
		{"a combination with one part too many", compendium.Asked{Ingredients: []compendium.Item{item("ampicillin", "733"), item("sulbactam", "10167"), item("vancomycin", "11124")}}, "several active ingredients"},
		{"code and name of two drugs", compendium.Named("11124", "cefazolin"), "cefazolin and at vancomycin"},
		{"the drug and its ingredient differ", compendium.Asked{Item: item("cefazolin"), Ingredients: []compendium.Item{item("vancomycin")}}, "point at"},
		{"an error-prone abbreviation", compendium.Named("", "vanc"), "none of its codes"},
		{"a misspelling", compendium.Named("", "vancomicin"), "none of its codes"},
		{"a code of nothing", compendium.Named("1"), "none of its codes"},
	} {
		d, why := tables.Find(c.a)
		assert.Contains(t, why, c.why, c.says)
		assert.Empty(t, d.Name, c.says)
		assert.Equal(t, "unassessed", tables.Hazard(c.a).Listed, c.says)
	}
}

func TestCombinationsAndAdmixturesAreFoundByWhatTheyHold(t *testing.T) {
	tables := compendium.Embedded()
	item := func(name string, codes ...string) compendium.Item {
		return compendium.Item{Names: []string{name}, RxNorm: codes}
	}
	for _, c := range []struct {
		says, want string
		a          compendium.Asked
	}{
		{"two parts by their codes", "ampicillin-sulbactam", compendium.Asked{Ingredients: []compendium.Item{item("", "733"), item("", "10167")}}},
		{"in the other order, by name", "piperacillin-tazobactam", compendium.Asked{Ingredients: []compendium.Item{item("tazobactam"), item("Piperacillin")}}},
		{"one part alone is its own drug", "ampicillin", compendium.Asked{Ingredients: []compendium.Item{item("ampicillin", "733")}}},
		{"the name with a slash", "imipenem-cilastatin", compendium.Named("", "Imipenem/Cilastatin")},
		{"the name with a word", "piperacillin-tazobactam", compendium.Named("", "piperacillin and tazobactam")},
		{"a carrier that is not said to be inactive", "cefazolin", compendium.Asked{Ingredients: []compendium.Item{item("cefazolin", "2180"), item("sodium chloride 0.9 % injection")}}},
		{"a carrier alone is a hydration", "sodium chloride 0.9% (hydration)", compendium.Asked{Ingredients: []compendium.Item{item("sodium chloride 0.9% (hydration)", "9863")}}},
		{"nutrition by amino acids and dextrose", "parenteral nutrition (dextrose, amino acids, lipid)", compendium.Asked{Ingredients: []compendium.Item{item("amino acids"), item("dextrose", "4850"), item("potassium chloride", "8591"), item("zinc (as zinc sulfate)")}}},
	} {
		d, why := tables.Find(c.a)
		assert.Equal(t, c.want, d.Name, "%s: %s", c.says, why)
	}
}

// In a mixture the strictest ingredient counts, and one that nobody assessed
// keeps the whole unassessed.
func TestAMixtureIsAsHazardousAsItsWorstPart(t *testing.T) {
	tables := compendium.Embedded()
	mixed := func(names ...string) compendium.Listing {
		a := compendium.Asked{}
		for _, n := range names {
			a.Ingredients = append(a.Ingredients, compendium.Item{Names: []string{n}})
		}
		return tables.Hazard(a)
	}
	assert.Equal(t, "required", mixed("fluorouracil", "leucovorin").ClosedTransfer)
	assert.Equal(t, "by-policy", mixed("fluconazole", "vancomycin").ClosedTransfer)
	assert.Equal(t, "required", mixed("fluconazole", "fluorouracil").ClosedTransfer, "Table 1 before Table 2")
	assert.Equal(t, "unassessed", mixed("vancomycin", "thiamine").Listed)
	assert.Equal(t, "yes", mixed("amino acids", "dextrose", "ganciclovir").Listed, "also in a nutrition bag")
	assert.Equal(t, "no", mixed("amino acids", "dextrose", "zinc").Listed)
	assert.Equal(t, "unassessed", mixed("risperidone", "thiamine").Listed, "a name removed from the list beside an unknown one")
}

// A drug that came after the list's review is nobody's "not hazardous",
// whatever its row says.
func TestADrugNewerThanTheReviewIsUnassessed(t *testing.T) {
	for year, want := range map[string]string{"2013": "no", "2015": "no", "2016": "unassessed", "2025": "unassessed"} {
		e := edition()
		e["drugs/beta.json"] = []byte(`{"name":"beta","codes":{"rxnorm":["2"]},"hazard":{"listed":"no","edition":"e","reason":"looked for","approvedBy":"` + year + `","standing":"memory"}}`)
		tables, err := compendium.Load(e)
		require.NoError(t, err)
		l := tables.Hazard(compendium.Named("2"))
		assert.Equal(t, want, l.Listed, year)
		if want == "unassessed" {
			assert.Contains(t, l.Says, "ends with 2015")
		}
	}
}

// No text finds a row unless it is one of its names, letter by letter.
func TestNoNearNameFindsADrug(t *testing.T) {
	tables := compendium.Embedded()
	var names []string
	exact := map[string]bool{}
	for _, d := range tables.Drugs {
		for _, n := range append([]string{d.Name}, d.Also...) {
			names = append(names, n)
			exact[compendium.Fold(n)] = true
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		name := []rune(rapid.SampledFrom(names).Draw(t, "name"))
		at := rapid.IntRange(0, len(name)-1).Draw(t, "at")
		switch rapid.IntRange(0, 2).Draw(t, "edit") {
		case 0:
			name = append(name[:at:at], name[at+1:]...)
		case 1:
			name = append(name[:at:at], append([]rune{rapid.RuneFrom([]rune("abcdefghijklmnopqrstuvwxyz")).Draw(t, "letter")}, name[at:]...)...)
		default:
			name[at] = rapid.RuneFrom([]rune("abcdefghijklmnopqrstuvwxyz")).Draw(t, "letter")
		}
		if exact[compendium.Fold(string(name))] {
			return
		}
		if d, why := tables.Find(compendium.Named("", string(name))); why == "" {
			// the joints of a combination are names too
			assert.Len(t, d.Parts, 2, "%q found %s", string(name), d.Name)
		}
	})
}

// What stands beside the drug in codes, texts and ingredients. Each of these
// once found a drug, or said "not hazardous", that was not the whole order.
func TestWhatStandsBesideTheDrugIsNotPassedOver(t *testing.T) {
	tables := compendium.Embedded()
	item := func(name string, codes ...string) compendium.Item {
		return compendium.Item{Names: []string{name}, RxNorm: codes}
	}
	cefazolin, nutrition := item("cefazolin", "2180"), []compendium.Item{item("amino acids"), item("dextrose", "4850")}
	for _, c := range []struct {
		says, found, listed string
		a                   compendium.Asked
	}{
		{"a drug in a carrier fluid is no carrier", "", "unassessed", compendium.Asked{Ingredients: []compendium.Item{cefazolin, item("heparin in dextrose 5 %")}}},
		{"nor is one named beside it", "", "unassessed", compendium.Asked{Ingredients: []compendium.Item{cefazolin, item("potassium chloride 20 mEq in sodium chloride 0.9 %")}}},
		{"a carrier by name with the code of a listed drug", "", "yes", compendium.Asked{Ingredients: []compendium.Item{cefazolin, item("sodium chloride 0.9 %", "4492")}}},
		{"a carrier with its volume and vessel", "cefazolin", "no", compendium.Asked{Ingredients: []compendium.Item{cefazolin, item("sodium chloride 0.9 % injection, 100 mL bag")}}},
		{"a drug that is called inactive", "", "unassessed", compendium.Asked{Item: cefazolin, Ingredients: []compendium.Item{cefazolin}, Inactive: []compendium.Item{item("vancomycin", "11124")}}},
		{"a listed drug that is called inactive", "", "yes", compendium.Asked{Item: cefazolin, Inactive: []compendium.Item{item("methotrexate")}}},
		{"an excipient", "cefazolin", "no", compendium.Asked{Item: cefazolin, Inactive: []compendium.Item{item("sodium bicarbonate")}}},
		{"a listed drug inside a text", "", "yes", compendium.Named("2180", "cefazolin and methotrexate")},
		{"its salt", "", "yes", compendium.Named("", "methotrexate sodium")},
		{"half of a listed pair", "", "yes", compendium.Named("", "tipiracil")},
		{"another row inside a text", "", "unassessed", compendium.Named("11124", "vancomycin and cefazolin")},
		{"with other signs between the words", "", "unassessed", compendium.Named("2193", "Ceftriaxone-Sulbactam 1.5 g")},
		{"a new inhibitor", "", "unassessed", compendium.Named("20481", "cefepime with newbactam")},
		{"a depot salt", "", "unassessed", compendium.Named("11124", "vancomycin palmitate")},
		{"a drug that only the table of pairs names", "", "unassessed", compendium.Named("2180", "cefazolin with heparin")},
		{"an ingredient nobody knows beside a known name", "", "unassessed", compendium.Asked{Item: cefazolin, Ingredients: []compendium.Item{item("newdrugmab")}}},
		{"the ingredient with an amount", "cefazolin", "no", compendium.Asked{Item: cefazolin, Ingredients: []compendium.Item{item("cefazolin 2 g in sodium chloride 0.9 % injection, 100 mL")}}},
		{"nutrition with additives of the row", "parenteral nutrition (dextrose, amino acids, lipid)", "no", compendium.Asked{Ingredients: append(nutrition, item("Selenium (as selenious acid)"))}},
		{"nutrition with a row of its own in it", "parenteral nutrition (dextrose, amino acids, lipid)", "no", compendium.Asked{Ingredients: append(nutrition, item("furosemide"))}},
		{"nutrition with something nobody knows", "parenteral nutrition (dextrose, amino acids, lipid)", "unassessed", compendium.Asked{Ingredients: append(nutrition, item("newdrugmab"))}},
		{"nutrition with a listed salt", "parenteral nutrition (dextrose, amino acids, lipid)", "yes", compendium.Asked{Ingredients: append(nutrition, item("methotrexate sodium"))}},
		{"a name taken from the list beside another", "", "unassessed", compendium.Named("", "risperidone", "newdrugmab")},
	} {
		d, why := tables.Find(c.a)
		assert.Equal(t, c.found, d.Name, "%s: %s", c.says, why)
		assert.Equal(t, c.listed, tables.Hazard(c.a).Listed, c.says)
	}
}

func TestAFluidWithADrugInItIsNoCarrier(t *testing.T) {
	for name, code := range map[string]string{
		"sodium chloride 0.9 % injection":                                "NS",
		"Sodium Chloride 0.9% in 1,000 mL plastic container":             "NS",
		"dextrose 5 % in water, 250 mL bag":                              "D5W",
		"sodium chloride 0.9 % 1,000 mL with potassium chloride 20 mmol": "",
		"heparin in dextrose 5 %":                                        "",
		"cefazolin 2 g in sodium chloride 0.9 % injection, 100 mL":       "",
		"dextrose": "", // a fluid, and not which
	} {
		got, ok := compendium.Carrier(name)
		assert.Equal(t, code, got, name)
		assert.Equal(t, code != "", ok, name)
	}
	assert.True(t, compendium.OnlyFluid("dextrose"))
	assert.False(t, compendium.OnlyFluid("insulin in dextrose"))
}
