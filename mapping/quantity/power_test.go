package quantity_test

import (
	"math"
	"math/big"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"weir.example/weir/mapping/quantity"
)

func TestAPowerThatIsExactIsOneNumber(t *testing.T) {
	for _, c := range []struct{ a, exponent, want string }{
		{"2", "10", "1024"}, {"3", "0", "1"}, {"1", "0.725", "1"}, {"12", "2", "144"}, {"1.5", "2", "2.25"}, {"2", "-3", "0.125"},
		{"4", "0.5", "2"}, {"4", "1.5", "8"}, {"0.25", "0.5", "0.5"}, {"32", "0.2", "2"}, {"32", "-0.4", "0.25"}, {"10", "11", "100000000000"},
		{"7", "1", "7"}, {"0.1", "12", "0.000000000001"}, {"6.25", "0.5", "2.5"}, {"10", "20", "1e20"},
	} {
		low, high := quantity.Power(quantity.MustNumber(c.a), quantity.MustNumber(c.exponent))
		want := quantity.MustNumber(c.want)
		assert.True(t, low.Equal(want) && high.Equal(want), "%s^%s: %s to %s", c.a, c.exponent, low.Rat(), high.Rat())
	}
}

// Digits of tables of constants: √2, ∛2, √10, 2^(1/12), 10^0.3 and, of the
// surface and kidney equations, powers worked to 40 digits in other decimal arithmetic.
func TestAPowerLiesBetweenItsBoundsToTwelveDigits(t *testing.T) {
	third := quantity.Ratio(1, 3)
	for _, c := range []struct {
		a        string
		exponent quantity.Number
		want     string
	}{
		{"2", quantity.MustNumber("0.5"), "1.41421356237309504"}, {"2", third, "1.25992104989487316"}, {"10", quantity.MustNumber("0.5"), "3.16227766016837933"},
		{"2", quantity.Ratio(1, 12), "1.05946309435929526"}, {"10", quantity.MustNumber("0.3"), "1.99526231496887960"}, {"3", quantity.MustNumber("-0.5"), "0.577350269189625764"},
		{"175", quantity.MustNumber("0.725"), "42.2865822438273171"}, {"70", quantity.MustNumber("0.425"), "6.08368426972812011"}, {"110", quantity.MustNumber("0.3964"), "6.44477945979816429"}, {"18", quantity.MustNumber("0.5378"), "4.73244475924701726"},
		{"0.9938", quantity.MustNumber("58"), "0.697174605739685717"}, {"1.5555", quantity.MustNumber("-1.2"), "0.588512892678572294"}, {"0.8888", quantity.MustNumber("-0.302"), "1.03624196993397141"},
	} {
		low, high := quantity.Power(quantity.MustNumber(c.a), c.exponent)
		want := quantity.MustNumber(c.want)
		assert.True(t, low.Less(want) && want.Less(high), "%s^%s: %s to %s", c.a, c.exponent, low.Rat(), high.Rat())
		step := high.Sub(low).Quo(low)
		assert.True(t, step.Cmp(quantity.MustNumber("1.0001e-11")) <= 0 && quantity.MustNumber("1e-13").Less(step), "the bounds are one step of the twelfth digit apart")
	}
}

var base = rapid.Custom(func(t *rapid.T) quantity.Number {
	d := rapid.OneOf(rapid.Int64Range(1, 100), rapid.Int64Range(1, 1<<40)).Draw(t, "d")
	return quantity.Ratio(rapid.OneOf(rapid.Int64Range(1, 1000), rapid.Int64Range(1, 1<<40)).Draw(t, "n"), d)
})

// The judge is math/big in whole numbers: low ≤ a^(p/q) ≤ high exactly when
// low^q ≤ a^p ≤ high^q.
func TestAPowerIsEnclosedAsMathBigCounts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := base.Draw(t, "a")
		p, q := rapid.Int64Range(-120, 120).Draw(t, "p"), rapid.Int64Range(1, 40).Draw(t, "q")
		low, high := quantity.Power(a, quantity.Ratio(p, q))
		want := raised(a.Rat(), p)
		if low.Sign() <= 0 || raised(low.Rat(), q).Cmp(want) > 0 || raised(high.Rat(), q).Cmp(want) < 0 {
			t.Fatalf("%s^(%d/%d) is not between %s and %s", a.Rat(), p, q, low.Rat(), high.Rat())
		}
	})
}

func raised(r *big.Rat, n int64) *big.Rat {
	out, factor := big.NewRat(1, 1), r
	if n < 0 {
		factor, n = new(big.Rat).Inv(r), -n
	}
	for range n {
		out.Mul(out, factor)
	}
	return out
}

func TestASquareEnclosesTheProductAndTheRootComesBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := base.Draw(t, "a")
		low, high := quantity.Power(a, quantity.Int(2))
		assert.True(t, low.Cmp(a.Mul(a)) <= 0 && a.Mul(a).Cmp(high) <= 0)
		low, _ = quantity.Power(low, quantity.Ratio(1, 2))
		_, high = quantity.Power(high, quantity.Ratio(1, 2))
		assert.True(t, low.Cmp(a) <= 0 && a.Cmp(high) <= 0)
		s1, s2 := quantity.Sqrt(a)
		r1, r2 := quantity.Power(a, quantity.Ratio(1, 2))
		assert.True(t, r1.Cmp(s2) <= 0 && s1.Cmp(r2) <= 0, "both enclose the same root")
	})
}

// Binary fractions agree to the digits they have.
func TestAPowerIsNearTheOneOfBinaryFractions(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := quantity.Ratio(rapid.Int64Range(1, 100000).Draw(t, "a"), 1000)
		e := quantity.Ratio(rapid.Int64Range(-3000, 3000).Draw(t, "exponent"), 1000)
		low, _ := quantity.Power(a, e)
		x, _ := a.Rat().Float64()
		y, _ := e.Rat().Float64()
		got, err := strconv.ParseFloat(low.Significant(15), 64)
		assert.NoError(t, err)
		assert.InEpsilon(t, math.Pow(x, y), got, 2e-11)
	})
}

func TestAPowerRisesWithItsBase(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := base.Draw(t, "a"), base.Draw(t, "b")
		e := quantity.Ratio(rapid.Int64Range(1, 3000).Draw(t, "exponent"), 1000)
		low, _ := quantity.Power(quantity.Least(a, b), e)
		_, high := quantity.Power(quantity.Greatest(a, b), e)
		assert.True(t, low.Cmp(high) <= 0)
	})
}

func TestWhatHasNoPowerPanicsAsAFaultOfTheProgram(t *testing.T) {
	assert.Panics(t, func() { quantity.Power(quantity.Int(0), quantity.Int(2)) })
	assert.Panics(t, func() { quantity.Power(quantity.Int(-4), quantity.Int(2)) })
	assert.Panics(t, func() { quantity.Power(quantity.Int(2), quantity.MustNumber("1000.001")) })
	assert.Panics(t, func() { quantity.Power(quantity.Int(2), quantity.Int(-1001)) })
	assert.NotPanics(t, func() { quantity.Power(quantity.Int(2), quantity.Int(1000)) })
	assert.NotPanics(t, func() { quantity.Power(quantity.MustNumber("1e-20"), quantity.Int(-1000)) })
}
