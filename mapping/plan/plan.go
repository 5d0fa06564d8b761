// Package plan works out the home part of a course: first home dose, every
// dose as an instant, deliveries, and when an infusion ends. It counts
// instants and never days times frequency, so hospital doses are not counted
// twice. It sees no finding; rules judge what it worked out.
package plan

import (
	"time"

	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/schedule"
)

// Rules are the choices of a site that planning needs.
type Rules struct {
	LongestDays         int // of one delivery
	NoDelivery          []time.Weekday
	Holidays            []string // dates, 2026-11-26
	WarmUp, Teach       time.Duration
	OpenFrom, OpenUntil time.Duration   // staffed hours since midnight
	Tolerance           quantity.Number // of a fixed-flow device: 0.15
	Early               quantity.Number // a first home dose this part of the interval after the last is too early: 0.75
	FixedFlow           bool            // the infusion runs through a fixed-flow device
	Continuous          bool            // 12 hours or more, or without a pause
}

// Plan is the home part of one order. Zero times are unknown; Unknown says
// why.
type Plan struct {
	Zone          schedule.Zone
	Discharge     time.Time
	LastGiven     time.Time // newest dose of this course on record
	CourseStart   time.Time
	CourseEnd     time.Time // no dose starts at or after it
	FirstHomeDose time.Time
	LastDose      time.Time
	HomeDoses     []time.Time
	Complete      bool // every home dose is in HomeDoses
	CourseCount   int  // doses of the whole course; 0 unknown
	HospitalCount int  // of them before the first home dose
	Deliveries    []Delivery
	Duration      time.Duration // of one infusion; 0 unknown
	EndsAt        time.Time     // of a continuous infusion, by elapsed time
	EndsEarliest  time.Time
	EndsLatest    time.Time
	WallEnd       time.Time     // where a clock that never changed would end it
	ClockChange   bool          // elapsed time and wall clock part between start and end
	StartPassed   bool          // the first home dose lies before the clock, without a record
	Gap           time.Duration // from the last dose given to the first home dose
	Interval      time.Duration // between doses, when even
	Unknown       []string
	Says          []string
}

// Delivery is one delivery due: what it must cover and by when it arrives.
type Delivery struct {
	Arrival             time.Time
	Units, DaysSupply   int
	FirstDose, LastDose time.Time
	Late                bool // cannot arrive in time
	Moved               bool // pulled earlier from a day without delivery
	Says                string
}
