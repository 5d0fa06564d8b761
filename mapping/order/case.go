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
	Medicines       []Medicine // what else the patient takes: statements and oral orders
	Pregnancy       Pregnancy
	Reports         []Report // what the home reported: stock, doses given or missed, refrigerator, power
	Checks          []Check  // independent checks by a second person that are on record
	Answers         []Answer // what was asked about the patient or checked for an order, and what came of it
	Flags           []Concept
	Unused          []Unused // what was read but could not be used, and why
	Held            Held
}

// Medicine is another medicine of the patient: a MedicationStatement, or an
// order that is no infusion.
type Medicine struct {
	Drug   Concept
	Status string // FHIR code of the statement or order
	Text   string // directions in words
	Source string // MedicationStatement or MedicationRequest
	Place  finding.Place
}

// Pregnancy is the newest statement of pregnancy. Status is pregnant,
// not-pregnant or unknown, "" when nothing was sent.
type Pregnancy struct {
	Status string
	At     Instant
	Text   string
	Place  finding.Place
}

// Report is one thing reported from home (cs:home-report), with the dispense
// or order it is about when that is named.
type Report struct {
	Kind  string // home-stock, doses-given, doses-missed, refrigerator, power
	Item  string // of home-stock: kit-item code, "" for units of the drug
	Value Concept
	Count quantity.Quantity
	Text  string
	At    Instant
	Focus string
	Place finding.Place
}

// Check is one check on record and everybody who took part. Two entries of
// one person are one person.
type Check struct {
	Kind     string // second-check, verifier, checker, finalchecker
	Who      []string
	OrderRef string
	At       Instant
	Place    finding.Place
}

// Answer is one question about the patient or one check of an order that is
// on record with its result: a risk asked for, a safeguard agreed, the
// solubility of a mixture looked up.
type Answer struct {
	Name  string // code of cs:patient-fact, or the same by LOINC
	Value Concept
	Text  string // the result in words, as sent; "" when only coded
	Focus string // the order it is about, when named
	At    Instant
	Place finding.Place
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
	Category  string // of sterility, as it was made: 1, 2, 3; "" not on record
	Lot       string
	OrderRef  string
	Status    string // FHIR code of the MedicationDispense
	Drug      Drug   // what was made, when its Medication was sent
	Handed    Instant
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
	Inactive    bool // Patient.active false: another record took its place
	Phones      []Line
	Addresses   []Address
	Contacts    []Line
	Languages   []string
	Place       finding.Place
	Conflicts   []finding.Finding // identity conflicts, and faults in facts of the patient, seen while reading
}

// Address is a home address. Zone is the IANA name of weir:home-time-zone
// or of a tz-code beside it, "" when unknown.
type Address struct {
	Use, Type, State, PostalCode, Country, City string
	Lines                                       []string
	Zone                                        string
	From, To                                    Instant // when it is in use
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
	Text     string
	Basis    string
	At       Instant
	Status   string
	Ref      string // the Observation, as orders and dose-basis name it
	Of       string // the drug a level is of, generic name
	Site     string // where the specimen was drawn, in words
	Place    finding.Place
}

// Allergy is one allergy record, or the statement that none is known.
type Allergy struct {
	NoneKnown   bool
	Substance   Concept
	Reactions   []Concept
	Severity    string
	Criticality string
	Categories  []string // food, medication, environment, biologic
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
	Route    Concept
	Dose     []Stated
	OrderRef string
	Place    finding.Place
}

// Access is a vascular access device of the patient.
type Access struct {
	Kind           string // access-device code: peripheral midline picc tunnelled non-tunnelled port subcutaneous
	Type           Concept
	Lumens         int  // 0 unknown
	LumensDisputed bool // two records state different numbers
	Placed         Instant
	Removed        Instant
	TipConfirmed   bool
	TipAt          Instant
	TipText        string
	BloodReturn    string
	Volume         *Stated // internal volume, when stated
	Site           string
	Ref            string
	Place          finding.Place
}

// Person is a member of the care team or the prescriber.
type Person struct {
	Name      string
	Specialty string
	Roles     []string // cs:care-role codes, or role text
	Phone     string
	Ref       Reference
	Place     finding.Place
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
	Every      Span     // from one occurrence to the next on average, 0 when it does not repeat or nobody can tell
	Tests      []string // what a laboratory order measures, by the names of the drug tables
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
	Status   string
	Basis    []string
	Place    finding.Place
}

// Discharge is one statement of when the patient leaves hospital.
type Discharge struct {
	At        Instant
	Planned   bool
	Inpatient bool
	Status    string  // FHIR code of the Encounter or Appointment
	Start     Instant // when the stay began
	Version   string
	Ref       Reference
	Place     finding.Place
}

// Span is a stretch of elapsed time.
type Span = time.Duration
