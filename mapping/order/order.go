package order

import (
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/schedule"
)

// Order is one infusion order.
type Order struct {
	Key             string // identifier system|value, or absolute fullUrl, or "" when it has none
	Version         string // SHA-256 (hex) of the canonical order without meta
	Ref             Reference
	Encounter       Reference
	Dispenser       Reference
	Status          string
	StatusPlace     finding.Place
	Intent          string
	IntentPlace     finding.Place
	DoNotPerform    bool
	Role            string // infusion, or cs:order-role code: flush lock premedication rescue additive; "oral", "replaced"
	Categories      []Concept
	AuthoredOn      Instant
	Drug            Drug
	Directions      []Direction
	Stated          []Stated // every number of the order, coded ones first, then those read from text
	Readings        []Reading
	Route           Concept
	Indications     []Concept
	Requester       Person
	Course          Course
	Timing          schedule.Timing
	TimingPlace     finding.Place
	Ordered         Supplied
	Device          InfusionDevice
	Prior           []string // what it replaces: references
	Basis           []string // basedOn references
	Companions      []string // expressions of MedicationRequests related by basedOn
	UnknownModifier []finding.Place
	Unresolved      []finding.Place
	Lines           []Line
	DoseBasis       string // actual-weight, ideal-weight, …, body-surface-area, fixed; "" not stated
	PriorExposure   string
	Steps           []Step // rates that follow each other, in order; empty for one constant rate
	Controlled      *PatientControlled
	Caps            []Stated // maxDosePerAdministration, maxDosePerPeriod (with limitWindow), maxDosePerLifetime
	AccessDevice    string   // the line it is to run through (weir:access-lumen), as a reference
	Lumen           string
	DeliveryAddress *Address
	Stopped         Instant // when the status changed, earliest credible time
	StatusReason    Concept
	Place           finding.Place
	Faults          []finding.Finding // unit and reading faults found while translating
}

// Step is one rate of several that follow each other. Duration is nil for
// "until empty", Volume nil when not stated.
type Step struct {
	Number                 int
	Rate, Duration, Volume *Stated
	Place                  finding.Place
}

// PatientControlled is a continuous rate with doses the patient asks for.
// Parts not stated are nil.
type PatientControlled struct {
	Basal, Demand, Lockout, Limit, Window *Stated
	Place                                 finding.Place
}

// Drug is what is to be given.
type Drug struct {
	Name        string // generic name, lower case, of the active ingredient when known
	Concept     Concept
	Ingredients []Ingredient
	Amount      *Stated // container volume, when coded
	Content     *Stated // amount of the one active ingredient in the whole container, when stated so
	Form        string
	Place       finding.Place
}

// Ingredient is one component. Active is nil when not stated.
type Ingredient struct {
	Concept  Concept
	Active   *bool
	Strength *Strength
	Stock    *Strength // strength of the stock the ingredient was taken from
	Place    finding.Place
}

// Strength is amount per amount, exactly as sent.
type Strength struct {
	Numerator                            quantity.Quantity
	Denominator                          quantity.Quantity
	NumeratorLiteral, DenominatorLiteral string
	Place                                finding.Place
}

// Direction is one dosageInstruction as read.
type Direction struct {
	Sequence int
	Text     string
	AsNeeded bool
	Place    finding.Place
}

// Course is when therapy begins and ends, as ordered.
type Course struct {
	Start, End Instant
	Count      int // doses; 0 not stated
	Length     *Stated
	Single     bool // one administration: a single event or a count of one
	Place      finding.Place
}

// Supplied is the quantity the hospital asks to be dispensed, in doses.
type Supplied struct {
	Doses   int // of all fills; 0 not stated
	Literal string
	Unit    string
	Repeats int
	First   int     // doses of the first fill, 0 when not stated apart
	Days    *Stated // expectedSupplyDuration
	From    Instant // validityPeriod: when it may be dispensed, never the course
	To      Instant
	Says    string // how Doses was worked out, when it was not sent as a count
	Place   finding.Place
}

// InfusionDevice is what the dose runs through. Kind is an infusion-device
// code: elastomeric electronic-pump syringe-pump gravity; "" unknown.
// NominalRate and the other numbers are Stated with Name nominalRate,
// nominalVolume, residual, …
type InfusionDevice struct {
	Kind       string
	Concept    Concept
	Parameters []Stated
	Place      finding.Place
	FromText   bool
	Requests   int // device requests of this kind for the order; two: one is a back-up
}

// Parameter returns the first stated parameter of that name.
func (d InfusionDevice) Parameter(name string) (Stated, bool) {
	for _, p := range d.Parameters {
		if p.Name == name {
			return p, true
		}
	}
	return Stated{}, false
}

// Reading is one thing the directions reader took from words. Field is a
// contract NAME where there is one, else route, access, device, diluent,
// flush, premedication, step, taper, maximum, as-needed, lockout, start,
// condition, frequency. Role says what the number is of (dose, container,
// device, course, maximum …).
type Reading struct {
	Field     string
	Value     string // decimal as text, or a code or word
	Unit      string // UCUM, "" for words
	Low, High string
	Role      string
	Words     string // the words it was read from
	Place     finding.Place
}

// Quantities is what arithmetic worked out, filled in by conformance and
// read by plan, fulfillment and the worksheet. Keyed by the contract's NAME.
type Quantities map[string]Quantity

// Quantity is one settled value with how it was reached.
type Quantity struct {
	Value      quantity.Number
	Low, High  quantity.Number
	Unit       quantity.Unit
	Stated     bool
	Disputed   bool // part of a disagreement: never dispensed on
	Literal    string
	Place      finding.Place
	Derivation []Derivation
}

// Derivation is one formula with its inputs.
type Derivation struct {
	Formula  string
	Inputs   []Input
	Citation string
	Value    string // what the formula gives, decimal as text in Unit
	Unit     string
	Text     string // with the numbers filled in, for people
}

// Input is one input of a formula.
type Input struct {
	Name, Value, Unit, Expression string
}
