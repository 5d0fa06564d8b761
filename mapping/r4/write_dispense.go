package r4

import (
	"fmt"
	"strings"
	"time"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/schedule"
	"weir.example/weir/mapping/worksheet"
)

const supplyType = "http://terminology.hl7.org/CodeSystem/v3-ActCode"

// writeDispenses writes one MedicationDispense for each delivery due, only
// the first when the order is blocked
// (https://hl7.org/fhir/R4/medicationdispense.html). Nothing has been made,
// so there is no whenPrepared.
func (b *bundler) writeDispenses() []entry {
	deliveries := b.w.Deliveries
	if len(deliveries) == 0 {
		deliveries = []worksheet.Delivery{{}}
	}
	if b.blocked {
		deliveries = deliveries[:1]
	}
	var out []entry
	for i, d := range deliveries {
		e := b.make("MedicationDispense", "delivery")
		e.fields = b.dispense(e, d, i)
		out = append(out, e)
	}
	return out
}

func (b *bundler) dispense(e entry, d worksheet.Delivery, i int) []element.Field {
	status, reason := "preparation", element.Value{}
	if b.held {
		status = "on-hold"
		if w, ok := b.worst(); ok {
			reason = own(w)
		}
	}
	var issues []element.Value
	for _, x := range b.issues {
		issues = append(issues, own(x))
	}
	kind, display := "FFC", "First Fill - Complete"
	switch {
	case i == 0 && len(b.w.Deliveries) > 1:
		kind, display = "FFP", "First Fill, Part Fill"
	case i > 0 && i == len(b.w.Deliveries)-1:
		kind, display = "RFC", "Refill - Complete"
	case i > 0:
		kind, display = "RFP", "Refill - Part Fill"
	}
	home := b.home()
	fields := []element.Field{
		element.F("contained", element.List(b.medication(), home)),
		element.F("identifier", ownIdentifier(e)),
		element.F("status", element.Str(status)),
		element.F("statusReasonReference", reason),
		element.F("category", codeable("http://terminology.hl7.org/fhir/CodeSystem/medicationdispense-category", "community", "Community", "")),
		element.F("medicationReference", element.Obj(element.F("reference", element.Str("#medication")))),
		element.F("subject", reference(b.w.Refs.Patient)),
		element.F("context", reference(b.w.Refs.Encounter)),
		element.F("authorizingPrescription", element.List(reference(b.w.Refs.Order))),
		element.F("type", codeable(supplyType, kind, display, "")),
	}
	if d.Units > 0 && !b.disputed("interval", "dosesPerDay", "doseCount", "courseLength") {
		fields = append(fields, element.F("quantity", counted(d.Units, "{dose}")),
			element.F("daysSupply", decimal(fmt.Sprint(d.DaysSupply), "d")))
	}
	if !home.Empty() {
		fields = append(fields, element.F("destination", element.Obj(element.F("reference", element.Str("#home")))))
	}
	return append(fields,
		element.F("note", b.deliveryNotes(d)),
		element.F("dosageInstruction", element.List(b.dosages(d)...)),
		element.F("detectedIssue", element.List(issues...)),
		element.F("eventHistory", element.List(own(entry{kind: "Provenance", id: b.proof}))))
}

func (b *bundler) deliveryNotes(d worksheet.Delivery) element.Value {
	if d.Arrival == "" {
		return element.Value{}
	}
	text := "Arrives by " + b.w.Moment(d.Arrival) + "."
	if d.Says != "" {
		text += " " + strings.ToUpper(d.Says[:1]) + d.Says[1:] + "."
	}
	return element.List(element.Obj(element.F("text", element.Str(text))))
}

func (b *bundler) disputed(names ...string) bool {
	for _, n := range names {
		if q, ok := b.w.Refs.Numbers[n]; ok && q.Disputed {
			return true
		}
	}
	return false
}

