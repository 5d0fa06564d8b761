package plan

import (
	"cmp"
	"slices"
	"strings"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// sameContents is how far what is in a unit may be from what is ordered, as a
// fraction: what a rounded dose or the fill above it makes of it. Common
// practice, no source.
var sameContents = quantity.Ratio(1, 20)

// contents is what the record of a lot says against the order. Other: it is
// of another drug, holds one more or one less, or another amount or strength;
// it serves no dose. Unread: part of it is not on record, so a person reads
// the label. Both "" where everything stated agrees.
type contents struct {
	other, unread string
	key           UnitKey // of another lot: what is known to differ
}

// compareContents compares each active ingredient of a lot with the one it
// stands for in the order.
func compareContents(made, ordered order.Drug, q order.Quantities) contents {
	is, want := actives(made), actives(ordered)
	if name := made.Concept.Name(); len(is) <= 2 && len(want) <= 2 && name != "" && ordered.Name != "" && !sameDrug(made.Concept, ordered) && made.Name != ordered.Name {
		return contents{other: "is of " + name, key: UnitKey{Drug: name}}
	}
	if len(is) == 0 {
		return contents{unread: "what it holds"}
	}
	alone := len(want) <= 1
	if len(want) == 0 {
		want = []order.Ingredient{{Concept: order.Concept{Text: ordered.Name, Codings: ordered.Concept.Codings}}}
	}
	var c contents
	pair := make([]int, len(is))
	for i, x := range is {
		pair[i] = slices.IndexFunc(want, func(w order.Ingredient) bool {
			return sameIngredient(x, w) || alone && (sameDrug(x.Concept, ordered) || len(is) == 1 && made.Name != "" && made.Name == ordered.Name)
		})
		name := x.Concept.Name()
		switch {
		case pair[i] >= 0:
		case name == "":
			c.unread = "what one of its ingredients is"
		case x.Active == nil:
			c.unread = "whether " + name + " in it is an active ingredient"
		case len(is) == 1:
			return contents{other: "is of " + name, key: UnitKey{Drug: name}}
		default:
			return contents{other: "also holds " + name, key: UnitKey{Drug: names(is)}}
		}
	}
	for j, w := range want {
		switch {
		case slices.Contains(pair, j) || c.unread != "":
		case w.Active != nil || alone:
			why := "does not hold " + w.Concept.Name()
			return contents{other: why, key: UnitKey{Drug: names(is) + ", " + why}}
		default:
			c.unread = "whether " + w.Concept.Name() + " is in it"
		}
	}
	for i, x := range is {
		if pair[i] < 0 {
			continue
		}
		why, unread := "", ""
		if alone {
			why = otherThanDose(x.Strength, actives(ordered), q)
		} else if w := want[pair[i]]; w.Active != nil || x.Active != nil {
			why, unread = otherThanPart(x, w)
		}
		if why != "" {
			return contents{other: why, key: keyOf(x, why)}
		}
		c.unread = cmp.Or(c.unread, unread)
	}
	return c
}

// keyOf is what is known of a unit that differs from the order in amount or
// strength, so that it equals no unit of the order.
func keyOf(x order.Ingredient, why string) UnitKey {
	amount, whole := wholeOf(x.Strength)
	if !whole {
		return UnitKey{Drug: x.Concept.Name() + ", " + why}
	}
	k := UnitKey{Strength: quantity.Point(x.Strength.Numerator.Unit.FromBase(amount), x.Strength.Numerator.Unit)}
	if per := x.Strength.Denominator; per.Unit.Dimension() == quantity.Volume {
		k.Volume = per
	}
	return k
}

// sameIngredient: a code in common, or names that say nothing else.
func sameIngredient(a, b order.Ingredient) bool {
	for _, x := range a.Concept.Codings {
		for _, y := range b.Concept.Codings {
			if x.Code != "" && x.System == y.System && x.Code == y.Code {
				return true
			}
		}
	}
	x, y := a.Concept.Name(), b.Concept.Name()
	return x != "" && y != "" && (compendium.Fold(x) == compendium.Fold(y) || compendium.SaysOnly(x, y) || compendium.SaysOnly(y, x))
}

func names(list []order.Ingredient) string {
	var out []string
	for _, i := range list {
		out = append(out, i.Concept.Name())
	}
	return strings.Join(out, " with ")
}

// otherThanDose compares the one ingredient of an order with its dose and
// strength, where both are stated.
func otherThanDose(made *order.Strength, ordered []order.Ingredient, q order.Quantities) string {
	if made == nil || made.Numerator.Absent() || made.Denominator.Absent() {
		return ""
	}
	return cmp.Or(otherAmount(*made, ordered, q["dose"]), otherStrength(*made, q["concentration"]))
}

// otherThanPart compares one ingredient of a mixture with what the order
// states of it: in the whole unit, and per volume. A dose of a mixture does
// not tell how much is of each.
func otherThanPart(made, ordered order.Ingredient) (other, unread string) {
	compared := false
	a, okA := wholeOf(made.Strength)
	b, okB := wholeOf(ordered.Strength)
	name := made.Concept.Name()
	if okA && okB && made.Strength.Numerator.Unit.Dimension() == ordered.Strength.Numerator.Unit.Dimension() {
		if compared = true; !near(a, b) {
			u := made.Strength.Numerator.Unit
			return "holds " + shown(u.FromBase(a), u) + " of " + name + " in each unit, not " + shown(u.FromBase(b), u), ""
		}
	}
	a, u, okA := perVolume(made.Strength)
	b, v, okB := perVolume(ordered.Strength)
	if okA && okB && u.Dimension() == v.Dimension() {
		if compared = true; !near(a, b) {
			return "holds " + name + " in another strength per volume than ordered", ""
		}
	}
	if !compared {
		unread = "how much " + name + " it holds"
	}
	return "", unread
}

func wholeOf(s *order.Strength) (quantity.Number, bool) {
	if s == nil || s.Numerator.Absent() {
		return quantity.Number{}, false
	}
	return wholeUnit(*s)
}

// perVolume is the base value of a strength per volume, with the unit of its
// numerator.
func perVolume(s *order.Strength) (quantity.Number, quantity.Unit, bool) {
	if s == nil || s.Numerator.Absent() || s.Denominator.Absent() || s.Denominator.Unit.Dimension() != quantity.Volume {
		return quantity.Number{}, quantity.Unit{}, false
	}
	num, high := s.Numerator.Base()
	den, _ := s.Denominator.Base()
	if den.Sign() <= 0 || !num.Equal(high) {
		return quantity.Number{}, quantity.Unit{}, false
	}
	return num.Quo(den), s.Numerator.Unit, true
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

// Differs says what of a unit made is another than the order asks for, and
// what of it is not on record; both "" where everything stated agrees.
func Differs(made, ordered order.Drug, q order.Quantities) (other, unread string) {
	c := compareContents(made, ordered, q)
	return c.other, c.unread
}
