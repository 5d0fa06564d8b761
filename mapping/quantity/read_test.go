package quantity_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"weir.example/weir/mapping/quantity"
)

func TestReadTakesANumberWithItsUnitBehindIt(t *testing.T) {
	for text, want := range map[string][3]string{
		"0.375ug/kg/min": {"0.375", "0.375", "ug/kg/min"}, "250mL": {"250", "250", "mL"}, "5": {"5", "5", "1"}, "10%": {"10", "10", "%"},
		"2.2[lb_av]/kg": {"2.2", "2.2", "[lb_av]/kg"}, "21{drop}/mL": {"21", "21", "{drop}/mL"}, "1e3mL": {"1e3", "1000", "mL"},
		"5eq": {"5", "5", "eq"}, "2e-1eq": {"2e-1", "0.2", "eq"}, "1.50g": {"1.50", "1.5", "g"}, "3/d": {"3", "3", "/d"},
		"1(10*3/L)": {"1", "1", "10*3/L"}, "2(10*6.[iU])": {"2", "2", "10*6.[iU]"}, "5(10*3)/(L)": {"5", "5", "(10*3)/(L)"}, "5(mg)": {"5", "5", "(mg)"}, "1E3": {"1E3", "1000", "1"},
	} {
		q, literal, err := quantity.Read(text)
		require.NoError(t, err, text)
		assert.Equal(t, want, [3]string{literal, q.Low.Decimal(), q.Unit.Code()}, text)
	}
}

func TestReadRefusesWhatCouldBeTwoThings(t *testing.T) {
	for text, says := range map[string]string{
		"10*3/L": "power of ten", "10^3mL": "power of ten", "250 mL": "not UCUM", "mL": "not a decimal number", "": "not a decimal number",
		"250ml/hr": "mL/h", "5mcg": "ug", "5,5mL": "not UCUM", "1.2.3mL": "not a decimal number", "+5mL": "not a decimal number", "1e": "no unit", "5e--2eq": "no unit", "5(10": "closing bracket", "1e21mL": "exponent", "1(10*3/l": "closing bracket", ".5mL": "not a decimal number",
	} {
		_, _, err := quantity.Read(text)
		if assert.Error(t, err, text) {
			assert.Contains(t, err.Error(), says, text)
		}
	}
}

func TestAQuantityIsWrittenAsReadTakesIt(t *testing.T) {
	point := func(n quantity.Number, code string) quantity.Quantity {
		return quantity.Point(n, quantity.MustUnit(code))
	}
	n := quantity.MustNumber
	for _, c := range []struct {
		want string
		got  quantity.Quantity
	}{
		{"0.375ug/kg/min", point(n("0.3750"), "ug/kg/min")}, {"250mL", point(n("2.5e2"), "mL")}, {"5", point(n("5"), "1")}, {"10%", point(n("10"), "%")},
		{"-1.5meq/L", point(n("-1.5"), "meq/L")}, {"5eq", point(n("5"), "eq")}, {"3/d", point(n("3"), "/d")}, {"0mg", point(n("0"), "mg")},
		{"5(10*6.[iU])", point(n("5"), "10*6.[iU]")}, {"5(10)", point(n("5"), "10")},
		{"0.00000000000000000001g", point(n("1e-20"), "g")}, {"1e20g", point(n("1e20"), "g")},
		{"0.333333mL", point(quantity.Ratio(1, 3), "mL")}, {"0.666667mL", point(quantity.Ratio(2, 3), "mL")},
		{"0.123457e20g", point(n("123456789012345678").Mul(n("100")).Add(n("1")), "g")},
		{"5mL..7mL", quantity.Range(n("7"), n("5"), quantity.MustUnit("mL"))}, {"", quantity.Quantity{}},
	} {
		assert.Equal(t, c.want, c.got.String())
		assert.Equal(t, c.want, fmt.Sprint(c.got))
	}
	q, err := quantity.Parse("5", "mg/kg", quantity.Mass.Per(quantity.BodyMass))
	require.NoError(t, err)
	again, _, err := quantity.Read(q.String())
	require.NoError(t, err)
	assert.Equal(t, quantity.None, again.Unit.Dimension(), "only a name makes a mass the body's")
}

// anyUnit draws units of the subset in every form that UCUM gives them.
var anyUnit = rapid.Custom(func(t *rapid.T) quantity.Unit {
	atom := rapid.SampledFrom([]string{"mg", "kg", "mL", "eq", "meq", "[iU]", "[lb_av]", "m2", "h-1", "d", "%", "{drop}", "mL{a(b}", "{)}", "10*6", "10^-3", "2", "100", "1", "U", "eq2"})
	var b strings.Builder
	if rapid.Bool().Draw(t, "over") {
		b.WriteByte('/')
	}
	for i := range rapid.IntRange(1, 4).Draw(t, "length") {
		if i > 0 {
			b.WriteString(rapid.SampledFrom([]string{".", "/"}).Draw(t, "operator"))
		}
		part := atom.Draw(t, "atom")
		if rapid.Bool().Draw(t, "bracket") {
			part = "(" + part + ")"
		}
		b.WriteString(part)
	}
	return quantity.MustUnit(b.String())
})

// sameUnit asks for the very code, but for brackets around all of it.
func sameUnit(t *rapid.T, want, got quantity.Unit) {
	assert.Equal(t, want.Dimension(), got.Dimension())
	assert.True(t, want.ToBase(quantity.Int(1)).Equal(got.ToBase(quantity.Int(1))), "%s and %s", want.Code(), got.Code())
	assert.Contains(t, []string{got.Code(), "(" + got.Code() + ")"}, want.Code())
}

func TestWhatReadCanHoldComesBackFromItsPrint(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := quantity.MustNumber(rapid.StringMatching(`-?(0|[1-9][0-9]{0,8})(\.[0-9]{1,9})?([eE][+-]?(1?[0-9]|20))?`).Draw(t, "literal"))
		u := anyUnit.Draw(t, "unit")
		q := quantity.Point(n, u)
		again, _, err := quantity.Read(q.String())
		require.NoError(t, err, q.String())
		assert.True(t, again.Low.Equal(n) && again.IsPoint(), "%s", q)
		sameUnit(t, u, again.Unit)
	})
}

func TestWhatDoesNotEndComesBackToSixDigits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := quantity.Ratio(rapid.Int64Range(-1<<62, 1<<62).Draw(t, "over"), rapid.Int64Range(1, 1<<62).Draw(t, "under"))
		q := quantity.Point(n, anyUnit.Draw(t, "unit"))
		again, _, err := quantity.Read(q.String())
		require.NoError(t, err, q.String())
		sameUnit(t, q.Unit, again.Unit)
		off := again.Low.Sub(n).Abs()
		assert.LessOrEqual(t, off.Cmp(n.Abs().Mul(quantity.MustNumber("5e-6"))), 0, "%s is %s", n.Rat(), q)
	})
}
