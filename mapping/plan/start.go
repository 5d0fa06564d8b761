package plan

import (
	"slices"
	"time"

	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/schedule"
)

// sameCourse is how long before the ordered start a dose of the drug still
// belongs to the same therapy, when the interval is short or unknown.
const sameCourse = 72 * time.Hour

// given finds the newest dose in hospital that is on record: same drug, not
// after the clock, and not of an older course. Doses given at home are kept
// apart: they show that the home part has begun.
func (p *Plan) given(o order.Order, c order.Case, now time.Time) {
	for _, a := range c.Administrations {
		at := p.at(a.Start, false)
		if a.Status != "completed" && a.Status != "in-progress" || at.IsZero() || at.After(now) || !sameDrug(a.Drug, o.Drug) {
			continue
		}
		if otherRoute(a.Route, o.Route) {
			p.say("a dose of the drug is on record by another route, %s, and is not used to time the next one", notation.Instant(at, ""))
			continue
		}
		if !a.Start.DateOnly && at.After(p.LastOld) && len(o.Prior) > 0 {
			p.LastOld = at
		}
		if !p.CourseStart.IsZero() && at.Before(p.CourseStart.Add(-max(sameCourse, 3*p.Interval))) {
			continue
		}
		switch {
		case a.Start.DateOnly:
			p.say("a dose is on record for %s without a time and is not used to time the next one", notation.Date(at))
		case a.Setting == "community":
			p.atHome = append(p.atHome, at)
		default:
			p.inHospital = append(p.inHospital, at)
		}
	}
	slices.SortFunc(p.inHospital, time.Time.Compare)
	if n := len(p.inHospital); n > 0 {
		p.LastGiven = p.inHospital[n-1]
	}
}

// firstHomeDose is the ordered start when that lies after the last dose
// given, else the last dose given and one interval. Doses due before the
// discharge are the hospital's. A changed order that does not say when it
// begins is not timed: that is a question for the prescriber.
func (p *Plan) firstHomeDose(o order.Order, rules Rules, now time.Time) {
	start := p.ordered()
	// A dose given within an hour of the start is the first ordered dose.
	sameDose := time.Hour
	if p.Interval > 0 {
		sameDose = min(sameDose, p.Interval/2)
	}
	switch {
	case p.CourseStart.IsZero() && len(o.Prior) > 0:
		p.Replacement = true
		p.notTimed("the order replaces another and does not say when its first dose falls after the last one of the old order")
	case p.CourseStart.IsZero() && p.LastGiven.IsZero():
		p.notTimed("neither a start nor a dose given is on record")
	case p.LastGiven.Add(sameDose).Before(p.CourseStart) && p.startIsDay:
		p.notTimed("the order names the day it begins and no time, and no dose given from that day on is on record")
	case start.IsZero() && p.LastGiven.IsZero():
		p.notTimed("the doses of the order cannot be placed")
	case p.LastGiven.IsZero() && start.Before(now) && !p.onRecord(start):
		p.notTimed("the course has begun and no dose given is on record")
	case !start.IsZero() && p.LastGiven.Add(sameDose).Before(start):
		p.FirstHomeDose = start
		p.say("the first home dose is the start that the order names: %s", notation.Instant(start, ""))
		if p.inpatient && p.Discharge.After(start) {
			p.say("that start lies before the discharge, %s", notation.Instant(p.Discharge, ""))
		}
	case p.courseIsSingle:
		p.notTimed("the only dose of this order is on record as given")
	default:
		p.afterLast(rules, now)
	}
	if p.FirstHomeDose.IsZero() {
		p.firstWindow(now)
		return
	}
	if !p.LastGiven.IsZero() {
		p.Gap = p.FirstHomeDose.Sub(p.lastInHospital(rules, now))
	}
	p.replaces(o)
	p.FirstOnRecord = p.onRecord(p.FirstHomeDose)
	p.StartPassed = p.FirstHomeDose.Before(now) && !p.FirstOnRecord
}

// replaces times the first dose of a changed order against the last one that
// was given of the old order, wherever it was given.
func (p *Plan) replaces(o order.Order) {
	switch {
	case len(o.Prior) == 0:
	case p.LastOld.IsZero():
		p.unknown("the last dose of the order it replaces: none is on record")
	case p.LastOld.After(p.LastGiven) && p.LastOld.Before(p.FirstHomeDose):
		p.Gap = p.FirstHomeDose.Sub(p.LastOld)
		p.say("the first dose of the changed order falls %s after the last dose given, %s", notation.Duration(p.Gap), notation.Instant(p.LastOld, ""))
	}
}

func (p *Plan) notTimed(why string) { p.unknown("%s", "the first home dose: "+why) }

// ordered is the first dose of the timing from the ordered start on; zero
// when there is no start or the doses cannot be placed.
func (p *Plan) ordered() time.Time {
	if p.CourseStart.IsZero() {
		return time.Time{}
	}
	first, _ := schedule.Expand(p.timing, schedule.Span{From: p.CourseStart}, p.Zone, 1)
	if len(first) == 0 {
		return time.Time{}
	}
	return first[0]
}

// onRecord reports whether a dose at home is on record that was given at
// this time or later.
func (p *Plan) onRecord(dose time.Time) bool {
	return slices.ContainsFunc(p.atHome, func(at time.Time) bool {
		return at.After(p.LastGiven) && !at.Before(dose.Add(-max(time.Hour, p.Interval/2)))
	})
}

func (p *Plan) afterLast(rules Rules, now time.Time) {
	p.FirstHomeDose = p.nextFrom(p.Discharge, rules)
	if next := p.nextFrom(p.dayAfterDischarge, rules); !p.dayAfterDischarge.IsZero() && !next.Equal(p.FirstHomeDose) && !p.FirstHomeDose.IsZero() {
		first := p.FirstHomeDose
		p.FirstHomeDose = time.Time{}
		p.notTimed("the discharge names a day and no time: it is " + notation.Instant(first, "") + " if the hospital does not give that dose, else a later one")
		return
	}
	switch {
	case p.FirstHomeDose.IsZero():
		p.notTimed("no dose that follows the last one given can be placed")
		return
	case p.Interval > 0 && p.FirstHomeDose.Sub(p.LastGiven)%p.Interval == 0:
		p.say("the first home dose, %s, follows the last hospital dose, %s, at the ordered interval of %s",
			notation.Instant(p.FirstHomeDose, ""), notation.Instant(p.LastGiven, ""), notation.Duration(p.Interval))
	default:
		p.say("the first home dose, %s, is the next one ordered after the last hospital dose, %s",
			notation.Instant(p.FirstHomeDose, ""), notation.Instant(p.LastGiven, ""))
	}
	if last := p.lastInHospital(rules, now); last.After(p.LastGiven) {
		p.say("doses due before the discharge are the hospital's, the last of them %s", notation.Instant(last, ""))
	}
}
