package r4

import (
	"slices"
	"strings"

	"weir.example/weir/mapping/order"
)

// No-known-allergy situations of SNOMED CT (R4 examples, US Core).
var noneKnown = []string{"716186003", "409137002"}

// readAllergies reads allergy records and statements that none is known
// (https://hl7.org/fhir/R4/allergyintolerance.html). An active allergy beside
// such a statement counts, and is said.
func (c *caseScope) readAllergies() {
	for _, s := range c.mineOf("AllergyIntolerance") {
		n := s.node
		status := concept(n.Get("verificationStatus")).Code("http://terminology.hl7.org/CodeSystem/allergyintolerance-verification")
		if status == "refuted" || status == "entered-in-error" {
			s.used, s.why = false, "it is "+status
			continue
		}
		clinical := concept(n.Get("clinicalStatus")).Code("http://terminology.hl7.org/CodeSystem/allergyintolerance-clinical")
		a := order.Allergy{Substance: concept(n.Get("code")), Criticality: n.Get("criticality").Text(),
			Active: clinical == "" || clinical == "active", Place: n.Place()}
		a.NoneKnown = slices.Contains(noneKnown, a.Substance.Code(snomed)) || saysNoneKnown(a.Substance)
		for _, r := range n.Get("reaction").Each() {
			a.Reactions = append(a.Reactions, concepts(r.Get("manifestation"))...)
			if sub := concept(r.Get("substance")); !sub.Absent() && a.Substance.Absent() {
				a.Substance = sub
			}
			if v := r.Get("severity").Text(); severityRank[v] > severityRank[a.Severity] {
				a.Severity = v
			}
		}
		if a.NoneKnown && !a.Active {
			s.used, s.why = false, "the statement that none is known is no longer active"
			continue
		}
		c.kase.Allergies = append(c.kase.Allergies, a)
	}
	for _, s := range c.mineOf("List") {
		if concept(s.node.Get("emptyReason")).Code("http://terminology.hl7.org/CodeSystem/list-empty-reason") == "nilknown" &&
			hasWord(words(concept(s.node.Get("code"))), "allergy", "allergies") {
			c.kase.Allergies = append(c.kase.Allergies, order.Allergy{NoneKnown: true, Active: true, Place: s.node.Place()})
		} else {
			s.used, s.why = false, "no rule reads this list"
		}
	}
	var none, active *order.Allergy
	for i := range c.kase.Allergies {
		switch a := &c.kase.Allergies[i]; {
		case a.NoneKnown:
			none = a
		case a.Active:
			active = a
		}
	}
	if none != nil && active != nil {
		c.faults = append(c.faults, fault("record-sources-disagree", none.Place, "none known", "an active allergy is on record: "+active.Substance.Name(),
			"a statement that no allergy is known stands beside an active allergy; the allergy counts"))
	}
}

var severityRank = map[string]int{"mild": 1, "moderate": 2, "severe": 3}

// saysNoneKnown: the statement in words, with nothing else beside it.
func saysNoneKnown(c order.Concept) bool {
	if len(c.Codings) > 0 {
		return false
	}
	return slices.Contains([]string{"no known allergy", "no known allergies", "no known drug allergy", "no known drug allergies", "nka", "nkda"}, strings.TrimSpace(words(c)))
}
