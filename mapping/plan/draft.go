package plan

import (
	"fmt"
	"strings"
	"time"

	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/schedule"
)

// mostDoses bounds one expansion: a year of doses every two hours.
const mostDoses = 4400

// Draft plans one order of a case at the clock. Quantities are those that
// arithmetic settled; a disputed infusion time plans no end of infusion.
func Draft(o order.Order, q order.Quantities, c order.Case, rules Rules, zone schedule.Zone, now time.Time) Plan {
	p := Plan{Zone: zone}
	if !zone.Known() {
		p.Unknown = append(p.Unknown, "the time zone of the patient's home")
		return p
	}
	p.course(o, zone)
	p.discharge(c, zone)
	p.pace(o)
	p.lastGiven(o, c, now)
	p.firstHomeDose(o, rules, now)
	p.doses(o)
	p.duration(q)
	p.infusionEnd(rules)
	p.deliveries(rules, now)
	return p
}

// at places an instant: a date alone is the first moment of that day in the
// zone, or of the next when it is an end (a Period includes its last day).
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

func (p *Plan) course(o order.Order, zone schedule.Zone) {
	p.CourseStart, p.CourseEnd = p.at(o.Course.Start, false), p.at(o.Course.End, true)
	if p.CourseEnd.IsZero() && o.Course.Length != nil && !p.CourseStart.IsZero() {
		p.CourseEnd = p.CourseStart.Add(elapsed(o.Course.Length.Quantity.High, o.Course.Length.Quantity.Unit))
	}
}

func elapsed(n quantity.Number, u quantity.Unit) time.Duration {
	ns, ok := u.ToBase(n).Mul(quantity.Int(int64(time.Second))).Floor()
	if !ok {
		return 0
	}
	return time.Duration(ns)
}

func (p *Plan) discharge(c order.Case, zone schedule.Zone) {
	for _, d := range c.Discharges { // newest version first; a clinic visit is no stay
		if d.Inpatient {
			p.Discharge = p.at(d.At, false)
			return
		}
	}
}

func (p *Plan) pace(o order.Order) {
	if pace, ok := schedule.PaceOf(o.Timing); ok {
		p.Interval = pace.Every
		if pace.Every == 0 && len(pace.Weekday) == 0 {
			p.Interval = time.Duration(max(pace.Days, 1)) * 24 * time.Hour / time.Duration(max(pace.PerDay, len(pace.Times), 1))
		}
	}
}

// lastGiven is the newest dose of this course that is on record: same drug,
// not before the course began, not after the clock.
func (p *Plan) lastGiven(o order.Order, c order.Case, now time.Time) {
	for _, a := range c.Administrations {
		at := p.at(a.Start, false)
		if a.Status != "completed" && a.Status != "in-progress" || at.IsZero() || at.After(now) || !sameDrug(a.Drug, o.Drug) {
			continue
		}
		if !p.CourseStart.IsZero() && at.Before(p.CourseStart.Add(-time.Hour)) {
			continue
		}
		if at.After(p.LastGiven) {
			p.LastGiven = at
		}
	}
}

func sameDrug(c order.Concept, d order.Drug) bool {
	const rxnorm = "http://www.nlm.nih.gov/research/umls/rxnorm"
	if code := c.Code(rxnorm); code != "" {
		if d.Concept.Code(rxnorm) == code {
			return true
		}
		for _, i := range d.Ingredients {
			if i.Concept.Code(rxnorm) == code {
				return true
			}
		}
	}
	return d.Name != "" && strings.Contains(strings.ToLower(c.Name()), d.Name)
}

// firstHomeDose follows the last dose given by one interval; doses that fall
// before the discharge are the hospital's. An order that names a start after
// the last dose is taken at its word.
func (p *Plan) firstHomeDose(o order.Order, rules Rules, now time.Time) {
	switch {
	case p.LastGiven.IsZero() && p.CourseStart.IsZero():
		p.Unknown = append(p.Unknown, "the first home dose: neither a start nor a dose given is on record")
		return
	case p.LastGiven.IsZero() || p.CourseStart.After(p.LastGiven):
		p.FirstHomeDose = p.CourseStart
		p.Says = append(p.Says, "the first home dose is the start that the order names")
		if p.LastGiven.IsZero() && p.CourseStart.Before(now) {
			p.FirstHomeDose = time.Time{}
			p.Unknown = append(p.Unknown, "the first home dose: the course has begun and no dose given is on record")
			return
		}
	case o.Course.Single:
		p.Unknown = append(p.Unknown, "the first home dose: the only dose of this order is on record as given")
		return
	default:
		timing := o.Timing
		timing.Count, timing.Events = 0, nil
		from := p.LastGiven
		after, _ := schedule.Expand(timing, schedule.Span{From: from}, p.Zone, mostDoses)
		for _, at := range after {
			if at.After(p.LastGiven) && !at.Before(p.Discharge) && !p.tooEarly(at, rules.Early) {
				p.FirstHomeDose = at
				break
			}
		}
		if p.FirstHomeDose.IsZero() {
			p.Unknown = append(p.Unknown, "the first home dose: the order does not say how often a dose is given")
			return
		}
		p.Says = append(p.Says, "the first home dose follows the last hospital dose by the ordered interval")
	}
	if !p.LastGiven.IsZero() {
		p.Gap = p.FirstHomeDose.Sub(p.LastGiven)
	}
	p.StartPassed = p.FirstHomeDose.Before(now)
}

