package conformance

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"strings"
	"sync"

	"weir.example/weir/conformance/verification"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/worksheet"
)

// worksheet asks the rules and writes the whole answer.
func (s *state) worksheet(at finding.Stage) worksheet.Worksheet {
	outcomes := s.outcomes(at)
	w := worksheet.Worksheet{
		Order: worksheet.Order{Key: s.order.Key, Version: s.order.Version, Identifier: identifier(s.order.Ref.Identifier), Drug: s.drugName(),
			PatientRef: s.kase.Patient.Ref.URL, Expression: s.order.Place.Expression},
		Identity:   s.identity(),
		Summary:    s.summary(),
		Stage:      string(at),
		Quantities: s.quantities(),
		Readings:   s.readings(),
		Findings:   s.findings(outcomes),
		NotChecked: s.notChecked(outcomes),
		Schedule:   s.schedule(),
		Deliveries: s.deliveries(),
		Lumens:     s.lumenLines(),
		Kit:        s.kitLines(),
		Hazard:     s.hazardLines(),
		Related:    s.related(),
		Unused:     []worksheet.Unused{},
		Cautions:   slices.Clone(cautions()),
		Sources: worksheet.Sources{Held: s.kase.Held.Hash, Tables: s.tables(), Policy: s.ref.Policy.Hash, Program: Program(),
			Zones: s.ref.Zones.Hash(), Now: s.situation.Now.Format("2006-01-02T15:04:05Z07:00")},
		Refs: worksheet.References{Patient: s.kase.Patient.Ref, Order: s.order.Ref, Encounter: s.order.Encounter, Pharmacy: s.order.Dispenser,
			Requester: s.order.Requester.Ref, Source: s.order, Numbers: s.numbers, Address: s.address(), Now: s.situation.Now},
	}
	for _, u := range append(slices.Clone(s.kase.Unused), s.unread...) {
		w.Unused = append(w.Unused, worksheet.Unused{Expression: u.Place.Expression, Reason: u.Reason})
	}
	w.Tasks = s.taskLines(outcomes)
	w.Verdict = verdict(w)
	return w
}

func verdict(w worksheet.Worksheet) string {
	worst := finding.NoGate
	for _, f := range w.Findings {
		if g := finding.Gate(f.Gate); g.Weight() > worst.Weight() {
			worst = g
		}
	}
	switch worst {
	case finding.Block:
		return "block"
	case finding.Hold:
		return "hold"
	}
	for _, n := range w.NotChecked {
		if n.Gate == string(finding.Hold) {
			return "indeterminate"
		}
	}
	return "ready"
}

func identifier(i order.Identifier) string {
	if i.System == "" {
		return i.Value
	}
	return i.System + "|" + i.Value
}

// drugName is the generic name of our table, else the sender's own words: an
// unknown name is not tidied up.
func (s *state) drugName() string {
	name := s.order.Drug.Concept.Name()
	if s.drugKnown || name == "" {
		return s.order.Drug.Name
	}
	return name
}

func (s *state) related() []worksheet.Related {
	out := []worksheet.Related{}
	for _, o := range s.kase.Related {
		r := worksheet.Related{Role: o.Role, Drug: o.Drug.Concept.Name(), Expression: o.Place.Expression}
		for _, d := range o.Directions {
			r.Text = strings.TrimSpace(r.Text + " " + d.Text)
		}
		out = append(out, r)
	}
	return out
}

func (s *state) identity() worksheet.Identity {
	p := s.kase.Patient
	out := worksheet.Identity{Name: strings.TrimSpace(strings.Join(p.Given, " ") + " " + p.Family), BirthDate: p.BirthDate.Literal}
	if len(p.Identifiers) > 0 {
		out.Identifier = identifier(p.Identifiers[0])
	}
	return out
}

func (s *state) address() *order.Address {
	if a := s.order.DeliveryAddress; a != nil {
		return a
	}
	for i, a := range s.kase.Patient.Addresses {
		if a.Use != "old" && a.Type != "postal" {
			return &s.kase.Patient.Addresses[i]
		}
	}
	return nil
}

