package plan

import (
	"slices"
	"time"
)

// deliveries cuts the home doses into stretches of at most the policy's
// length and says by when each must arrive. A stretch that begins with units
// already made ends where units of that lot would start too late: what is
// made again for those doses comes with the next delivery, still fresh.
func (p *Plan) deliveries(rules Rules, now time.Time) {
	for from := 0; from < len(p.HomeDoses); {
		first := p.HomeDoses[from]
		until := p.until(first, rules)
		beyondUse, made := p.usable(first)
		to := from
		for to < len(p.HomeDoses) && p.HomeDoses[to].Before(until) {
			at, ok := p.usable(p.HomeDoses[to])
			if made && !ok && p.tooLate(p.HomeDoses[to]) {
				break
			}
			if ok && !at.IsZero() && (beyondUse.IsZero() || at.Before(beyondUse)) {
				beyondUse = at
			}
			to++
		}
		d := Delivery{FirstDose: first, LastDose: p.HomeDoses[to-1], Units: to - from, StartBefore: beyondUse}
		d.DaysSupply = p.days(from, to)
		p.arrive(&d, rules, now)
		p.Deliveries = append(p.Deliveries, d)
		from = to
		if !p.Complete {
			break // without an end only the first delivery can be counted
		}
	}
}

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

// longestPull bounds the search for a day with delivery.
const longestPull = 14

// arrive sets the latest arrival: before the first dose by warm-up and
// teaching time, in staffed hours, on a day with delivery.
func (p *Plan) arrive(d *Delivery, rules Rules, now time.Time) {
	due := d.FirstDose.Add(-rules.WarmUp - rules.Teach).In(p.Zone.Location)
	y, m, day := due.Date()
	since := p.Zone.SinceMidnight(due)
	if rules.OpenUntil > rules.OpenFrom {
		if since < rules.OpenFrom {
			day, since = day-1, rules.OpenUntil
		}
		since = min(since, rules.OpenUntil)
	}
	for range longestPull {
		d.Arrival, _, _ = p.Zone.Wall(y, m, day, since)
		if !rules.closed(d.Arrival) {
			break
		}
		d.Moved, day = true, day-1
	}
	first := d.FirstDose.Equal(p.FirstHomeDose)
	switch {
	case rules.closed(d.Arrival):
		d.Late, d.Says = true, "no day with delivery in the two weeks before the first dose it must cover"
	case d.FirstDose.Before(now):
		d.Past, d.Says = true, "its first dose was due before now: nothing here tells whether it was delivered"
	case d.Arrival.Before(now):
		d.Late, d.Says = true, "cannot arrive in time: it would have been due before now"
	case d.Moved:
		d.Says = "pulled earlier: no delivery on the day it was due"
	case first && p.inpatient && p.Discharge.After(d.Arrival):
		d.Says = "the patient is still in hospital when it is due: agree where it is handed over"
	}
}

// closed reports whether nothing is delivered on the local day.
func (r Rules) closed(at time.Time) bool {
	return slices.Contains(r.NoDelivery, at.Weekday()) || slices.Contains(r.Holidays, at.Format("2006-01-02"))
}
