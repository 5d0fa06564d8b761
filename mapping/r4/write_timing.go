package r4

import (
	"slices"
	"strings"
	"time"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/schedule"
	"weir.example/weir/mapping/worksheet"
)

// timing says how often (https://hl7.org/fhir/R4/datatypes.html#Timing),
// with the bounds of this delivery. How often is left out while it is in
// dispute. more are further members of repeat; lasts adds the infusion time.
func (b *bundler) timing(d worksheet.Delivery, lasts bool, more ...element.Field) element.Value {
	t := b.w.Refs.Source.Timing
	repeat := b.bounds(d)
	if t.Count > 0 && t.CountMax <= t.Count && t.Count == d.Units {
		repeat = append(repeat, element.F("count", element.Int(t.Count)))
	}
	repeat = append(repeat, more...)
	if q, ok := b.interval("duration"); ok && lasts {
		repeat = append(repeat, lasting(q)...)
	}
	if b.disputed("interval", "dosesPerDay") {
		return element.Obj(element.F("repeat", element.Obj(repeat...)))
	}
	repeat = append(repeat, b.howOften()...)
	code := element.Value{}
	if t.Code != "" {
		code = codeable(gts, t.Code, "", "")
	}
	return element.Obj(element.F("event", element.Strs(b.events(d)...)), element.F("repeat", element.Obj(repeat...)), element.F("code", code))
}

// howOften repeats what was ordered. An interval that only words or
// arithmetic gave is written as once in that interval.
func (b *bundler) howOften() []element.Field {
	t := b.w.Refs.Source.Timing
	var out []element.Field
	if !t.Period.Absent() && t.Period.IsPoint() {
		out = append(out, element.F("frequency", element.Int(max(t.Frequency, 1))))
		if t.FrequencyMax > t.Frequency {
			out = append(out, element.F("frequencyMax", element.Int(t.FrequencyMax)))
		}
		out = append(out, span("period", t.Period)...)
		if p, err := t.PeriodMax.In(t.Period.Unit); err == nil && !t.PeriodMax.Absent() {
			out = append(out, element.F("periodMax", element.Num(p.High.Decimal())))
		}
	} else if q, ok := b.settled("interval"); ok && t.Code == "" && len(t.DaysOfWeek)+len(t.TimesOfDay)+len(t.When)+len(t.Events) == 0 {
		out = append(out, element.F("frequency", element.Int(1)))
		out = append(out, span("period", quantity.Point(q.Value, q.Unit))...)
	}
	out = append(out, element.F("dayOfWeek", element.Strs(t.DaysOfWeek...)))
	if len(t.TimesOfDay) > 0 { // never both: tim-10
		return append(out, element.F("timeOfDay", element.Strs(t.TimesOfDay...)))
	}
	out = append(out, element.F("when", element.Strs(t.When...)))
	if t.Offset > 0 && len(t.When) > 0 {
		out = append(out, element.F("offset", element.Int(int(t.Offset/time.Minute))))
	}
	return out
}

// often is how often in words.
func (b *bundler) often() string {
	t := b.w.Refs.Source.Timing
	if b.disputed("interval", "dosesPerDay") {
		return ""
	}
	if !t.Period.Absent() && t.Period.IsPoint() && t.FrequencyMax <= max(t.Frequency, 1) && t.PeriodMax.Absent() {
		return notation.Frequency(max(t.Frequency, 1), t.Period.Low, t.Period.Unit.Code())
	}
	if q, ok := b.settled("interval"); ok {
		return notation.Every(q.Value, q.Unit.Code())
	}
	return ""
}

// bounds run from the first dose of the delivery to the end of its last
// infusion, but never as far as the dose after it: a period's end belongs to
// the period. Without a settled interval the last dose is not known.
func (b *bundler) bounds(d worksheet.Delivery) []element.Field {
	first, err := time.Parse(time.RFC3339, d.FirstDose)
	if err != nil {
		return nil
	}
	end := ""
	if last, err := time.Parse(time.RFC3339, d.LastDose); err == nil && b.counts() && !last.Before(first) {
		stop := last.Add(b.elapsed("duration"))
		if next := last.Add(b.elapsed("interval")); next.After(last) && !stop.Before(next) {
			stop = next.Add(-time.Second)
		}
		end = b.atHome(stop, first)
	}
	return []element.Field{element.F("boundsPeriod", element.Obj(element.F("start", element.Str(d.FirstDose)), element.F("end", element.Str(end))))}
}

// atHome writes an instant by the clock of the patient's home, else with the
// offset of a time beside it. Across a clock change the two differ, and a
// nurse reads the first.
func (b *bundler) atHome(at, beside time.Time) string {
	if zone, err := schedule.LoadZones().Zone(b.w.Schedule.Zone); err == nil {
		return at.In(zone.Location).Format(time.RFC3339)
	}
	return at.In(beside.Location()).Format(time.RFC3339)
}

// elapsed is a settled time, rounded up to the second; 0 when unknown.
func (b *bundler) elapsed(name string) time.Duration {
	q, ok := b.settled(name)
	if !ok {
		return 0
	}
	seconds, fits := q.Unit.ToBase(q.Value).Ceil()
	if !fits || seconds > int64(100*366*24*time.Hour/time.Second) {
		return 0
	}
	return time.Duration(seconds) * time.Second
}

// events are the ordered instants that fall in the delivery.
func (b *bundler) events(d worksheet.Delivery) []string {
	first, err := time.Parse(time.RFC3339, d.FirstDose)
	last, errLast := time.Parse(time.RFC3339, d.LastDose)
	var out []string
	for _, at := range b.w.Refs.Source.Timing.Events {
		if err == nil && errLast == nil && !at.Before(first) && !at.After(last) {
			out = append(out, b.atHome(at, first))
		}
	}
	return out
}

// timeCodes are the units R4 allows in Timing.repeat.
var timeCodes = []string{"s", "min", "h", "d", "wk", "mo", "a"}

// span writes name and nameUnit; a unit R4 does not allow there is turned
// into hours, exactly.
func span(name string, q quantity.Quantity) []element.Field {
	if !slices.Contains(timeCodes, q.Unit.Code()) {
		h, err := q.In(quantity.MustUnit("h"))
		if err != nil {
			return nil
		}
		q = h
	}
	return []element.Field{element.F(name, element.Num(q.Low.Decimal())), element.F(strings.ToLower(name)+"Unit", element.Str(q.Unit.Code()))}
}

// lasting is how long one infusion runs; an ordered range has a maximum.
func lasting(q quantity.Quantity) []element.Field {
	if q.Absent() {
		return nil
	}
	out := span("duration", q)
	if !q.IsPoint() && len(out) > 0 && slices.Contains(timeCodes, q.Unit.Code()) {
		out = append(out, element.F("durationMax", element.Num(q.High.Decimal())))
	}
	return out
}
