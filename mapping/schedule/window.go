package schedule

import (
	"iter"
	"sort"
	"time"

	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/quantity"
)

// Window is when a dose may start. Both ends are in it; they are equal when
// the dose has one instant.
type Window struct{ Earliest, Latest time.Time }

// Count is how many doses start in a span. Open tells that there may be more:
// the course or the span has no end, or more than 100,000 were counted.
type Count struct {
	Least, Most int
	Open        bool
}

// distance is a step from dose to dose in exact nanoseconds, on the wall clock
// or elapsed.
type distance struct {
	ns     quantity.Number
	onWall bool
}

// spread is how often as a range: each dose lies at least and at most so far
// after the one before.
type spread struct{ shortest, longest distance }

func (s spread) wall() bool { return s.shortest.onWall }

// readSpread reads frequencyMax and periodMax. Clock times or days of the
// week beside a range would say how often a second time.
func (s *Series) readSpread(t Timing, clocks Clocks) error {
	if err := t.repeatFault(); err != nil {
		return err
	}
	switch {
	case t.Period.Absent():
		return unplaced("the order gives a range of doses without the time in which they are given")
	case len(t.TimesOfDay)+len(t.When)+len(t.DaysOfWeek) > 0:
		return unplaced("the order leaves a range for how often a dose is given and names clock times or days as well")
	}
	if _, known := shapeOfCode(t.Code); known {
		return unplaced("the timing code %s names one time between doses and the repeat beside it leaves a range", t.Code)
	}
	periodMax := t.PeriodMax
	if periodMax.Absent() {
		periodMax = t.Period
	}
	fewest := max(t.Frequency, 1)
	shortest, ok := distanceOf(t.Period, max(t.FrequencyMax, fewest))
	longest, also := distanceOf(periodMax, fewest)
	if !ok || !also || shortest.onWall != longest.onWall {
		return unplaced("the range for how often a dose is given is below a second, too long, in months, or not in one unit")
	}
	s.spread = &spread{shortest, longest}
	if max(t.FrequencyMax, fewest) > 1 {
		s.says = append(s.says, "several doses in a period: none earlier than evenly spaced for the most of them, none later than for the fewest")
	}
	return nil
}

// distanceOf is a period shared among so many doses. Days and weeks follow
// the wall clock; months have no fixed distance.
func distanceOf(period quantity.Quantity, doses int) (distance, bool) {
	low, high := period.Base()
	ns := low.Mul(quantity.Int(int64(time.Second))).Quo(quantity.Int(int64(doses)))
	n, fits := ns.Floor()
	code := period.Unit.Code()
	return distance{ns: ns, onWall: code == "d" || code == "wk"},
		low.Equal(high) && fits && n >= int64(time.Second) && n < longestElapsed && code != "mo" && code != "a"
}

// after is the instant k steps after another; up rounds a part of a
// nanosecond up. It reports false beyond what a course can be.
func (d distance) after(from time.Time, k int, up bool, zone Zone) (time.Time, bool) {
	ns := d.ns.Mul(quantity.Int(int64(k)))
	n, fits := ns.Floor()
	if up {
		n, fits = ns.Ceil()
	}
	if !fits || n >= longestElapsed {
		return time.Time{}, false
	}
	if !d.onWall {
		return from.Add(time.Duration(n)), true
	}
	y, m, day := from.In(zone.Location).Date()
	return zone.from(from, y, m, day, zone.SinceMidnight(from)+time.Duration(n)).At, true
}

// steps counts the k >= 0 whose instant lies before to, at most 100,001; a
// zero to is no end. Rounded up, it tells the least, and instants beyond what
// a course can be do not count; else it tells the most, and they are too many.
func (d distance) steps(from, to time.Time, up bool, zone Zone) int {
	if to.IsZero() {
		return mostCounted + 1
	}
	n := sort.Search(mostCounted+1, func(k int) bool {
		at, ok := d.after(from, k, up, zone)
		return !ok || !at.Before(to)
	})
	if _, ok := d.after(from, n, up, zone); !ok && !up {
		return mostCounted + 1
	}
	return n
}

// Windows gives for each dose of the series, in order, when it may start: the
// k-th lies k shortest to k longest steps after the first, which is the
// start. A placed dose is a window of one instant. It stops where a dose
// would certainly lie behind the end of the course.
func (s Series) Windows() iter.Seq[Window] {
	return func(yield func(Window) bool) {
		if s.Placed() {
			for o := range s.Doses(Span{}) {
				if !yield(Window{o.At, o.At}) {
					return
				}
			}
			return
		}
		for k := 0; k <= mostCounted && (s.most == 0 || k < s.most); k++ {
			w, ok := s.window(s.start, k)
			if !ok || !s.late.IsZero() && !w.Earliest.Before(s.late) || !yield(w) {
				return
			}
		}
	}
}

