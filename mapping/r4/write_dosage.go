package r4

import (
	"slices"
	"strings"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/worksheet"
)

// dosages writes the directions of one delivery
// (https://hl7.org/fhir/R4/dosage.html) from what was settled; a disputed
// number is left out. Rates that follow each other stand in sequence.
func (b *bundler) dosages(d worksheet.Delivery) []element.Value {
	source := b.w.Refs.Source
	switch {
	case len(source.Steps) > 0 && b.stepsHold():
		return b.steps(d)
	case source.Controlled != nil:
		return b.controlled(d, *source.Controlled)
	}
	return []element.Value{b.dosage(1, b.words(), b.timing(d, true), b.given(), element.When(b.asNeeded(), element.Boolean(true)))}
}

// stepsHold reports whether the steps of a ramp are beyond dispute.
func (b *bundler) stepsHold() bool {
	return !b.disputed("rate", "volume", "duration") && !b.found("rate-steps", "nutrition-cycle", "nutrition-rate")
}

func (b *bundler) dosage(n int, text string, timing, given, needed element.Value) element.Value {
	most := b.caps()
	return element.Obj(
		element.F("extension", element.List(b.lumen())),
		element.F("sequence", element.Int(n)),
		element.F("text", element.Str(text)),
		element.F("timing", timing),
		element.F("asNeededBoolean", needed),
		element.F("route", conceptValue(b.w.Refs.Source.Route)),
		element.F("doseAndRate", element.List(given)),
		element.F("maxDosePerPeriod", most["maxDosePerPeriod"]),
		element.F("maxDosePerAdministration", most["maxDosePerAdministration"]),
		element.F("maxDosePerLifetime", most["maxDosePerLifetime"]))
}

// calculated marks what was worked out or checked here.
func calculated(fields ...element.Field) element.Value {
	if element.Obj(fields...).Empty() {
		return element.Value{}
	}
	return element.Obj(append([]element.Field{element.F("type", codeable(doseType, "calculated", "Calculated", ""))}, fields...)...)
}

// given is dose and rate. A ramp in dispute has no single rate: the one that
// was typed may be its top step.
func (b *bundler) given() element.Value {
	var fields []element.Field
	if q, ok := b.interval("dose"); ok {
		fields = append(fields, between("dose", q))
	}
	if q, ok := b.pace(); ok {
		fields = append(fields, between("rate", q))
	}
	return calculated(fields...)
}

// pace is the one rate. A rate in dispute is not given in another unit either.
func (b *bundler) pace() (quantity.Quantity, bool) {
	if len(b.w.Refs.Source.Steps) > 0 || b.disputed("rate", "drugRate", "drugRatePerKg") {
		return quantity.Quantity{}, false
	}
	for _, name := range []string{"rate", "drugRate", "drugRatePerKg"} {
		if q, ok := b.interval(name); ok {
			return q, true
		}
	}
	return quantity.Quantity{}, false
}

func (b *bundler) asNeeded() bool {
	return slices.ContainsFunc(b.w.Refs.Source.Directions, func(d order.Direction) bool { return d.AsNeeded })
}

// lumen says through which line and lumen it runs, when that was ordered.
func (b *bundler) lumen() element.Value {
	o := b.w.Refs.Source
	device := reference(order.Reference{Type: "Device", URL: o.AccessDevice})
	return nested("access-lumen", foreignExtension("device", "Reference", device), foreignExtension("lumen", "String", element.Str(o.Lumen)))
}

// caps are the limits the order states; they stay limits.
func (b *bundler) caps() map[string]element.Value {
	out := map[string]element.Value{}
	var limit *order.Stated
	for i, c := range b.w.Refs.Source.Caps {
		switch {
		case !c.Quantity.IsPoint() || c.Quantity.Unit.IsZero():
		case c.Name == "maxDosePerPeriod":
			limit = &b.w.Refs.Source.Caps[i]
		case c.Name == "limitWindow":
			if limit != nil {
				out["maxDosePerPeriod"] = ratio(limit.Quantity, c.Quantity)
			}
		default:
			out[c.Name] = amount(c.Quantity.Low, c.Quantity.Unit)
		}
	}
	return out
}

// words are the directions for people: drug, dose, route, how often, over
// how long, volume and rate.
func (b *bundler) words() string {
	parts := []string{notation.DrugName(b.w.Order.Drug)}
	say := func(before, name string) {
		if q, ok := b.interval(name); ok {
			parts = append(parts, strings.TrimSpace(before+" "+inWords(q)))
		}
	}
	say("", "dose")
	parts = append(parts, routeWords(b.w.Refs.Source.Route), b.often())
	if b.asNeeded() {
		parts = append(parts, "as needed")
	}
	say("over", "duration")
	say("in", "volume")
	if q, ok := b.pace(); ok {
		parts = append(parts, "at "+inWords(q))
	}
	return strings.Join(slices.DeleteFunc(parts, func(s string) bool { return s == "" }), " ")
}

// routeWords is the route without the word route. An abbreviation stays as
// it was sent.
func routeWords(c order.Concept) string {
	name := c.Name()
	if strings.ToUpper(name) == name {
		return name
	}
	name, _, _ = strings.Cut(strings.ToLower(name), " route")
	return name
}
