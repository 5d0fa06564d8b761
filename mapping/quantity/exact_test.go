package quantity_test

import (
	"math"
	"math/big"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"weir.example/weir/mapping/quantity"
)

// anyNumber draws rationals on both sides of the int64 limit, so that both
// paths of the arithmetic are met.
var anyNumber = rapid.Custom(func(t *rapid.T) quantity.Number {
	n := rapid.OneOf(rapid.Int64Range(-1000, 1000), rapid.Int64(), rapid.SampledFrom([]int64{math.MinInt64, math.MinInt64 + 1, math.MaxInt64, -1 << 62, 1 << 62})).Draw(t, "n")
	d := rapid.OneOf(rapid.Int64Range(1, 1000), rapid.Int64Range(1, math.MaxInt64)).Draw(t, "d")
	r := big.NewRat(n, d)
	if rapid.Bool().Draw(t, "wide") {
		r.Mul(r, big.NewRat(rapid.Int64Range(1, math.MaxInt64).Draw(t, "n2"), rapid.Int64Range(1, math.MaxInt64).Draw(t, "d2")))
	}
	return quantity.FromRat(r)
})

var nonZero = anyNumber.Filter(func(a quantity.Number) bool { return a.Sign() != 0 })

// The reference is math/big throughout.
func TestEveryOperationIsThatOfMathBig(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := anyNumber.Draw(t, "a"), anyNumber.Draw(t, "b")
		x, y := a.Rat(), b.Rat()
		same := func(says string, want *big.Rat, got quantity.Number) {
			if want.Cmp(got.Rat()) != 0 {
				t.Fatalf("%s of %s and %s: %s, math/big says %s", says, x, y, got.Rat(), want)
			}
		}
		same("sum", new(big.Rat).Add(x, y), a.Add(b))
		same("difference", new(big.Rat).Sub(x, y), a.Sub(b))
		same("product", new(big.Rat).Mul(x, y), a.Mul(b))
		same("negative", new(big.Rat).Neg(x), a.Neg())
		same("absolute value", new(big.Rat).Abs(x), a.Abs())
		if b.Sign() != 0 {
			same("quotient", new(big.Rat).Quo(x, y), a.Quo(b))
		}
		assert.Equal(t, x.Cmp(y), a.Cmp(b))
		assert.Equal(t, x.Cmp(y) == 0, a.Equal(b))
		assert.Equal(t, x.Cmp(y) < 0, a.Less(b))
		assert.Equal(t, x.Sign(), a.Sign())
		assert.Equal(t, x.IsInt(), a.IsInt())
		least, greatest := quantity.Least(a, b), quantity.Greatest(a, b)
		assert.True(t, least.Cmp(greatest) <= 0 && (least.Equal(a) || least.Equal(b)))
		same("sum of the least and the greatest", new(big.Rat).Add(x, y), least.Add(greatest))
	})
}

func TestMultiplyingAndDividingGivesTheNumberBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := anyNumber.Draw(t, "a"), nonZero.Draw(t, "b")
		assert.True(t, a.Mul(b).Quo(b).Equal(a))
		assert.True(t, a.Quo(b).Mul(b).Equal(a))
		assert.True(t, a.Add(b).Sub(b).Equal(a))
		assert.True(t, a.Neg().Neg().Equal(a))
	})
}

// 250 divided by 1.5 and multiplied by 1.5 is 250: not so in decimals of any
// length, and the reason why numbers here are rationals.
func TestTheQuotientThatDecimalsCannotHold(t *testing.T) {
	a, b := quantity.Int(250), quantity.MustNumber("1.5")
	assert.Equal(t, "250", a.Quo(b).Mul(b).Decimal())
	assert.Equal(t, "166.667", a.Quo(b).Decimal())
}

