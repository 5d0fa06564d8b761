package notation_test

import (
	"math/big"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/quantity"
)

// Expectations follow the published lists (reliability rules: no trailing
// zero, leading zero, comma from 1,000, units and "per" in words).
func TestValuesInWords(t *testing.T) {
	for _, c := range []struct{ name, decimal, ucum, want string }{
		{"a pump rate says per in words", "200", "mL/h", "200 mL per hour"},
		{"a dose keeps its unit", "2", "g", "2 g"},
		{"a concentration", "20", "mg/mL", "20 mg per mL"},
		{"the micro sign never appears", "0.375", "ug/kg/min", "0.375 mcg per kg per minute"},
		{"a comma from 1,000 and a superscript two", "2400", "mg/m2", "2,400 mg per m²"},
		{"999 has no comma", "999", "mg", "999 mg"},
		{"1000 has one", "1000", "mg", "1,000 mg"},
		{"a million has two", "1000000", "[USP'U]", "1,000,000 units"},
		{"units are spelt out", "5000", "[USP'U]", "5,000 units"},
		{"international units are spelt out", "400", "[iU]", "400 international units"},
		{"one international unit", "1", "[iU]", "1 international unit"},
		{"a million international units as ordered", "24", "10*6.[iU]", "24 million international units"},
		{"milliequivalents", "40", "meq", "40 mEq"},
		{"milliequivalents per litre", "80", "meq/L", "80 mEq per L"},
		{"minutes in the plural", "30", "min", "30 minutes"},
		{"one minute", "1", "min", "1 minute"},
		{"one, written with a trailing zero", "1.0", "min", "1 minute"},
		{"half a minute is plural", "0.5", "min", "0.5 minutes"},
		{"hours", "46", "h", "46 hours"},
		{"an annotation is the thing counted", "105", "{dose}", "105 doses"},
		{"one of them", "1", "{dose}", "1 dose"},
		{"a word in y", "2", "{delivery}", "2 deliveries"},
		{"a word in x", "2", "{box}", "2 boxes"},
		{"per dose", "1.5", "mg/{dose}", "1.5 mg per dose"},
		{"an annotation behind a unit stays", "20", "mg{protein}", "20 mg (protein)"},
		{"a trailing zero goes", "1.50", "mL", "1.5 mL"},
		{"a leading zero comes", "0.5", "mg", "0.5 mg"},
		{"minus is a word", "-3", "mL", "minus 3 mL"},
		{"drops in words", "62.5", "[drp]/min", "62.5 drops per minute"},
		{"a small l is printed large", "5", "ml/h", "5 mL per hour"},
		{"a number below the line", "15", "g/(100.mL)", "15 g per 100 mL"},
		{"a day in hours below the line", "48", "mL/(24.h)", "48 mL per 24 hours"},
		{"the same day by two strokes", "48", "mL/24/h", "48 mL per 24 per hour"},
		{"brackets below the line", "3", "mg/(kg.d)", "3 mg per kg per day"},
		{"UCUM reads from left to right: the day is above the line", "3", "mg/kg.d", "3 mg-days per kg"},
		{"area under the curve", "450", "mg.h/L", "450 mg-hours per L"},
		{"a count per day", "3", "/d", "3 per day"},
		{"the same with a one", "3", "1/d", "3 per day"},
		{"body surface below the line", "54", "mL/min/{1.73_m2}", "54 mL per minute per 1.73 m²"},
		{"a count of cells", "2.1", "10*3/uL", "2.1 thousand per microlitre"},
		{"a negative exponent is below the line", "5", "mL.h-1", "5 mL per hour"},
		{"a percentage", "0.9", "%", "0.9 %"},
		{"a plain number", "3", "1", "3"},
		{"no unit", "3", "", "3"},
		{"osmoles", "348", "mosm/L", "348 mOsm per L"},
		{"nanograms in full", "0.02", "ng/mL", "0.02 nanograms per mL"},
		{"no number: the text stays", "female", "", "female"},
		{"a unit that is no UCUM is shown as a code", "5", "mL/hr", "5 `mL/hr`"},
		{"so is one without words here", "5", "[arb'U]", "5 `[arb'U]`"},
		{"an annotation that is itself forbidden is shown as a code", "5", "{QD}", "5 `{QD}`"},
		{"a backtick cannot break out", "5", "{`U`}", "5 `{\\x60U\\x60}`"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := notation.Code(c.decimal, c.ucum)
			assert.Equal(t, c.want, got)
			assert.Empty(t, notation.Scan(got))
		})
	}
}

func TestAHouseholdReadsMicrograms(t *testing.T) {
	assert.Equal(t, "50 micrograms per hour", notation.Patient("50", "ug/h"))
	assert.Equal(t, "1 microgram", notation.Patient("1", "ug"))
	assert.Equal(t, "2 g", notation.Patient("2", "g"))
	assert.Equal(t, "female", notation.Patient("female", ""))
}

