package plan

import (
	"fmt"
	"time"

	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/schedule"
)

// mostDoses bounds one expansion: a year of doses every two hours.
const mostDoses = 4400

// openDays is how far doses are listed when the order has no end.
const openDays = 28

// Draft plans one order of a case at the clock. Quantities are those that
// arithmetic settled; a disputed infusion time plans no end of infusion.
func Draft(o order.Order, q order.Quantities, c order.Case, rules Rules, zone schedule.Zone, now time.Time) Plan {
	p := Plan{Zone: zone, timing: o.Timing, courseIsSingle: o.Course.Single, clocks: rules.Clocks}
	if !zone.Known() {
		p.unknown("the time zone of the patient's home")
		return p
	}
	p.timing.Bounds = schedule.Bounds{} // see readRange
	p.readPace()
	p.course(o)
	p.readRange(o)
	p.discharge(c)
	p.given(o, c, now)
	p.firstHomeDose(o, rules, now)
	p.count()
	p.run(q, rules)
	p.prepared(o, q, c, p.dating(o, q, rules, now))
	p.deliveries(rules, now, p.dating(o, q, rules, now))
	p.uses(o, q, rules, now)
	p.clockChanges()
	return p
}

func (p *Plan) unknown(format string, args ...any) {
	p.Unknown = append(p.Unknown, fmt.Sprintf(format, args...))
}
func (p *Plan) say(format string, args ...any) { p.Says = append(p.Says, fmt.Sprintf(format, args...)) }

// readPace reads how often. A single dose needs no pace.
func (p *Plan) readPace() {
	if !p.timing.Repeats() {
		return
	}
	pace, err := p.readTiming()
	if err != nil {
		if !p.courseIsSingle {
			p.unknown("the times of the doses: %s", err)
		}
		return
	}
	p.pace, p.paceKnown, p.Interval = pace, true, pace.Interval()
	p.Says = append(p.Says, pace.Says...)
	p.placeEvents()
}

// at places an instant: a date alone is the first moment of that day in the
// zone, or of the next when it is an end (a Period includes its last day,
// https://hl7.org/fhir/R4/datatypes.html#Period).
func (p *Plan) at(i order.Instant, end bool) time.Time {
	if i.Absent() {
		return time.Time{}
	}
	if !i.DateOnly {
		return i.Time.In(p.Zone.Location)
	}
	y, m, d := i.Time.Date()
	if end {
		d++
	}
	at, _, _ := p.Zone.Wall(y, m, d, 0)
	return at
}

func (p *Plan) course(o order.Order) {
	p.CourseStart, p.CourseEnd = p.at(o.Course.Start, false), p.at(o.Course.End, true)
	p.startIsDay = o.Course.Start.DateOnly && len(p.pace.Times) == 0
	if p.CourseEnd.IsZero() && o.Course.Length != nil && !p.CourseStart.IsZero() {
		p.CourseEnd = p.after(p.CourseStart, o.Course.Length.Quantity)
	}
}

// after is the end of a course of some length, measured the way the doses
// step. Of a range the longer end counts; zero when there is no such end.
func (p *Plan) after(start time.Time, length quantity.Quantity) time.Time {
	if length.High.Sign() <= 0 {
		return time.Time{}
	}
	end, err := p.Zone.After(start, quantity.Point(length.High, length.Unit), !p.pace.Elapsed())
	if err != nil {
		return time.Time{}
	}
	return end
}

// elapsed is a time as a duration, 0 when it is too long for one.
func elapsed(n quantity.Number, u quantity.Unit) time.Duration {
	ns, ok := u.ToBase(n).Mul(quantity.Int(int64(time.Second))).Floor()
	if !ok {
		return 0
	}
	return time.Duration(ns)
}

// discharge takes the newest version of a hospital stay, else of any visit.
func (p *Plan) discharge(c order.Case) {
	for _, d := range c.Discharges {
		if d.Inpatient && !d.At.Absent() {
			p.inpatient = true
			p.leaves(d.At)
			return
		}
	}
	if len(c.Discharges) > 0 {
		p.leaves(c.Discharges[0].At)
	}
}

// leaves notes a discharge. One without an hour may be any time of that day.
func (p *Plan) leaves(at order.Instant) {
	p.Discharge = p.at(at, false)
	if at.DateOnly {
		p.dayAfterDischarge = p.at(at, true)
	}
}
