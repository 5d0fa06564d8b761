package reconciliation

import (
	"time"

	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/plan"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/quantity"
)

// Night is what the comparison of one night rests on besides the patient.
type Night struct {
	Now       time.Time // the clock
	Reference policy.Reference
	Recalled  []Recalled // lots recalled and not yet settled
}

// Recalled is one lot that may not be used. Drug is the generic name in the
// notice; "" when it names none. A lot number of another drug is another lot.
type Recalled struct{ Lot, Drug string }

// Held is what the record holds for one patient besides his case.
type Held struct {
	Orders    map[string]HeldOrder // by Key
	Tasks     []OpenTask
	Overrides []Override
	Unseen    []Unseen // results that no named person has seen yet
}

// HeldOrder is what the record holds of one order. The zero value says that
// nothing is held beside the documents.
type HeldOrder struct {
	Received time.Time      // when it first came; zero: not on record
	Opened   time.Time      // when a person here first looked at it; zero: nobody has
	Records  []plan.Event   // units made, sent, received, given, set apart; none: they are read from the cases
	Labels   []Label        // labels printed for units that are not used up
	Bookings []plan.Booking // visits, runs of the driver and draws
	Told     []plan.Move    // moves of an earlier night that still stand
	Standing []finding.Code // codes that stood for it before this run
	Settled  bool           // a person closed it here: nothing of it is planned any more
	EndAsked bool           // the prescriber said what follows the end
}

// Label is what was printed for the units of a lot. A number that the label
// does not carry is absent.
type Label struct {
	Lot                               string
	Drug                              string // generic name
	Dose, Volume, Concentration, Rate quantity.Quantity
	Place                             finding.Place
}

// OpenTask is a task that is not closed.
type OpenTask struct {
	ID, Code, Role string
	Order          string // key; "": of the patient
	Due            time.Time
}

// Override is a decision to go on in spite of a finding.
type Override struct {
	Code    finding.Code
	Order   string
	Expires time.Time // zero: it does not expire
}

// Unseen is a result that waits for somebody to see it.
type Unseen struct {
	Name  string // as in order.Measurement
	Since time.Time
	Place finding.Place
}

// drugName is the generic name of an order, lower case.
func drugName(o order.Order) string {
	if o.Drug.Name != "" {
		return o.Drug.Name
	}
	return o.Drug.Concept.Name()
}
