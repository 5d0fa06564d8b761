package verification

import (
	"weir.example/weir/conformance/arithmetic"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// rounded: the order states a dose and what it was worked out from.
func rounded(f Facts) bool {
	return states(f.order(), "dose") && states(f.order(), "dosePerKg", "dosePerArea")
}

// workedOut are the ends of the dose by weight or surface, in the unit of the
// dose, and the fact that is missing.
func workedOut(f Facts) (dose order.Quantity, least, most quantity.Number, missing Fact) {
	dose, ok := f.quantities()["dose"]
	if !ok || dose.Disputed {
		return dose, least, most, Dose
	}
	for _, s := range []struct {
		number, size, unit string
		fact               Fact
	}{{"dosePerKg", "dosingWeight", "kg", Weight}, {"dosePerArea", "bodySurfaceArea", "m2", Height}} {
		if !states(f.order(), s.number) {
			continue
		}
		per, known := f.quantities()[s.number]
		if !known || per.Disputed {
			return dose, least, most, Dose
		}
		size, known := bodyNumber(f, s.size, s.unit)
		if !known || !states(f.order(), s.size) { // one worked out from the dose agrees with it always
			return dose, least, most, s.fact
		}
		from, to := permitted(f, s.number)
		body := quantity.MustUnit(s.unit).ToBase(size)
		in := func(n quantity.Number) quantity.Number { return dose.Unit.FromBase(per.Unit.ToBase(n).Mul(body)) }
		return dose, in(from), in(to), ""
	}
	return dose, least, most, Dose
}

// roundedBeyond: row c8. A dose inside the drug's rounding step is no
// conflict (see dose-basis), and may still be far from the one worked out
// where the step is large against it. Where numbers conflict, dose-basis
// speaks. The limit is the site's difference of dose against basis, 5 %
// unless set otherwise (common practice, no source).
func roundedBeyond(f Facts) []finding.Finding {
	dose, least, most, missing := workedOut(f)
	if _, conflict := conflictOf(f, arithmetic.Basis); conflict || missing != "" || least.Sign() <= 0 {
		return nil
	}
	from, to := permitted(f, "dose")
	nearest, off := least, quantity.Number{}
	switch {
	case to.Less(least):
		off = one.Sub(to.Quo(least))
	case most.Less(from):
		nearest, off = most, from.Quo(most).Sub(one)
	}
	if !f.policy().Dose.BasisWarn.Less(off) {
		return nil
	}
	return here(dose.Place, notation.About(dose.Value, dose.Unit, 5), notation.About(nearest, dose.Unit, 4)+" by weight or surface; the rounding changes it by "+
		off.Mul(quantity.Int(100)).Significant(2)+" %, at most "+percent(f.policy().Dose.BasisWarn.Number))
}

// roundedUnknown: where dose-basis speaks, nothing is left to ask.
func roundedUnknown(f Facts) []Fact {
	_, conflict := conflictOf(f, arithmetic.Basis)
	if _, _, _, missing := workedOut(f); missing != "" && !conflict {
		return []Fact{missing}
	}
	return nil
}
