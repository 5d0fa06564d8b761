package schedule

import "time"

// Span is a stretch of time, From included and To excluded. A zero To means
// without end.
type Span struct{ From, To time.Time }

// Occurrence is one start of a dose. Gap and Overlap tell that the wall clock
// of that day does not show the time meant, or shows it twice.
type Occurrence struct {
	At       time.Time
	Asked    time.Duration // wall clock: the time of day meant, since midnight
	Gap      bool          // the clock never shows Asked on that day; At lies after the change
	Overlap  bool          // the clock shows Asked twice; At is the first, or the second when the start lies between them
	Other    time.Time     // the other instant that Asked could mean (Moment); zero: none
	Optional bool          // more than the least: beyond the smaller count, or the earlier end
}

// Expand lists the starts of doses in the span, at most limit, in order. The
// span's From is the anchor: the first dose of paces that name no clock time;
// a start in the timing's own bounds is the anchor before it. complete is
// false when the doses cannot be placed, the end is unknown or the limit cut
// the list. A count ends it too; whichever comes first. A start exactly at
// the end is not in it: N = ceil((end - start) / interval).
//
// Why doses cannot be placed is told by PaceOf; Read tells it too, knows the
// clock times of a site and gives windows and counts for ranges.
func Expand(t Timing, span Span, zone Zone, limit int) (doses []time.Time, complete bool) {
	complete = expand(t, span, zone, limit, func(o Occurrence) { doses = append(doses, o.At) })
	return doses, complete
}

// Occurrences is Expand with what the clock changes did to each start. Starts
// are given in the zone when it is known.
func Occurrences(t Timing, span Span, zone Zone, limit int) (list []Occurrence, complete bool) {
	complete = expand(t, span, zone, limit, func(o Occurrence) { list = append(list, o) })
	return list, complete
}

func expand(t Timing, span Span, zone Zone, limit int, add func(Occurrence)) (complete bool) {
	start := t.Bounds.Start
	if start.IsZero() {
		start = span.From
	}
	if !t.Repeats() && len(t.Events) == 0 && (t.Count != 1 || t.CountMax > 1) {
		return false
	}
	s, err := build(t, start, zone, nil)
	if err != nil || !s.Placed() {
		return false
	}
	n, optional := 0, false
	complete = s.run(span, func(o Occurrence) bool {
		if n >= limit {
			return false
		}
		n, optional = n+1, optional || o.Optional
		add(o)
		return true
	})
	// A range of counts ends somewhere in it: nobody knows where.
	cut := s.least < s.most && n == s.most
	return complete && !cut && !(optional && t.Bounds.lengths())
}
