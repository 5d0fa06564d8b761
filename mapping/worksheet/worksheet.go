// Package worksheet is the whole answer for one order. The JSON of the
// outside contract is this type and nothing else; FHIR output, papers,
// terminal, store and the nightly job all read it. Fields tagged "-" carry
// what writers need beside it.
package worksheet

import (
	"time"

	"weir.example/weir/mapping/order"
)

// Worksheet is the answer for one order at one clock and stage.
type Worksheet struct {
	Order      Order               `json:"order"`
	Identity   Identity            `json:"identity"`
	Summary    []Line              `json:"summary"` // what a pharmacist looks at first
	Verdict    string              `json:"verdict"` // ready hold block indeterminate
	Stage      string              `json:"stage"`
	Quantities map[string]Quantity `json:"quantities"`
	Readings   []Reading           `json:"readings"`
	Findings   []Finding           `json:"findings"`
	NotChecked []NotChecked        `json:"notChecked"`
	Schedule   Schedule            `json:"schedule"`
	Deliveries []Delivery          `json:"deliveries"`
	Lumens     *Lumens             `json:"lumens,omitempty"` // nil: no other infusion runs through the line
	Kit        []KitItem           `json:"kit"`
	Tasks      []Task              `json:"tasks"`
	Hazard     Hazard              `json:"hazard"`
	Related    []Related           `json:"related"` // orders of the document that are facts here and are not judged themselves
	Unused     []Unused            `json:"unused"`  // read but not used, or not understood, with the reason
	Cautions   []string            `json:"cautions"`
	Sources    Sources             `json:"sources"`

	Refs References `json:"-"`
}

// Order names the order.
type Order struct {
	Key        string `json:"key"` // identifier system|value, or absolute fullUrl, or ""
	Version    string `json:"version"`
	Identifier string `json:"identifier"` // system|value
	Drug       string `json:"drug"`       // generic name, or the sender's own words
	PatientRef string `json:"patientRef"`
	Expression string `json:"expression"`
}

// Line is one labelled line for people.
type Line struct {
	Label string `json:"label"`
	Text  string `json:"text"`
}

// Identity is what a person compares first.
type Identity struct {
	Name       string `json:"name"`
	BirthDate  string `json:"birthDate"`
	Identifier string `json:"identifier"`
}

// Quantity is one settled value with how it was reached. Value, Low and High
// are decimals as text in Unit; an instant is RFC 3339 with unit "".
type Quantity struct {
	Value      string       `json:"value"`
	Unit       string       `json:"unit"`
	Low        string       `json:"low,omitempty"`
	High       string       `json:"high,omitempty"`
	Stated     bool         `json:"stated"`
	Disputed   bool         `json:"disputed,omitempty"`
	StatedAs   []StatedAs   `json:"statedAs,omitempty"` // every statement of it
	Derivation []Derivation `json:"derivation"`
	Expression string       `json:"expression,omitempty"`
	Span       *[2]int      `json:"span,omitempty"`
}

// StatedAs is one statement of a quantity.
type StatedAs struct {
	Value      string  `json:"value"`
	Low        string  `json:"low,omitempty"` // the ends where a range is written
	High       string  `json:"high,omitempty"`
	Unit       string  `json:"unit"`
	Witness    string  `json:"witness"`
	Expression string  `json:"expression"`
	Span       *[2]int `json:"span,omitempty"`
}

// Derivation is one formula with its inputs.
type Derivation struct {
	Formula  string  `json:"formula"`
	Inputs   []Input `json:"inputs"`
	Value    string  `json:"value,omitempty"` // what it gives, in unit
	Unit     string  `json:"unit,omitempty"`
	Text     string  `json:"text,omitempty"` // the formula with numbers filled in, for people
	Citation string  `json:"citation,omitempty"`
}

// Input is one input of a formula.
type Input struct {
	Name       string `json:"name"`
	Value      string `json:"value"`
	Unit       string `json:"unit"`
	Expression string `json:"expression,omitempty"`
}

// Reading is one thing taken from words.
type Reading struct {
	Expression string `json:"expression"`
	Span       [2]int `json:"span"`
	Field      string `json:"field"`
	Value      string `json:"value"`
	Unit       string `json:"unit,omitempty"`
	Low        string `json:"low,omitempty"`
	High       string `json:"high,omitempty"`
	Role       string `json:"role,omitempty"`
}

// Finding is one finding as people and programs read it.
type Finding struct {
	Code       string    `json:"code"`
	Gate       string    `json:"gate"`
	Severity   string    `json:"severity"`
	Standing   string    `json:"standing,omitempty"` // of the table value it rests on
	Title      string    `json:"title"`
	Expression string    `json:"expression"`
	Line       int       `json:"line,omitempty"`
	Column     int       `json:"column,omitempty"`
	Span       *[2]int   `json:"span,omitempty"`
	Observed   string    `json:"observed"`
	Expected   string    `json:"expected"`
	Remedy     string    `json:"remedy"`
	Citation   string    `json:"citation"`
	Sentence   string    `json:"sentence,omitempty"`
	Culprits   []Culprit `json:"culprits,omitempty"`
	Evidence   []string  `json:"evidence,omitempty"`
}

// Culprit is one explanation, best first.
type Culprit struct {
	Name       string   `json:"name"`
	With       []string `json:"with"`
	Stated     string   `json:"stated"`
	Consistent string   `json:"consistent"`
	Unit       string   `json:"unit"`
	Signature  string   `json:"signature"`
	Named      bool     `json:"named"`
	Reading    string   `json:"reading,omitempty"`
	Sentence   string   `json:"sentence,omitempty"`
}

