package quantity

import (
	"math/big"
	"strings"
)

// Decimal writes a exactly when its decimal expansion ends within 15 places,
// else rounded half up (away from zero) to six significant digits. No
// trailing zeros, a leading zero before the point.
func (a Number) Decimal() string {
	if s, ok := a.exact(15); ok {
		return s
	}
	return a.Significant(6)
}

// Places writes a rounded half up to n decimal places, trailing zeros cut.
func (a Number) Places(n int) string {
	if s, ok := a.fastPlaces(n); ok {
		return s
	}
	return trim(a.Rat().FloatString(n))
}

// Significant writes a rounded half up to n significant digits, trailing
// zeros cut.
func (a Number) Significant(n int) string {
	if a.Sign() == 0 {
		return "0"
	}
	places := n - a.magnitude()
	if places <= 0 {
		unit := powerOfTen(-places)
		return unit.Mul(a.Quo(unit).round()).Places(0)
	}
	return a.Places(places)
}

// RoundDigits returns a rounded half away from zero to n significant digits.
func (a Number) RoundDigits(n int) Number {
	if a.Sign() == 0 {
		return a
	}
	unit := powerOfTen(a.magnitude() - n)
	return a.Quo(unit).round().Mul(unit)
}

// RoundTo returns a rounded half up to a multiple of step. step must be
// greater than 0.
func (a Number) RoundTo(step Number) Number { return a.Quo(step).round().Mul(step) }

func (a Number) round() Number {
	if a.r == nil && a.n > -1<<61 && a.n < 1<<61 && a.den() < 1<<61 {
		n, d := max(a.n, -a.n), a.den()
		whole := (2*n + d) / (2 * d)
		if a.n < 0 {
			whole = -whole
		}
		return Int(whole)
	}
	n, _ := new(big.Int).SetString(a.Rat().FloatString(0), 10)
	return fromRat(new(big.Rat).SetInt(n))
}

// magnitude is the number of digits before the point, or minus the zeros
// just behind it: 123 → 3, 0.5 → 0, 0.05 → −1.
func (a Number) magnitude() int {
	if m, ok := a.fastMagnitude(); ok {
		return m
	}
	r := a.Abs().Rat()
	m := 0
	for r.Cmp(big.NewRat(1, 1)) >= 0 {
		r.Quo(r, big.NewRat(10, 1))
		m++
	}
	for r.Cmp(big.NewRat(1, 10)) < 0 {
		r.Mul(r, big.NewRat(10, 1))
		m--
	}
	return m
}

func (a Number) exact(most int) (string, bool) {
	if s, ok := a.fastExact(most); ok {
		return s, true
	}
	r := a.Rat()
	d := new(big.Int).Set(r.Denom())
	for _, p := range []int64{2, 5} {
		for {
			q, m := new(big.Int).QuoRem(d, big.NewInt(p), new(big.Int))
			if m.Sign() != 0 {
				break
			}
			d = q
		}
	}
	if d.Cmp(big.NewInt(1)) != 0 {
		return "", false
	}
	s := r.FloatString(most)
	back, ok := new(big.Rat).SetString(s)
	if !ok || back.Cmp(r) != 0 {
		return "", false
	}
	return trim(s), true
}

func trim(s string) string {
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	if s == "-0" {
		return "0"
	}
	return s
}

// powerOfTen is 10 to the power n.
func powerOfTen(n int) Number {
	if size := max(n, -n); size < len(powersOfTen) {
		if n < 0 {
			return Ratio(1, powersOfTen[size])
		}
		return Int(powersOfTen[size])
	}
	return fromRat(pow10(n))
}

func pow10(n int) *big.Rat {
	p := new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(max(n, -n))), nil)
	if n >= 0 {
		return new(big.Rat).SetInt(p)
	}
	return new(big.Rat).SetFrac(big.NewInt(1), p)
}

// String is Decimal, for tests and messages to developers.
func (a Number) String() string { return a.Decimal() }