// medication is what is to be made, contained: every ingredient with its
// strength, as ordered.
func (b *bundler) medication() element.Value {
	d := b.w.Refs.Source.Drug
	code := conceptValue(d.Concept)
	if code.Empty() {
		code = element.Obj(element.F("text", element.Str(b.w.Order.Drug)))
	}
	var ingredients []element.Value
	for _, i := range d.Ingredients {
		v := element.Obj(element.F("itemCodeableConcept", conceptValue(i.Concept)))
		if i.Concept.Absent() {
			continue
		}
		if i.Active != nil {
			v = v.With(element.F("isActive", element.Boolean(*i.Active)))
		}
		if s := i.Strength; s != nil && !b.disputed("concentration") && s.Numerator.IsPoint() && s.Denominator.IsPoint() {
			v = v.With(element.F("strength", ratio(s.Numerator, s.Denominator)))
		}
		ingredients = append(ingredients, v)
	}
	m := element.Obj(element.F("resourceType", element.Str("Medication")), element.F("id", element.Str("medication")), element.F("code", code),
		element.F("form", element.Obj(element.F("text", element.Str(d.Form)))))
	if d.Amount != nil && !b.disputed("volume") {
		one := quantity.Point(quantity.Int(1), quantity.MustUnit("{container}"))
		m = m.With(element.F("amount", ratio(d.Amount.Quantity, one)))
	}
	return m.With(element.F("ingredient", element.List(ingredients...)))
}

func ratio(numerator, denominator quantity.Quantity) element.Value {
	return element.Obj(element.F("numerator", amount(numerator.Low, numerator.Unit)), element.F("denominator", amount(denominator.Low, denominator.Unit)))
}

// home is where it is delivered, contained, when an address is known.
func (b *bundler) home() element.Value {
	a := b.w.Refs.Address
	if a == nil {
		return element.Value{}
	}
	return element.Obj(element.F("resourceType", element.Str("Location")), element.F("id", element.Str("home")), element.F("name", element.Str("Home")),
		element.F("mode", element.Str("instance")),
		element.F("address", element.Obj(element.F("use", element.Str("home")), element.F("line", element.Strs(a.Lines...)), element.F("city", element.Str(a.City)),
			element.F("state", element.Str(a.State)), element.F("postalCode", element.Str(a.PostalCode)), element.F("country", element.Str(a.Country)))))
}

// dosages writes the directions of one delivery from what was settled; a
// disputed number is left out. Rates that follow each other stand in
// sequence.
func (b *bundler) dosages(d worksheet.Delivery) []element.Value {
	source := b.w.Refs.Source
	if len(source.Steps) > 0 && !b.disputed("rate", "volume", "duration") {
		var out []element.Value
		for i, s := range source.Steps {
			out = append(out, b.step(d, i+1, s))
		}
		return out
	}
	dose := element.Value{}
	if q, ok := b.settled("dose"); ok {
		dose = amount(q.Value, q.Unit)
	}
	pace := element.Value{}
	if q, ok := b.settled("rate"); ok {
		pace = decimal(short(q.Value), q.Unit.Code())
	}
	given := element.Value{}
	if !dose.Empty() || !pace.Empty() {
		given = element.List(element.Obj(element.F("type", codeable(doseType, "calculated", "Calculated", "")), element.F("doseQuantity", dose), element.F("rateQuantity", pace)))
	}
	return []element.Value{element.Obj(element.F("sequence", element.Int(1)), element.F("text", element.Str(b.words())), element.F("timing", b.timing(d)),
		element.F("route", conceptValue(source.Route)), element.F("doseAndRate", given))}
}