func (s Series) window(from time.Time, k int) (Window, bool) {
	a, ok := s.spread.shortest.after(from, k, false, s.zone)
	b, also := s.spread.longest.after(from, k, true, s.zone)
	if s.zone.Known() {
		a, b = a.In(s.zone.Location), b.In(s.zone.Location)
	}
	if b.Before(a) { // the one was moved out of a gap, past the other
		a, b = b, a
	}
	return Window{a, b}, ok && also
}

// Next is when the dose after one given at an instant may start. For a placed
// series that is the first dose later than it. It reports false when none
// follows, or none can be told. For a range a count is not looked at: how many
// doses were given is the caller's knowledge.
func (s Series) Next(given time.Time) (Window, bool) {
	if s.Placed() {
		for o := range s.Doses(Span{From: given.Add(1)}) {
			return Window{o.At, o.At}, true
		}
		return Window{}, false
	}
	if given.Before(s.start) {
		return Window{s.start, s.start}, true
	}
	w, ok := s.window(given, 1)
	if !ok || !s.late.IsZero() && !w.Earliest.Before(s.late) {
		return Window{}, false
	}
	return w, true
}

// wallSlack is more than any clock change moves a dose; where it is not known
// when the dose before a span was, the bounds are wider by it.
const wallSlack = 3 * time.Hour

// Count tells how many doses start in the span, the least and the most. From
// the start on the first dose of a range is known; in a later span it is not,
// and the bounds are wider. Supply for the most.
func (s Series) Count(span Span) Count {
	if s.Placed() {
		return s.countPlaced(span)
	}
	short, long := sooner(s.early, span.To), sooner(s.late, span.To)
	c := Count{Least: s.fewest(short), Most: s.largest(long)}
	if span.From.After(s.start) {
		c = s.unphased(s.since(c, span.From, short), span.From, short, long)
	}
	c.Open = c.Most > mostCounted
	return Count{Least: min(max(c.Least, 0), mostCounted), Most: min(max(c.Most, 0), mostCounted), Open: c.Open}
}

// since takes away the doses before a later span. From more than are counted
// nothing can be taken.
func (s Series) since(c Count, from, short time.Time) Count {
	c.Least -= s.largest(from)
	if c.Most <= mostCounted {
		c.Most -= s.fewest(sooner(short, from))
	}
	return c
}

// fewest and largest are the least and the most doses from the start to an
// instant, with the ordered count. Without an end and a count none but the
// first is certain.
func (s Series) fewest(to time.Time) int {
	if to.IsZero() && s.least == 0 {
		return 1
	}
	return capped(s.spread.longest.steps(s.start, to, true, s.zone), s.least)
}

func (s Series) largest(to time.Time) int {
	return capped(s.spread.shortest.steps(s.start, to, false, s.zone), s.most)
}

// unphased narrows a count by the span alone, whenever the dose before it
// was: at most a dose at its very start and one each shortest step, at least
// one each longest step, the first of them just before the span. A count may
// be used up before the span, so that it gives no least.
func (s Series) unphased(c Count, from, short, long time.Time) Count {
	slack := time.Duration(0)
	if s.wall() {
		slack = wallSlack
	}
	if !short.IsZero() && s.least == 0 {
		c.Least = max(c.Least, s.spread.longest.steps(from, short.Add(1-slack), true, s.zone)-1)
	}
	if !long.IsZero() {
		c.Most = min(c.Most, s.spread.shortest.steps(from, long.Add(slack), false, s.zone))
	}
	return c
}

// sooner is the earlier of two ends, of which zero is none.
func sooner(a, b time.Time) time.Time {
	if a.IsZero() || !b.IsZero() && b.Before(a) {
		return b
	}
	return a
}

func capped(n, most int) int {
	if most > 0 {
		return min(n, most)
	}
	return n
}

// countPlaced counts one by one. Where the span, the course and the count are
// all without an end, no dose but the next one is certain.
func (s Series) countPlaced(span Span) Count {
	var c Count
	complete := s.run(span, func(o Occurrence) bool {
		if c.Most == mostCounted {
			return false
		}
		c.Most++
		if !o.Optional {
			c.Least++
		}
		return true
	})
	c.Open = !complete
	if c.Open && c.Least > 0 && span.To.IsZero() && s.early.IsZero() && s.least == 0 {
		c.Least = 1 // nobody knows the end: only the next dose is certain
	}
	return c
}

// String writes a window for a person.
func (w Window) String() string { return notation.Window(w.Earliest, w.Latest) }