// findings are what the rules found, folded and sorted, worst first.
func (s *state) findings(outcomes []verification.Outcome) []worksheet.Finding {
	var list []finding.Finding
	for _, o := range outcomes {
		list = append(list, o.Findings...)
	}
	return toFindings(list, s.ref)
}

// toFindings folds and sorts findings, worst first by the gate that holds.
func toFindings(list []finding.Finding, ref policy.Reference) []worksheet.Finding {
	finding.Sort(list)
	out := []worksheet.Finding{}
	for _, f := range list {
		w := toFinding(f)
		w.Gate = string(gateOf(f, ref))
		out = append(out, w)
	}
	slices.SortStableFunc(out, func(a, b worksheet.Finding) int {
		return finding.Gate(b.Gate).Weight() - finding.Gate(a.Gate).Weight()
	})
	return out
}

func toFinding(f finding.Finding) worksheet.Finding {
	row, _ := finding.Lookup(f.Code)
	w := worksheet.Finding{Code: string(f.Code), Severity: row.Severity, Standing: f.Standing, Title: row.Title, Expression: f.Place.Expression,
		Line: f.Place.Line, Column: f.Place.Column, Span: span(f.Place), Observed: f.Observed, Expected: f.Expected, Remedy: cmp.Or(f.Remedy, row.Remedy),
		Citation: row.Citation, Sentence: f.Diagnostic, Evidence: f.Evidence}
	for _, c := range f.Culprits {
		with := c.With
		if with == nil {
			with = []string{}
		}
		w.Culprits = append(w.Culprits, worksheet.Culprit{Name: c.Name, With: with, Stated: c.Stated, Consistent: c.Consistent, Unit: c.Unit,
			Signature: c.Signature, Named: c.Named, Reading: c.Reading, Sentence: c.Sentence})
	}
	return w
}

func span(p finding.Place) *[2]int {
	if p.Span[1] <= p.Span[0] {
		return nil
	}
	return &[2]int{p.Span[0], p.Span[1]}
}

func (s *state) tables() string {
	hash := "sha256:" + s.ref.Tables.Hash
	if by := s.ref.SignedBy(); by != "" {
		return hash + " signed by " + by
	}
	return hash + " unsigned: " + strings.Join(s.ref.Unsigned(), ", ")
}

// Program is the version with the hash of the table of codes: rules are
// code, and their gates and texts stand in that table.
var Program = sync.OnceValue(func() string {
	sum := sha256.Sum256(finding.CodesFile())
	return "weir " + Version + " codes sha256:" + hex.EncodeToString(sum[:])
})

// cautions stand under every answer. The last one names what this version
// has no rule for, so that silence is not taken for a pass.
var cautions = sync.OnceValue(func() []string {
	has := map[string]bool{}
	for _, r := range verification.Rules() {
		has[string(r.Code)] = true
	}
	lacking := map[string]int{}
	var groups, blocking []string
	for _, row := range finding.Codes() {
		if row.Gate == finding.Refused || row.Gate == finding.NoGate || row.Group == "nightly" || has[string(row.Code)] {
			continue
		}
		if lacking[row.Group] == 0 {
			groups = append(groups, row.Group)
		}
		lacking[row.Group]++
		if row.Gate == finding.Block {
			blocking = append(blocking, string(row.Code))
		}
	}
	var parts []string
	for _, g := range groups {
		parts = append(parts, fmt.Sprintf("%s (%d)", g, lacking[g]))
	}
	out := []string{
		"Decision support for licensed staff: it does not release anything. Label, device instructions, local policy and law override every default.",
		"What is listed as not checked was not checked. In an emergency: the emergency number first.",
	}
	if len(blocking) > 0 {
		out = append(out, "This version does not check yet what would block: "+strings.Join(blocking, ", ")+". A person checks these.")
	}
	if len(parts) > 0 {
		out = append(out, "In all it has no rule yet for codes of these groups: "+strings.Join(parts, ", ")+".")
	}
	return append(out, "It compares nothing with what the hospital orders now, what is prepared or what lies at home: a person asks again before each delivery and each start.")
})
