package plan

import (
	"slices"
	"time"
)

// deliveries cuts the home doses into stretches of at most the policy's
// length and says by when each must arrive.
func (p *Plan) deliveries(rules Rules, now time.Time) {
	longest := max(rules.LongestDays, 1)
	for from := 0; from < len(p.HomeDoses); {
		first := p.HomeDoses[from]
		y, m, d := first.In(p.Zone.Location).Date()
		until, _, _ := p.Zone.Wall(y, m, d+longest, p.Zone.SinceMidnight(first))
		to := from
		for to < len(p.HomeDoses) && p.HomeDoses[to].Before(until) {
			to++
		}
		delivery := Delivery{FirstDose: first, LastDose: p.HomeDoses[to-1], Units: to - from}
		delivery.DaysSupply = p.days(delivery)
		p.arrive(&delivery, rules, now)
		p.Deliveries = append(p.Deliveries, delivery)
		from = to
		if !p.Complete {
			break // without an end only the first delivery can be counted
		}
	}
}

// days is how long the units last, in days begun.
func (p *Plan) days(d Delivery) int {
	lasts := d.LastDose.Sub(d.FirstDose) + max(p.Interval, p.Duration)
	if p.Interval == 0 && len(p.HomeDoses) > 1 {
		lasts = d.LastDose.Sub(d.FirstDose) + 24*time.Hour
	}
	return max(int((lasts+24*time.Hour-1)/(24*time.Hour)), 1)
}

// arrive sets the latest arrival: before the first dose by warm-up and
// teaching time, in staffed hours, on a day with delivery.
func (p *Plan) arrive(d *Delivery, rules Rules, now time.Time) {
	due := d.FirstDose.Add(-rules.WarmUp - rules.Teach).In(p.Zone.Location)
	since := p.Zone.SinceMidnight(due)
	y, m, day := due.Date()
	if rules.OpenUntil > rules.OpenFrom {
		switch {
		case since < rules.OpenFrom:
			due, _, _ = p.Zone.Wall(y, m, day-1, rules.OpenUntil)
		case since > rules.OpenUntil:
			due, _, _ = p.Zone.Wall(y, m, day, rules.OpenUntil)
		}
	}
	for range 14 {
		if !slices.Contains(rules.NoDelivery, due.Weekday()) && !slices.Contains(rules.Holidays, due.Format("2006-01-02")) {
			break
		}
		y, m, day := due.Date()
		due, _, _ = p.Zone.Wall(y, m, day-1, p.Zone.SinceMidnight(due))
		d.Moved = true
	}
	if d.Moved {
		d.Says = "pulled earlier: no delivery on the day it was due"
	}
	d.Arrival = due
	if due.Before(now) {
		d.Late = true
		d.Says = "cannot arrive in time: it would have been due before now"
	}
}
