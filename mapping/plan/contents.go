package plan

import (
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// sameContents is how far what is in a unit may be from what is ordered, as a
// fraction: what a rounded dose or the fill above it makes of it. Common
// practice, no source.
var sameContents = quantity.Ratio(1, 20)

// otherContents says how a lot differs from what is ordered: another drug,
// another amount in the unit, or another strength, where both are stated. ""
// when it does not. A mixture of more than two ingredients is not compared
// here.
func otherContents(made, ordered order.Drug, q order.Quantities) string {
	if len(actives(ordered)) > 2 || len(actives(made)) > 2 {
		return ""
	}
	if name := made.Concept.Name(); name != "" && ordered.Name != "" && !sameDrug(made.Concept, ordered) && made.Name != ordered.Name {
		return "is of " + name
	}
	for _, i := range actives(made) {
		if i.Strength == nil || i.Strength.Numerator.Absent() || i.Strength.Denominator.Absent() {
			continue
		}
		if why := otherAmount(*i.Strength, actives(ordered), q["dose"]); why != "" {
			return why
		}
		if why := otherStrength(*i.Strength, q["concentration"]); why != "" {
			return why
		}
	}
	return ""
}

// otherAmount compares the drug in a whole unit with the dose, and with the
// unit that the order itself describes: either will do, since a unit may be
// filled above its dose. Two strengths of one concentration differ in nothing
// else: 1,250 mg in 250 mL and 750 mg in 150 mL.
func otherAmount(made order.Strength, ordered []order.Ingredient, dose order.Quantity) string {
	amount, whole := wholeUnit(made)
	if !whole {
		return ""
	}
	compared := false
	if !dose.Disputed && !dose.Unit.IsZero() && dose.Unit.Dimension() == made.Numerator.Unit.Dimension() {
		compared = true
		if near(amount, dose.Unit.ToBase(dose.Value)) {
			return ""
		}
	}
	for _, i := range ordered {
		if i.Strength == nil || i.Strength.Numerator.Absent() || i.Strength.Numerator.Unit.Dimension() != made.Numerator.Unit.Dimension() {
			continue
		}
		if own, ok := wholeUnit(*i.Strength); ok {
			compared = true
			if near(amount, own) {
				return ""
			}
		}
	}
	if !compared {
		return ""
	}
	return "holds " + shown(made.Numerator.Unit.FromBase(amount), made.Numerator.Unit) + " in each unit, not what is ordered"
}

// wholeUnit is the base value of the drug in a whole unit. A strength per one
// millilitre says nothing about it.
func wholeUnit(s order.Strength) (quantity.Number, bool) {
	amount, high := s.Numerator.Base()
	one := quantity.Int(1)
	per := s.Denominator
	return amount, amount.Equal(high) && !s.Denominator.Absent() && !(per.Unit.Dimension() == quantity.Volume && per.Low.Equal(one))
}

func otherStrength(made order.Strength, want order.Quantity) string {
	num, _ := made.Numerator.Base()
	den, _ := made.Denominator.Base()
	if want.Disputed || want.Unit.IsZero() || den.Sign() <= 0 || made.Numerator.Unit.Dimension().Per(made.Denominator.Unit.Dimension()) != want.Unit.Dimension() {
		return ""
	}
	if have := num.Quo(den); !near(have, want.Unit.ToBase(want.Value)) {
		return "holds " + notation.Code(want.Unit.FromBase(have).Significant(4), want.Unit.Code()) + ", not " + notation.Code(want.Value.Significant(4), want.Unit.Code())
	}
	return ""
}

// near reports whether a is b to sameContents of b.
func near(a, b quantity.Number) bool {
	return b.Sign() > 0 && !sameContents.Less(a.Quo(b).Sub(quantity.Int(1)).Abs())
}
