// Package nightgen invents the nights of a hospital with a known truth, for
// tests and measurements: a population of patients with right and complete
// orders (drawn and judged quiet by conformance/alertload), written as a Bulk
// Data folder, and the same hospital some nights later, with orders stopped,
// changed, replaced, lost and new, patients who gained weight, moved or died,
// older copies sent again, lines twice and in another order. It says of each
// order what a night has to find. Every person, number and place is invented.
//
// A night depends on the seed alone, not on the nights written before it, and
// is written in one pass: memory does not grow with the number of orders.
package nightgen

import "time"

// Hospital is a population and how it changes.
type Hospital struct {
	Orders int    // of night 0, one a patient
	Seed   uint64 // the same seed, the same nights
	Churn  int    // orders of a thousand to which something happens in a night
	Kinds  []Kind // of what happens, each as likely; nil for all
	Noise  bool   // lines twice, new versions that say the same, other order of keys, blanks
	Broken int    // lines of a night that cannot be read; none says whose it is
}

// Clock is at what time a night is judged: 12 Jan 2027 11:00 UTC, and an hour
// later for each night. All discharges are after the fourth night.
func Clock(night int) time.Time { return first.Add(time.Duration(night) * time.Hour) }

// first is what the regimens are judged quiet at.
var first = time.Date(2027, time.January, 12, 11, 0, 0, 0, time.UTC)

// Transaction is the time that the manifest of a night states: 10 minutes
// before its clock.
func Transaction(night int) time.Time { return Clock(night).Add(-10 * time.Minute) }

// States of an order, as reconcile writes them.
const (
	New, Changed, Unchanged, Absent, Older = "new", "changed", "unchanged", "absent", "older"
)

// Truth is what a night has to say of one order, when every night before it
// was run, too.
type Truth struct {
	Key   string // system|value of its placer identifier
	State string
	Kind  Kind     // what happened; "" for nothing
	Codes []string // of reconciliation: each must be found, and did not stand the night before
	OneOf []string // one of them must be
	May   []string // may stand beside: it follows, or has stood since an earlier night
}

// Kind is one of the things that happen in a night.
type Kind string

// What happens. The kinds of the order itself:
const (
	Stopped       Kind = "stopped"
	Cancelled     Kind = "cancelled"
	Mistaken      Kind = "entered-in-error"
	Held          Kind = "on-hold"
	Completed     Kind = "completed"
	Dose          Kind = "dose"          // halved
	Rate          Kind = "rate"          // doubled, and the infusion half as long
	Duration      Kind = "duration"      // doubled, and half the rate
	Frequency     Kind = "frequency"     // halved
	End           Kind = "end"           // seven days later
	Concentration Kind = "concentration" // doubled, and half the rate: no change of dose
	Replaced      Kind = "replaced"      // by a new order that says so; the old one is still active
	Duplicate     Kind = "duplicate"     // a new order for the same drug that does not say so
	Lost          Kind = "absent"        // the order is not in the folder, or nothing of the patient
	Resent        Kind = "older"         // an older version with another dose
	Revived       Kind = "revived"       // an older active version after the order was stopped; never drawn
	Unseen        Kind = "unseen"        // a new order of three hours ago; drawn beside the others
	Fresh         Kind = "fresh"         // a new order of one hour ago; drawn beside the others
)

// And those of the patient.
const (
	Weight     Kind = "weight"     // a fifth more
	Creatinine Kind = "creatinine" // three times as high
	Allergy    Kind = "allergy"    // to the ordered drug
	Pregnancy  Kind = "pregnancy"
	Access     Kind = "access" // the line removed, a midline placed
	Address    Kind = "address"
	Phone      Kind = "phone"
	Discharge  Kind = "discharge" // two days later
	Readmitted Kind = "readmitted"
	Died       Kind = "died"
	BirthDate  Kind = "birth-date"
	Number     Kind = "record-number" // another number in the same system
)

// Kinds lists everything that can be drawn for an order of night 0.
func Kinds() []Kind {
	return []Kind{Stopped, Cancelled, Mistaken, Held, Completed, Dose, Rate, Duration, Frequency, End, Concentration, Replaced, Duplicate, Lost, Resent,
		Weight, Creatinine, Allergy, Pregnancy, Access, Address, Phone, Discharge, Readmitted, Died, BirthDate, Number}
}

// found is what each kind must give.
var found = map[Kind]Truth{
	Stopped: stop, Cancelled: stop, Mistaken: stop, Held: stop,
	Completed: {State: Changed, Codes: []string{"nightly-stopped-completed"}},
	Dose:      change, Rate: change, Duration: change, Frequency: change, End: change,
	Concentration: {State: Changed, Codes: []string{"nightly-changed-minor"}},
	Replaced:      {State: Unchanged, Codes: []string{"nightly-replaced"}, May: []string{"nightly-duplicate"}},
	Duplicate:     {State: Unchanged, Codes: []string{"nightly-duplicate"}},
	Lost:          {State: Absent, Codes: []string{"nightly-absent"}},
	Resent:        {State: Older, Codes: []string{"nightly-older-message"}},
	Unseen:        {State: New, Codes: []string{"nightly-unseen"}},
	Fresh:         {State: New},
	Weight:        patient("nightly-patient-changed"),
	Creatinine:    {State: Unchanged, OneOf: []string{"nightly-lab-due", "nightly-patient-changed"}},
	Allergy:       patient("nightly-patient-changed"), Pregnancy: patient("nightly-patient-changed"),
	Access:  patient("nightly-line-changed"),
	Address: patient("nightly-patient-changed"), Phone: patient("nightly-patient-changed"),
	Discharge:  patient("nightly-discharge-moved"),
	Readmitted: patient("nightly-patient-unavailable", "nightly-discharge-moved"),
	Died:       patient("nightly-patient-unavailable"),
	BirthDate:  patient("nightly-identity-drift"), Number: patient("nightly-identity-drift"),
}

var (
	stop   = Truth{State: Changed, Codes: []string{"nightly-stopped"}}
	change = Truth{State: Changed, Codes: []string{"nightly-changed"}, May: []string{"nightly-label-differs", "nightly-surplus-at-home", "nightly-short-at-home", "nightly-end-passed"}}
)

func patient(code string, may ...string) Truth {
	return Truth{State: Unchanged, Codes: []string{code}, May: may}
}
