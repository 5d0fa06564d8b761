package order

import (
	"time"

	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/quantity"
)

// Case is one patient with every order of the document and every fact the
// checks need. Facts of other patients are never in it.
type Case struct {
	Patient         Patient
	Orders          []Order       // infusions to be judged, in document order
	Related         []Order       // flush, lock, pre-medication, rescue, additive, oral and replaced orders: facts, not judged
	Measurements    []Measurement // newest first; nothing later than the clock
	Allergies       []Allergy
	Administrations []Administration // newest first
	Access          []Access
	People          []Person
	Services        []Service // laboratory orders, visits, access plans
	Supplies        []Supply
	Discharges      []Discharge // newest version first
	Reviews         []Concept   // specialist notes
	Conditions      []Concept
	Unused          []Unused // what was read but could not be used, and why
	Held            Held
}

// Held is what is already stored or in hand for this patient. Empty until a
// store is attached.
type Held struct {
	Versions  []Order
	Prepared  []Batch
	Overrides []string
	Hash      string
}

// Batch is one prepared lot of units.
type Batch struct {
	Units     int
	Completed Instant
	BeyondUse Instant
	Storage   string
	Lot       string
	OrderRef  string
	Place     finding.Place
}

// Unused is an element that was understood but not used, or not understood
// at all: nothing is dropped in silence.
type Unused struct {
	Place  finding.Place
	Reason string
}

// Patient is who the order is for.
type Patient struct {
	Ref         Reference
	Identifiers []Identifier
	Family      string
	Given       []string
	NamePlace   finding.Place
	BirthDate   Instant
	BirthTime   Instant
	Gender      string // FHIR code, "" when absent
	Deceased    bool
	Phones      []Line
	Addresses   []Address
	Contacts    []Line
	Languages   []string
	Place       finding.Place
	Conflicts   []finding.Finding // identity conflicts seen while reading
}

// Address is a home address. Zone is the IANA name of weir:home-time-zone
// or of a tz-code beside it, "" when unknown.
type Address struct {
	Use, Type, State, PostalCode, Country, City string
	Lines                                       []string
	Zone                                        string
	Place                                       finding.Place
}

// Measurement is one observed number. Name is weight, height, creatinine,
// bodySurfaceArea, potassium, neutrophils, platelets, trough, … Quantity is
// exact as sent.
type Measurement struct {
	Name     string
	Code     Coding
	Quantity quantity.Quantity
	Literal  string
	At       Instant
	Status   string
	Place    finding.Place
}

// Allergy is one allergy record, or the statement that none is known.
type Allergy struct {
	NoneKnown   bool
	Substance   Concept
	Reactions   []Concept
	Severity    string
	Criticality string
	Active      bool
	Place       finding.Place
}

// Administration is one dose given.
type Administration struct {
	Drug     Concept
	Start    Instant
	End      Instant
	Status   string
	Setting  string // inpatient, outpatient, community
	Dose     []Stated
	OrderRef string
	Place    finding.Place
}

// Access is a vascular access device of the patient.
type Access struct {
	Kind         string // access-device code: peripheral midline picc tunnelled non-tunnelled port subcutaneous
	Type         Concept
	Lumens       int // 0 unknown
	Placed       Instant
	Removed      Instant
	TipConfirmed bool
	TipAt        Instant
	TipText      string
	BloodReturn  string
	Site         string
	Ref          string
	Place        finding.Place
}

// Person is a member of the care team or the prescriber.
type Person struct {
	Name  string
	Roles []string // cs:care-role codes, or role text
	Phone string
	Ref   Reference
	Place finding.Place
}

// Service is a ServiceRequest or Appointment: a laboratory order, a nursing
// visit or the plan for the line.
type Service struct {
	Kind       string // laboratory, visit, access-plan, other
	Code       Concept
	Status     string
	When       []Instant
	Repeats    string // plain words of a repeating timing
	DaysOfWeek []string
	From, To   Instant
	EveryDays  int
	Recipients []string
	Performer  string
	Basis      []string
	Ref        Reference
	Place      finding.Place
}

// Supply is something already asked for: a SupplyRequest or a DeviceRequest
// that names a kit item.
type Supply struct {
	Item     string // kit-item code, "" when only text
	Text     string
	Quantity quantity.Number
	Basis    []string
	Place    finding.Place
}

// Discharge is one statement of when the patient leaves hospital.
type Discharge struct {
	At        Instant
	Planned   bool
	Inpatient bool
	Version   string
	Ref       Reference
	Place     finding.Place
}

// Span is a stretch of elapsed time.
type Span = time.Duration
