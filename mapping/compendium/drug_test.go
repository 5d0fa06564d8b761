package compendium_test

import (
	"reflect"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"weir.example/weir/mapping/compendium"
)

const (
	cefazolin    = "2180" // RxNorm ingredient codes as in the tables
	fluorouracil = "4492"
	ganciclovir  = "4678"
)

func TestADrugIsFoundByItsCodeOrAnExactNameAndNeverByANearOne(t *testing.T) {
	for _, c := range []struct {
		says, code string
		names      []string
		want       string // "" when nothing is found
	}{
		{"the code alone", cefazolin, nil, "cefazolin"},
		{"the name alone", "", []string{"cefazolin"}, "cefazolin"},
		{"another case", "", []string{"CEFAZOLIN"}, "cefazolin"},
		{"blanks around and within", "", []string{"  Cefazolin \t Sodium "}, "cefazolin"},
		{"a synonym", "", []string{"5-fluorouracil"}, "fluorouracil"},
		{"code and name agree", fluorouracil, []string{"fluorouracil"}, "fluorouracil"},
		{"code known, name not", cefazolin, []string{"cefazolin 2 g in sodium chloride"}, "cefazolin"},
		{"name known, code not", "999999999", []string{"cefazolin"}, "cefazolin"},
		{"the second name is the known one", "", []string{"some infusion", "fluorouracil"}, "fluorouracil"},
		{"code and name of two drugs", cefazolin, []string{"fluorouracil"}, ""},
		{"two names of two drugs", "", []string{"cefazolin", "fluorouracil"}, ""},
		{"a near miss", "", []string{"cefazolinum"}, ""},
		{"one letter short", "", []string{"cefazoli"}, ""},
		{"a drug of like name", "", []string{"cefazedone"}, ""},
		{"words around the name", "", []string{"cefazolin injection"}, ""},
		{"a code with a blank", cefazolin + " ", nil, ""},
		{"part of a code", "218", nil, ""},
		{"nothing at all", "", nil, ""},
		{"an empty name", "", []string{""}, ""},
	} {
		d, why := compendium.Embedded().Find(compendium.Named(c.code, c.names...))
		assert.Equal(t, c.want == "", why != "", c.says)
		assert.Equal(t, c.want, d.Name, c.says)
	}
}

func TestFactsAreThoseOfThePopulationAndOfEverybody(t *testing.T) {
	d, why := compendium.Embedded().Find(compendium.Named(cefazolin))
	require.Empty(t, why)
	adult, child := d.About("max_daily_dose", "adult"), d.About("max_daily_dose", "pediatric")
	require.NotEmpty(t, adult)
	require.NotEmpty(t, child)
	for _, f := range adult {
		assert.Contains(t, []string{"adult", "all"}, f.Population)
	}
	for _, f := range child {
		assert.Contains(t, []string{"pediatric", "all"}, f.Population)
	}
	assert.Empty(t, d.About("no-such-topic", "adult"), "no fact is an answer of its own")
	assert.True(t, d.Is("cephalosporin"))
	assert.False(t, d.Is("antineoplastic"))
}

// Every band of the table is a number with a unit that can be calculated
// with: a fact that cannot be read would be passed over in silence.
func TestEveryBandOfTheTableCanBeCalculatedWith(t *testing.T) {
	n := 0
	var walk func(id string, v reflect.Value)
	walk = func(id string, v reflect.Value) {
		if b, ok := v.Interface().(compendium.Band); ok {
			if b == (compendium.Band{}) || b.Unit == "Cel" || b.Unit == "[pH]" { // shown, never calculated with
				return
			}
			n++
			q, err := b.Quantity()
			if assert.NoError(t, err, "%s %+v", id, b) {
				assert.LessOrEqual(t, q.Low.Cmp(q.High), 0, id)
			}
			return
		}
		switch v.Kind() {
		case reflect.Pointer:
			if !v.IsNil() {
				walk(id, v.Elem())
			}
		case reflect.Struct:
			for i := range v.NumField() {
				walk(id, v.Field(i))
			}
		case reflect.Slice:
			for i := range v.Len() {
				walk(id, v.Index(i))
			}
		case reflect.Map:
			for _, k := range v.MapKeys() {
				walk(id, v.MapIndex(k))
			}
		}
	}
	for _, d := range compendium.Embedded().Drugs {
		for _, f := range d.Facts {
			walk(f.ID, reflect.ValueOf(f.Value))
			for _, a := range f.AppliesTo {
				walk(f.ID, reflect.ValueOf(a))
			}
		}
	}
	assert.Greater(t, n, 1500)
}

