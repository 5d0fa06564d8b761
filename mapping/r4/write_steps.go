package r4

import (
	"fmt"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/worksheet"
)

// steps writes a ramp: one Dosage for each rate, in sequence. The dose of the
// whole container stands in the words of the first and is coded on none,
// because a dose on each step reads as that dose each time.
func (b *bundler) steps(d worksheet.Delivery) []element.Value {
	var out []element.Value
	list := b.w.Refs.Source.Steps
	for i, s := range list {
		text := fmt.Sprintf("Step %d of %d", i+1, len(list))
		if i == 0 {
			text = b.words() + ". " + text
		}
		var fields []element.Field
		if s.Volume != nil {
			text += ": " + inWords(s.Volume.Quantity)
			fields = append(fields, between("dose", s.Volume.Quantity))
		}
		if s.Rate != nil {
			text += " at " + inWords(s.Rate.Quantity)
			fields = append(fields, between("rate", s.Rate.Quantity))
		}
		length := quantity.Quantity{}
		if s.Duration != nil {
			text += " for " + inWords(s.Duration.Quantity)
			length = s.Duration.Quantity
		} else {
			text += " until the container is empty"
		}
		timing := element.Obj(element.F("repeat", element.Obj(append(b.bounds(d), lasting(length)...)...)))
		if i == 0 {
			timing = b.timing(d, false, lasting(length)...)
		}
		out = append(out, b.dosage(i+1, text, timing, calculated(fields...), element.Value{}))
	}
	return out
}

// controlled writes a continuous rate and the doses the patient may ask for
// as two directions that run together: both have sequence 1. The lockout is
// the shortest time between two of them (frequency 1 in that period).
func (b *bundler) controlled(d worksheet.Delivery, p order.PatientControlled) []element.Value {
	sure := func(s *order.Stated) bool { return s != nil && !b.disputed(s.Name) && !s.Quantity.Unit.IsZero() }
	name := notation.DrugName(b.w.Order.Drug)
	text, basal := name+" continuous", element.Value{}
	if sure(p.Basal) {
		text += " at " + inWords(p.Basal.Quantity)
		basal = calculated(between("rate", p.Basal.Quantity))
	}
	out := []element.Value{b.dosage(1, text, b.timing(d, true), basal, element.Value{})}
	ask, demand, repeat := name+" on demand", element.Value{}, b.bounds(d)
	if sure(p.Demand) {
		ask += " " + inWords(p.Demand.Quantity)
		demand = calculated(between("dose", p.Demand.Quantity))
	}
	if sure(p.Lockout) && p.Lockout.Quantity.IsPoint() {
		ask += ", not sooner than " + inWords(p.Lockout.Quantity) + " after the one before"
		repeat = append(repeat, element.F("frequency", element.Int(1)))
		repeat = append(repeat, span("period", p.Lockout.Quantity)...)
	}
	if sure(p.Limit) && sure(p.Window) {
		ask += ", at most " + inWords(p.Limit.Quantity) + " in " + inWords(p.Window.Quantity)
	}
	timing := element.Obj(element.F("repeat", element.Obj(repeat...)))
	return append(out, b.dosage(1, ask, timing, demand, element.Boolean(true)))
}
