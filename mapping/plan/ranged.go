package plan

import (
	"fmt"
	"time"

	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/schedule"
)

// firstWindow tells when the first home dose may fall when the order leaves a
// range for how often a dose is given. A dose due before the discharge is the
// hospital's; whether one just before it was given there is open, which the
// window holds.
func (p *Plan) firstWindow(now time.Time) {
	if p.Replacement || !p.timing.Ranged() {
		return
	}
	timing := p.timing
	timing.Count, timing.CountMax, timing.Events = 0, 0, nil
	begun := !p.LastGiven.IsZero() && !p.LastGiven.Add(time.Hour).Before(p.CourseStart)
	from := p.CourseStart
	if begun {
		from = p.LastGiven
	}
	if from.IsZero() || !begun && p.startIsDay {
		return
	}
	s, err := schedule.Read(timing, from, p.Zone, p.clocks)
	switch {
	case err != nil:
		return // readPace has said what the order leaves open
	case begun:
		p.FirstEarliest, p.FirstLatest = p.afterGiven(s)
	case from.Before(now) && !p.onRecord(from):
		p.unknown("doses on record: the course has begun and none is")
		return
	default:
		p.FirstEarliest, p.FirstLatest = from, from
	}
	switch {
	case p.FirstEarliest.IsZero():
		return
	case !p.CourseEnd.IsZero() && !p.FirstEarliest.Before(p.CourseEnd):
		p.FirstEarliest, p.FirstLatest = time.Time{}, time.Time{}
		p.notTimed("no dose is left before the end of the course")
		return
	}
	p.Says = append(p.Says, s.Says()...)
	if p.FirstEarliest.Equal(p.FirstLatest) {
		p.say("the first home dose is %s, and those after it have no single times: the order leaves a range for how often a dose is given", notation.Instant(p.FirstEarliest, ""))
		return
	}
	p.say("the first home dose falls from %s: the order leaves a range for how often a dose is given", notation.Window(p.FirstEarliest, p.FirstLatest))
}

// afterGiven is the window of the first dose at or after the discharge. The
// latest follows a dose in hospital just before it.
func (p *Plan) afterGiven(s schedule.Series) (earliest, latest time.Time) {
	leaves := p.Discharge
	if leaves.Before(p.LastGiven) {
		leaves = p.LastGiven
	}
	last, k := p.LastGiven, 0
	for w := range s.Windows() {
		if k++; k == 1 {
			continue // the dose given
		}
		if earliest.IsZero() && !w.Latest.Before(leaves) {
			earliest = w.Earliest
			if earliest.Before(leaves) {
				earliest = leaves
			}
		}
		if !w.Earliest.Before(leaves) {
			break
		}
		if last = w.Latest; leaves.Before(last) {
			last = leaves
		}
		if k > mostDoses {
			return time.Time{}, time.Time{}
		}
	}
	next, ok := s.Next(last)
	if !ok || earliest.IsZero() {
		return time.Time{}, time.Time{}
	}
	return earliest.In(p.Zone.Location), next.Latest.In(p.Zone.Location)
}

// readRange keeps the shorter end of a range of lengths. The course itself is
// that of the order: several instructions may share in it, and dates alone are
// placed in the zone of the home.
func (p *Plan) readRange(o order.Order) {
	b := o.Timing.Bounds
	length := o.Course.Length
	if b.Shortest.Absent() || p.CourseStart.IsZero() || !o.Course.End.Absent() || length == nil || b.Longest.Absent() {
		return
	}
	_, longest := b.Longest.Base()
	_, taken := length.Quantity.Base()
	if shortest, _ := b.Shortest.Base(); longest.Equal(taken) && shortest.Less(longest) {
		p.endEarliest = p.after(p.CourseStart, b.Shortest)
	}
}

// countRange counts the doses of an order that leaves a range for how often.
func (p *Plan) countRange() {
	if p.FirstEarliest.IsZero() {
		return
	}
	timing := p.timing
	timing.Events = nil
	most := max(timing.Count, timing.CountMax)
	shared := !p.FirstEarliest.Equal(p.CourseStart) || p.inpatient && p.Discharge.After(p.CourseStart)
	switch {
	case most > 0 && shared:
		p.unknown("how many of the %d ordered doses were given in hospital", most)
		return
	case most == 0 && p.CourseEnd.IsZero():
		p.unknown("the end of the course")
		return
	}
	soonest, latest := p.CourseEnd, p.CourseEnd
	if !p.endEarliest.IsZero() {
		soonest = p.endEarliest
	}
	early, err := schedule.Read(timing, p.FirstEarliest, p.Zone, p.clocks)
	late, fault := schedule.Read(timing, p.FirstLatest, p.Zone, p.clocks)
	if err != nil || fault != nil {
		return
	}
	c := early.Count(schedule.Span{To: latest})
	if c.Open {
		p.unknown("the number of doses at home")
		return
	}
	p.HomeLeast, p.HomeMost = late.Count(schedule.Span{To: soonest}).Least, c.Most
	until := ""
	switch {
	case latest.IsZero():
	case soonest.Equal(latest):
		until = " until " + notation.Instant(latest, "")
	default:
		until = " until " + notation.Instant(soonest, "") + " at the earliest or " + notation.Instant(latest, "") + " at the latest"
	}
	p.say("%s at home%s: the order leaves a range; no delivery is planned from doses without single times", atLeast(p.HomeLeast, p.HomeMost), until)
}

// countPlaced tells the least of doses that are listed for the most: of a
// range of counts, or of lengths.
func (p *Plan) countPlaced(least int) {
	n := len(p.HomeDoses)
	if !p.endEarliest.IsZero() {
		k := 0
		for k < n && p.HomeDoses[k].Before(p.endEarliest) {
			k++
		}
		least = min(least, k)
	}
	if least >= n {
		return
	}
	p.HomeLeast, p.HomeMost = least, n
	last := notation.Instant(p.HomeDoses[n-1], "") + " at the latest"
	if least > 0 {
		last = notation.Instant(p.HomeDoses[least-1], "") + " at the earliest and " + last
	}
	p.say("%s at home, the last of them %s: the order leaves a range; the doses listed, and what is delivered for them, are the most", atLeast(least, n), last)
}

func atLeast(least, most int) string {
	switch {
	case least == most && most == 1:
		return "1 dose"
	case least == most:
		return fmt.Sprintf("%d doses", most)
	}
	return fmt.Sprintf("%d to %d doses", least, most)
}