func TestABandIsAnIntervalAlsoWhenItIsOpenOnOneSide(t *testing.T) {
	for says, c := range map[string]struct {
		band      compendium.Band
		low, high string
	}{
		"one number":      {compendium.Band{Value: "12", Unit: "g"}, "12", "12"},
		"from and to":     {compendium.Band{Low: "0.25", High: "0.5", Unit: "g"}, "0.25", "0.5"},
		"at most":         {compendium.Band{High: "10", Unit: "mg/min"}, "0", "10"},
		"at least":        {compendium.Band{Low: "30", Unit: "min"}, "30", "30000000"},
		"the wrong order": {compendium.Band{Low: "5", High: "2", Unit: "g"}, "2", "5"},
	} {
		q, err := c.band.Quantity()
		if assert.NoError(t, err, says) {
			assert.Equal(t, c.low, q.Low.Decimal(), says)
			assert.Equal(t, c.high, q.High.Decimal(), says)
		}
	}
	for says, b := range map[string]compendium.Band{"no number": {Unit: "g"}, "no unit": {Value: "5"}, "no UCUM": {Value: "5", Unit: "mcg"}, "no decimal": {Value: "1e99", Unit: "g"}} {
		_, err := b.Quantity()
		assert.Error(t, err, says)
	}
}

func TestFoldLevelsCaseAndBlanksAndNothingElse(t *testing.T) {
	assert.Equal(t, "cefazolin sodium", compendium.Fold("\tCEFAZOLIN  Sodium\n"))
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.String().Draw(t, "name")
		assert.Equal(t, compendium.Fold(s), compendium.Fold(compendium.Fold(s)), "folding twice changes nothing")
		assert.Equal(t, compendium.Fold(s), compendium.Fold("  "+s+" "))
	})
}

// edition is a small edition that is right.
func edition() compendium.Files {
	file := func(text string) []byte { return []byte(text) }
	small := compendium.Files{
		"edition.json":     file(`{"edition":"e"}`),
		"hazards.json":     file(`{"edition":"e","reviewedUntil":"2015","rows":[{"name":"gamma","table":"1","rxnorm":"3","standing":"sourced","source":"a list"},{"name":"delta","table":"2","rxnorm":"4","standing":"memory","source":"recalled"}]}`),
		"drugs/alpha.json": file(`{"name":"alpha","codes":{"rxnorm":["1"],"atc":["A01AA01"]},"also":["alpha sodium"],"notThis":["alpha oxide"],"facts":[{"id":"alpha-001","topic":"max_dose","population":"adult","value":{"value":2,"unit":"g"},"standing":"sourced","source":"a label","gates":true}]}`),
		"drugs/beta.json":  file(`{"name":"beta","codes":{"rxnorm":["2"],"ambiguous":[{"code":"9","why":"two forms"}]},"flags":[{"flag":"no-bolus","standing":"memory","source":"practice"}]}`),
	}
	for name, data := range compendium.Shipped() { // the other tables as they are
		if name != "edition.json" && name != "hazards.json" && !strings.HasPrefix(name, "drugs/") {
			small[name] = data
		}
	}
	return small
}

