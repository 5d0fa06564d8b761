package r4

import (
	"strings"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// drugDimensions are what an amount of drug may be measured in. None is ever
// converted into another.
var drugDimensions = []quantity.Dimension{quantity.Mass, quantity.International, quantity.Pharmacopeial, quantity.Equivalent, quantity.Amount,
	quantity.Enzyme, quantity.Energy, quantity.Osmole}

// perBody reports whether a unit's code divides by body mass: UCUM writes
// mg/kg and says nothing of whose kilogram it is.
func perBody(code string) bool {
	_, under, found := strings.Cut(code, "/")
	if !found {
		return false
	}
	for _, part := range strings.FieldsFunc(under, func(r rune) bool { return strings.ContainsRune("/.()", r) }) {
		if part == "kg" || part == "g" || part == "[lb_av]" {
			return true
		}
	}
	return false
}

// form is the NAME and dimension a number has, found from its unit.
type form struct {
	name string
	dim  quantity.Dimension
}

// formOf finds what a dose or a rate is, by the dimension of its unit. The
// zero form means: no amount that can be dosed.
func formOf(q number) form {
	d, code := q.dimension(), q.unit.Code()
	per := quantity.None
	body := perBody(code)
	if body {
		per = quantity.BodyMass
	}
	type shape struct {
		name string
		dim  func(drug quantity.Dimension) quantity.Dimension
	}
	shapes := []shape{
		{"dose", func(a quantity.Dimension) quantity.Dimension { return a }},
		{"dosePerArea", func(a quantity.Dimension) quantity.Dimension { return a.Per(quantity.Area) }},
		{"drugRate", func(a quantity.Dimension) quantity.Dimension { return a.Per(quantity.Time) }},
		{"drugRatePerArea", func(a quantity.Dimension) quantity.Dimension { return a.Per(quantity.Area).Per(quantity.Time) }},
	}
	if body {
		shapes = []shape{
			{"dosePerKg", func(a quantity.Dimension) quantity.Dimension { return a.Per(per) }},
			{"drugRatePerKg", func(a quantity.Dimension) quantity.Dimension { return a.Per(per).Per(quantity.Time) }},
		}
	}
	for _, drug := range append(drugDimensions[:len(drugDimensions):len(drugDimensions)], quantity.Volume) {
		for _, s := range shapes {
			want := s.dim(drug)
			if u, ok := q.unit.As(want); ok && u.Dimension() == want && (body || want == d) {
				return form{volumeName(s.name, drug), want}
			}
		}
	}
	switch d {
	case quantity.Time:
		return form{"duration", d}
	case quantity.Drop.Per(quantity.Time):
		return form{"dropRate", d}
	}
	return form{}
}

// volumeName is the name of an amount that is a volume of fluid.
func volumeName(name string, drug quantity.Dimension) string {
	if drug != quantity.Volume {
		return name
	}
	switch name {
	case "dose":
		return "volume"
	case "dosePerKg":
		return "volumePerKg"
	case "drugRate":
		return "rate"
	case "drugRatePerKg":
		return "ratePerKg"
	}
	return "volume" + strings.TrimPrefix(name, "dose")
}

// readDoseAndRate reads one repetition: every one describes the same
// administration, as ordered or as calculated.
func (o *orderScope) readDoseAndRate(n element.Node, i *instruction) {
	label := concept(n.Get("type")).Code(doseType)
	o.readDoseBasis(n, i)
	if q, ok := o.quantity(n.Get("doseQuantity")); ok {
		o.dose(q, i, label)
	}
	if r := n.Get("doseRange"); r.Exists() {
		if s, ok := o.interval(r, label, "dose", "dosePerKg", "dosePerArea", "volume"); ok {
			i.doses = append(i.doses, s)
		}
	}
	o.readRate(n, i, label)
}

// dose files a dose by what its unit measures: an amount of drug, an amount
// per kilogram or square metre, a volume, an amount per time, or containers.
func (o *orderScope) dose(q number, i *instruction, label string) {
	if q.counted() {
		o.containers(q, i)
		return
	}
	f := formOf(q)
	if q.dimension() == quantity.Length {
		f = form{} // a length: volume per area would have this dimension
	}
	switch f.name {
	case "dose", "dosePerKg", "dosePerArea", "volume":
	case "drugRate":
		// "2 g per day" in the field of a dose is the daily dose.
		if perDay(q.unit.Code()) {
			f.name = "dailyDose"
		}
	case "", "duration", "dropRate":
		o.fault("record-unit-unknown", q.node, "a dose in "+quoted(q.unit.Code()), "an amount of drug, an amount per kg or per m2, or a volume",
			"the dose is not in a unit of amount")
		return
	}
	if s, ok := q.stated(f.name, f.dim, order.Coded, label); ok {
		i.doses = append(i.doses, s)
		o.doseOfMultivalent(q)
	}
}

// perDay reports whether a unit's code divides by days or by 24 hours.
func perDay(code string) bool {
	return strings.HasSuffix(code, "/d") || strings.HasSuffix(code, "/(24.h)")
}

// doseOfMultivalent: as for ingredients, of the drug itself.
func (o *orderScope) doseOfMultivalent(q number) {
	if q.dimension() != quantity.Equivalent || strings.Contains(q.unit.Code(), "{") {
		return
	}
	name := o.out.Drug.Name + " " + words(o.out.Drug.Concept)
	for _, ion := range multivalent {
		if strings.Contains(name, ion) {
			o.fault("record-unit-ambiguous", q.node, q.literal+" mEq of "+ion, "mmol, or mEq with the ion and its charge named",
				"milliequivalents of an ion with several charges do not say which amount is meant")
			return
		}
	}
}

// containers: a dose of one {bag} is the content of the bag.
func (o *orderScope) containers(q number, i *instruction) {
	content := o.out.Drug.Content
	if content == nil || q.unit.IsZero() {
		o.notUsed(q.node, "the dose is a count (%s), and the content of one is not stated", q.literal)
		return
	}
	u := content.Quantity.Unit
	i.doses = append(i.doses, order.Stated{Name: "dose", Quantity: quantity.Point(content.Quantity.Low.Mul(q.value), u), Place: q.node.Place(),
		Witness: order.Computed, Uses: []string{q.node.Expression(), content.Place.Expression}, Label: "containers times their content"})
}

// interval reads a Range: both ends, or nothing. An open range is no number
// to calculate with.
func (o *orderScope) interval(n element.Node, label string, names ...string) (order.Stated, bool) {
	low, okLow := o.quantity(n.Get("low"))
	high, okHigh := o.quantity(n.Get("high"))
	if !okLow || !okHigh || low.unit.IsZero() || high.unit.IsZero() {
		if n.Exists() {
			o.notUsed(n, "the range has no two ends with units")
		}
		return order.Stated{}, false
	}
	f, g := formOf(low), formOf(high)
	if f != g {
		o.fault("record-unit-unknown", n, "a range from "+low.unit.Code()+" to "+high.unit.Code(), "both ends in units of one kind", "the two ends of a range measure different things")
		return order.Stated{}, false
	}
	for _, name := range names {
		if f.name != name {
			continue
		}
		from, _ := low.as(f.dim)
		to, _ := high.as(f.dim)
		to, err := to.In(from.Unit)
		if err != nil {
			return order.Stated{}, false
		}
		return order.Stated{Name: name, Quantity: quantity.Range(from.Low, to.Low, from.Unit), Place: n.Place(), Witness: order.Coded, Label: label}, true
	}
	o.fault("record-unit-unknown", n, "a range in "+quoted(low.unit.Code()), "a range of "+strings.Join(names, ", "), "a range is in a unit that does not fit its field")
	return order.Stated{}, false
}

// readDoseBasis reads weir:dose-basis: the weight or surface the prescriber
// used, and the dose per kilogram or square metre.
func (o *orderScope) readDoseBasis(n element.Node, i *instruction) {
	x := extension(n, ours+"dose-basis")
	if !x.Exists() {
		return
	}
	if b := extensionValue(x, "basis").Text(); b != "" {
		o.out.DoseBasis = b
	}
	if q, ok := o.quantity(extensionValue(x, "value")); ok && !q.counted() {
		if s, ok := q.stated("dosingWeight", quantity.BodyMass, order.Coded, "weight the prescriber used"); ok {
			i.doses = append(i.doses, s)
		} else if s, ok := q.stated("bodySurfaceArea", quantity.Area, order.Coded, "surface the prescriber used"); ok {
			i.doses = append(i.doses, s)
		} else {
			o.notUsed(q.node, "the dosing basis is neither a mass nor an area")
		}
	}
	if q, ok := o.quantity(extensionValue(x, "perQuantity")); ok && !q.counted() {
		if f := formOf(q); f.name == "dosePerKg" || f.name == "dosePerArea" {
			if s, ok := q.stated(f.name, f.dim, order.Coded, "ordered"); ok {
				i.doses = append(i.doses, s)
			}
		} else {
			o.notUsed(q.node, "perQuantity is no dose per kilogram or square metre")
		}
	}
	if ref := extensionValue(x, "source"); ref.Exists() {
		o.mustBelong(o.follow(ref), ref)
	}
}
