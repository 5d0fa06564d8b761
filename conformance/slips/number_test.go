package slips_test

import (
	"math/big"
	"strings"
)

// Own arithmetic on math/big: a fault in the numbers that are measured must
// not be able to hide in the numbers that measure.

func rat(s string) *big.Rat {
	r, ok := new(big.Rat).SetString(s)
	if !ok {
		panic("not a number: " + s)
	}
	return r
}

func whole(n int64) *big.Rat { return new(big.Rat).SetInt64(n) }

func times(a *big.Rat, more ...*big.Rat) *big.Rat {
	p := new(big.Rat).Set(a)
	for _, b := range more {
		p.Mul(p, b)
	}
	return p
}

func over(a, b *big.Rat) *big.Rat { return new(big.Rat).Quo(a, b) }

func halved(a *big.Rat) *big.Rat { return over(a, whole(2)) }

// distance is |a − b|.
func distance(a, b *big.Rat) *big.Rat {
	d := new(big.Rat).Sub(a, b)
	return d.Abs(d)
}

func less(a, b *big.Rat) bool { return a.Cmp(b) < 0 }

// nearest rounds to a multiple of step, half upwards.
func nearest(x, step *big.Rat) *big.Rat {
	q := over(x, step)
	q.Add(q, big.NewRat(1, 2))
	n := new(big.Int).Div(q.Num(), q.Denom()) // all values are above 0
	return times(step, new(big.Rat).SetInt(n))
}

// upTo rounds up to a multiple of step.
func upTo(x, step *big.Rat) *big.Rat {
	n := nearest(x, step)
	if less(n, x) {
		n.Add(n, step)
	}
	return n
}

// lastOf is the worth of the last of n significant digits of x.
func lastOf(x *big.Rat, n int) *big.Rat {
	step := whole(1)
	ten := whole(10)
	for !less(x, times(step, ten)) {
		step.Mul(step, ten)
	}
	for less(x, step) {
		step.Quo(step, ten)
	}
	for range n - 1 {
		step.Quo(step, ten)
	}
	return step
}

// digitsOf writes x as a person prints it: no trailing zeros, at most nine
// decimals.
func digitsOf(x *big.Rat) string {
	s := x.FloatString(9)
	return strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
}

// plain counts in milligrams (or units, or milliequivalents), millilitres,
// hours, kilograms and square metres.
var plain = map[string]*big.Rat{
	"mg": whole(1), "g": whole(1000), "ug": rat("0.001"), "ng": rat("0.000001"), "[iU]": whole(1), "meq": whole(1),
	"mL": whole(1), "L": whole(1000), "h": whole(1), "min": big.NewRat(1, 60), "d": whole(24), "wk": whole(168),
	"kg": whole(1), "[lb_av]": rat("0.45359237"), "m2": whole(1), "1": whole(1), "": whole(1),
}

// worth is what one of the unit counts: "ug/kg/min" is 0.06 mg/kg/h.
func worth(unit string) *big.Rat {
	parts := strings.Split(unit, "/")
	w := whole(1)
	for i, part := range parts {
		f, ok := plain[part]
		if !ok {
			panic("unit not known here: " + unit)
		}
		if i == 0 {
			w.Mul(w, f)
		} else {
			w.Quo(w, f)
		}
	}
	return w
}