// One change of a small edition that is right.
func TestATableThatIsWrongIsRefused(t *testing.T) {
	good, err := compendium.Load(edition())
	require.NoError(t, err)
	assert.Len(t, good.Hash, 64)
	for says, c := range map[string]struct{ file, in, out, need string }{
		"no hazard":                       {"hazards.json", `{"name":"gamma","table":"1","rxnorm":"3","standing":"sourced","source":"a list"},{"name":"delta","table":"2","rxnorm":"4","standing":"memory","source":"recalled"}`, ``, "empty table"},
		"no edition":                      {"edition.json", `"e"`, `""`, "no edition"},
		"no end of the review":            {"hazards.json", `"2015"`, `""`, "no end of the review"},
		"a key nobody reads":              {"drugs/alpha.json", `"also"`, `"synonyms"`, `unknown field "synonyms"`},
		"a member nobody reads":           {"drugs/alpha.json", `"unit":"g"`, `"units":"g"`, `unknown field "units"`},
		"a name that stands twice":        {"drugs/beta.json", `"name":"beta"`, `"name":"alpha"`, `"alpha" names two rows`},
		"a synonym that is another drug":  {"drugs/alpha.json", `"alpha sodium"`, `"Beta"`, `"beta" names two rows`},
		"a code that stands twice":        {"drugs/beta.json", `["2"]`, `["1"]`, `"1" names two rows`},
		"a code that is ambiguous":        {"drugs/beta.json", `"code":"9"`, `"code":"2"`, `called ambiguous`},
		"a name that is not itself":       {"drugs/alpha.json", `"alpha oxide"`, `"alpha sodium"`, `stands among those it is not`},
		"a name in capitals":              {"drugs/alpha.json", `"name":"alpha"`, `"name":"Alpha"`, "lower case"},
		"a drug without a name":           {"drugs/alpha.json", `"name":"alpha"`, `"name":""`, "lower case and not empty"},
		"a fact without a source":         {"drugs/alpha.json", `"source":"a label"`, `"source":""`, "alpha-001 has no source"},
		"a fact of unknown standing":      {"drugs/alpha.json", `"standing":"sourced"`, `"standing":"certain"`, `standing "certain"`},
		"a fact without standing":         {"drugs/alpha.json", `"standing":"sourced"`, `"standing":""`, `standing ""`},
		"a fact without an id":            {"drugs/alpha.json", `"id":"alpha-001"`, `"id":""`, "no id"},
		"a fact of nobody":                {"drugs/alpha.json", `"population":"adult"`, `"population":"grown-up"`, `for "grown-up"`},
		"a fact that is silent and mute":  {"drugs/alpha.json", `"gates":true`, `"gates":false`, `does not say why`},
		"a store nobody has":              {"drugs/alpha.json", `"unit":"g"}`, `"unit":"g","storage":"cellar"}`, `stored "cellar"`},
		"a fluid without a code":          {"drugs/alpha.json", `"unit":"g"}`, `"unit":"g","list":["saline"]}`, `"saline", which has no code`},
		"a regimen nobody can tell":       {"drugs/alpha.json", `"gates":true`, `"gates":true,"appliesTo":[{"method":"drip"}]`, `"drip"; use one of push, infusion`},
		"a flag nobody reads":             {"drugs/beta.json", `"no-bolus"`, `"no-bolus-please"`, `flag "no-bolus-please"`},
		"a flag on a fact that is absent": {"drugs/beta.json", `"source":"practice"`, `"source":"practice","fact":"beta-001"`, `a fact of this drug`},
		"a hazard that stands twice":      {"hazards.json", `"name":"delta"`, `"name":"Gamma"`, `"gamma" names two rows`},
		"a hazard's code twice":           {"hazards.json", `"rxnorm":"4"`, `"rxnorm":"3"`, `"3" names two rows`},
		"a hazard without a source":       {"hazards.json", `"source":"a list"`, `"source":""`, "row 1 lacks"},
		"the third table of an old list":  {"hazards.json", `"table":"2"`, `"table":"3"`, `row 2 (delta) has table "3"`},
		"a hazard of unknown standing":    {"hazards.json", `"standing":"memory"`, `"standing":"heard"`, `standing "heard"`},
		"no JSON":                         {"drugs/alpha.json", `"name"`, `name`, "drugs/alpha.json"},
		"hazards that are no JSON":        {"hazards.json", `"rows"`, `rows`, "hazards.json"},
		"two values in a file":            {"drugs/beta.json", `{"name"`, `{"name":"zeta"}{"name"`, "something follows"},
	} {
		e := edition()
		text := string(e[c.file])
		require.Contains(t, text, c.in, says)
		e[c.file] = []byte(strings.Replace(text, c.in, c.out, 1))
		_, err := compendium.Load(e)
		assert.ErrorContains(t, err, c.need, says)
	}
	for _, missing := range []string{"edition.json", "hazards.json", "devices.json", "access.json", "sterility.json", "pairs.json", "interactions.json", "solutes.json", "allergies.json"} {
		e := edition()
		delete(e, missing)
		_, err := compendium.Load(e)
		assert.ErrorContains(t, err, "the file "+missing+" is missing")
	}
	none := edition()
	delete(none, "drugs/alpha.json")
	delete(none, "drugs/beta.json")
	_, err = compendium.Load(none)
	assert.ErrorContains(t, err, "no file of a drug", "no drug at all")
	for _, unknown := range []string{"hazard.json", "drugs/beta.json.old", "drugs/old/beta.json", "notes.txt", "drugs.json", "policy.json"} {
		e := edition()
		e[unknown] = []byte("{}")
		_, err := compendium.Load(e)
		assert.ErrorContains(t, err, "the file "+unknown+" belongs to no table")
	}
	both := edition()
	delete(both, "pairs.json")
	both["pair.json"] = edition()["pairs.json"]
	_, err = compendium.Load(both)
	assert.ErrorContains(t, err, "pairs.json is missing; the file pair.json belongs to no table", "all that is wrong is named at once")
}

