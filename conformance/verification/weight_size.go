package verification

import (
	"fmt"

	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// leastAdultHeight in cm: below it an adult's height was likelier read in
// inches (common practice, no source).
var leastAdultHeight = quantity.Int(100)

// weightAgainstSize: row c1. With one weight on record nothing tells whether
// it was read in pounds but the size of the body. It asks, and never blocks:
// such bodies exist.
func weightAgainstSize(f Facts) []finding.Finding {
	var out []finding.Finding
	height, inches := adultHeight(f)
	if inches {
		cm, _ := quantity.Point(height.Quantity.Low, quantity.MustUnit("[in_i]")).In(quantity.MustUnit("cm"))
		x := here(height.Place, "an adult of "+notation.Code(height.Quantity.Low.Decimal(), height.Quantity.Unit.Code()), "a height measured again, with its unit")
		x[0].Remedy = "Measure again. " + height.Quantity.Low.Decimal() + " inches would be " + notation.Code(cm.Low.Significant(3), "cm") + "."
		out = append(out, x...)
	}
	if list := weights(f); len(list) == 1 && !inches {
		out = append(out, oneWeight(f, list[0])...)
	}
	for i := range out {
		out[i].AtMost = finding.Hold
	}
	return out
}

func oneWeight(f Facts, m order.Measurement) []finding.Finding {
	in, err := m.Quantity.In(quantity.MustUnit("kg"))
	if err != nil || in.Low.Sign() <= 0 {
		return nil
	}
	says := ""
	if usual, known := usualForAge(f.years()); known {
		if ratio := in.Low.Quo(usual); slipPattern(ratio) != "" || !ratio.Less(quantity.Int(2)) {
			says = fmt.Sprintf(" at %d years, when about %s is usual", f.years(), notation.Code(usual.Decimal(), "kg"))
		}
	}
	if index, known := massIndex(f); known && !index.Less(quantity.Int(int64(f.policy().Dose.ImplausibleIndex))) {
		says = ", a body mass index of " + index.Significant(3)
	}
	if says == "" {
		return nil
	}
	x := here(m.Place, notation.Code(in.Low.Significant(4), "kg")+says+", and no other weight on record", "a weight measured again, with its unit")
	if kg, err := quantity.Point(m.Quantity.Low, quantity.MustUnit("[lb_av]")).In(quantity.MustUnit("kg")); err == nil && m.Quantity.Unit.Code() == "kg" {
		x[0].Remedy = "Weigh again. " + m.Quantity.Low.Decimal() + " pounds would be " + notation.Code(kg.Low.Significant(3), "kg") + "."
	}
	return x
}

// usualForAge is the weight in kg by the formulas of Advanced Paediatric Life
// Support for 1 to 12 years: 2 × age + 8 up to 5, then 3 × age + 7 (from
// memory).
func usualForAge(years int) (quantity.Number, bool) {
	switch {
	case years < 1 || years > 12:
		return quantity.Number{}, false
	case years <= 5:
		return quantity.Int(int64(2*years + 8)), true
	}
	return quantity.Int(int64(3*years + 7)), true
}

// adultHeight is the newest height of an adult; low tells that it is too
// small for one.
func adultHeight(f Facts) (m order.Measurement, low bool) {
	for _, m := range f.kase().Measurements {
		if m.Name != "height" || m.Quantity.Absent() {
			continue
		}
		in, err := m.Quantity.In(quantity.MustUnit("cm"))
		return m, err == nil && f.years() >= f.policy().Records.AdultYears && in.Low.Less(leastAdultHeight)
	}
	return m, false
}

// massIndex is weight in kg over height in m squared, of an adult (World
// Health Organization: obese from 30).
func massIndex(f Facts) (quantity.Number, bool) {
	height, low := adultHeight(f)
	list := weights(f)
	if low || height.Quantity.Absent() || len(list) == 0 || f.years() < f.policy().Records.AdultYears {
		return quantity.Number{}, false
	}
	m, err1 := height.Quantity.In(quantity.MustUnit("m"))
	kg, err2 := list[0].Quantity.In(quantity.MustUnit("kg"))
	if err1 != nil || err2 != nil || m.Low.Sign() <= 0 {
		return quantity.Number{}, false
	}
	return kg.Low.Quo(m.Low.Mul(m.Low)), true
}