// 4,390 ÷ 92 = 47.7173913…, from the order of scenario S3.
func TestRoundingNeverShortensTheWholePart(t *testing.T) {
	n := quantity.Int(4390).Quo(quantity.Int(92))
	for _, c := range []struct {
		name   string
		n      quantity.Number
		digits int
		want   string
	}{
		{"three digits", n, 3, "47.7"},
		{"four digits", n, 4, "47.72"},
		{"two digits", n, 2, "48"},
		{"one digit keeps both of the whole part", n, 1, "48"},
		{"half goes up", quantity.MustNumber("2.25"), 2, "2.3"},
		{"just under half goes down", quantity.MustNumber("2.2499"), 2, "2.2"},
		{"a large number keeps its whole part", quantity.MustNumber("12345.6"), 3, "12,346"},
		{"rounding may lengthen the whole part", quantity.MustNumber("999.6"), 3, "1,000"},
		{"the zeros of a small number do not count", quantity.MustNumber("0.0012345"), 3, "0.00123"},
		{"a trailing zero from rounding goes", quantity.MustNumber("2.996"), 3, "3"},
		{"zero", quantity.Int(0), 3, "0"},
		{"below zero", quantity.MustNumber("-47.7174"), 3, "minus 47.7"},
	} {
		t.Run(c.name, func(t *testing.T) { assert.Equal(t, c.want, notation.Rounded(c.n, c.digits)) })
	}
	mg := quantity.MustUnit("mg/mL")
	assert.Equal(t, "about 47.7 mg per mL", notation.About(n, mg, 3), "a cut value says so")
	assert.Equal(t, "50 mg per mL", notation.About(quantity.Int(50), mg, 3), "an exact one does not")
	assert.Equal(t, "about 12,346 mg per mL", notation.About(quantity.MustNumber("12345.6"), mg, 3))
	assert.Equal(t, "minus 5 mg per mL", notation.About(quantity.Int(-5), mg, 3))
}

func TestNumberAndUnitStayTogether(t *testing.T) {
	assert.Equal(t, "200\u00a0mL\u00a0per\u00a0hour", notation.NonBreaking(notation.Code("200", "mL/h")))
}

func TestNamesOfTheContractAsPeopleReadThem(t *testing.T) {
	assert.Equal(t, "dose per m²", notation.Name("dosePerArea"))
	assert.Equal(t, "infusion time", notation.Name("duration"))
	assert.Equal(t, "unheardOf", notation.Name("unheardOf"))
}

var tradeUnits = []string{"mL/h", "mg", "ug/kg/min", "[iU]", "[USP'U]/mL", "meq/L", "{dose}", "min", "mg/m2", "10*6.[iU]",
	"g/(100.mL)", "mL/(24.h)", "[drp]/mL", "mosm/L", "mg.h/L", "kg", "%", "1", "/d", "mg/{dose}", "mm[Hg]", "U/L", "10*3/uL"}

// Any number with any unit of the trade is clean, and Number gives back the
// value once commas are taken out.
func TestWhateverTheNumberTheTextIsClean(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := quantity.FromRat(big.NewRat(rapid.Int64().Draw(t, "n"), rapid.Int64Range(1, 1_000_000).Draw(t, "d")))
		u := quantity.MustUnit(rapid.SampledFrom([]string{"mL/h", "mg", "ug/kg/min", "[USP'U]", "meq/L", "{dose}", "min", "mg/m2"}).Draw(t, "unit"))
		for _, s := range []string{notation.Quantity(n, u), notation.About(n, u, rapid.IntRange(1, 6).Draw(t, "digits")), notation.Every(n, u.Code())} {
			if p := notation.Scan(s); len(p) > 0 {
				t.Fatalf("%q: %v", s, p)
			}
		}
		back := strings.ReplaceAll(strings.Replace(notation.Number(n), "minus ", "-", 1), ",", "")
		if back != n.Decimal() {
			t.Fatalf("%s came back as %s", n.Decimal(), back)
		}
	})
}

func FuzzCodeIsAlwaysClean(f *testing.F) {
	for _, u := range tradeUnits {
		f.Add("1234.50", u)
		f.Add("1", u)
	}
	f.Add("0.10", "mg/hr")
	f.Add("5", "{U}/d")
	f.Add("7", "{q.d.}")
	f.Add("1e3", "10*3/uL{x}")
	f.Fuzz(func(t *testing.T, decimal, ucum string) {
		if _, err := quantity.ParseNumber(decimal); err != nil {
			return // not a number: the caller's own words
		}
		for _, s := range []string{notation.Code(decimal, ucum), notation.Patient(decimal, ucum)} {
			if p := notation.Scan(s); len(p) > 0 {
				t.Fatalf("%q with %q is written %q: %v", decimal, ucum, s, p)
			}
			if strings.ContainsAny(s, "\n\r\x1b") {
				t.Fatalf("control character from a unit in %q", s)
			}
		}
	})
}
