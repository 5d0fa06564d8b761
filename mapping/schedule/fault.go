package schedule

import (
	"fmt"
	"slices"
	"time"

	"weir.example/weir/mapping/quantity"
)

// Unplaced is the reason why a timing gives no instants.
type Unplaced struct{ Reason string }

func (u *Unplaced) Error() string { return u.Reason }

func unplaced(format string, args ...any) error { return &Unplaced{fmt.Sprintf(format, args...)} }

// mostCounted is above any count of a course, and the most doses that are
// counted one by one.
const mostCounted = 100_000

// repeatFault finds what contradicts itself in how often a dose is given;
// tim-5, tim-6, tim-9 and tim-10 of FHIR R4 are among it.
func (t Timing) repeatFault() error {
	switch {
	case t.Frequency < 0 || t.FrequencyMax < 0 || t.Offset < 0:
		return unplaced("a number of doses or minutes is below zero")
	case t.Offset >= oneDay:
		return unplaced("the minutes from an event of the day are a day or more")
	case t.FrequencyMax > 0 && t.FrequencyMax < t.Frequency:
		return unplaced("the order says at least %d and at most %d doses in a period", t.Frequency, t.FrequencyMax)
	case !t.PeriodMax.Absent() && t.Period.Absent():
		return unplaced("the order gives a longest period between doses and no shortest")
	case !t.PeriodMax.Absent() && shorter(t.PeriodMax, t.Period):
		return unplaced("the longest period between doses is shorter than the shortest")
	case len(t.TimesOfDay) > 0 && len(t.When) > 0:
		return unplaced("the order names both clock times and events of the day")
	case t.Offset > 0 && len(t.When) == 0:
		return unplaced("the order gives minutes from an event of the day and names no event")
	case t.Offset > 0 && slices.ContainsFunc(t.When, isMeal):
		return unplaced("the order gives minutes from a meal and does not say whether before or after it")
	}
	return nil
}

// courseFault finds what contradicts itself in how long and how many; tim-4,
// tim-7 and tim-8 of FHIR R4 are among it.
func (t Timing) courseFault() error {
	b := t.Bounds
	switch {
	case t.Count < 0 || t.CountMax < 0 || max(t.Count, t.CountMax) > mostCounted:
		return unplaced("the number of doses is not from 1 to %d", mostCounted)
	case t.CountMax > 0 && t.Count == 0:
		return unplaced("the order gives a largest number of doses and no smallest")
	case t.CountMax > 0 && t.CountMax < t.Count:
		return unplaced("the order says at least %d and at most %d doses", t.Count, t.CountMax)
	case t.Duration.Absent() && !t.DurationMax.Absent():
		return unplaced("the order gives a longest time for one dose and no shortest")
	case !t.Duration.Absent() && (negative(t.Duration) || !t.DurationMax.Absent() && shorter(t.DurationMax, t.Duration)):
		return unplaced("the time for one dose is below zero, or its longest is shorter than its shortest")
	case b.lengths() && !(b.Start.IsZero() && b.End.IsZero()):
		return unplaced("the order limits the course by a length and by dates: only one of them can be meant")
	case !b.Start.IsZero() && !b.End.IsZero() && !b.Start.Before(b.End):
		return unplaced("the course ends before it begins")
	case !b.Shortest.Absent() && negative(b.Shortest), !b.Longest.Absent() && negative(b.Longest):
		return unplaced("the length of the course is below zero")
	case !b.Shortest.Absent() && !b.Longest.Absent() && shorter(b.Longest, b.Shortest):
		return unplaced("the longest course is shorter than the shortest")
	}
	return t.eventFault()
}

// eventFault: instants beside a repeat, a count or each other.
func (t Timing) eventFault() error {
	if len(t.Events) > mostCounted {
		return unplaced("the order names more than %d instants", mostCounted)
	}
	distinct := len(sortedEvents(t.Events, time.Time{}))
	switch {
	case distinct > 1 && t.Repeats():
		return unplaced("the order names several instants and says how often as well: only one of them can be meant")
	case distinct == 1 && t.Repeats() && !t.Bounds.Start.IsZero() && !t.Events[0].Equal(t.Bounds.Start):
		return unplaced("the order names one instant for a dose and another for the start of the course")
	case distinct > 0 && !t.Repeats() && t.Count > 0 && (distinct < t.Count || distinct > max(t.Count, t.CountMax)):
		return unplaced("the order names %d instants and counts another number of doses", distinct)
	}
	return nil
}

func negative(q quantity.Quantity) bool {
	low, _ := q.Base()
	return low.Sign() < 0
}

// shorter reports whether a ends below the start of b.
func shorter(a, b quantity.Quantity) bool {
	_, high := a.Base()
	low, _ := b.Base()
	return high.Less(low)
}

func sameTime(a, b quantity.Quantity) bool {
	low, _ := a.Base()
	_, high := b.Base()
	return !a.Absent() && low.Equal(high)
}

// sortedEvents are the instants from start on, in order, each once.
func sortedEvents(events []time.Time, start time.Time) []time.Time {
	var out []time.Time
	for _, at := range events {
		if start.IsZero() || !at.Before(start) {
			out = append(out, at)
		}
	}
	slices.SortFunc(out, time.Time.Compare)
	return slices.CompactFunc(out, time.Time.Equal)
}
