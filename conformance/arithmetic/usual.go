package arithmetic

import (
	"weir.example/weir/mapping/quantity"
)

// Usual is what is known about the drug and the patient before any number is
// read: it ranks explanations and never makes or hides a conflict. The zero
// value stands for an unknown drug.
type Usual struct {
	Drug           quantity.Dimension           // what the drug is measured in; zero: mass
	Counted        bool                         // the drug is counted in things: no dimension, and no mass
	Continuous     bool                         // the infusion never pauses
	Rounding       quantity.Quantity            // the step doses are rounded to
	Ranges         map[string]quantity.Quantity // usual range by NAME, from the drug's table row
	Concentrations []quantity.Quantity          // concentrations the drug is known in
	Weight         quantity.Quantity            // plausible body weight for the age
	OtherWeights   []OtherWeight                // weights a dose may have been worked out on
	TopStep        quantity.Quantity            // the highest of the order's steps of the rate
}

// OtherWeight is a weight beside the actual one.
type OtherWeight struct {
	Says     string // "ideal body weight"
	Quantity quantity.Quantity
}

// bagSizes are the container volumes of the trade in millilitres (common
// practice, no source).
var bagSizes = []int64{5, 10, 20, 25, 30, 40, 48, 50, 60, 65, 100, 110, 120, 125, 130, 150, 200, 240, 250, 270, 275,
	300, 400, 500, 550, 600, 750, 1000, 1500, 2000, 2500, 3000}

// plain scores how a number between low and high (base units) would be
// written, apart from the drug: few digits, a container that is sold, a
// frequency people order. In thousandths of a natural logarithm.
func plain(at int, low, high quantity.Number, unit quantity.Unit) int {
	score := perDigit * (digits(unit.FromBase(low), unit.FromBase(high)) - 1)
	switch at {
	case volume:
		if !isBag(low, high) {
			score += oddContainer
		}
	case dosesPerDay:
		perDay := quantity.Int(86400)
		if !simplePerDay(low.Mul(perDay), high.Mul(perDay)) {
			score += oddFrequency
		}
	case interval:
		day := quantity.Int(86400)
		if !simplePerDay(day.Quo(high), day.Quo(low)) {
			score += oddFrequency
		}
	case doseCount:
		if n, ok := low.Ceil(); !ok || high.Less(quantity.Int(n)) {
			score += oddFrequency
		}
	}
	return score
}

func isBag(low, high quantity.Number) bool {
	for _, mL := range bagSizes {
		v := quantity.Ratio(mL, 1000000)
		if !v.Less(low) && !high.Less(v) {
			return true
		}
	}
	return false
}

// simplePerDay: a frequency people order: once in a whole number of days,
// or a whole number of times that divides the day.
func simplePerDay(low, high quantity.Number) bool {
	for _, f := range []quantity.Number{quantity.Int(1), quantity.Int(2), quantity.Int(3), quantity.Int(4), quantity.Int(6),
		quantity.Int(8), quantity.Int(12), quantity.Int(24), quantity.Ratio(4, 3), quantity.Ratio(2, 3), quantity.Ratio(1, 2), quantity.Ratio(1, 3),
		quantity.Ratio(1, 7), quantity.Ratio(1, 14), quantity.Ratio(1, 21), quantity.Ratio(1, 28), quantity.Ratio(3, 7), quantity.Ratio(2, 7)} {
		if !f.Less(low) && !high.Less(f) {
			return true
		}
	}
	return false
}

// digits is the least number of significant digits with which a number
// between low and high can be written (at most 6).
func digits(low, high quantity.Number) int {
	if low.Sign() <= 0 {
		return 1
	}
	unit := quantity.Int(1)
	ten := quantity.Int(10)
	for !high.Less(unit.Mul(ten)) {
		unit = unit.Mul(ten)
	}
	for high.Less(unit) {
		unit = unit.Quo(ten)
	}
	for n := 1; n < 6; n++ {
		if whole, ok := low.Quo(unit).Ceil(); ok && !high.Less(unit.Mul(quantity.Int(whole))) {
			return n
		}
		unit = unit.Quo(ten)
	}
	return 6
}
