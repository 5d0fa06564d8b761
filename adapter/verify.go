package adapter

import (
	"fmt"
	"regexp"
	"time"

	"weir.example/weir/conformance"
	"weir.example/weir/conformance/schema"
	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/schedule"
	"weir.example/weir/mapping/worksheet"
)

// Request is how a document is to be judged.
type Request struct {
	Now       time.Time
	Stage     finding.Stage
	Lenient   bool
	Reference policy.Reference
	Judges    []schema.Judge
}

// Answer is what one document got: faults when it could not be accepted
// (then nothing was judged), else one worksheet for each order.
type Answer struct {
	Faults     []finding.Finding
	Worksheets []worksheet.Worksheet
	Signed     bool // a pharmacist signed the tables: without it nothing is released
}

// Verify judges one document. It keeps nothing and opens nothing.
func Verify(data []byte, r Request) Answer {
	j := conformance.Judge(conformance.Input{Document: data, Reference: r.Reference, Judges: r.Judges, Now: r.Now, Stage: r.Stage, Lenient: r.Lenient})
	return Answer{Faults: j.Faults, Worksheets: j.Worksheets, Signed: r.Reference.At(r.Now).Signed()}
}

// Reference joins a site's policy and signatures with tables (nil: the
// shipped ones) and zone data. The site's own numbers stand in place of the
// tables'; one that is refused is an error with its place.
func Reference(p *policy.Policy, tables *compendium.Tables, signed policy.Signatures) (policy.Reference, error) {
	if tables == nil {
		tables = compendium.Embedded()
	}
	own, err := p.Overrule(tables)
	return policy.Reference{Tables: own, Shipped: tables, Policy: p, Zones: schedule.LoadZones(), Signatures: signed, Rules: rulesHash()}, err
}

// Gate is the worst gate of a worksheet, with rules that could not be asked
// for want of a fact counting as hold.
func Gate(w worksheet.Worksheet) finding.Gate {
	worst := finding.NoGate
	for _, f := range w.Findings {
		if g := finding.Gate(f.Gate); g.Weight() > worst.Weight() {
			worst = g
		}
	}
	for _, n := range w.NotChecked {
		if g := finding.Gate(n.Gate); g.Weight() > worst.Weight() {
			worst = g
		}
	}
	return worst
}

var foreign = regexp.MustCompile("`[^`]*`?")

// Refusal is one fault as a line for standard error. It holds no value of
// the document.
func Refusal(f finding.Finding) string {
	row, _ := finding.Lookup(f.Code)
	remedy := f.Remedy
	if remedy == "" {
		remedy = row.Remedy
	}
	// A name that is no identifier is the sender's text: it stays out of logs.
	place := foreign.ReplaceAllString(f.Place.Expression, "?")
	if f.Place.Line > 0 {
		place += fmt.Sprintf(" (line %d, column %d)", f.Place.Line, f.Place.Column)
	}
	return fmt.Sprintf("%s at %s: %s; %s", f.Code, place, f.Detail, remedy)
}
