package r4

import (
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// readRate reads rate[x] of one repetition.
func (o *orderScope) readRate(n element.Node, i *instruction, label string) {
	if q, ok := o.quantity(n.Get("rateQuantity")); ok {
		o.rate(q, i, label)
	}
	if r := n.Get("rateRange"); r.Exists() {
		o.rateRange(r, i, label)
	}
	if r := n.Get("rateRatio"); r.Exists() {
		o.rateRatio(r, i, label)
	}
}

func (o *orderScope) rate(q number, i *instruction, label string) {
	if q.counted() {
		o.fault("record-unit-unknown", q.node, "a rate of "+q.literal+" without a unit of rate", "volume or amount of drug per time", "the rate has no unit")
		return
	}
	f := formOf(q)
	switch f.name {
	case "rate", "drugRate", "drugRatePerKg", "drugRatePerArea", "ratePerKg", "dropRate":
	case "duration":
		o.timeAsRate(q.node, q.literal+" "+q.unit.Code())
		if s, ok := q.stated("duration", quantity.Time, order.Coded, "time in the field of the rate"); ok {
			i.rates = append(i.rates, s)
		}
		return
	default:
		o.fault("record-unit-unknown", q.node, "a rate in "+quoted(q.unit.Code()), "volume or amount of drug per time", "the rate is not in a unit of rate")
		return
	}
	s, ok := q.stated(f.name, f.dim, order.Coded, label)
	if !ok {
		return
	}
	i.rates = append(i.rates, s)
	if f.name == "ratePerKg" {
		o.rateOfBody(s, i)
	}
}

// timeAsRate: an infusion time typed into the rate (as in HL7's own example
// medrx0315) is read as the time and said.
func (o *orderScope) timeAsRate(n element.Node, what string) {
	o.fault("record-text-contradicts", n, "a time ("+what+") in the field of the rate", "a rate here, and the infusion time in timing.repeat.duration",
		"the field of the rate holds a time; it was read as the infusion time")
}

// rateOfBody: mL/kg/h times the dosing weight, or the newest measured one.
func (o *orderScope) rateOfBody(s order.Stated, i *instruction) {
	var weight order.Stated
	for _, d := range i.doses {
		if d.Name == "dosingWeight" {
			weight = d
		}
	}
	if weight.Name == "" {
		for _, m := range o.kase.Measurements {
			if m.Name == "weight" {
				weight = order.Stated{Quantity: m.Quantity, Place: m.Place}
				break
			}
		}
	}
	if weight.Quantity.Absent() {
		return
	}
	low, high := s.Quantity.Base()
	wl, wh := weight.Quantity.Base()
	u := quantity.MustUnit("mL/h")
	i.rates = append(i.rates, order.Stated{Name: "rate", Quantity: quantity.Range(u.FromBase(low.Mul(wl)), u.FromBase(high.Mul(wh)), u), Place: s.Place,
		Witness: order.Computed, Uses: []string{s.Place.Expression, weight.Place.Expression}, Label: "rate per kilogram times weight"})
}

func (o *orderScope) rateRange(n element.Node, i *instruction, label string) {
	if low, ok := o.quantity(n.Get("low")); ok && formOf(low).name == "duration" {
		if s, ok := o.interval(n, "time in the field of the rate", "duration"); ok {
			o.timeAsRate(n, "a range in "+low.unit.Code())
			i.rates = append(i.rates, s)
		}
		return
	}
	if s, ok := o.interval(n, label, "rate", "drugRate", "drugRatePerKg", "drugRatePerArea", "ratePerKg", "dropRate"); ok {
		i.rates = append(i.rates, s)
	}
}

// rateRatio: volume over time or amount of drug over time. A denominator
// other than one unit of time is also the time of that amount: where the
// numerator is the whole container or the whole dose, it is the infusion
// time; both readings are stated.
func (o *orderScope) rateRatio(n element.Node, i *instruction, label string) {
	num, ok := o.quantity(n.Get("numerator"))
	if !ok || num.counted() {
		return
	}
	den, ok := o.quantity(n.Get("denominator"))
	if !ok {
		return
	}
	if den.counted() || den.dimension() != quantity.Time || den.value.Sign() <= 0 {
		o.fault("record-unit-unknown", n, "a rate over "+quoted(den.unit.Code()), "volume or amount of drug over a time", "the rate is not over a time")
		return
	}
	u, err := quantity.ParseUnit(ratioUnit(num.unit.Code(), den.unit.Code()))
	if err != nil {
		return
	}
	value := num.value.Quo(den.value)
	q := number{node: n, value: value, unit: u}
	q.literal = ratioLiteral(order.Strength{NumeratorLiteral: num.literal, Denominator: quantity.Point(den.value, den.unit)}, value)
	f := formOf(q)
	if s, ok := q.stated(f.name, f.dim, order.Coded, label); ok && f.name != "" {
		i.rates = append(i.rates, s)
	} else {
		o.fault("record-unit-unknown", n, "a rate in "+quoted(u.Code()), "volume or amount of drug per time", "the rate is not in a unit of rate")
		return
	}
	if o.isWhole(num, i) && i.duration == nil {
		if s, ok := den.stated("duration", quantity.Time, order.Coded, "denominator of the rate"); ok {
			i.rates = append(i.rates, s)
		}
	}
}

// isWhole reports whether an amount is the container or the dose itself.
func (o *orderScope) isWhole(num number, i *instruction) bool {
	whole := append([]order.Stated{}, i.doses...)
	if a := o.out.Drug.Amount; a != nil {
		whole = append(whole, *a)
	}
	mine := quantity.Point(num.value, num.unit)
	for _, s := range whole {
		if (s.Name == "dose" || s.Name == "volume") && s.Quantity.IsPoint() && sameVolume(s.Quantity, mine) {
			return true
		}
	}
	return false
}

// readCaps reads the most that may be given. A cap is a limit, never a dose
// (https://hl7.org/fhir/R4/dosage.html).
func (o *orderScope) readCaps(n element.Node, i *instruction) {
	for _, name := range []string{"maxDosePerAdministration", "maxDosePerLifetime"} {
		if q, ok := o.quantity(n.Get(name)); ok && !q.counted() {
			if f := formOf(q); f.name != "" {
				if s, ok := q.stated(name, f.dim, order.Coded, ""); ok {
					i.caps = append(i.caps, s)
				}
			}
		}
	}
	period := n.Get("maxDosePerPeriod")
	num, okNum := o.quantity(period.Get("numerator"))
	den, okDen := o.quantity(period.Get("denominator"))
	if okNum && okDen && !num.counted() && !den.counted() && den.dimension() == quantity.Time {
		if s, ok := num.stated("maxDosePerPeriod", num.dimension(), order.Coded, ""); ok {
			i.caps = append(i.caps, s)
		}
		if s, ok := den.stated("limitWindow", quantity.Time, order.Coded, ""); ok {
			i.caps = append(i.caps, s)
		}
	} else if period.Exists() {
		o.notUsed(period, "the limit per period is not an amount of drug over a time")
	}
	o.out.Caps = append(o.out.Caps, i.caps...)
}
