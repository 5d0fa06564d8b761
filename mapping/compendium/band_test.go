package compendium_test

import (
	"encoding/json"
	"reflect"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/compendium"
)

// fullBands sets every band of a type, so that none can be passed over by a
// check that lists them.
func fullBands(v reflect.Value, list *[]*compendium.Band) {
	switch v.Kind() {
	case reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		fullBands(v.Elem(), list)
	case reflect.Struct:
		if b, ok := v.Addr().Interface().(*compendium.Band); ok {
			*b = compendium.Band{Value: "1", Unit: "g"}
			*list = append(*list, b)
			return
		}
		for i := range v.NumField() {
			fullBands(v.Field(i), list)
		}
	case reflect.Slice:
		if v.Type().Elem().Kind() == reflect.Struct {
			v.Set(reflect.MakeSlice(v.Type(), 1, 1))
			fullBands(v.Index(0), list)
		}
	}
}

// text writes a value with the keys of the files; empty members are left
// out, as the files do.
func text(t *testing.T, v any) string {
	t.Helper()
	var tidy func(v reflect.Value) any
	tidy = func(v reflect.Value) any {
		switch v.Kind() {
		case reflect.Pointer:
			return tidy(v.Elem())
		case reflect.Struct:
			out := map[string]any{}
			for i := range v.NumField() {
				f := v.Type().Field(i)
				switch {
				case v.Field(i).IsZero():
				case f.Anonymous:
					for k, x := range tidy(v.Field(i)).(map[string]any) {
						out[k] = x
					}
				default:
					out[strings.ToLower(f.Name[:1])+f.Name[1:]] = tidy(v.Field(i))
				}
			}
			return out
		case reflect.Slice:
			var out []any
			for i := range v.Len() {
				out = append(out, tidy(v.Index(i)))
			}
			return out
		case reflect.Map:
			out := map[string]any{}
			for _, k := range v.MapKeys() {
				out[k.String()] = tidy(v.MapIndex(k))
			}
			return out
		}
		return v.Interface()
	}
	data, err := json.Marshal(tidy(reflect.ValueOf(v)))
	require.NoError(t, err)
	return string(data)
}

// loaded reads the small edition with another value and regimen of its one
// fact.
func loaded(t *testing.T, value compendium.Value, applies compendium.Applies) error {
	e := edition()
	fact := `"value":{"value":2,"unit":"g"}`
	require.Contains(t, string(e["drugs/alpha.json"]), fact)
	with := `"value":` + text(t, value) + `,"appliesTo":[` + text(t, applies) + `]`
	e["drugs/alpha.json"] = []byte(strings.Replace(string(e["drugs/alpha.json"]), fact, with, 1))
	_, err := compendium.Load(e)
	return err
}

// A band that cannot be read would pass in silence when it is looked up:
// every one of them is read at load.
func TestABandThatCannotBeReadIsRefusedAtLoad(t *testing.T) {
	var value compendium.Value
	var applies compendium.Applies
	var bands []*compendium.Band
	fullBands(reflect.ValueOf(&value).Elem(), &bands)
	fullBands(reflect.ValueOf(&applies).Elem(), &bands)
	value.FollowedBy.Storage = "room"
	require.Greater(t, len(bands), 30)
	require.NoError(t, loaded(t, value, applies), "all bands, each a gram")
	for i, b := range bands {
		was := *b
		*b = compendium.Band{Value: "1", Unit: "mcg"}
		assert.ErrorContains(t, loaded(t, value, applies), "alpha-001", "band %d with a unit that is none", i)
		*b = compendium.Band{Unit: "g"}
		assert.ErrorContains(t, loaded(t, value, applies), "alpha-001", "band %d without a number", i)
		*b = was
	}
	value.Other = map[string]compendium.Band{"factor": {Value: "1", Unit: "grams"}}
	assert.ErrorContains(t, loaded(t, value, applies), "other.factor")
}

