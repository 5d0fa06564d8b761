package r4

import (
	"strings"

	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// stateStrength turns container volume and the strength of the one active
// ingredient into statements of the order. With several active ingredients
// only the one that carries the code of the product is the drug; the others
// stay in Ingredients.
func (o *orderScope) stateStrength() {
	d := &o.out.Drug
	if d.Amount != nil {
		o.out.Stated = append(o.out.Stated, *d.Amount)
	}
	o.ambiguousUnits()
	o.ambiguousStrengths()
	main, ok := mainIngredient(*d)
	if !ok || main.Strength == nil {
		return
	}
	s := main.Strength
	if isCount(s.Denominator.Unit.Code()) {
		o.stateContent(*s)
		return
	}
	u, err := quantity.ParseUnit(ratioUnit(s.Numerator.Unit.Code(), s.Denominator.Unit.Code()))
	if err != nil || s.Denominator.Unit.Dimension() != quantity.Volume {
		o.said(o.medication.node, "the strength of %s is not per volume and not per container: it is kept, not calculated with", d.Name)
		return
	}
	value := s.Numerator.Low.Quo(s.Denominator.Low)
	o.out.Stated = append(o.out.Stated, order.Stated{Name: "concentration", Quantity: quantity.Point(value, u), Literal: ratioLiteral(*s, value),
		Place: s.Place, Witness: order.Coded, Label: "Medication strength"})
	if d.Amount != nil && sameVolume(s.Denominator, d.Amount.Quantity) {
		d.Content = &order.Stated{Name: "content", Quantity: s.Numerator, Literal: s.NumeratorLiteral, Place: s.Place, Witness: order.Coded,
			Label: "Medication strength, per container"}
		return
	}
	if d.Amount == nil && !s.Denominator.Low.Equal(quantity.Int(1)) {
		v := order.Stated{Name: "volume", Quantity: s.Denominator, Literal: s.DenominatorLiteral, Place: s.Place, Witness: order.Coded,
			Label: "Medication strength, denominator"}
		d.Amount = &v
		d.Content = &order.Stated{Name: "content", Quantity: s.Numerator, Literal: s.NumeratorLiteral, Place: s.Place, Witness: order.Coded,
			Label: "Medication strength, per container"}
		o.out.Stated = append(o.out.Stated, v)
	}
}

// stateContent: a strength per 1, {bag} or {container} is the content of the
// container; the concentration follows from the amount when there is one.
func (o *orderScope) stateContent(s order.Strength) {
	d := &o.out.Drug
	content := quantity.Point(s.Numerator.Low.Quo(s.Denominator.Low), s.Numerator.Unit)
	literal := ""
	if s.Denominator.Low.Equal(quantity.Int(1)) {
		literal = s.NumeratorLiteral
	}
	d.Content = &order.Stated{Name: "content", Quantity: content, Literal: literal, Place: s.Place, Witness: order.Coded, Label: "Medication strength, per container"}
	if d.Amount == nil || d.Amount.Quantity.Low.Sign() <= 0 {
		return
	}
	u, err := quantity.ParseUnit(ratioUnit(content.Unit.Code(), d.Amount.Quantity.Unit.Code()))
	if err != nil {
		return
	}
	o.out.Stated = append(o.out.Stated, order.Stated{Name: "concentration", Quantity: quantity.Point(content.Low.Quo(d.Amount.Quantity.Low), u),
		Place: s.Place, Witness: order.Computed, Uses: []string{s.Place.Expression, d.Amount.Place.Expression}, Label: "Medication strength per container over its amount"})
}

// mainIngredient is the drug among the ingredients.
func mainIngredient(d order.Drug) (order.Ingredient, bool) {
	active := activeOnes(d.Ingredients)
	if len(active) == 1 {
		return active[0], true
	}
	for _, i := range active {
		if shareCode(i.Concept, d.Concept) {
			return i, true
		}
	}
	return order.Ingredient{}, false
}

// ratioUnit writes the UCUM code of a quotient.
func ratioUnit(numerator, denominator string) string {
	if strings.ContainsAny(denominator, "./") {
		denominator = "(" + denominator + ")"
	}
	return numerator + "/" + denominator
}

// ratioLiteral is the digits of a quotient where it has an end, so that its
// printed precision can be judged; "" otherwise.
func ratioLiteral(s order.Strength, value quantity.Number) string {
	if s.Denominator.Low.Equal(quantity.Int(1)) {
		return s.NumeratorLiteral
	}
	text := value.Decimal()
	if back, err := quantity.ParseNumber(text); err != nil || !back.Equal(value) {
		return ""
	}
	return text
}

func sameVolume(a, b quantity.Quantity) bool {
	if a.Unit.Dimension() != b.Unit.Dimension() {
		return false
	}
	x, _ := a.Base()
	y, _ := b.Base()
	return x.Equal(y)
}

// ambiguousUnits: milliequivalents of an ion with several charges, without
// saying of what, mean two things (20 mEq of phosphate is no amount).
func (o *orderScope) ambiguousUnits() {
	for _, i := range o.out.Drug.Ingredients {
		if i.Strength == nil || i.Strength.Numerator.Unit.Dimension() != quantity.Equivalent {
			continue
		}
		code := i.Strength.Numerator.Unit.Code()
		if strings.Contains(code, "{") {
			continue // the annotation says of what
		}
		name := words(i.Concept)
		for _, ion := range multivalent {
			if strings.Contains(name, ion) {
				o.faults = append(o.faults, fault("record-unit-ambiguous", i.Strength.Place, i.Strength.NumeratorLiteral+" mEq of "+ion,
					"mmol, or mEq with the ion and its charge named", "milliequivalents of an ion with several charges do not say which amount is meant"))
				break
			}
		}
	}
}

var multivalent = []string{"phosphate", "calcium", "magnesium"}

// ambiguousStrengths: where the ingredients of one product are stated per
// container, one stated per another volume reads two ways. More than 1 %
// apart is for a person to settle.
func (o *orderScope) ambiguousStrengths() {
	d := o.out.Drug
	if d.Amount == nil || len(activeOnes(d.Ingredients)) < 2 {
		return
	}
	perContainer, other := 0, []order.Ingredient{}
	for _, i := range d.Ingredients {
		switch {
		case i.Strength == nil:
		case isCount(i.Strength.Denominator.Unit.Code()) || sameVolume(i.Strength.Denominator, d.Amount.Quantity):
			perContainer++
		case i.Strength.Denominator.Unit.Dimension() == quantity.Volume:
			other = append(other, i)
		}
	}
	if perContainer == 0 {
		return
	}
	volume, _ := d.Amount.Quantity.Base()
	for _, i := range other {
		per, _ := i.Strength.Denominator.Base()
		content := i.Strength.Numerator.Low.Mul(volume).Quo(per)
		if i.Strength.Numerator.Low.Sign() <= 0 {
			continue
		}
		gap := content.Quo(i.Strength.Numerator.Low).Sub(quantity.Int(1)).Abs()
		if !quantity.Ratio(1, 100).Less(gap) {
			continue
		}
		unit := i.Strength.Numerator.Unit.Code()
		o.faults = append(o.faults, fault("record-strength-ambiguous", i.Strength.Place,
			i.Strength.NumeratorLiteral+" "+unit+" per "+i.Strength.DenominatorLiteral+" "+i.Strength.Denominator.Unit.Code()+", while the other ingredients are stated per container",
			"per container: "+i.Strength.NumeratorLiteral+" "+unit+" or "+content.Decimal()+" "+unit+", whichever was meant",
			"one ingredient is stated per volume and the others per container; the two readings differ by more than 1 %"))
	}
}
