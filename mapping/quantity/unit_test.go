package quantity_test

import (
	"errors"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"weir.example/weir/mapping/quantity"
)

// The size of one of each unit in base units (gram, metre, second), from the
// definition of the unit: a litre is 0.001 cubic metres, a minute 60 seconds.
func TestUnitsOfTheTradeAreReadWithTheirExactSize(t *testing.T) {
	for code, c := range map[string]struct{ size, dimension string }{
		"mL/h":             {"1/3600000000", "volume per time"}, // 10^-6 m3 in 3600 s
		"mL.h-1":           {"1/3600000000", "volume per time"},
		"ug/kg/min":        {"1/60000000000", "number per time"}, // 10^-6 g / 1000 g / 60 s
		"mg/m2":            {"1/1000", "mass per area"},
		"mg/kg":            {"1/1000000", "number"},
		"mg/kg/d":          {"1/86400000000", "number per time"},
		"mg/(kg.d)":        {"1/86400000000", "number per time"},
		"[USP'U]/mL":       {"1000000", "pharmacopeial units per volume"},
		"10*6.[iU]":        {"1000000", "international units"},
		"10^6.[iU]":        {"1000000", "international units"},
		"k[iU]":            {"1000", "international units"},
		"[iU]/h":           {"1/3600", "international units per time"},
		"U/L":              {"1000", "enzyme units per volume"},
		"meq/L":            {"1", "equivalents per volume"},
		"mmol/L":           {"1", "amount of substance per volume"},
		"mosm/L":           {"1", "osmoles per volume"},
		"umol/L":           {"1/1000", "amount of substance per volume"},
		"mg/dL":            {"10", "mass per volume"},
		"mg/mL":            {"1000", "mass per volume"},
		"g/L":              {"1000", "mass per volume"},
		"g/l":              {"1000", "mass per volume"},
		"{dose}":           {"1", "number"},
		"1":                {"1", "number"},
		"%":                {"1/100", "number"},
		"/d":               {"1/86400", "number per time"},
		"{dose}/d":         {"1/86400", "number per time"},
		"mL/min/{1.73_m2}": {"1/60000000", "volume per time"},
		"2.5":              {"10", "number"}, // two factors in UCUM, and no decimal
		"MU":               {"1000000", "enzyme units"},
		"kg.m-2":           {"1000", "mass per area"},
		"kg/m2":            {"1000", "mass per area"},
		"cm":               {"1/100", "length"},
		"mm":               {"1/1000", "length"},
		"wk":               {"604800", "time"},
		"mo":               {"2629800", "time"},  // 365.25 d / 12
		"a":                {"31557600", "time"}, // 365.25 d
		"min":              {"60", "time"},       // no milli-inch
		"[drp]/min":        {"1/60", "drops per time"},
		"[drp]/mL":         {"1000000", "drops per volume"},
		"kcal/d":           {"1000/86400", "energy per time"},
		"mL{total}":        {"1/1000000", "volume"},
	} {
		u, err := quantity.ParseUnit(code)
		if assert.NoError(t, err, code) {
			want, ok := parseRatio(c.size)
			require.True(t, ok, code)
			assert.True(t, u.ToBase(quantity.Int(1)).Equal(want), "%s is %s", code, u.ToBase(quantity.Int(1)).Rat())
			assert.Equal(t, c.dimension, u.Dimension().String(), code)
			assert.Equal(t, code, u.Code(), "the code stays as written")
		}
	}
}

func parseRatio(s string) (quantity.Number, bool) {
	over, under, _ := strings.Cut(s, "/")
	if under == "" {
		under = "1"
	}
	a, err1 := quantity.ParseNumber(over)
	b, err2 := quantity.ParseNumber(under)
	return a.Quo(b), err1 == nil && err2 == nil
}

// International yard and pound agreement of 1959, in NIST Special
// Publication 811 (2008), appendix B: 1 lb = 0.45359237 kg, 1 in = 2.54 cm,
// both exact; an ounce is a sixteenth of a pound, a foot twelve inches.
func TestPublishedFactorsAreExact(t *testing.T) {
	for _, c := range []struct{ from, to, want string }{
		{"[lb_av]", "kg", "0.45359237"}, {"[lb_av]", "g", "453.59237"}, {"[oz_av]", "g", "28.349523125"},
		{"[in_i]", "cm", "2.54"}, {"[ft_i]", "cm", "30.48"}, {"[ft_i]", "[in_i]", "12"}, {"[lb_av]", "[oz_av]", "16"},
		{"h", "min", "60"}, {"d", "h", "24"}, {"wk", "d", "7"}, {"a", "d", "365.25"}, {"mo", "d", "30.4375"},
		{"L", "mL", "1000"}, {"dL", "mL", "100"}, {"g", "mg", "1000"}, {"mg", "ug", "1000"}, {"ug", "ng", "1000"},
		{"mg/dL", "mg/L", "10"}, {"ug/kg/min", "mg/kg/h", "0.06"}, {"%", "[ppm]", "10000"}, {"mL", "cm3", "1"},
	} {
		q, err := quantity.Point(quantity.Int(1), quantity.MustUnit(c.from)).In(quantity.MustUnit(c.to))
		if assert.NoError(t, err, c.from) {
			assert.Equal(t, c.want, q.Low.Decimal(), "1 %s in %s", c.from, c.to)
		}
	}
	// S4: 35.7 lb × 0.45359237 = 16.193247609 kg.
	w, err := quantity.Parse("35.7", "[lb_av]", quantity.BodyMass)
	require.NoError(t, err)
	kg, err := w.In(quantity.MustUnit("kg"))
	require.NoError(t, err)
	assert.Equal(t, "16.193247609", kg.Low.Decimal())
}

