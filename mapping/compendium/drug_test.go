package compendium_test

import (
	"encoding/json"
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
		d, ok := compendium.Embedded().Drug(c.code, c.names...)
		assert.Equal(t, c.want != "", ok, c.says)
		assert.Equal(t, c.want, d.Name, c.says)
	}
}

func TestFactsAreThoseOfThePopulationAndOfEverybody(t *testing.T) {
	d, ok := compendium.Embedded().Drug(cefazolin)
	require.True(t, ok)
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
	try := func(id string, b *compendium.Band) {
		if b == nil || *b == (compendium.Band{}) {
			return
		}
		n++
		q, err := b.Quantity()
		if assert.NoError(t, err, "%s %+v", id, *b) {
			assert.LessOrEqual(t, q.Low.Cmp(q.High), 0, id)
		}
	}
	for _, d := range compendium.Embedded().Drugs {
		for _, f := range d.Facts {
			v := f.Value
			for _, b := range []*compendium.Band{v.Dose, v.Interval, v.Bolus, v.Continuous, v.DailyDose, v.DividedDoses, v.InfusionDuration, v.Time, v.Duration, v.Temperature, v.Concentration, v.Frequency} {
				if b != nil && b.Unit == "Cel" { // a temperature is shown, never calculated with
					continue
				}
				try(f.ID, b)
			}
			if v.Band != (compendium.Band{}) && v.Unit != "Cel" {
				try(f.ID, &v.Band)
			}
			for i := range v.Strengths {
				try(f.ID, &v.Strengths[i])
			}
			for i := range v.Bands {
				try(f.ID, &v.Bands[i].Crcl)
			}
		}
	}
	assert.Greater(t, n, 30)
}

// A member of the file that the program does not know would be dropped.
func TestNoMemberOfTheTablesIsDropped(t *testing.T) {
	var drugs struct {
		Edition, Notice string
		Drugs           []compendium.Drug
	}
	var hazards struct {
		Edition, ReviewedApprovals, AntineoplasticWord string
		Rows                                           []compendium.Hazard
	}
	for _, x := range []struct {
		data []byte
		into any
	}{{compendium.DrugsFile(), &drugs}, {compendium.HazardsFile(), &hazards}} {
		d := json.NewDecoder(strings.NewReader(string(x.data)))
		d.DisallowUnknownFields()
		assert.NoError(t, d.Decode(x.into))
	}
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

// One change of a small file that is right.
func TestATableThatIsWrongIsRefused(t *testing.T) {
	const drugs = `{"edition":"e","drugs":[{"name":"alpha","codes":{"rxnorm":"1"},"synonyms":["alpha sodium"],"facts":[{"id":"alpha-001","topic":"max_dose","population":"adult","value":{"value":2,"unit":"g"},"standing":"sourced","source":"a label"}]},{"name":"beta","codes":{"rxnorm":"2"}}]}`
	const hazards = `{"edition":"e","rows":[{"name":"gamma","table":"1","rxnorm":"3","standing":"sourced","source":"a list"},{"name":"delta","table":"2","rxnorm":"4","standing":"memory","source":"recalled"}]}`
	good, err := compendium.Load([]byte(drugs), []byte(hazards))
	require.NoError(t, err)
	assert.Len(t, good.Hash, 64)
	assert.Nil(t, good.Signed, "tables are unsigned until a pharmacist signs")
	for says, c := range map[string]struct{ in, out, need string }{
		"no drug":                         {drugs[15:], `"drugs":[]}`, "empty table"},
		"no hazard":                       {hazards[15:], `"rows":[]}`, "empty table"},
		"a drug table without an edition": {`{"edition":"e","drugs"`, `{"drugs"`, "no edition"},
		"a name that stands twice":        {`"name":"beta"`, `"name":"alpha"`, `"alpha" names two rows`},
		"a synonym that is another drug":  {`"alpha sodium"`, `"Beta"`, `"beta" names two rows`},
		"a code that stands twice":        {`"rxnorm":"2"`, `"rxnorm":"1"`, `"1" names two rows`},
		"a name in capitals":              {`"name":"alpha"`, `"name":"Alpha"`, "lower case"},
		"a drug without a name":           {`"name":"alpha"`, `"name":""`, "lower case and not empty"},
		"a fact without a source":         {`"source":"a label"`, `"source":""`, "alpha-001 has no source"},
		"a fact of unknown standing":      {`"value":2,"unit":"g"},"standing":"sourced"`, `"value":2,"unit":"g"},"standing":"certain"`, `standing "certain"`},
		"a fact without standing":         {`"value":2,"unit":"g"},"standing":"sourced"`, `"value":2,"unit":"g"},"standing":""`, `standing ""`},
		"a fact without an id":            {`"id":"alpha-001"`, `"id":""`, "empty or stands twice"},
		"a hazard that stands twice":      {`"name":"delta"`, `"name":"Gamma"`, `"gamma" names two rows`},
		"a hazard's code twice":           {`"rxnorm":"4"`, `"rxnorm":"3"`, `"3" names two rows`},
		"a hazard without a source":       {`"source":"a list"`, `"source":""`, "row 1 lacks"},
		"the third table of an old list":  {`"table":"2"`, `"table":"3"`, `row 2 (delta) has table "3"`},
		"a hazard of unknown standing":    {`"standing":"memory"`, `"standing":"heard"`, `standing "heard"`},
		"no JSON":                         {`{"edition":"e","drugs"`, `{"edition":"e";"drugs"`, "drug table:"},
		"hazards that are no JSON":        {`{"edition":"e","rows"`, `{"edition":"e";"rows"`, "hazardous-drug table:"},
	} {
		d, h := strings.Replace(drugs, c.in, c.out, 1), strings.Replace(hazards, c.in, c.out, 1)
		require.False(t, d == drugs && h == hazards, "%s: nothing was changed", says)
		_, err := compendium.Load([]byte(d), []byte(h))
		assert.ErrorContains(t, err, c.need, says)
	}
	other, err := compendium.Load([]byte(drugs+"\n"), []byte(hazards))
	require.NoError(t, err)
	assert.NotEqual(t, good.Hash, other.Hash)
}