// The other tables of a folder are read as strictly as the shipped ones.
func TestAnotherTableThatIsWrongIsRefused(t *testing.T) {
	for file, c := range map[string]struct{ in, out, need string }{
		"devices.json": {`"class": "elastomeric"`, `"class": "balloon"`, "device table"}, "access.json": {`"rows"`, `"row"`, "access table"},
		"sterility.json": {`"aseptic"`, `"clean"`, "sterility table"}, "pairs.json": {`"incompatible"`, `"bad"`, "pair table"},
		"interactions.json": {`"warn"`, `"block"`, "interaction table"}, "solutes.json": {`"58.44"`, `"58,44"`, "solute table"},
	} {
		e := edition()
		text := string(e[file])
		require.Contains(t, text, c.in, file)
		e[file] = []byte(strings.Replace(text, c.in, c.out, 1))
		_, err := compendium.Load(e)
		assert.ErrorContains(t, err, c.need, file)
	}
	for says, c := range map[string]struct{ in, out, need string }{
		"no edition":       {`"edition": "2026-11"`, `"edition": ""`, "no edition"},
		"a weight of none": {`"58.44"`, `"0"`, "above 0"},
		"fewer than none":  {`"particles": "2"`, `"particles": "-2"`, "osmoles per mole"},
		"no source":        {`"IUPAC atomic weights"`, `""`, "source"},
		"a name twice":     {`"potassium chloride"`, `"sodium chloride"`, "stands twice"},
		"a key of no one":  {`"formula"`, `"formulas"`, "formulas"},
	} {
		e := edition()
		text := string(e["solutes.json"])
		require.Contains(t, text, c.in, says)
		e["solutes.json"] = []byte(strings.Replace(text, c.in, c.out, 1))
		_, err := compendium.Load(e)
		assert.ErrorContains(t, err, c.need, says)
	}
}

// A changed byte changes the hash of its table and of the whole, and of no
// other table.
func TestAChangedByteIsAnotherTable(t *testing.T) {
	good, err := compendium.Load(edition())
	require.NoError(t, err)
	for file, table := range map[string]string{"edition.json": "drugs", "drugs/alpha.json": "drugs", "hazards.json": "hazards"} {
		e := edition()
		e[file] = append(e[file], '\n')
		other, err := compendium.Load(e)
		require.NoError(t, err)
		assert.NotEqual(t, good.Hash, other.Hash, file)
		for name := range good.Hashes {
			assert.Equal(t, name == table, good.Hashes[name] != other.Hashes[name], "%s and the table %s", file, name)
		}
	}
	e := edition()
	e["drugs/omega.json"] = e["drugs/beta.json"]
	delete(e, "drugs/beta.json")
	other, err := compendium.Load(e)
	require.NoError(t, err)
	assert.NotEqual(t, good.Hash, other.Hash, "a row in another file")
}
