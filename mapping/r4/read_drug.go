package r4

import (
	"slices"
	"strings"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// readDrug reads medication[x] and the Medication it leads to: what is given,
// its ingredients, strength and container volume.
func (o *orderScope) readDrug() {
	n := o.res.node
	d := &o.out.Drug
	if m := n.Get("medicationCodeableConcept"); m.Exists() {
		d.Concept, d.Place = concept(m), m.Place()
		d.Name = genericName(d.Concept)
		return
	}
	ref := n.Get("medicationReference")
	if !ref.Exists() {
		d.Place = placeOf(n, "medication")
		return
	}
	d.Place = ref.Place()
	o.line(ref.Get("display"), "medication-text")
	o.medication = o.follow(ref)
	if o.medication == nil || o.medication.kind != "Medication" {
		o.medication = nil
		d.Concept = order.Concept{Text: ref.Get("display").Text(), Place: ref.Place()}
		d.Name = genericName(d.Concept)
		return
	}
	if m := unknownModifier(o.medication.node); m.Exists() {
		o.modifier(m)
	}
	*d = o.readMedication(o.medication)
	o.stateStrength()
}

// readMedication reads a Medication resource.
func (o *orderScope) readMedication(s *resource) order.Drug {
	n := s.node
	d := order.Drug{Concept: concept(n.Get("code")), Form: concept(n.Get("form")).Name(), Place: n.Place()}
	d.Amount = o.containerVolume(n.Get("amount"))
	for _, i := range n.Get("ingredient").Each() {
		d.Ingredients = append(d.Ingredients, o.ingredient(i, s))
	}
	if status := n.Get("status"); status.Text() == "entered-in-error" {
		o.fault("record-sources-disagree", status, "entered-in-error", "a Medication in use", "the order names a Medication that was entered in error")
	}
	d.Name = genericName(d.Concept)
	if active := activeOnes(d.Ingredients); len(active) > 0 {
		if name := genericName(active[0].Concept); name != "" && (len(active) == 1 || d.Name == "" || shareCode(active[0].Concept, d.Concept)) {
			d.Name = name
		}
	}
	return d
}

// genericName is the display of an RxNorm code, else the text, else any
// display: in lower case when it is a name, as sent when it holds numbers
// and units ("100 mL" must not become "100 ml").
func genericName(c order.Concept) string {
	name := c.Name()
	for _, k := range c.Codings {
		if k.System == rxnorm && k.Display != "" {
			name = k.Display
			break
		}
	}
	name = strings.TrimSpace(name)
	if strings.ContainsAny(name, "0123456789") {
		return name
	}
	return strings.ToLower(name)
}

func (o *orderScope) ingredient(n element.Node, from *resource) order.Ingredient {
	i := order.Ingredient{Concept: concept(n.Get("itemCodeableConcept")), Place: n.Place(), Strength: o.ratio(n.Get("strength"))}
	if a := n.Get("isActive"); a.Exists() {
		active := a.Literal() == "true"
		i.Active = &active
	}
	ref := n.Get("itemReference")
	if !ref.Exists() {
		return i
	}
	i.Concept = order.Concept{Text: ref.Get("display").Text(), Place: ref.Place()}
	t := o.resolve(ref, from)
	if t.resource == nil {
		o.out.Unresolved = append(o.out.Unresolved, ref.Place())
		o.fault("record-reference-unresolved", ref, ref.Get("reference").Text(), "a resource of this document",
			"an ingredient points at something that is not in the document")
		return i
	}
	t.used = true
	if m := unknownModifier(t.node); m.Exists() {
		o.modifier(m)
	}
	if c := concept(t.node.Get("code")); !c.Absent() {
		i.Concept = c
	}
	o.line(t.node.Get("code").Get("text"), "stock-text")
	for _, inner := range t.node.Get("ingredient").Each() {
		if s := o.ratio(inner.Get("strength")); s != nil && i.Stock == nil {
			i.Stock = s
			if c := concept(inner.Get("itemCodeableConcept")); !c.Absent() {
				i.Concept = c
			}
		}
	}
	return i
}

// ratio reads a strength exactly as sent. A denominator that is a count (1,
// {bag}) keeps its annotation, or is 1.
func (o *orderScope) ratio(n element.Node) *order.Strength {
	num, ok := o.quantity(n.Get("numerator"))
	if !ok || num.unit.IsZero() {
		return nil
	}
	den, ok := o.quantity(n.Get("denominator"))
	if !ok {
		return nil
	}
	if num.value.Sign() <= 0 || den.value.Sign() <= 0 {
		o.impossible(n, "a strength of "+num.literal+" per "+den.literal, "two numbers above 0")
		return nil
	}
	if den.unit.IsZero() {
		den.unit = one
	}
	return &order.Strength{Numerator: quantity.Point(num.value, num.unit), Denominator: quantity.Point(den.value, den.unit),
		NumeratorLiteral: num.literal, DenominatorLiteral: den.literal, Place: n.Place()}
}

var one = quantity.MustUnit("1")

// containerVolume is Medication.amount: a volume in one container.
func (o *orderScope) containerVolume(n element.Node) *order.Stated {
	num, ok := o.quantity(n.Get("numerator"))
	if !ok {
		return nil
	}
	den, ok := o.quantity(n.Get("denominator"))
	if ok && den.value.Sign() <= 0 {
		o.impossible(n, "an amount of "+num.literal+" per "+den.literal, "two numbers above 0")
		return nil
	}
	if !ok || !den.counted() {
		o.notUsed(n, "the amount is not per container")
		return nil
	}
	v, ok := num.stated("volume", quantity.Volume, order.Coded, "Medication amount")
	if !ok {
		o.notUsed(n, "the amount in the container is no volume")
		return nil
	}
	if !den.value.Equal(quantity.Int(1)) {
		v.Quantity = quantity.Point(num.value.Quo(den.value), v.Quantity.Unit)
		v.Literal = ""
	}
	return &v
}

// activeOnes are the ingredients that are the drug: marked active, or not
// marked and no diluent by name while another is not a diluent either.
func activeOnes(list []order.Ingredient) []order.Ingredient {
	var active []order.Ingredient
	for _, i := range list {
		if i.Active != nil && *i.Active || i.Active == nil && !isDiluent(i.Concept) {
			active = append(active, i)
		}
	}
	if len(active) == 0 {
		for _, i := range list {
			if i.Active == nil {
				active = append(active, i)
			}
		}
	}
	return active
}

// isDiluent reports whether a name is that of a solution drugs are put into,
// and of nothing that was put into it.
func isDiluent(c order.Concept) bool {
	w := words(c)
	return compendium.OnlyFluid(w) && slices.ContainsFunc(diluentNames, func(d string) bool { return strings.Contains(w, d) })
}

// diluentNames: common practice, no source.
var diluentNames = []string{"sodium chloride 0.9", "0.9 % sodium chloride", "0.9% sodium chloride", "sodium chloride 0.45", "normal saline",
	"dextrose 5", "5 % dextrose", "5% dextrose", "glucose 5", "water for injection", "sterile water", "lactated ringer", "ringer's"}

func shareCode(a, b order.Concept) bool {
	for _, x := range a.Codings {
		for _, y := range b.Codings {
			if x.System == y.System && x.Code == y.Code && x.Code != "" {
				return true
			}
		}
	}
	return false
}
