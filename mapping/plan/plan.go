// Package plan works out the home part of a course from a FHIR R4
// MedicationRequest (https://hl7.org/fhir/R4/medicationrequest.html) and what
// was given: first home dose, every dose as an instant, deliveries, and when
// an infusion ends. It counts instants and never days times frequency, so
// hospital doses are not counted twice. It sees no finding; rules judge what
// it worked out.
package plan

import (
	"time"

	"weir.example/weir/mapping/order"
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
	FixedFlow           bool            // the infusion runs through a fixed-flow device
	Continuous          bool            // 12 hours or more, or without a pause
	Early               quantity.Number // least part of the interval after the last dose given; zero: 0.75
	RunRules
	DeliveryRules
	Clocks schedule.Clocks // the site's clock times for events of the day and timing codes; none are assumed
}

// Plan is the home part of one order. Zero times are unknown; Unknown says
// why.
type Plan struct {
	Zone              schedule.Zone
	Discharge         time.Time
	LastGiven         time.Time // newest hospital dose of this course on record
	CourseStart       time.Time
	CourseEnd         time.Time // no dose starts at or after it
	FirstHomeDose     time.Time
	FirstOnRecord     bool // the first home dose is on record as given
	LastDose          time.Time
	HomeDoses         []time.Time
	Complete          bool // every home dose is in HomeDoses
	CourseCount       int  // doses of the whole course; 0 unknown
	HospitalCount     int  // of them before the first home dose
	Deliveries        []Delivery
	Prepared          []Prepared
	Duration          time.Duration // of one infusion; 0 unknown
	ShortestRun       time.Duration // of one infusion on a fixed-flow device whose nominal rate is the one required
	LongestRun        time.Duration
	EndsAt            time.Time // of the first continuous infusion, by elapsed time
	EndsEarliest      time.Time
	EndsLatest        time.Time
	WallEnd           time.Time     // where a clock that never changed would end it
	ClockChange       bool          // elapsed time and wall clock part somewhere in the course
	Changes           []ClockChange // where, in order
	StartPassed       bool          // the first home dose lies before the clock, without a record
	Replacement       bool          // it replaces an order and does not say when its first dose falls
	Gap               time.Duration // from the last hospital dose, given or still due there, to the first home dose
	Interval          time.Duration // between doses, when even
	Unknown           []string
	Says              []string
	inHospital        []time.Time // doses on record as given in hospital, in order
	dayAfterDischarge time.Time   // the discharge names a day and no time: the day that follows
	atHome            []time.Time // doses on record as given at home
	pace              schedule.Pace
	paceKnown         bool
	timing            schedule.Timing
	startIsDay        bool // the order names the day of the start and no time
	courseIsSingle    bool
	inpatient         bool // Discharge ends a hospital stay

	Basis Basis // what it rests on besides its times, and what re-planning has told; see Revise

	// Of an order that leaves a range: when the first home dose may fall, when
	// FirstHomeDose has no single instant, and how many doses there are at home.
	// HomeMost 0: no range, or not known. Listed doses are those of the most.
	FirstEarliest, FirstLatest time.Time
	HomeLeast, HomeMost        int
	endEarliest                time.Time // of the shorter length of a range; CourseEnd is that of the longer
	clocks                     schedule.Clocks

	Window            // of one infusion
	LastOld time.Time // newest dose of the drug on record, at home or in hospital, when the order replaces another
}

// ClockChange is one place where elapsed time and the wall clock give
// different times. Elapsed is what a pump or a fixed distance between doses
// does, Wall what a person reading only the clock would expect. Of a dose in a
// gap Elapsed is as long after midnight as on any other day and is given, of
// one in an overlap Wall is; the other is the second time that could be meant.
type ClockChange struct {
	Of            string // infusion-end, dose-times, dose-in-gap, dose-in-overlap
	From          time.Time
	Elapsed, Wall time.Time
}

// Delivery is one delivery due: what it must cover and by when it arrives.
type Delivery struct {
	Arrival             time.Time
	Units, DaysSupply   int
	FirstDose, LastDose time.Time
	StartBefore         time.Time // beyond-use instant of the prepared units in it; zero until units are prepared
	Late                bool      // cannot arrive in time
	Past                bool      // was due before the clock: nothing tells here whether it was made
	Moved               bool      // pulled earlier from a day without delivery
	Says                string

	FinishBy time.Time // by which all its prepared units must have run; zero: not made, no data, or not the same for all (Use tells)
	Use      Use       // until when its units may be started, with every limit

	Spares     int         // units beyond the doses it covers; not in Units
	SparesSay  string      // why there are none where the policy asks for some
	NoData     bool        // a limit that dates the units still to be made is not known: sterility, stability or both
	NoDataSay  string      // which, and what bounds it instead
	Impossible *Impossible // why it cannot come in time; nil unless Late
}

// Prepared is one prepared lot against the doses it would serve.
type Prepared struct {
	Lot                  string
	Units                int
	Completed, BeyondUse time.Time   // BeyondUse is Use.StartBefore; zero: not dated
	Doses                []time.Time // the home doses its units would serve, in order
	Until                time.Time   // what TooLate is judged by: BeyondUse, else the earliest limit known
	TooLate              []time.Time // of them those that start after Until
	Spare                int         // units beyond the last home dose

	Use     Use
	drug    order.Drug
	storage string
	other   bool // of other contents than the order: it serves no dose
	has     contents
}
