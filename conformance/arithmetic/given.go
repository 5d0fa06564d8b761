package arithmetic

import (
	"slices"

	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// Knows reports whether the NAME is a quantity of the network.
func Knows(name string) bool { return indexOf(name) >= 0 }

// Interval is the range of base units that a statement of the network stands
// for.
func Interval(s order.Stated) (low, high quantity.Number) { return intervalOf(s, indexOf(s.Name)) }

// Measured is the range of base units a measured value of the body stands
// for: half a unit of its last digit, at most 2 %.
func Measured(literal string, q quantity.Quantity) (low, high quantity.Number) {
	low, high = measured(order.Measurement{Literal: literal, Quantity: q}, q)
	return q.Unit.ToBase(low), q.Unit.ToBase(high)
}

// Opens says, for the NAMEs that are known, what each further NAME would let
// be worked out.
func Opens(have []string) map[string][]string {
	var mask uint32
	for _, name := range have {
		if at := indexOf(name); at >= 0 {
			mask |= 1 << at
		}
	}
	out := map[string][]string{}
	for _, r := range pausing() {
		lacks := r.mask &^ mask
		if lacks == 0 || lacks&(lacks-1) == 0 || r.mask&mask == 0 {
			continue
		}
		first := trailing(lacks)
		second := lacks &^ (1 << first)
		if second&(second-1) != 0 {
			continue
		}
		a, b := Names[first], Names[trailing(second)]
		for give, output := range map[string]string{a: b, b: a} {
			if !slices.Contains(out[give], output) {
				out[give] = append(out[give], output)
			}
		}
	}
	return out
}

// Factor is the signature of a number that is so many times what agrees, for
// quantities outside the network.
func Factor(name string, times quantity.Number) string {
	if times.Sign() <= 0 {
		return NoSignature
	}
	near := func(factor quantity.Number) bool {
		for _, f := range []quantity.Number{factor, quantity.Int(1).Quo(factor)} {
			if times.Quo(f).Sub(quantity.Int(1)).Abs().Less(quantity.Ratio(2, 100)) {
				return true
			}
		}
		return false
	}
	switch {
	case near(quantity.Int(10)):
		return Tenfold
	case near(quantity.Int(1000)):
		return Thousandfold
	case name == "weight" && near(poundsPerKilogram):
		return Pounds
	case near(quantity.Int(60)):
		return MinutesAsHours
	}
	return NoSignature
}
