package schedule

import (
	"cmp"
	"math"
	"slices"
	"time"
)

// Span is a stretch of time, From included and To excluded. A zero To means
// without end.
type Span struct{ From, To time.Time }

// Occurrence is one start of a dose. Gap and Overlap tell that the wall clock
// of that day does not show the time meant, or shows it twice.
type Occurrence struct {
	At      time.Time
	Asked   time.Duration // wall clock: the time of day meant, since midnight
	Gap     bool          // the clock never shows Asked on that day; At lies after the change
	Overlap bool          // the clock shows Asked twice; At is the first
}

// Expand lists the starts of doses in the span, at most limit, in order. The
// span's From is the anchor: the first dose of paces that name no clock time.
// complete is false when the doses cannot be placed, the end is unknown or
// the limit cut the list. A count ends it too; whichever comes first. A start
// exactly at the end is not in it: N = ceil((end - start) / interval).
func Expand(t Timing, span Span, zone Zone, limit int) (doses []time.Time, complete bool) {
	list, complete := Occurrences(t, span, zone, limit)
	for _, o := range list {
		doses = append(doses, o.At)
	}
	return doses, complete
}

// Occurrences is Expand with what the clock changes did to each start. Starts
// are given in the zone when it is known.
func Occurrences(t Timing, span Span, zone Zone, limit int) (list []Occurrence, complete bool) {
	next := starts(t, span.From, zone)
	if next == nil {
		return nil, false
	}
	most := max(t.Count, t.CountMax)
	for {
		o, state := next()
		switch {
		case state == unknown:
			return list, false
		case state == ended:
			return list, true
		case !span.To.IsZero() && !o.At.Before(span.To):
			return list, true
		case o.At.Before(span.From):
			continue
		case len(list) >= limit:
			return list, false
		}
		if zone.Known() {
			o.At = o.At.In(zone.Location)
		}
		list = append(list, o)
		if most > 0 && len(list) == most {
			// A range of counts ends somewhere in it: nobody knows where.
			return list, t.CountMax <= t.Count
		}
	}
}

type progress int

const (
	more progress = iota
	ended
	unknown
)

type generator func() (Occurrence, progress)

// starts returns the generator of a timing, nil when it cannot be placed.
func starts(t Timing, anchor time.Time, zone Zone) generator {
	if !t.Repeats() {
		switch {
		case len(t.Events) > 0:
			return listed(t.Events)
		case t.Count == 1 && t.CountMax <= 1 && !anchor.IsZero():
			return listed([]time.Time{anchor})
		}
		return nil
	}
	// Several events beside a repeat say two different things.
	pace, err := PaceOf(t)
	if err != nil || anchor.IsZero() || len(t.Events) > 1 {
		return nil
	}
	if pace.Elapsed() {
		return pace.elapsed(anchor)
	}
	if !zone.Known() {
		return nil
	}
	return pace.wall(anchor, zone)
}

func listed(events []time.Time) generator {
	events = slices.Clone(events)
	slices.SortFunc(events, time.Time.Compare)
	events = slices.CompactFunc(events, time.Time.Equal)
	return func() (Occurrence, progress) {
		if len(events) == 0 {
			return Occurrence{}, ended
		}
		at := events[0]
		events = events[1:]
		return Occurrence{At: at}, more
	}
}

// elapsed steps exactly: dose n lies n × Cycle ÷ PerCycle after the anchor,
// rounded down once to the nanosecond.
func (p Pace) elapsed(anchor time.Time) generator {
	n := int64(-1)
	per := int64(p.PerCycle)
	return func() (Occurrence, progress) {
		n++
		cycles, rest := n/per, n%per
		if cycles > math.MaxInt64/2/int64(p.Cycle) || rest > 0 && int64(p.Cycle) > math.MaxInt64/rest {
			return Occurrence{}, unknown
		}
		return Occurrence{At: anchor.Add(time.Duration(cycles*int64(p.Cycle) + rest*int64(p.Cycle)/per))}, more
	}
}

// longestCourse bounds a search through days without a dose.
const longestCourse = 100 * 366

// wall steps from day to day in the zone.
func (p Pace) wall(anchor time.Time, zone Zone) generator {
	local := anchor.In(zone.Location)
	year, month, date := local.Date()
	slots := p.slots(zone.SinceMidnight(anchor))
	weekday := int(local.Weekday()+6) % 7 // Monday is 0
	day := 0
	// Every so many days counts from the first day that has a dose.
	if p.Days > 1 && zone.at(year, month, date, slots[len(slots)-1]).At.Before(anchor) {
		day = 1
	}
	var waiting []Occurrence
	return func() (Occurrence, progress) {
		for len(waiting) == 0 {
			if day > longestCourse {
				return Occurrence{}, unknown
			}
			today := time.Date(year, month, date+day, 0, 0, 0, 0, time.UTC)
			if p.holds(today.Weekday(), weekday+day) {
				for _, since := range slots {
					if o := zone.at(year, month, date+day, since); !o.At.Before(anchor) {
						waiting = append(waiting, o)
					}
				}
				slices.SortStableFunc(waiting, func(a, b Occurrence) int { return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.Asked, b.Asked)) })
			}
			day += max(p.Days, 1)
		}
		o := waiting[0]
		waiting = waiting[1:]
		return o, more
	}
}

// holds reports whether a dose falls on the day that lies so many days after
// the Monday of the first week.
func (p Pace) holds(d time.Weekday, since int) bool {
	if len(p.Weekday) == 0 {
		return true
	}
	return slices.Contains(p.Weekday, d) && since/7%max(p.Weeks, 1) == 0
}

func (z Zone) at(year int, month time.Month, day int, since time.Duration) Occurrence {
	at, gap, overlap := z.Wall(year, month, day, since)
	return Occurrence{At: at, Asked: since, Gap: gap, Overlap: overlap}
}