// NotChecked is what no rule could answer. Gate "hold" marks a fact the
// hospital could have sent; without a gate our tables have no row or no
// relation reaches the value.
type NotChecked struct {
	Code    string   `json:"code"`
	Gate    string   `json:"gate,omitempty"`
	Name    string   `json:"name,omitempty"`
	Missing []string `json:"missing"`
	Says    string   `json:"says,omitempty"`
}

// Schedule is the home part of the course.
type Schedule struct {
	FirstHomeDose string   `json:"firstHomeDose,omitempty"`
	LastDose      string   `json:"lastDose,omitempty"`
	DoseCount     int      `json:"doseCount"`
	Zone          string   `json:"zone"`
	Doses         []string `json:"doses"`
	Complete      bool     `json:"complete"` // false: no end known, capped, or a range; doses lists the first ones, or the most
	EndsAt        string   `json:"endsAt,omitempty"`
	EndsEarliest  string   `json:"endsEarliest,omitempty"`
	EndsLatest    string   `json:"endsLatest,omitempty"`
	Says          []string `json:"says,omitempty"`

	// Of an order that leaves a range: when the first home dose may fall, when it
	// has no single instant, and the least and the most doses at home. Without
	// homeMost there is no range, or it is not known (says).
	FirstHomeEarliest string `json:"firstHomeEarliest,omitempty"`
	FirstHomeLatest   string `json:"firstHomeLatest,omitempty"`
	HomeLeast         int    `json:"homeLeast,omitempty"`
	HomeMost          int    `json:"homeMost,omitempty"`

	Remaining []Expected `json:"remaining,omitempty"` // of a continuous infusion: what should be left, and when
}

// Delivery is one delivery due.
type Delivery struct {
	Arrival     string `json:"arrival"`
	Units       int    `json:"units"`
	DaysSupply  int    `json:"daysSupply"`
	StartBefore string `json:"startBefore,omitempty"` // empty: nothing prepared yet or no data; Says tells which
	FinishBy    string `json:"finishBy,omitempty"`
	FirstDose   string `json:"firstDose,omitempty"`
	LastDose    string `json:"lastDose,omitempty"`
	Says        string `json:"says,omitempty"`
	Use         *Use   `json:"use,omitempty"` // until when its units may be started, with every limit
}

// KitItem is one line of the kit, with the arithmetic shown. Delivery is the
// 1-based number of the delivery it belongs to.
type KitItem struct {
	Item     string `json:"item"`
	Name     string `json:"name"`
	Quantity int    `json:"quantity"`
	Unit     string `json:"unit"`
	Formula  string `json:"formula"`
	Delivery int    `json:"delivery"`
}

// Task is one thing somebody must do. Due is RFC 3339, "" when it cannot be
// fixed yet (Says tells why). After names codes that must be done first.
type Task struct {
	Code     string            `json:"code"`
	Role     string            `json:"role"` // pharmacist nurse supply technician prescriber on-call
	Due      string            `json:"due,omitempty"`
	Zone     string            `json:"zone,omitempty"` // IANA name, where no schedule stands beside the task
	Title    string            `json:"title"`
	Priority string            `json:"priority"` // routine urgent asap stat
	Closes   string            `json:"closes,omitempty"`
	After    []string          `json:"after,omitempty"`
	Inputs   map[string]string `json:"inputs,omitempty"`
	Prepares bool              `json:"prepares"`          // prepares, sends or gives: draft while the order is on hold
	Finding  string            `json:"finding,omitempty"` // code of the finding it is about
	Says     string            `json:"says,omitempty"`
}

// Hazard is the hazardous-drug assessment.
type Hazard struct {
	Listed         string   `json:"listed"` // yes no unassessed
	Edition        string   `json:"edition"`
	Table          string   `json:"table"`
	Antineoplastic string   `json:"antineoplastic"` // yes no unknown
	ClosedTransfer string   `json:"closedTransfer"` // required by-policy no unassessed
	Handling       []string `json:"handling"`
	Says           string   `json:"says,omitempty"`
}

// Related is another order of the same patient: a flush, lock,
// pre-medication, oral medicine or replaced order. It is shown so that nothing
// is dropped; the rules about it are those of the order it belongs to.
type Related struct {
	Role       string `json:"role"`
	Drug       string `json:"drug"`
	Text       string `json:"text,omitempty"`
	Expression string `json:"expression"`
}

// Unused is what was received and not used.
type Unused struct {
	Expression string `json:"expression"`
	Reason     string `json:"reason"`
}

// Sources are the seven inputs of the answer, hashed.
type Sources struct {
	Document string `json:"document"`
	Held     string `json:"held"`
	Tables   string `json:"tables"` // "sha256:… unsigned" or "sha256:… signed by …"
	Policy   string `json:"policy"`
	Program  string `json:"program"`
	Zones    string `json:"zones"`
	Now      string `json:"now"`
}

// References are how FHIR outputs point at the input, and the typed values
// that writers need and the JSON holds only as text.
type References struct {
	Patient   order.Reference
	Order     order.Reference
	Encounter order.Reference
	Pharmacy  order.Reference
	Requester order.Reference
	Document  order.Reference // the Bundle, when it has an identifier
	Source    order.Order     // the order as read
	Numbers   order.Quantities
	Address   *order.Address
	Now       time.Time
}
