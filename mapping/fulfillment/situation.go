package fulfillment

import (
	"slices"
	"time"

	"weir.example/weir/mapping/quantity"
)

// Situation is what kit and tasks depend on. Times that are not known are
// zero; then what hangs on them says so instead of guessing.
type Situation struct {
	Now           time.Time
	Location      *time.Location // the patient's home; nil unknown
	Discharge     time.Time
	FirstHomeDose time.Time
	LastDose      time.Time
	CourseEnd     time.Time
	EndsAt        time.Time // of a continuous infusion, by elapsed time
	EndsLatest    time.Time
	Deliveries    []Load
	Draws         []Draw
	Stock         []Stock // supplies reported from home, newest first
	Visits        []time.Time
	Flags         []string // conditions of the rows: elastomeric, hazardous, heparin-lock, …

	WarmUp, Teach, VisitBefore time.Duration
	SpareRate                  quantity.Number
	SpareLeast                 int
	OpenFrom, OpenUntil        time.Duration // since midnight, staffed hours
	PlanDueDays                int
	BodyFluid                  time.Duration
	Numbers                    map[string]string // written into tasks: rate, dose, …
}

// Load is one delivery to be filled.
type Load struct {
	Arrival    time.Time
	Doses      int
	DaysSupply int
	Draws      int
	Before     Use // what is used between the report of stock and the first dose of this delivery
}

// Use is what a stretch of the course uses supplies for.
type Use struct {
	Doses, Days, Draws int
	Known              bool // the schedule of the stretch is known
}

// Stock is a kit item that the home reported to have left.
type Stock struct {
	Item  string
	Count int
	At    time.Time
	On    string // the day in words
}

// Draw is one day on which blood is to be drawn, with what is asked for.
type Draw struct {
	Day   time.Time
	Tests []string
}

// Is reports whether a condition holds. "not-x" is the absence of x.
func (s Situation) Is(flag string) bool {
	if slices.Contains(s.Flags, flag) {
		return true
	}
	if len(flag) > 4 && flag[:4] == "not-" {
		return !slices.Contains(s.Flags, flag[4:])
	}
	if flag == "no-heparin-lock" {
		return !slices.Contains(s.Flags, "heparin-lock")
	}
	return false
}

func (s Situation) all(flags []string) bool {
	return !slices.ContainsFunc(flags, func(f string) bool { return !s.Is(f) })
}