func TestWhatIsNotUCUMIsRefusedWithWhatWasProbablyMeant(t *testing.T) {
	for code, meant := range map[string]string{
		"mL/hr": "mL/h", "ml/hr": "mL/h", "cc/hr": "mL/h", "mcg": "ug", "µg": "ug", "μg": "ug", "mcg/kg/min": "ug/kg/min", "gtt/min": "[drp]/min",
		"mEq": "meq", "mEq/L": "meq/L", "units": "[iU]", "IU": "[iU]", "units/hr": "[iU]/h", "lbs": "[lb_av]", "hr": "h", "days": "d",
		"mg/m²": "mg/m2", "cc": "mL", "KG": "kg",
		// part by part
		"mg/kg/hr": "mg/kg/h", "IU/mL": "[iU]/mL", "mcg/ml": "ug/ml", "mg/kg/day": "mg/kg/d", "gtt/minute": "[drp]/min", "units/kg/hr": "[iU]/kg/h",
		// nothing is made up
		"": "", "mg/": "", "m g": "", "mL / h": "", "(mg": "", "mg)": "", "{dose": "", "dose}": "", "[iU": "", "iU]": "", "mg//kg": "", "mg..kg": "", "/": "", ".": "",
		"mg/MU/hr": "", "blob/hr": "", "mg kg": "", "mg*kg": "", "10*": "", "10*21": "", "10*-21": "", "0": "", "0.g": "", "mg0": "", "m7": "", "m-7": "", "mg-": "",
		"Cel": "", "[degF]": "", "[pH]": "", "[arb'U]": "", "m[Hg]": "", "mm[Hg]": "", "[tbs_us]": "", "MG": "", "ML/H": "", "min-2x": "", "{a b}": "", "{ä}": "", "{{a}}": "",
		"mg{a}{b}": "", "10*6[iU]": "", "kmin": "", "mh": "", strings.Repeat("(", 10) + "g" + strings.Repeat(")", 10): "", strings.Repeat("g.", 40) + "g": "",
	} {
		_, err := quantity.ParseUnit(code)
		var e *quantity.UnitError
		if assert.True(t, errors.As(err, &e), "%q was read", code) {
			assert.Equal(t, meant, e.Meant, code)
			assert.Equal(t, code, e.Code)
			if meant != "" {
				assert.Contains(t, err.Error(), `probably "`+meant+`" was meant`)
				assert.Equal(t, meant, quantity.Meant(code))
			}
		}
	}
}

// Exponents are added in a small integer: fourteen L6 and m7 would come
// round to a volume.
func TestAPowerNeverComesRoundToAnotherDimension(t *testing.T) {
	_, err := quantity.ParseUnit(strings.Repeat("L6.", 14) + "m6.m")
	assert.ErrorContains(t, err, "power above 20")
	_, err = quantity.ParseUnit("m6.m6.m6.m2")
	assert.NoError(t, err, "20 is allowed")
	_, err = quantity.ParseUnit("m6.m6.m6.m3")
	assert.Error(t, err, "21 is not")
	_, err = quantity.ParseUnit("/m6/m6/m6/m3")
	assert.Error(t, err, "nor −21")
	_, err = quantity.ParseUnit("L6.L6/L6/L6")
	assert.Error(t, err, "36 on the way is too much, too")
}

