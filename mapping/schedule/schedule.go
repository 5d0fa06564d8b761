// Package schedule turns a FHIR Timing
// (https://hl7.org/fhir/R4/datatypes.html#Timing) into instants in the
// patient's own time zone. It counts instants, never days times frequency.
//
// One rule decides what a clock change does. A period in hours, minutes or
// seconds, and the codes Q1H, Q8H and the like, are elapsed time: the
// distance from dose to dose stays and the clock time moves. Times of day,
// days of the week, periods in days or weeks, and the codes QD, BID and the
// like follow the wall clock: the clock time stays and the distance changes.
// A wall-clock time that the clock never shows (clocks go forward) falls as
// long after midnight as it would have without the change; one that it shows
// twice (clocks go back) is the first of the two.
package schedule

import (
	"time"

	"weir.example/weir/mapping/quantity"
)

// Timing is a FHIR R4 Timing as ordered. Zero numbers mean "not stated".
type Timing struct {
	Events       []time.Time
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

// Repeats reports whether the timing says how often, rightly or not. One
// without it is a list of events, a single dose, or nothing.
func (t Timing) Repeats() bool {
	return !t.Period.Absent() || t.Frequency > 0 || t.Code != "" || len(t.DaysOfWeek)+len(t.TimesOfDay)+len(t.When) > 0
}
