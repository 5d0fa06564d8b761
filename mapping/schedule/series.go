package schedule

import (
	"iter"
	"time"

	"weir.example/weir/mapping/notation"
)

// Series is a timing that has been read against a start, a zone and the clock
// times of a site. It holds no list: doses come one by one.
type Series struct {
	pace        Pace
	spread      *spread // not nil: a range, whose doses are no single instants
	dated       bool    // the doses are events
	events      []time.Time
	start       time.Time
	zone        Zone
	least, most int       // doses; 0: no count
	early, late time.Time // ends of the course, excluded; zero: open
	says        []string
}

// Read reads a timing. Start is the first dose of paces that name no clock
// time, and no dose lies before it; a start in the bounds, or a single event
// beside a repeat, stands for a zero start, and a start later than the bounds'
// continues the course from there. The zone is needed for everything that
// follows the wall clock. The error is an *Unplaced with the reason in words.
func Read(t Timing, start time.Time, zone Zone, clocks Clocks) (Series, error) {
	if err := t.courseFault(); err != nil {
		return Series{}, err
	}
	if t.Repeats() && len(t.Events) > 0 && start.IsZero() && t.Bounds.Start.IsZero() {
		start = t.Events[0]
	}
	t.Events = sortedEvents(t.Events, time.Time{})
	if t.Repeats() {
		t.Events = nil // one instant, and it is the start
	}
	if start.Before(t.Bounds.Start) {
		start = t.Bounds.Start
	}
	if !t.Repeats() && len(t.Events) == 0 && t.Count != 1 {
		return Series{}, unplaced("the order does not say how often a dose is given")
	}
	return build(t, start, zone, clocks)
}

// build makes the series; the timing's course has been checked, or comes from
// Expand, whose callers take part of a course out of an order.
func build(t Timing, start time.Time, zone Zone, clocks Clocks) (Series, error) {
	s := Series{start: start, zone: zone, least: t.Count, most: max(t.Count, t.CountMax)}
	switch {
	case t.Repeats() && start.IsZero(), len(t.Events) == 0 && start.IsZero():
		return Series{}, unplaced("the order says how often and not from when")
	case t.Repeats() && len(t.Events) > 1:
		return Series{}, unplaced("the order names several instants and says how often as well: only one of them can be meant")
	case !t.Repeats() && len(t.Events) == 0:
		s.dated, s.events = true, []time.Time{start}
	case !t.Repeats():
		s.dated, s.events = true, sortedEvents(t.Events, start)
	case t.Ranged():
		if err := s.readSpread(t, clocks); err != nil {
			return Series{}, err
		}
	default:
		pace, err := PaceAt(t, clocks)
		if err != nil {
			return Series{}, err
		}
		s.pace, s.says = pace, pace.Says
	}
	if s.wall() && !zone.Known() {
		return Series{}, unplaced("the doses follow the clock on the wall, and the time zone of the home is not known")
	}
	if err := s.readBounds(t.Bounds); err != nil {
		return Series{}, err
	}
	if run, ok := elapsedOf(t.Duration); ok && s.pace.Interval() > 0 && run > s.pace.Interval() {
		s.says = append(s.says, "one dose runs "+notation.Duration(run)+", longer than the time to the next dose")
	}
	return s, nil
}

// wall reports whether steps follow the clock on the wall.
func (s Series) wall() bool {
	switch {
	case s.spread != nil:
		return s.spread.wall()
	case s.dated:
		return false
	}
	return !s.pace.Elapsed()
}

// readBounds finds the ends of the course. A length is measured from the
// start the way the doses step (After).
func (s *Series) readBounds(b Bounds) error {
	s.early, s.late = b.End, b.End
	if !b.lengths() {
		return nil
	}
	from := s.start
	if from.IsZero() && len(s.events) > 0 {
		from = s.events[0]
	}
	onClock := s.wall() || s.dated && s.zone.Known()
	var err error
	if s.early, err = s.zone.After(from, b.Shortest, onClock); err != nil {
		return err
	}
	if s.late, err = s.zone.After(from, b.Longest, onClock); err != nil {
		return err
	}
	if b.Shortest.Absent() { // at most so long: no dose is certain
		s.early = from
	}
	return nil
}

// Placed reports whether every dose is one instant. A range is not: Windows,
// Next and Count tell what can be told.
func (s Series) Placed() bool { return s.spread == nil }

// Says lists what was assumed, in words.
func (s Series) Says() []string { return s.says }

// Ends are the earliest and the latest end of the course by its bounds; zero
// is open. A count may end it before.
func (s Series) Ends() (earliest, latest time.Time) { return s.early, s.late }

// Doses gives the starts of the doses in the span one by one, in order, as
// long as the caller asks: an order without an end has no last one (at the
// latest the hundredth year ends it). Nothing comes of a range.
func (s Series) Doses(span Span) iter.Seq[Occurrence] {
	return func(yield func(Occurrence) bool) {
		if s.Placed() {
			s.run(span, yield)
		}
	}
}

// run yields the doses in the span. It reports whether all of them came.
func (s Series) run(span Span, yield func(Occurrence) bool) bool {
	next := s.steps(span.From)
	for n := 0; ; n++ {
		o, state := next()
		switch {
		case state == unknown:
			return false
		case state == ended, s.most > 0 && n >= s.most:
			return true
		case !s.late.IsZero() && !o.At.Before(s.late), !span.To.IsZero() && !o.At.Before(span.To):
			return true
		case o.At.Before(span.From):
			continue
		}
		if s.zone.Known() {
			o.At = o.At.In(s.zone.Location)
		}
		o.Optional = s.least > 0 && n >= s.least || !s.early.IsZero() && !o.At.Before(s.early)
		if !yield(o) {
			return false
		}
		if s.most > 0 && n+1 == s.most {
			return true
		}
	}
}

// steps is the generator of a placed series. A count numbers the doses from
// the start, so that none may be passed over.
func (s Series) steps(from time.Time) generator {
	if s.most > 0 || from.Before(s.start) {
		from = s.start
	}
	switch {
	case s.dated:
		return listed(s.events)
	case s.pace.Elapsed():
		return s.pace.elapsed(s.start, from)
	}
	return s.pace.wall(s.start, from, s.zone)
}