// The NAME of a value says whether a kilogram is the patient.
func TestMassIsReadAsBodyMassOnlyWhereTheNameAsksAndAMassIsWritten(t *testing.T) {
	perKg, perKgTime := quantity.Mass.Per(quantity.BodyMass), quantity.Mass.Per(quantity.BodyMass).Per(quantity.Time)
	for _, c := range []struct {
		code string
		as   quantity.Dimension
		ok   bool
	}{
		{"mg/kg", perKg, true}, {"ug/kg/min", perKgTime, true}, {"mg/(kg.d)", perKgTime, true}, {"mg.kg-1", perKg, true}, {"mg/kg/{dose}", perKg, true},
		{"[iU]/kg", quantity.International.Per(quantity.BodyMass), true}, {"mL/kg/h", quantity.Volume.Per(quantity.BodyMass).Per(quantity.Time), true},
		{"kg", quantity.BodyMass, true}, {"kg", quantity.Mass, true}, {"[lb_av]", quantity.BodyMass, true}, {"mg/kg", quantity.None, true}, {"kg/m2", quantity.BodyMass.Per(quantity.Area), true},
		{"mg", perKg, false}, {"mg/m2", perKg, false}, {"mg/h", perKgTime, false}, {"mg/kg", perKgTime, false}, {"mL", quantity.BodyMass, false},
		{"{dose}", perKg, false}, {"1", perKg, false}, {"%", perKg, false}, {"10*6", perKg, false}, {"mL/mL", perKg, false}, {"/h", perKgTime, false}, {"{dose}/h", perKgTime, false},
	} {
		q, err := quantity.Parse("5", c.code, c.as)
		if !c.ok {
			assert.Error(t, err, "%s as %s", c.code, c.as)
			continue
		}
		if assert.NoError(t, err, "%s as %s", c.code, c.as) {
			assert.Equal(t, c.as, q.Unit.Dimension())
		}
	}
	// 0.375 ug/kg/min × 60 min ÷ 1000 = 0.0225 mg/kg/h.
	q, err := quantity.Parse("0.375", "ug/kg/min", perKgTime)
	require.NoError(t, err)
	in, err := q.In(quantity.MustUnit("mg/kg/h"))
	require.NoError(t, err)
	assert.Equal(t, "0.0225", in.Low.Decimal())
	assert.Equal(t, perKgTime, in.Unit.Dimension(), "it stays per body mass")
}

func TestUnitsOfAnotherDimensionAreNeverConverted(t *testing.T) {
	for _, pair := range [][2]string{{"mg", "mL"}, {"meq", "mmol"}, {"[iU]", "U"}, {"[iU]", "[USP'U]"}, {"[iU]", "mg"}, {"mosm", "mmol"}, {"[drp]", "mL"}, {"h", "mL"}, {"mg/m2", "mg/kg"}, {"mL/h", "mg/h"}} {
		for range 2 {
			_, err := quantity.Point(quantity.Int(1), quantity.MustUnit(pair[0])).In(quantity.MustUnit(pair[1]))
			assert.ErrorContains(t, err, "is a unit of", "%s in %s", pair[0], pair[1])
			pair[0], pair[1] = pair[1], pair[0]
		}
	}
	_, err := quantity.Parse("5", "mg", quantity.Volume)
	assert.ErrorContains(t, err, `unit "mg" is a unit of mass; need one of volume`)
}

var families = [][]string{{"kg", "g", "mg", "ug", "ng", "[lb_av]", "[oz_av]"}, {"L", "mL", "dL", "uL", "cm3", "m3"}, {"s", "min", "h", "d", "wk", "mo", "a"},
	{"m", "cm", "mm", "[in_i]", "[ft_i]"}, {"mg/mL", "g/L", "ug/mL", "mg/dL", "g/dL"}, {"mL/h", "mL/min", "L/d"}, {"mg/kg/h", "ug/kg/min", "mg/kg/d"}, {"[iU]/h", "k[iU]/d", "10*6.[iU]/wk"}}

func TestConvertingThereAndBackLosesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		family := rapid.SampledFrom(families).Draw(t, "family")
		a, b := quantity.MustUnit(rapid.SampledFrom(family).Draw(t, "from")), quantity.MustUnit(rapid.SampledFrom(family).Draw(t, "to"))
		q := quantity.Range(anyNumber.Draw(t, "low"), anyNumber.Draw(t, "high"), a)
		there, err := q.In(b)
		assert.NoError(t, err)
		back, err := there.In(a)
		assert.NoError(t, err)
		assert.True(t, back.Low.Equal(q.Low) && back.High.Equal(q.High))
		assert.Equal(t, a.Code(), back.Unit.Code())
		assert.True(t, q.Low.Cmp(q.High) <= 0, "the ends are in order")
		assert.True(t, q.Low.Cmp(q.Middle()) <= 0 && q.Middle().Cmp(q.High) <= 0)
		assert.True(t, a.FromBase(a.ToBase(q.Low)).Equal(q.Low))
	})
}

func TestAQuantityWithoutAUnitIsAbsent(t *testing.T) {
	assert.True(t, quantity.Quantity{}.Absent())
	q := quantity.Point(quantity.Int(2), quantity.MustUnit("g"))
	assert.False(t, q.Absent())
	assert.True(t, q.IsPoint())
	assert.False(t, quantity.Range(quantity.Int(1), quantity.Int(2), q.Unit).IsPoint())
	assert.True(t, quantity.Unit{}.IsZero())
}
