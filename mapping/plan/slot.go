package plan

import (
	"slices"
	"strconv"
	"time"

	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/schedule"
)

// due lists the starts after the last dose given. Where the order names its
// times or days, the dose given stands for the nearest of them, whether it
// was early or late; where only the distance is ordered, the next one lies at
// least the site's part of it after the last.
func (p *Plan) due(rules Rules) []time.Time {
	const day = 24 * time.Hour
	timing := p.timing
	timing.Count, timing.CountMax = 0, 0
	if p.paceKnown {
		timing.Events = nil
	}
	from, named := p.grid()
	// Far enough for the first dose after the discharge at any pace.
	span := schedule.Span{From: from, To: p.LastGiven}
	if p.Discharge.After(p.LastGiven) {
		span.To = p.Discharge
	}
	span.To = span.To.Add(15*day + 3*p.Interval + time.Duration(p.pace.Weeks)*14*day + time.Duration(p.pace.Months)*62*day)
	if !timing.Repeats() {
		span.To = time.Time{} // a list of dates ends by itself
	}
	all, _ := schedule.Expand(timing, span, p.Zone, mostDoses)
	if named {
		return all[p.standsFor(all)+1:]
	}
	least := p.leastAfter(rules)
	return slices.DeleteFunc(all, func(at time.Time) bool { return !at.After(p.LastGiven) || at.Sub(p.LastGiven) < least })
}

// leastAfter is how long after the last dose the next one lies at least.
func (p *Plan) leastAfter(rules Rules) time.Duration {
	least := p.Interval
	if p.pace.Months > 0 {
		least = time.Duration(p.pace.Months) * 28 * 24 * time.Hour // the shortest month
	}
	early := rules.Early
	if early.Sign() <= 0 {
		early = quantity.Ratio(3, 4)
	}
	ns, _ := quantity.Int(int64(least)).Mul(early).Ceil()
	return time.Duration(ns)
}

// grid is the instant from which the doses around the last one given are
// listed, and whether the order names their times or days.
func (p *Plan) grid() (from time.Time, named bool) {
	if from := p.monthly(); !from.IsZero() {
		return from, false
	}
	if !p.paceKnown || p.pace.Elapsed() || len(p.pace.Times) == 0 && len(p.pace.Weekday) == 0 {
		return p.LastGiven, false
	}
	y, m, d := p.LastGiven.In(p.Zone.Location).Date()
	at := func(days int, since time.Duration) time.Time {
		t, _, _ := p.Zone.Wall(y, m, d+days, since)
		return t
	}
	switch {
	case p.pace.Days <= 1 && p.pace.Weeks <= 1: // the same in every week
		return at(-8, p.Zone.SinceMidnight(p.LastGiven)), true
	case !p.CourseStart.IsZero() && p.CourseStart.Before(p.LastGiven) && len(p.pace.Times) > 0:
		return p.CourseStart, true
	case len(p.pace.Weekday) > 0: // which week it is, only the last dose tells
		return p.LastGiven, false
	}
	return at(0, 0), true
}

// standsFor is the dose of a list that the last one given was; of two equally
// near the earlier. -1 when the list begins after it.
func (p *Plan) standsFor(list []time.Time) int {
	best, least := -1, time.Duration(0)
	for i, at := range list {
		off := at.Sub(p.LastGiven).Abs()
		if best < 0 || off < least {
			best, least = i, off
		}
	}
	if best == 0 && len(list) > 1 && list[0].After(p.LastGiven) && list[0].Sub(p.LastGiven) > list[1].Sub(list[0])/2 {
		return -1
	}
	return best
}

// nextFrom is the first start from an instant on that follows the last dose
// given.
func (p *Plan) nextFrom(from time.Time, rules Rules) time.Time {
	for _, at := range p.due(rules) {
		if !at.Before(from) {
			return at
		}
	}
	return time.Time{}
}

// charting is how long after its time a dose in hospital may stand without a
// record before it counts as unknown, at most half the interval: common
// practice, no source.
const charting = 4 * time.Hour

// lastInHospital is the last dose given, or a later one that is still due in
// hospital before the discharge. A dose whose time is long past without a
// record is not known to have been given: it is told and counts for nothing.
func (p *Plan) lastInHospital(rules Rules, now time.Time) time.Time {
	grace := time.Duration(charting)
	if p.Interval > 0 {
		grace = min(grace, p.Interval/2)
	}
	last, missing := p.LastGiven, 0
	for _, at := range p.due(rules) {
		if !at.Before(p.Discharge) || !at.Before(p.FirstHomeDose) {
			break
		}
		if at.Before(now.Add(-grace)) {
			missing++
			continue
		}
		last = at
	}
	if missing > 0 {
		p.unknownOnce("whether the doses due in hospital after " + notation.Instant(p.LastGiven, "") + " were given: " + strconv.Itoa(missing) + " without a record")
		return p.LastGiven
	}
	return last
}

func (p *Plan) unknownOnce(what string) {
	if !slices.Contains(p.Unknown, what) {
		p.Unknown = append(p.Unknown, what)
	}
}