func TestTheLeastInt64HasItsNegative(t *testing.T) {
	for says, a := range map[string]quantity.Number{
		"as a whole number": quantity.Int(math.MinInt64),
		"as a ratio":        quantity.Ratio(math.MinInt64, 1),
		"as a ratio turned": quantity.Ratio(math.MinInt64, -1).Neg(),
		"as a sum":          quantity.Int(-1 << 62).Add(quantity.Int(-1 << 62)),
	} {
		assert.Equal(t, "-9223372036854775808", a.Decimal(), says)
		assert.Equal(t, "9223372036854775808", a.Neg().Decimal(), says)
		assert.Equal(t, 1, a.Abs().Sign(), says)
		n, ok := a.Floor()
		assert.True(t, ok, says)
		assert.Equal(t, int64(math.MinInt64), n, says)
		_, ok = a.Neg().Ceil()
		assert.False(t, ok, "one above the greatest int64 does not fit: "+says)
	}
}

func TestFloorAndCeilingEncloseTheNumber(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := quantity.Ratio(rapid.Int64Range(-1<<40, 1<<40).Draw(t, "n"), rapid.Int64Range(1, 1<<20).Draw(t, "d"))
		low, ok1 := a.Floor()
		high, ok2 := a.Ceil()
		assert.True(t, ok1 && ok2)
		assert.LessOrEqual(t, quantity.Int(low).Cmp(a), 0)
		assert.GreaterOrEqual(t, quantity.Int(high).Cmp(a), 0)
		if a.IsInt() {
			assert.Equal(t, low, high)
		} else {
			assert.Equal(t, low+1, high)
		}
	})
}

func TestWhatIsNoNumberPanicsAsAFaultOfTheProgram(t *testing.T) {
	assert.Panics(t, func() { quantity.Ratio(1, 0) })
	assert.Panics(t, func() { quantity.Int(1).Quo(quantity.Int(0)) })
	assert.Panics(t, func() { quantity.MustNumber("1,5") })
	assert.Panics(t, func() { quantity.MustUnit("mcg") })
	assert.Equal(t, "0", quantity.Number{}.Decimal(), "the zero value is 0")
}

func TestANumberIsReadWithinItsLimitsOnBothSides(t *testing.T) {
	nines := strings.Repeat("9", quantity.MaxDigits)
	for literal, want := range map[string]string{
		"0": "0", "-0": "0", "0.0": "0", "1.50": "3/2", "2.4e3": "2400", "-0.5": "-1/2", "1e20": "100000000000000000000", "1E+2": "100",
		"1e-20": "1/100000000000000000000", nines: nines, "0." + strings.Repeat("0", 19) + "1": "1/100000000000000000000",
	} {
		n, err := quantity.ParseNumber(literal)
		if assert.NoError(t, err, literal) {
			want, _ := new(big.Rat).SetString(want)
			assert.Zero(t, want.Cmp(n.Rat()), "%s is %s", literal, n.Rat())
		}
	}
	for says, literal := range map[string]string{
		"nothing": "", "a sign alone": "-", "two signs": "--1", "a plus": "+1", "no digit before the point": ".5", "none behind it": "5.", "two points": "1.2.3",
		"a comma": "1,5", "a blank": "1 5", "a blank behind": "1 ", "words": "one", "hexadecimal": "0x10", "an underline": "1_000", "not a number": "NaN", "infinite": "Inf",
		"other digits": "１", "an exponent without digits": "1e", "an exponent with a point": "1e1.5", "one digit too many": nines + "9",
		"one digit too many, with a point": "1." + nines, "an exponent too great": "1e21", "an exponent too small": "1e-21", "a long exponent": "1e00000000000001",
		"a hundred thousand zeros": "0." + strings.Repeat("0", 100000) + "1",
	} {
		_, err := quantity.ParseNumber(literal)
		assert.Error(t, err, says)
		if err != nil {
			assert.Less(t, len(err.Error()), 200, "the message does not repeat a long text: "+says)
		}
	}
}

// Every literal within the limits is the number that math/big reads.
func TestALiteralIsTheNumberThatMathBigReads(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		literal := rapid.StringMatching(`-?(0|[1-9][0-9]{0,8})(\.[0-9]{1,8})?([eE][+-]?1?[0-9])?`).Draw(t, "literal")
		n, err := quantity.ParseNumber(literal)
		want, ok := new(big.Rat).SetString(literal)
		assert.True(t, ok)
		assert.NoError(t, err)
		assert.Zero(t, want.Cmp(n.Rat()))
	})
}