func (b *bundler) step(d worksheet.Delivery, n int, s order.Step) element.Value {
	repeat := element.Value{}
	if s.Duration != nil {
		u := s.Duration.Quantity.Unit
		repeat = element.Obj(element.F("repeat", element.Obj(element.F("duration", element.Num(s.Duration.Quantity.Low.Decimal())), element.F("durationUnit", element.Str(u.Code())))))
	}
	text := fmt.Sprintf("step %d", n)
	rate := element.Value{}
	if s.Rate != nil {
		rate = amount(s.Rate.Quantity.Low, s.Rate.Quantity.Unit)
		text += ": " + notation.Code(s.Rate.Quantity.Low.Decimal(), s.Rate.Quantity.Unit.Code())
	}
	return element.Obj(element.F("sequence", element.Int(n)), element.F("text", element.Str(text)), element.F("timing", repeat),
		element.F("route", conceptValue(b.w.Refs.Source.Route)),
		element.F("doseAndRate", element.List(element.Obj(element.F("type", codeable(doseType, "calculated", "Calculated", "")), element.F("rateQuantity", rate)))))
}

func (b *bundler) settled(name string) (order.Quantity, bool) {
	q, ok := b.w.Refs.Numbers[name]
	return q, ok && !q.Disputed
}

// short writes a worked-out number with at most five significant digits.
func short(n quantity.Number) string { return n.Significant(5) }

// words are the directions for people: drug, dose, route, how often, over
// how long, volume and rate.
func (b *bundler) words() string {
	parts := []string{notation.DrugName(b.w.Order.Drug)}
	say := func(before, name, after string) {
		if q, ok := b.settled(name); ok {
			parts = append(parts, strings.TrimSpace(before+" "+notation.Code(short(q.Value), q.Unit.Code())+after))
		}
	}
	say("", "dose", "")
	if r := b.w.Refs.Source.Route.Name(); r != "" {
		parts = append(parts, strings.ToLower(r))
	}
	say("every", "interval", "")
	if _, ok := b.settled("interval"); !ok {
		if q, ok := b.settled("dosesPerDay"); ok {
			parts = append(parts, notation.Number(q.Value)+" times daily")
		}
	}
	say("over", "duration", "")
	say("in", "volume", "")
	say("at", "rate", "")
	return strings.Join(parts, " ")
}

// timing says how often, with the bounds of this delivery.
func (b *bundler) timing(d worksheet.Delivery) element.Value {
	t := b.w.Refs.Source.Timing
	repeat := element.Obj()
	if d.FirstDose != "" && d.LastDose != "" {
		repeat = repeat.With(element.F("boundsPeriod", element.Obj(element.F("start", element.Str(d.FirstDose)), element.F("end", element.Str(b.lastMoment(d))))))
	}
	if t.Count > 0 && t.Count == d.Units {
		repeat = repeat.With(element.F("count", element.Int(t.Count)))
	}
	if q, ok := b.settled("duration"); ok {
		repeat = repeat.With(element.F("duration", element.Num(q.Value.Decimal())), element.F("durationUnit", element.Str(q.Unit.Code())))
	}
	if _, known := schedule.PaceOf(t); known && !t.Period.Absent() && !b.disputed("interval", "dosesPerDay") {
		repeat = repeat.With(element.F("frequency", element.Int(max(t.Frequency, 1))), element.F("period", element.Num(t.Period.Low.Decimal())),
			element.F("periodUnit", element.Str(t.Period.Unit.Code())))
	}
	repeat = repeat.With(element.F("dayOfWeek", element.Strs(t.DaysOfWeek...)), element.F("timeOfDay", element.Strs(t.TimesOfDay...)))
	v := element.Obj()
	if len(t.Events) > 0 && d.FirstDose != "" {
		v = v.With(element.F("event", element.Strs(d.FirstDose)))
	}
	v = v.With(element.F("repeat", repeat))
	if t.Code != "" {
		v = v.With(element.F("code", codeable(gts, t.Code, "", "")))
	}
	return v
}

// lastMoment is the end of the last infusion of the delivery.
func (b *bundler) lastMoment(d worksheet.Delivery) string {
	t, err := time.Parse(time.RFC3339, d.LastDose)
	q, ok := b.settled("duration")
	if err != nil || !ok {
		return d.LastDose
	}
	seconds, fits := q.Unit.ToBase(q.Value).Ceil()
	if !fits {
		return d.LastDose
	}
	return t.Add(time.Duration(seconds) * time.Second).Format(time.RFC3339)
}
