// Package schedule turns a FHIR Timing into instants and windows in the
// patient's own time zone. It counts instants, never days times frequency.
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