// tooEarly: a clock-anchored time that falls too soon after the last dose is
// not the next dose (18:00 the same day after one at 10:00, daily).
func (p *Plan) tooEarly(at time.Time, early quantity.Number) bool {
	if p.Interval == 0 || early.Sign() == 0 {
		return false
	}
	return quantity.Ratio(int64(at.Sub(p.LastGiven)), int64(p.Interval)).Less(early)
}

func (p *Plan) doses(o order.Order) {
	span := schedule.Span{From: p.FirstHomeDose, To: p.CourseEnd}
	if p.FirstHomeDose.IsZero() {
		return
	}
	timing := o.Timing
	if !p.CourseStart.IsZero() {
		whole, complete := schedule.Expand(timing, schedule.Span{From: p.CourseStart, To: p.CourseEnd}, p.Zone, mostDoses)
		for _, at := range whole {
			if at.Before(p.FirstHomeDose) {
				p.HospitalCount++
			}
		}
		if complete {
			p.CourseCount = len(whole)
		}
	}
	if timing.Count > 0 {
		timing.Count = max(timing.Count-p.HospitalCount, 0)
		if timing.Count == 0 {
			p.Complete = true
			return
		}
	}
	p.HomeDoses, p.Complete = schedule.Expand(timing, span, p.Zone, mostDoses)
	if len(p.HomeDoses) > 0 {
		if p.Complete {
			p.LastDose = p.HomeDoses[len(p.HomeDoses)-1]
		}
		p.shifted()
	}
	if !p.Complete {
		p.Unknown = append(p.Unknown, "the end of the course")
	}
	if p.Complete && p.CourseEnd.IsZero() && !p.LastDose.IsZero() {
		p.CourseEnd = p.LastDose
	}
}

// shifted: doses at a fixed distance move on the wall clock when the clocks
// change.
func (p *Plan) shifted() {
	if p.Interval == 0 {
		return
	}
	first, last := p.HomeDoses[0], p.HomeDoses[len(p.HomeDoses)-1]
	_, a := first.In(p.Zone.Location).Zone()
	_, b := last.In(p.Zone.Location).Zone()
	if a != b && p.Complete && last.Sub(first)%p.Interval == 0 && len(p.HomeDoses) > 1 {
		p.ClockChange = p.Zone.SinceMidnight(first)%p.Interval != p.Zone.SinceMidnight(last)%p.Interval
		if p.ClockChange {
			p.Says = append(p.Says, fmt.Sprintf("the clocks change during the course: doses move from %s to %s on the clock and keep their distance",
				first.In(p.Zone.Location).Format("15:04"), last.In(p.Zone.Location).Format("15:04")))
		}
	}
}

func (p *Plan) duration(q order.Quantities) {
	if t, ok := q["duration"]; ok && !t.Disputed {
		p.Duration = elapsed(t.Value, t.Unit)
	}
}

// infusionEnd gives the end by elapsed time, the window of a fixed-flow
// device, and where a clock that never changed would put it.
func (p *Plan) infusionEnd(rules Rules) {
	if !rules.Continuous || p.Duration == 0 || p.FirstHomeDose.IsZero() {
		return
	}
	start := p.FirstHomeDose
	p.EndsAt = start.Add(p.Duration)
	if rules.FixedFlow && rules.Tolerance.Sign() > 0 {
		one := quantity.Int(1)
		seconds := quantity.Int(int64(p.Duration / time.Second))
		early, _ := seconds.Quo(one.Add(rules.Tolerance)).Floor()
		late, _ := seconds.Quo(one.Sub(rules.Tolerance)).Ceil()
		p.EndsEarliest, p.EndsLatest = start.Add(time.Duration(early)*time.Second), start.Add(time.Duration(late)*time.Second)
	}
	if p.Complete && p.CourseEnd.Before(p.LastDose.Add(p.Duration)) {
		p.CourseEnd = p.LastDose.Add(p.Duration) // the course lasts until the last infusion has run
	}
	y, m, d := start.In(p.Zone.Location).Date()
	since := p.Zone.SinceMidnight(start) + p.Duration
	days := int(since / (24 * time.Hour))
	p.WallEnd, _, _ = p.Zone.Wall(y, m, d+days, since%(24*time.Hour))
	p.ClockChange = p.ClockChange || !p.WallEnd.Equal(p.EndsAt)
}