func TestWhatABandMayHold(t *testing.T) {
	for says, c := range map[string]struct {
		b  compendium.Band
		ok bool
	}{
		"a number":               {compendium.Band{Value: "2", Unit: "g"}, true},
		"a range":                {compendium.Band{Low: "1", High: "2", Unit: "g"}, true},
		"a range of one":         {compendium.Band{Low: "2", High: "2", Unit: "g"}, true},
		"open above":             {compendium.Band{Low: "1", Unit: "g"}, true},
		"open below":             {compendium.Band{High: "2", Unit: "g"}, true},
		"degrees, shown only":    {compendium.Band{Value: "-10", Unit: "Cel"}, true},
		"pH, shown only":         {compendium.Band{Low: "4", High: "5", Unit: "[pH]"}, true},
		"upside down":            {compendium.Band{Low: "2.01", High: "2", Unit: "g"}, false},
		"degrees upside down":    {compendium.Band{Low: "5", High: "2", Unit: "Cel"}, false},
		"a number and a range":   {compendium.Band{Value: "2", Low: "1", Unit: "g"}, false},
		"a number without unit":  {compendium.Band{Value: "2"}, false},
		"a unit of the street":   {compendium.Band{Value: "2", Unit: "mL/hr"}, false},
		"a number out of bounds": {compendium.Band{Value: "1e99", Unit: "g"}, false},
	} {
		err := loaded(t, compendium.Value{Dose: &c.b}, compendium.Applies{Regimen: "r"})
		assert.Equal(t, c.ok, err == nil, "%s: %v", says, err)
	}
}

// What stands beside the facts is read at load too, and a gate of a fact is
// one that lowers.
func TestWhatStandsBesideTheFactsIsReadAtLoad(t *testing.T) {
	review := `"hazard":{"listed":"no","edition":"e","reviewer":"","reason":"r","approvedBy":"2013","standing":"memory"}`
	for says, c := range map[string]struct{ put, need string }{
		"a review with a year":               {review, ""},
		"a review with two digits":           {strings.Replace(review, "2013", "13", 1), "year of 4 digits"},
		"a review with a date":               {strings.Replace(review, "2013", "2013-01", 1), "year of 4 digits"},
		"a review with a word":               {strings.Replace(review, "2013", "old.", 1), "year of 4 digits"},
		"a review without a year":            {strings.Replace(review, "2013", "", 1), "year of 4 digits"},
		"a rounding step":                    {`"roundingStep":{"value":"50","unit":"mg","population":"adult","standing":"memory","source":"s"}`, ""},
		"a rounding step in a wrong unit":    {`"roundingStep":{"value":"50","unit":"mgs","population":"adult","standing":"memory","source":"s"}`, "rounding step"},
		"a rounding step that is no number":  {`"roundingStep":{"value":"fifty","unit":"mg","population":"adult","standing":"memory","source":"s"}`, "rounding step"},
		"usual volumes":                      {`"usualVolumes":{"list":["50","100"],"unit":"mL","standing":"memory","source":"s"}`, ""},
		"usual volumes, one no number":       {`"usualVolumes":{"list":["50","a bag"],"unit":"mL","standing":"memory","source":"s"}`, "usual volumes"},
		"usual volumes in a wrong unit":      {`"usualVolumes":{"list":["50"],"unit":"cc","standing":"memory","source":"s"}`, "usual volumes"},
		"a laboratory limit":                 {`"labLimits":[{"test":"x","above":{"value":1,"unit":"mg/dL"},"do":"call","fact":"alpha-001"}]`, ""},
		"a laboratory limit in a wrong unit": {`"labLimits":[{"test":"x","above":{"value":1,"unit":"mg%"},"do":"call","fact":"alpha-001"}]`, "needs a number with a unit"},
	} {
		e := edition()
		e["drugs/alpha.json"] = []byte(strings.Replace(string(e["drugs/alpha.json"]), `"also"`, c.put+`,"also"`, 1))
		_, err := compendium.Load(e)
		if c.need == "" {
			assert.NoError(t, err, says)
		} else {
			assert.ErrorContains(t, err, c.need, says)
		}
	}
	for says, c := range map[string]struct {
		put string
		ok  bool
	}{
		"a hold with its reason":          {`"gates":true,"gate":"hold","review":"r"`, true},
		"a warning with its reason":       {`"gates":true,"gate":"warn","review":"r"`, true},
		"a gate that raises":              {`"gates":true,"gate":"block","review":"r"`, false},
		"a note":                          {`"gates":true,"gate":"note","review":"r"`, false},
		"a hold without its reason":       {`"gates":true,"gate":"hold"`, false},
		"a hold of a fact that is silent": {`"gates":false,"gate":"hold","review":"r"`, false},
	} {
		e := edition()
		e["drugs/alpha.json"] = []byte(strings.Replace(string(e["drugs/alpha.json"]), `"gates":true`, c.put, 1))
		_, err := compendium.Load(e)
		assert.Equal(t, c.ok, err == nil, "%s: %v", says, err)
	}
}
