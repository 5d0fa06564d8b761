// Package order is the canonical model: what a hospital ordered for one
// patient, freed of FHIR, with the place of every value kept so that each
// finding can point at it.
package order

import (
	"time"

	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/quantity"
)

// Witness says which kind of source stated a value. A lower tier never
// overrides a higher one: words stand beside code as a second witness.
type Witness string

const (
	Coded     Witness = "coded"  // a coded element of the order or its Medication
	Text      Witness = "text"   // words of the directions
	Device    Witness = "device" // a device request or its parameters
	Record    Witness = "record" // an Observation or another record of the patient
	PumpSheet Witness = "pump-sheet"
	Computed  Witness = "computed" // worked out from other statements, which Uses names
	Given     Witness = "given"    // typed on the command line
)

// Stated is one number somebody wrote: what it is, the exact value (a point,
// or an interval when a range was written), how it was written and where.
// Name is one of the contract's NAMEs. Precision is added later, by
// arithmetic, by the kind of value.
type Stated struct {
	Name     string
	Quantity quantity.Quantity
	Literal  string // digits as sent, e.g. "1.50"
	Place    finding.Place
	Witness  Witness
	Uses     []string // for Computed: expressions of what it was computed from
	Label    string   // e.g. "Observation body weight"; optional, for people
	Age      time.Duration
}

// Coding is one code of a concept.
type Coding struct{ System, Code, Display string }

// Concept is a CodeableConcept with its place. Zero means absent.
type Concept struct {
	Codings []Coding
	Text    string
	Place   finding.Place
}

// Code returns the code in the given system, or "".
func (c Concept) Code(system string) string {
	for _, k := range c.Codings {
		if k.System == system {
			return k.Code
		}
	}
	return ""
}

// Name is the text, or else the first display.
func (c Concept) Name() string {
	if c.Text != "" {
		return c.Text
	}
	for _, k := range c.Codings {
		if k.Display != "" {
			return k.Display
		}
	}
	return ""
}

// Absent reports whether nothing was sent.
func (c Concept) Absent() bool { return len(c.Codings) == 0 && c.Text == "" }

// Instant is a FHIR date or dateTime. DateOnly values carry the first
// moment of their day in UTC and must be placed in a zone before use.
type Instant struct {
	Time     time.Time
	DateOnly bool
	Literal  string
	Zone     string // IANA name from a tz-code extension beside it, or ""
	Place    finding.Place
}

// Absent reports whether nothing was sent.
func (i Instant) Absent() bool { return i.Literal == "" }

// Identifier is a business identifier.
type Identifier struct {
	System, Value string
	Type          string // code of v2-0203, e.g. MR, PLAC
	Place         finding.Place
}

// Reference is how an output points at a resource of the input: URL is its
// fullUrl when that is absolute or urn:uuid, else "" (then Identifier, if
// any, is all there is).
type Reference struct {
	Type       string
	URL        string
	Identifier Identifier
	Display    string
}

// Line is one text witness: words from the document with where they stand.
type Line struct {
	Words string
	Kind  string // dosage-text, patient-instruction, note, medication-text, device-text, site-text
	Place finding.Place
}
