package plan

import (
	"slices"
	"time"

	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/schedule"
)

// count lists the home doses and counts those of the whole course.
func (p *Plan) count() {
	if p.FirstHomeDose.IsZero() {
		p.countRange()
		return
	}
	timing, least := p.timing, mostDoses
	if p.paceKnown {
		timing.Events = nil
	}
	countable := p.wholeCourse(timing)
	if most := max(timing.Count, timing.CountMax); most > 0 {
		left := most - p.HospitalCount
		switch {
		case !countable && !p.LastGiven.IsZero():
			// A count covers hospital and home; how many are left is open.
			p.unknown("how many of the %d ordered doses were given in hospital", most)
			timing.Count, timing.CountMax = 0, 0
		case left <= 0:
			p.noneLeft("all ordered doses fall in hospital")
			return
		case timing.CountMax > timing.Count:
			least = max(timing.Count-p.HospitalCount, 0)
			timing.CountMax, timing.Count = left, least
		default:
			timing.Count = left
		}
	}
	span := schedule.Span{From: p.FirstHomeDose, To: p.CourseEnd}
	open := span.To.IsZero() && max(timing.Count, timing.CountMax) == 0 && timing.Repeats()
	if open {
		y, m, d := p.FirstHomeDose.In(p.Zone.Location).Date()
		span.To, _, _ = p.Zone.Wall(y, m, d+openDays, p.Zone.SinceMidnight(p.FirstHomeDose))
	}
	p.HomeDoses, p.Complete = p.expand(timing, span)
	p.coincide()
	// Between the least and the most of a count nobody knows the last dose.
	if open || p.uncountable(timing) || len(p.HomeDoses) > least {
		p.Complete = false
	}
	if !open && !p.uncountable(timing) && (p.Complete || least < mostDoses && len(p.HomeDoses) < mostDoses) {
		p.countPlaced(least)
	}
	if !p.Complete {
		p.unknown("the end of the course")
		if len(p.HomeDoses) > 0 && p.HomeMost == 0 {
			p.say("the doses listed are the first ones: the end of the course is not known")
		}
		return
	}
	if len(p.HomeDoses) == 0 {
		p.noneLeft("no dose is left before the end of the course")
		return
	}
	p.LastDose = p.HomeDoses[len(p.HomeDoses)-1]
	if p.CourseEnd.IsZero() {
		p.CourseEnd = p.LastDose
	}
}

// noneLeft: an order for home without a dose at home is a question, not an
// empty plan.
func (p *Plan) noneLeft(why string) {
	p.FirstHomeDose, p.Complete, p.StartPassed, p.FirstOnRecord, p.Gap = time.Time{}, false, false, false, 0
	p.notTimed(why)
}

// uncountable: a count that could not be shared between hospital and home
// leaves the end open, whatever the bounds say.
func (p *Plan) uncountable(timing schedule.Timing) bool {
	return max(p.timing.Count, p.timing.CountMax) > 0 && max(timing.Count, timing.CountMax) == 0 && p.timing.Repeats()
}

// wholeCourse counts the doses from the ordered start on and those of them
// before the first home dose. It reports false when the start is not known.
func (p *Plan) wholeCourse(timing schedule.Timing) bool {
	from := p.CourseStart
	if p.startIsDay {
		from = p.phased()
		switch {
		case from.IsZero():
		case slices.ContainsFunc(p.inHospital, from.Equal):
			p.say("the order names the day it begins and no time: doses are counted from the first on record of that day, %s", notation.Instant(from, ""))
		default:
			p.say("the order names the day it begins and no time: hospital doses are counted back from the first home dose")
		}
	}
	if from.IsZero() {
		return false
	}
	to := p.CourseEnd
	if to.IsZero() && max(timing.Count, timing.CountMax) == 0 && timing.Repeats() {
		to = p.FirstHomeDose
	}
	whole, complete := schedule.Expand(timing, schedule.Span{From: from, To: to}, p.Zone, mostDoses)
	// A dose given a little early or late shifts the home doses against the
	// ordered ones; half an interval tells which of them the first one is.
	border := p.FirstHomeDose.Add(-p.Interval / 2)
	if p.Interval == 0 {
		border = p.FirstHomeDose
	}
	for _, at := range whole {
		if at.Before(border) {
			p.HospitalCount++
		}
	}
	if complete && timing.CountMax <= timing.Count && (!p.CourseEnd.IsZero() || timing.Count > 0 || !timing.Repeats()) {
		p.CourseCount = len(whole)
	}
	return true
}

// phased is the first instant of the day of the ordered start that lies a
// whole number of steps before the first home dose.
func (p *Plan) phased() time.Time {
	first, day := p.FirstHomeDose, p.CourseStart
	if p.pace.Months > 0 {
		return p.monthly()
	}
	// The first dose on record of that day is the first one ordered. A count
	// without it cannot be shared between hospital and home.
	y, m, d := day.In(p.Zone.Location).Date()
	for _, at := range p.inHospital {
		if gy, gm, gd := at.Date(); gy == y && gm == m && gd == d {
			return at
		}
	}
	if max(p.timing.Count, p.timing.CountMax) > 0 && !p.LastGiven.IsZero() {
		return time.Time{}
	}
	if !p.paceKnown || p.Interval == 0 || first.Before(day) {
		return time.Time{}
	}
	if p.pace.Elapsed() {
		return first.Add(-first.Sub(day) / p.Interval * p.Interval)
	}
	if p.pace.Days > 1 {
		return time.Time{}
	}
	at, _, _ := p.Zone.Wall(y, m, d, p.Zone.SinceMidnight(first)%p.Interval)
	return at
}

// coincide asks about two doses at one instant, which a clock that goes
// forward makes of two times of day: neither is left out, and nobody gives
// both at once unasked.
func (p *Plan) coincide() {
	for i := 1; i < len(p.HomeDoses); i++ {
		if p.HomeDoses[i].Equal(p.HomeDoses[i-1]) {
			p.unknown("which of two doses is given %s: the clocks go forward and both fall on that instant", notation.Instant(p.HomeDoses[i], ""))
		}
	}
}
