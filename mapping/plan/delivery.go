package plan

import (
	"time"
)

// deliveries cuts the home doses into deliveries and says by when each must
// arrive; see route for what it keeps to and what it prefers. They stand in
// the order of their arrival.
func (p *Plan) deliveries(rules Rules, now time.Time, d dates) {
	if len(p.HomeDoses) == 0 {
		return
	}
	r := &route{plan: p, rules: rules, now: now, cal: newCalendar(p.Zone, rules), ahead: d.Ahead, keeps: p.freshness(d), lacks: p.lacking(d)}
	r.prepare()
	r.search()
	for from := 0; from < len(p.HomeDoses); from = r.stops[from].next {
		p.Deliveries = append(p.Deliveries, r.delivery(from))
		if !p.Complete {
			break // without an end only the first delivery can be counted
		}
	}
}

// delivery writes down one delivery of the chosen way.
func (r *route) delivery(from int) Delivery {
	p, s := r.plan, r.stops[from]
	doses := p.HomeDoses[from:s.next]
	d := Delivery{FirstDose: doses[0], LastDose: doses[len(doses)-1], Units: len(doses), DaysSupply: p.days(from, s.next)}
	for i := range doses {
		if at, ok := p.usable(doses[i]); ok && !at.IsZero() && (d.StartBefore.IsZero() || at.Before(d.StartBefore)) {
			d.StartBefore = at
		}
	}
	d.Spares, d.SparesSay = r.rules.Spare.of(d.Units)
	r.arrive(&d, from)
	return d
}

// arrive sets the arrival: on a day pulled earlier at the time of day at which
// it was due, or later where only that keeps its units good, comes after the
// clock and not before the delivery in front of it.
func (r *route) arrive(d *Delivery, from int) {
	p, s, first := r.plan, r.stops[from], from == 0
	fits := func(at time.Time) bool {
		n := len(p.Deliveries)
		return (s.past || !at.Before(r.now)) && (n == 0 || !at.Before(p.Deliveries[n-1].Arrival)) && (!r.unmade(from) || r.good(at, r.lastUnmade(from), r.force(d.FirstDose)))
	}
	d.Arrival, d.Moved = s.slot.kept, s.slot.moved
	if !fits(d.Arrival) {
		d.Arrival = s.slot.at
	}
	if !s.open {
		d.Arrival = r.due(d.FirstDose, first, allBars).In(p.Zone.Location)
	}
	if r.unmade(from) {
		made := r.madeFor(d.Arrival, r.force(d.FirstDose))
		d.NoDataSay = r.lacks(made, r.keeps(made))
		d.NoData = d.NoDataSay != ""
	}
	switch {
	case s.past:
		d.Past, d.Says = true, "its first dose was due before now: nothing here tells whether it was delivered"
	case !s.served:
		d.Late, d.Impossible = true, r.prove(from)
		d.Says = d.Impossible.Says
	case d.Moved:
		d.Says = "pulled earlier: no delivery on the day it was due"
	case first && p.inpatient && p.Discharge.After(d.Arrival):
		d.Says = "the patient is still in hospital when it is due: agree where it is handed over"
	}
}

// lastUnmade is the last dose of a delivery whose unit is still to be made.
func (r *route) lastUnmade(from int) (last time.Time) {
	for i := from; i < r.stops[from].next; i++ {
		if !r.stops[i].made {
			last = r.plan.HomeDoses[i]
		}
	}
	return last
}

func (r *route) unmade(from int) bool { return !r.lastUnmade(from).IsZero() }

// until is the end of the longest stretch of one delivery. Of so many days on
// the calendar and so many times 24 hours the earlier counts, so that a clock
// change adds no unit.
func (p *Plan) until(first time.Time, rules Rules) time.Time {
	days := max(rules.LongestDays, 1)
	y, m, d := first.In(p.Zone.Location).Date()
	wall, _, _ := p.Zone.Wall(y, m, d+days, p.Zone.SinceMidnight(first))
	elapsed := first.Add(time.Duration(days) * 24 * time.Hour)
	if elapsed.Before(wall) && p.pace.Elapsed() {
		return elapsed
	}
	return wall
}

// days is how long the units last, in days begun: to the dose that follows,
// or one interval (one infusion, when that is longer) after the last one.
func (p *Plan) days(from, to int) int {
	const day = 24 * time.Hour
	first, last := p.HomeDoses[from], p.HomeDoses[to-1]
	var next time.Time
	switch {
	case to < len(p.HomeDoses):
		next = p.HomeDoses[to]
	case p.Interval > 0:
		next = last.Add(max(p.Interval, p.Duration))
	case len(p.pace.Weekday) > 0:
		next = last.Add(max(day, p.Duration))
	default:
		next = last.Add(max(p.Duration, time.Nanosecond))
	}
	_, a := first.In(p.Zone.Location).Zone()
	_, b := next.In(p.Zone.Location).Zone()
	lasts := next.Sub(first)
	onClock := lasts + time.Duration(b-a)*time.Second
	return max(int((min(lasts, onClock)+day-1)/day), 1)
}
