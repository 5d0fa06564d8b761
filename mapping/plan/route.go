package plan

import (
	"slices"
	"time"

	"weir.example/weir/mapping/compendium"
)

// DeliveryRules are what a site may choose about its deliveries besides
// length and hours. Zero values choose nothing.
type DeliveryRules struct {
	// ShelfLife is how long a unit not yet made may wait for its start,
	// elapsed time from its making; 0: no data. What Make tells is used too,
	// and the earlier of the two counts.
	ShelfLife time.Duration
	// Round are the weekdays on which the site delivers again to a home; empty:
	// any day with delivery. The first delivery is not bound to it.
	Round []time.Weekday
	// DaysInHand is how many open days earlier still a delivery goes whose day
	// of the round is closed.
	DaysInHand int
	Spare      SpareRules
}

// route places the deliveries of one course.
//
// A delivery serves neighbouring doses, none of them later than its policy
// length after the first of them. It arrives on a day with delivery, in
// staffed hours, not before the clock, and before its first dose by the
// warm-up; the first one also by the time of teaching. Its units start before
// they are too old: those that are made already by their own instant, those
// still to be made by the rule "made at T, may start until U", T being so
// much before the arrival as the site makes ahead, or now where that is past.
// U must not fall as T grows: then the latest arrival is the best one for a
// given first dose, and the search is exact.
//
// Of all ways to cut the doses into deliveries it takes the first by, in this
// order:
//
//  1. no dose without a delivery that comes in time;
//  2. fewest units thrown away if the course ends or changes: units made anew
//     that would go out with units already made, earlier than they need to;
//  3. fewest deliveries;
//  4. latest arrivals, compared from the first delivery on;
//  5. longest deliveries first, so that the last one is trimmed.
//
// Spares that the policy asks for are not saved on: they would be saved by
// more deliveries. The search is dynamic programming from the last dose back,
// over every dose at which a delivery may begin. Deliveries whose first dose
// lies before the clock are cut as if they had not passed, so that their
// ordinals hold from one run to the next.
type route struct {
	plan  *Plan
	rules Rules
	now   time.Time
	cal   *calendar
	ahead time.Duration
	keeps func(made time.Time) time.Time // zero: no data
	lacks func(made, until time.Time) string
	start time.Time                       // latest arrival of the first delivery
	asked struct{ made, until time.Time } // keeps, as it was asked last

	stops []stop
}

// stop is a dose as the first one of a delivery.
type stop struct {
	slot         slot
	open         bool // the calendar has a day for it
	served       bool // a delivery can be there in time, with good units
	past         bool
	made, remade bool // a prepared unit serves it; or would, and is too old
	most         int  // the doses before this one may go with it

	way // chosen from here on
}

// way is the rest of the course: the first dose of the next delivery, and
// what all deliveries from here on cost.
type way struct{ next, missed, wasted, deliveries int }

// lacking says which of the limits that date a unit made at an instant is not
// known, so that it is dated by the rest, or by nothing. The site's own time
// stands for all of them. The expiry of components is named in Use.
func (p *Plan) lacking(d dates) func(made, until time.Time) string {
	return func(made, until time.Time) string {
		switch {
		case until.IsZero():
			return "no data on how long its units last: only the longest delivery of the policy bounds it"
		case d.rules.ShelfLife > 0 || d.keep.Kind == compendium.MixedAtUse:
			return ""
		}
		missing := p.use(d, made, time.Time{}).Missing()
		of := func(kind string) bool {
			return slices.ContainsFunc(missing, func(l Limit) bool { return l.Of == kind })
		}
		switch {
		case of(OfSterility):
			return "no category limit is known for its units: only the other limits bound how long they last"
		case of(OfStability):
			return "no data on the stability of its units: only the other limits bound how long they last"
		}
		return ""
	}
}

// freshness tells until when a unit made at an instant may be started: the
// earliest limit that is known, zero where none is.
func (p *Plan) freshness(d dates) func(time.Time) time.Time {
	known := false
	if d.rules.Make != nil && len(p.HomeDoses) > 0 {
		known = !earliestLimit(p.use(d, p.HomeDoses[0], time.Time{})).IsZero()
	}
	return func(made time.Time) (until time.Time) {
		if known {
			until = earliestLimit(p.use(d, made, time.Time{}))
		}
		if d.rules.ShelfLife > 0 {
			if at := made.Add(d.rules.ShelfLife); until.IsZero() || at.Before(until) {
				until = at
			}
		}
		return until
	}
}

func earliestLimit(u Use) time.Time {
	if len(u.Starts) == 0 {
		return time.Time{}
	}
	return u.Starts[0].Until // those without data come last
}

// due is the latest instant at which the calendar is asked for an arrival.
func (r *route) due(dose time.Time, first bool, on bars) time.Time {
	if on&barWarmUp != 0 {
		dose = dose.Add(-r.rules.WarmUp)
	}
	if first && on&barTeach != 0 {
		dose = dose.Add(-r.rules.Teach)
	}
	return dose
}

