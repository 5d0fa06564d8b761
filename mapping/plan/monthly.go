package plan

import (
	"time"

	"weir.example/weir/mapping/schedule"
)

// monthly is the dose from which months are counted: the ordered start, at
// the clock time of the last dose given when the order names only its day;
// else the last dose given. It is zero for every other pace.
func (p *Plan) monthly() time.Time {
	from, since := p.CourseStart, time.Duration(0)
	switch {
	case p.pace.Months == 0:
		return time.Time{}
	case !from.IsZero() && (!p.startIsDay || p.LastGiven.IsZero()):
		return from
	case from.IsZero():
		from = p.LastGiven
	}
	if from.IsZero() {
		return from
	}
	if len(p.pace.Times) == 0 {
		since = p.Zone.SinceMidnight(p.LastGiven)
	}
	y, m, d := from.In(p.Zone.Location).Date()
	at, _, _ := p.Zone.Wall(y, m, d, since)
	return at
}

// expand lists doses from the first home dose on. Months are counted from the
// start of the course and not from a first dose at home that a short month
// has moved to its last day.
func (p *Plan) expand(timing schedule.Timing, span schedule.Span) ([]time.Time, bool) {
	anchor := p.monthly()
	if anchor.IsZero() || anchor.After(span.From) {
		return schedule.Expand(timing, span, p.Zone, mostDoses)
	}
	least, most := timing.Count, max(timing.Count, timing.CountMax)
	timing.Count, timing.CountMax, timing.Bounds.Start = 0, 0, anchor
	limit := mostDoses
	if most > 0 {
		limit = min(limit, most)
	}
	list, complete := schedule.Expand(timing, span, p.Zone, limit)
	return list, complete && (most == 0 || len(list) < most) || most > 0 && len(list) == most && least == most
}
