package quantity_test

import (
	"math/big"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"weir.example/weir/mapping/quantity"
)

// Rounding is half away from zero, zeros at the end are cut, a zero stands
// before the point.
func TestNumbersAreWrittenRoundedAndWithoutTrailingZeros(t *testing.T) {
	n := quantity.MustNumber
	for _, c := range []struct{ says, want, got string }{
		{"exactly half, up", "0.3", n("0.25").Places(1)},
		{"just below half", "0.2", n("0.2499999").Places(1)},
		{"half below zero, away from it", "-0.3", n("-0.25").Places(1)},
		{"nothing left", "0", n("0.04").Places(1)},
		{"no minus before nothing", "0", n("-0.04").Places(1)},
		{"no trailing zero", "2.5", n("2.50").Places(2)},
		{"no point behind a whole number", "200", n("200.00").Places(2)},
		{"zeros of a whole number stay", "1000", n("1000").Significant(2)},
		{"four digits of a small number", "0.001235", n("0.0012345").Significant(4)},
		{"the next power of ten is reached", "10", n("9.9996").Significant(4)},
		{"and just not", "9.999", n("9.9994").Significant(4)},
		{"more digits before the point than asked for", "123500", n("123456").Significant(4)},
		{"nine tenths carried over", "100000", n("99996").Significant(4)},
		{"zero has no digits", "0", n("0").Significant(3)},
		{"a third has no end", "0.333333", quantity.Ratio(1, 3).Decimal()},
		{"two thirds round up", "0.666667", quantity.Ratio(2, 3).Decimal()},
		{"an eighth ends", "0.125", quantity.Ratio(1, 8).Decimal()},
		{"15 places are written exactly", "0.000000000000001", n("1e-15").Decimal()},
		{"16 places are not, six digits stay", "0.0000000000000001", n("1e-16").Decimal()},
		{"S2: 1,250 mg over 60 min", "20.8333", quantity.Ratio(1250, 60).Decimal()},
		{"S5: 2,000 mL in 11 h", "181.8", quantity.Ratio(2000, 11).Significant(4)},
	} {
		assert.Equal(t, c.want, c.got, c.says)
	}
}

func TestRoundToGivesAMultipleOfTheStep(t *testing.T) {
	n := quantity.MustNumber
	assert.Equal(t, "1250", n("1215").RoundTo(n("250")).Decimal())
	assert.Equal(t, "1250", n("1125").RoundTo(n("250")).Decimal(), "half a step goes up")
	assert.Equal(t, "1000", n("1124.999").RoundTo(n("250")).Decimal())
	rapid.Check(t, func(t *rapid.T) {
		a := quantity.Ratio(rapid.Int64Range(-1<<30, 1<<30).Draw(t, "n"), rapid.Int64Range(1, 1<<20).Draw(t, "d"))
		step := quantity.Ratio(rapid.Int64Range(1, 1000).Draw(t, "step"), rapid.Int64Range(1, 1000).Draw(t, "per"))
		r := a.RoundTo(step)
		assert.True(t, r.Quo(step).IsInt())
		assert.LessOrEqual(t, r.Sub(a).Abs().Cmp(step.Quo(quantity.Int(2))), 0, "at most half a step away")
	})
}

// What is written exactly is the number; what is rounded is math/big's own
// rounding; and nothing is written that the trade misreads.
func TestWhatIsWrittenReadsBackAsTheNumber(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := anyNumber.Draw(t, "a")
		places := rapid.IntRange(0, 12).Draw(t, "places")
		s := a.Places(places)
		want, _ := new(big.Rat).SetString(a.Rat().FloatString(places))
		got, ok := new(big.Rat).SetString(s)
		assert.True(t, ok, s)
		assert.Zero(t, want.Cmp(got), "%s, math/big %s", s, want)
		for _, s := range []string{s, a.Decimal(), a.Significant(3)} {
			assert.Regexp(t, `^-?(0|[1-9][0-9]*)(\.[0-9]*[1-9])?$`, s, "leading zero, no trailing zero, no exponent")
			assert.NotEqual(t, "-0", s)
		}
	})
}

func TestSixDigitsAreNeverFurtherThanHalfOfTheLast(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := nonZero.Draw(t, "a")
		digits := rapid.IntRange(1, 9).Draw(t, "digits")
		got, ok := new(big.Rat).SetString(a.Significant(digits))
		assert.True(t, ok)
		off := new(big.Rat).Sub(got, a.Rat())
		off.Quo(off.Abs(off), new(big.Rat).Abs(a.Rat()))
		// Half of the last digit of the smallest number with so many digits:
		// 5 × 10^-digits of the value.
		half := new(big.Rat).SetFrac(big.NewInt(5), new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(digits)), nil))
		assert.LessOrEqual(t, off.Cmp(half), 0)
		shown := strings.TrimLeft(strings.Trim(strings.ReplaceAll(a.Significant(digits), ".", ""), "-"), "0")
		assert.LessOrEqual(t, len(strings.TrimRight(shown, "0")), digits)
	})
}
