package r4

import (
	"slices"
	"strings"

	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// consultNote is LOINC's consult note (from memory).
const consultNote = "11488-4"

// over are the clinical states of a problem that the patient no longer has.
// Without a state, and with any other, it counts.
var over = []string{"inactive", "remission", "resolved"}

// readConditions reads problems that are not refuted and not over.
func (c *caseScope) readConditions() {
	for _, s := range c.mineOf("Condition") {
		v := concept(s.node.Get("verificationStatus")).Code("http://terminology.hl7.org/CodeSystem/condition-ver-status")
		if v == "refuted" || v == "entered-in-error" {
			s.used, s.why = false, "it is "+v
			continue
		}
		if state := concept(s.node.Get("clinicalStatus")).Code("http://terminology.hl7.org/CodeSystem/condition-clinical"); slices.Contains(over, state) {
			s.used, s.why = false, "its clinical status is "+state
			continue
		}
		if code := concept(s.node.Get("code")); !code.Absent() {
			c.kase.Conditions = append(c.kase.Conditions, code)
		}
	}
}

// readReviews reads specialist notes, completed consults and specialists in
// the care team.
func (c *caseScope) readReviews() {
	for _, s := range c.mineOf("DocumentReference") {
		t := concept(s.node.Get("type"))
		if s.node.Get("status").Text() != "current" || t.Code(loinc) != consultNote && !hasWord(words(t), "consult", "consultation") {
			s.used, s.why = false, "it is no current consult note"
			continue
		}
		t.Place = s.node.Place()
		c.kase.Reviews = append(c.kase.Reviews, t)
		for _, a := range s.node.Get("author").Each() {
			c.touch(a, s)
		}
		for _, a := range s.node.Get("content").Each() {
			c.notUsed(a, "the content of a note is not read; that there is one is")
		}
	}
	for _, v := range c.kase.Services {
		if v.Kind == "consult" && v.Status == "completed" {
			c.kase.Reviews = append(c.kase.Reviews, v.Code)
		}
	}
	for _, p := range c.kase.People {
		if strings.Contains(strings.ToLower(p.Specialty), "infectious disease") {
			c.kase.Reviews = append(c.kase.Reviews, order.Concept{Text: "care team: " + p.Specialty, Place: p.Place})
		}
	}
}

// Pregnancy codes: 82810-3 pregnancy status, 11778-8 delivery date (from
// memory); values of SNOMED CT 77386006 (sourced), 60001007 (from memory).
const (
	pregnancyStatus = "82810-3"
	deliveryDate    = "11778-8"
)

// readPregnancy keeps the newest statement not later than the clock.
func (c *caseScope) readPregnancy() {
	for _, s := range c.mine {
		if s.kind != "Observation" {
			continue
		}
		code := concept(s.node.Get("code")).Code(loinc)
		if code != pregnancyStatus && code != deliveryDate || !c.usable(s) || !c.final(s) {
			continue
		}
		p := order.Pregnancy{At: c.observedAt(s), Status: "unknown", Place: s.node.Place()}
		if c.after(p.At) {
			s.why = afterClock
			continue
		}
		s.used = true
		value := concept(s.node.Get("valueCodeableConcept"))
		p.Text = value.Name()
		switch {
		case code == deliveryDate, value.Code(snomed) == "77386006":
			p.Status = "pregnant"
		case value.Code(snomed) == "60001007":
			p.Status = "not-pregnant"
		}
		if c.kase.Pregnancy.Status == "" || p.At.Time.After(c.kase.Pregnancy.At.Time) {
			c.kase.Pregnancy = p
		}
	}
	for _, k := range c.kase.Conditions {
		if c.kase.Pregnancy.Status == "" && (k.Code(snomed) == "77386006" || hasWord(words(k), "pregnancy", "pregnant")) {
			c.kase.Pregnancy = order.Pregnancy{Status: "pregnant", Text: k.Name(), Place: k.Place}
		}
	}
}

// readGenotype keeps results of a test of dihydropyrimidine dehydrogenase as
// measurements in words.
func (c *caseScope) readGenotype() {
	for _, s := range c.mine {
		if s.kind != "Observation" {
			continue
		}
		w := words(concept(s.node.Get("code")))
		if !hasWord(w, "dpyd") && !strings.Contains(w, "dihydropyrimidine dehydrogenase") || !c.usable(s) || !c.final(s) {
			continue
		}
		m := order.Measurement{Name: "genotype", At: c.observedAt(s), Status: s.node.Get("status").Text(), Place: s.node.Place(), Ref: s.name(),
			Text: firstText(concept(s.node.Get("valueCodeableConcept")).Name(), s.node.Get("valueString").Text())}
		if m.Text == "" || c.after(m.At) {
			s.why = "it has no result at the clock"
			continue
		}
		s.used = true
		c.kase.Measurements = append(c.kase.Measurements, m)
	}
}

// readReports reads what was reported from home: stock, doses, refrigerator.
func (c *caseScope) readReports() {
	for _, s := range c.mine {
		if s.kind != "Observation" {
			continue
		}
		kind := concept(s.node.Get("code")).Code(ourCodes + "home-report")
		if kind == "" || !c.usable(s) || !c.final(s) {
			continue
		}
		at := c.observedAt(s)
		if c.after(at) {
			s.why = afterClock
			continue
		}
		s.used = true
		parts := s.node.Get("component").Each()
		if len(parts) == 0 {
			parts = append(parts, s.node)
		}
		for _, n := range parts {
			r := order.Report{Kind: kind, At: at, Place: n.Place(), Value: concept(n.Get("valueCodeableConcept"))}
			r.Item = concept(n.Get("code")).Code(ourCodes + "kit-item")
			r.Text = firstText(n.Get("valueString").Text(), n.Get("valueBoolean").Literal(), concept(n.Get("code")).Name())
			if ref := s.node.Get("focus").At(0); ref.Exists() {
				r.Focus = c.nameOf(ref, s)
			}
			if q, ok := c.quantity(n.Get("valueQuantity")); ok {
				if q.unit.IsZero() {
					q.unit = one
				}
				r.Count = quantity.Point(q.value, q.unit)
			}
			c.kase.Reports = append(c.kase.Reports, r)
		}
	}
}
