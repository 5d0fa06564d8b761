// Package schedule turns a FHIR Timing
// (https://hl7.org/fhir/R4/datatypes.html#Timing) into instants in the
// patient's own time zone. It counts instants, never days times frequency.
//
// One rule decides what a clock change does. A period in hours, minutes or
// seconds, and the codes Q1H, Q8H and the like, are elapsed time: the
// distance from dose to dose stays and the clock time moves. Times of day,
// days of the week, events of the day, periods in days, weeks, months or
// years, and the codes BID, WK, MO and the like follow the wall clock: the
// clock time stays and the distance changes. A wall-clock time that the clock
// never shows (clocks go forward) falls as long after midnight as it would
// have without the change; one that it shows twice (clocks go back) is the
// first of the two. Either is reported with the other time that could have
// been meant (Moment).
//
// A range (every 4 to 6 hours, 3 to 4 times a day) is never placed at single
// instants: Series gives a window for each dose and the least and the most
// doses of a span. What contradicts itself, or lacks a clock time, is refused
// with a reason in words (Unplaced).
package schedule

import (
	"time"

	"weir.example/weir/mapping/quantity"
)

// Timing is a FHIR R4 Timing as ordered. Zero numbers mean "not stated".
type Timing struct {
	Events       []time.Time
	Bounds       Bounds
	Count        int
	CountMax     int
	Duration     quantity.Quantity // of one administration
	DurationMax  quantity.Quantity
	Frequency    int
	FrequencyMax int
	Period       quantity.Quantity // time
	PeriodMax    quantity.Quantity
	DaysOfWeek   []string // mon … sun
	TimesOfDay   []string // "09:00:00"
	When         []string // event codes
	Offset       time.Duration
	Code         string // v3-GTSAbbreviation, e.g. Q8H, BID
}

// Bounds limit the course (Timing.repeat.bounds[x]): a length, or a start and
// an end. An end that is not given leaves the course open on that side.
type Bounds struct {
	Shortest quantity.Quantity // boundsDuration: the same as Longest; boundsRange: its low
	Longest  quantity.Quantity // boundsRange without a high: absent
	Start    time.Time         // boundsPeriod
	// End of boundsPeriod is not in the course: a dose due exactly then is not
	// given. Of a date alone it is the first instant of the day after, since a
	// Period includes the whole of its last day.
	End time.Time
}

// lengths reports whether the bounds are a length, or a range of them.
func (b Bounds) lengths() bool { return !b.Shortest.Absent() || !b.Longest.Absent() }

// Repeats reports whether the timing says how often, rightly or not. One
// without it is a list of events, a single dose, or nothing.
func (t Timing) Repeats() bool {
	return !t.Period.Absent() || t.Frequency > 0 || t.Code != "" || len(t.DaysOfWeek)+len(t.TimesOfDay)+len(t.When) > 0
}

// Ranged reports whether how often is a range: a frequencyMax or periodMax
// that differs from what it is the maximum of.
func (t Timing) Ranged() bool {
	return t.FrequencyMax > 0 && t.FrequencyMax != max(t.Frequency, 1) || !t.PeriodMax.Absent() && !sameTime(t.Period, t.PeriodMax)
}
