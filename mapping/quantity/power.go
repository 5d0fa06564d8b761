package quantity

import (
	"math/big"

	"github.com/cockroachdb/apd/v3"
)

// powerWorking digits are carried, powerDigits are kept; powerSlack is far
// above the error of the first and far below a step of the second.
const (
	powerWorking = 50
	powerDigits  = 12
	powerSlack   = -40
)

// maxExponent keeps a power within what the decimal library can hold.
const maxExponent = 1000

// Power returns two numbers, a step of the twelfth significant digit apart,
// between which a to the power of exponent lies; equal when it is exact to
// that many digits. Rounding is outward, as in Sqrt. It panics when a is not
// above 0 or exponent is beyond ±1000: both are faults of the caller.
func Power(a, exponent Number) (low, high Number) {
	if a.Sign() <= 0 {
		panic("quantity.Power: number not above zero")
	}
	if Int(maxExponent).Less(exponent.Abs()) {
		panic("quantity.Power: exponent beyond ±1000")
	}
	context := apd.BaseContext.WithPrecision(powerWorking)
	var d apd.Decimal
	if _, err := context.Pow(&d, decimal(context, a), decimal(context, exponent)); err != nil {
		panic("quantity.Power: " + err.Error())
	}
	near := fromRat(new(big.Rat).Mul(new(big.Rat).SetInt(d.Coeff.MathBigInt()), pow10(int(d.Exponent))))
	slack := near.Mul(fromRat(pow10(powerSlack)))
	if whole := near.RoundDigits(powerDigits); whole.Sub(near).Abs().Cmp(slack) <= 0 && isPower(whole, a, exponent) {
		return whole, whole
	}
	low, high = near.Sub(slack), near.Add(slack)
	step := fromRat(pow10(low.magnitude() - powerDigits))
	n, _ := low.Quo(step).Floor() // at most 12 digits, 13 for the ceiling
	m, _ := high.Quo(step).Ceil()
	return Int(n).Mul(step), Int(m).Mul(step)
}

// decimal is a to the digits of the context.
func decimal(context *apd.Context, a Number) *apd.Decimal {
	r, d := a.Rat(), new(apd.Decimal)
	over := apd.NewWithBigInt(new(apd.BigInt).SetMathBigInt(r.Num()), 0)
	under := apd.NewWithBigInt(new(apd.BigInt).SetMathBigInt(r.Denom()), 0)
	if _, err := context.Quo(d, over, under); err != nil {
		panic("quantity.Power: " + err.Error())
	}
	return d
}

// isPower reports whether root is a to the power of p/q, that is root^q =
// a^p, for fractions small enough to be tried in whole numbers.
func isPower(root, a, exponent Number) bool {
	e := exponent.Rat()
	p, q := e.Num(), e.Denom()
	if q.Cmp(big.NewInt(100)) > 0 || p.CmpAbs(big.NewInt(maxExponent)) > 0 {
		return false
	}
	return raise(root.Rat(), q.Int64()).Cmp(raise(a.Rat(), p.Int64())) == 0
}

// raise is r to a whole power.
func raise(r *big.Rat, n int64) *big.Rat {
	m := big.NewInt(max(n, -n))
	over, under := new(big.Int).Exp(r.Num(), m, nil), new(big.Int).Exp(r.Denom(), m, nil)
	if n < 0 {
		over, under = under, over
	}
	return new(big.Rat).SetFrac(over, under)
}
