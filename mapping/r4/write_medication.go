package r4

import (
	"slices"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// medication is what is to be made, contained
// (https://hl7.org/fhir/R4/medication.html): every ingredient with its
// strength, and the volume of one container, as ordered. Strengths in
// dispute are left out.
func (b *bundler) medication() element.Value {
	d := b.w.Refs.Source.Drug
	sure := !b.disputed("concentration", "dose", "volume") && !b.found("record-strength-ambiguous", "record-unit-ambiguous")
	var ingredients []element.Value
	for _, i := range d.Ingredients {
		if i.Concept.Absent() {
			continue
		}
		v := element.Obj(element.F("itemCodeableConcept", conceptValue(i.Concept)))
		if i.Active != nil {
			v = v.With(element.F("isActive", element.Boolean(*i.Active)))
		}
		if s := i.Strength; s != nil && sure && s.Numerator.IsPoint() && s.Denominator.IsPoint() {
			v = v.With(element.F("strength", ratio(s.Numerator, s.Denominator)))
		}
		ingredients = append(ingredients, v)
	}
	volume := element.Value{}
	if d.Amount != nil && d.Amount.Quantity.IsPoint() && !b.disputed("volume") {
		volume = ratio(d.Amount.Quantity, quantity.Point(quantity.Int(1), quantity.MustUnit("{container}")))
	}
	return element.Obj(
		element.F("resourceType", element.Str("Medication")),
		element.F("id", element.Str("medication")),
		element.F("code", conceptValue(b.drug())),
		element.F("form", codeable("", "", "", d.Form)),
		element.F("amount", volume),
		element.F("ingredient", element.List(ingredients...)))
}

// drug is the code of the whole: as ordered, and the RxNorm code of the one
// active ingredient where the order has no RxNorm code of its own.
func (b *bundler) drug() order.Concept {
	d := b.w.Refs.Source.Drug
	c := d.Concept
	if c.Absent() {
		c.Text = b.w.Order.Drug
	}
	var active []order.Ingredient
	for _, i := range d.Ingredients {
		if i.Active == nil || *i.Active {
			active = append(active, i)
		}
	}
	if c.Code(rxnorm) != "" || len(active) != 1 {
		return c
	}
	for _, k := range active[0].Concept.Codings {
		if k.System == rxnorm {
			c.Codings = append(slices.Clone(c.Codings), k)
		}
	}
	return c
}

// addressUses are the codes R4 allows (http://hl7.org/fhir/address-use).
var addressUses = []string{"home", "work", "temp", "old", "billing"}

// home is where it is delivered, contained
// (https://hl7.org/fhir/R4/location.html), when an address is known.
func (b *bundler) home() element.Value {
	a := b.w.Refs.Address
	if a == nil {
		return element.Value{}
	}
	where := []element.Field{
		element.F("line", element.Strs(a.Lines...)),
		element.F("city", element.Str(a.City)),
		element.F("state", element.Str(a.State)),
		element.F("postalCode", element.Str(a.PostalCode)),
		element.F("country", element.Str(a.Country)),
	}
	if element.Obj(where...).Empty() {
		return element.Value{}
	}
	use := element.F("use", element.When(slices.Contains(addressUses, a.Use), element.Str(a.Use)))
	return element.Obj(
		element.F("resourceType", element.Str("Location")),
		element.F("id", element.Str("home")),
		element.F("name", element.Str("Home")),
		element.F("mode", element.Str("instance")),
		element.F("address", element.Obj(append([]element.Field{use}, where...)...)),
		element.F("physicalType", codeable("http://terminology.hl7.org/CodeSystem/location-physical-type", "ho", "House", "")))
}
