package reconciliation

import (
	"slices"
	"time"

	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/plan"
	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/schedule"
	"weir.example/weir/mapping/worksheet"
)

// course is what is planned for one order, read back from its worksheet: the
// JSON is enough, so that a stored sheet serves without being worked out
// again.
type course struct {
	known      bool // the doses can be placed
	complete   bool // every home dose is listed
	zone       schedule.Zone
	doses      []time.Time
	deliveries []plan.Delivery
	firstDose  time.Time
	end        time.Time // no dose starts at or after it; zero: open
	interval   time.Duration
}

// courseOf reads the plan of a version; the zero course when it was not
// judged.
func courseOf(v *version) course {
	switch {
	case v == nil || v.sheet == nil:
		return course{}
	case v.course != nil:
		return *v.course
	}
	s := v.sheet.Schedule
	c := course{complete: s.Complete, firstDose: instant(s.FirstHomeDose)}
	c.zone, _ = schedule.LoadZones().Zone(s.Zone)
	for _, d := range s.Doses {
		if at := instant(d); !at.IsZero() {
			c.doses = append(c.doses, at)
		}
	}
	slices.SortFunc(c.doses, time.Time.Compare)
	c.known = len(c.doses) > 0
	for _, d := range v.sheet.Deliveries {
		if at := instant(d.Arrival); !at.IsZero() {
			c.deliveries = append(c.deliveries, plan.Delivery{Arrival: at, Units: d.Units, DaysSupply: d.DaysSupply, FirstDose: instant(d.FirstDose), LastDose: instant(d.LastDose)})
		}
	}
	slices.SortStableFunc(c.deliveries, func(a, b plan.Delivery) int { return a.Arrival.Compare(b.Arrival) })
	if len(c.doses) > 1 {
		c.interval = c.doses[1].Sub(c.doses[0])
	}
	c.end = c.place(v.order.Course.End, true)
	if c.end.IsZero() && c.complete && c.known {
		c.end = c.doses[len(c.doses)-1].Add(time.Nanosecond)
	}
	v.course = &c
	return c
}

// instant reads an RFC 3339 instant of a worksheet; zero when it is none.
func instant(text string) time.Time {
	t, err := time.Parse(time.RFC3339, text)
	if err != nil {
		return time.Time{}
	}
	return t
}

// place puts a date alone at the first moment of its day in the patient's
// zone, or of the next day when it is an end; zero when no zone is known.
func (c course) place(i order.Instant, end bool) time.Time {
	switch {
	case i.Absent():
		return time.Time{}
	case !i.DateOnly:
		return i.Time
	case !c.zone.Known():
		return time.Time{}
	}
	y, m, d := i.Time.Date()
	if end {
		d++
	}
	at, _, _ := c.zone.Wall(y, m, d, 0)
	return at
}

// zoneOf is the zone of the home by the first sheet that knows one: an order
// that was not judged has none of its own.
func zoneOf(sides ...Side) schedule.Zone {
	for _, s := range sides {
		for _, w := range s.Sheets {
			if z, err := schedule.LoadZones().Zone(w.Schedule.Zone); err == nil {
				return z
			}
		}
	}
	return schedule.Zone{}
}

// local puts an instant into the patient's zone.
func (p *pair) local(t time.Time) time.Time {
	if p.zone.Known() {
		return t.In(p.zone.Location)
	}
	return t
}

// clock is the clock in the patient's zone.
func (p *pair) clock() time.Time { return p.local(p.night.Now) }

// between counts the doses after one instant up to and at another.
func (c course) between(after, until time.Time) (n int) {
	for _, d := range c.doses {
		if d.After(after) && !d.After(until) {
			n++
		}
	}
	return n
}

// from lists the doses at and after an instant.
func (c course) from(at time.Time) []time.Time {
	i, _ := slices.BinarySearchFunc(c.doses, at, time.Time.Compare)
	return c.doses[i:]
}

// arrival is the first planned delivery after an instant; zero for none.
func (c course) arrival(after time.Time) time.Time {
	for _, d := range c.deliveries {
		if d.Arrival.After(after) {
			return d.Arrival
		}
	}
	return time.Time{}
}

// planned is the course that people work by: tonight's where the order is in
// force, else the one we planned before it was stopped, replaced or lost.
func (p *pair) planned() course {
	var c course
	if p.now != nil && p.now.sheet != nil && p.inForce() {
		c = courseOf(p.now)
	} else if c = courseOf(p.was); !c.known && p.now != nil {
		c = courseOf(p.now)
	}
	if !c.zone.Known() {
		c.zone = p.zone
	}
	return c
}

// due lists the planned deliveries that arrive after the clock and within the
// days that one delivery may cover.
func (p *pair) due() []worksheet.Delivery {
	if !p.inForce() || p.current().sheet == nil {
		return nil
	}
	until := p.night.Now.AddDate(0, 0, p.night.Reference.Policy.Delivery.LongestDays)
	var out []worksheet.Delivery
	for _, d := range p.current().sheet.Deliveries {
		if at := instant(d.Arrival); at.After(p.night.Now) && !at.After(until) {
			out = append(out, d)
		}
	}
	return out
}

// numbersOf reads the settled numbers back from the JSON of a worksheet. What
// cannot be read is left out, as if nothing had settled it.
func numbersOf(w worksheet.Worksheet) order.Quantities {
	out := order.Quantities{}
	for name, q := range w.Quantities {
		unit, err := quantity.ParseUnit(q.Unit)
		value, errValue := quantity.ParseNumber(q.Value)
		if err != nil || errValue != nil || q.Unit == "" {
			continue
		}
		x := order.Quantity{Value: value, Low: value, High: value, Unit: unit, Stated: q.Stated, Disputed: q.Disputed}
		if low, err := quantity.ParseNumber(q.Low); err == nil {
			x.Low = low
		}
		if high, err := quantity.ParseNumber(q.High); err == nil {
			x.High = high
		}
		out[name] = x
	}
	return out
}