// latest is the last arrival that the calendar allows for a delivery that
// begins with a dose. One that the round would bring before the first delivery
// goes outside the round.
func (r *route) latest(dose time.Time, first bool, on bars) (slot, bool) {
	due := r.due(dose, first, on)
	s, ok := r.cal.latest(due, on, first)
	if r.cal.bound(on, first) && (!ok || s.at.Before(r.start)) {
		return r.cal.latest(due, on&^barRound, first)
	}
	return s, ok
}

// madeFor is when the units of a delivery are reckoned to be made.
func (r *route) madeFor(arrival time.Time, on bars) time.Time {
	if on&barMaking == 0 {
		return arrival
	}
	made := arrival.Add(-r.ahead)
	if on&barClock != 0 {
		made = latestOf(r.now, made)
	}
	return made
}

// good reports whether a unit made for an arrival may still be started at a
// dose. Without data nothing speaks against it, and that is said elsewhere.
func (r *route) good(arrival, dose time.Time, on bars) bool {
	if on&barKeeping == 0 {
		return true
	}
	made := r.madeFor(arrival, on)
	switch {
	case r.asked.made.Equal(made):
	case r.asked.made.Before(made) && !dose.After(r.asked.until):
		return true // what is made later lasts at least as long
	default:
		r.asked.made, r.asked.until = made, r.keeps(made)
	}
	return r.asked.until.IsZero() || !dose.After(r.asked.until)
}

// force are the constraints on a delivery whose first dose is this one.
func (r *route) force(dose time.Time) bars {
	if dose.Before(r.now) {
		return allBars &^ barClock
	}
	return allBars
}

// prepare works out, for every dose, when a delivery that begins with it
// arrives and how far it may reach.
func (r *route) prepare() {
	doses := r.plan.HomeDoses
	r.stops = make([]stop, len(doses)+1)
	r.stops[len(doses)].next = len(doses)
	for i, dose := range doses {
		s := &r.stops[i]
		s.past = dose.Before(r.now)
		if len(r.plan.Prepared) > 0 {
			_, s.made = r.plan.usable(dose)
			s.remade = !s.made && r.plan.tooLate(dose)
		}
		s.slot, s.open = r.latest(dose, i == 0, allBars)
		if i == 0 {
			r.start = s.slot.at
		}
		s.served = s.open && (s.past || !s.slot.at.Before(r.now)) && (s.made || r.good(s.slot.at, dose, r.force(dose)))
	}
	for i := range doses {
		r.reach(i)
	}
}

// reach is how many doses may go with one delivery. Where none can come in
// time it is late, and holds what cannot be served otherwise; a delivery that
// is only too late for the clock keeps its whole length, since it is the one
// that somebody will send as soon as may be.
func (r *route) reach(i int) {
	doses, s := r.plan.HomeDoses, &r.stops[i]
	until := r.plan.until(doses[i], r.rules)
	for s.most = i + 1; s.most < len(doses) && doses[s.most].Before(until); s.most++ {
		x := r.stops[s.most]
		fine := x.made || !s.open || r.good(s.slot.at, doses[s.most], r.force(doses[i]))
		if !fine && (s.served || x.served) || !s.open && x.served || s.past && s.made && x.remade {
			break // what must be made again did not go with what is past
		}
	}
}

// search chooses from the last dose back.
func (r *route) search() {
	for i := len(r.plan.HomeDoses) - 1; i >= 0; i-- {
		s := &r.stops[i]
		s.next = -1
		missed, wasted := 0, 0 // of the delivery itself
		for j := i; j < s.most; j++ {
			x, rest := r.stops[j], &r.stops[j+1]
			if !s.served && !s.past && !x.served {
				missed++
			}
			if s.made && x.remade && x.slot.at.After(s.slot.at) {
				wasted++
			}
			on := way{j + 1, missed + rest.missed, wasted + rest.wasted, 1 + rest.deliveries}
			if s.next < 0 || r.better(on, s.way) {
				s.way = on
			}
		}
	}
}

// better compares two ways on from the same dose. Where nothing else decides
// the longer delivery is better.
func (r *route) better(a, b way) bool {
	switch {
	case a.missed != b.missed:
		return a.missed < b.missed
	case a.wasted != b.wasted:
		return a.wasted < b.wasted
	case a.deliveries != b.deliveries:
		return a.deliveries < b.deliveries
	}
	for x, y := a.next, b.next; x != y && x < len(r.plan.HomeDoses) && y < len(r.plan.HomeDoses); x, y = r.stops[x].next, r.stops[y].next {
		if p, q := r.stops[x].slot.at, r.stops[y].slot.at; !p.Equal(q) {
			return p.After(q)
		}
	}
	return a.next > b.next
}
