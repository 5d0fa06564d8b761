package r4

import (
	"slices"
	"strings"

	"weir.example/weir/mapping/element"
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
		for _, k := range n.Get("category").Each() {
			a.Categories = append(a.Categories, k.Text())
		}
		a.NoneKnown = slices.Contains(noneKnown, a.Substance.Code(snomed)) || saysNoneKnown(a.Substance)
		if !a.NoneKnown && saysNoneOfAKind(a.Substance) {
			s.used, s.why = false, "it says that none of one kind is known, which says nothing of drugs"
			continue
		}
		for _, r := range n.Get("reaction").Each() {
			a.Reactions = append(a.Reactions, manifestations(r)...)
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

// noneKnownWords are whole texts that say that no allergy, or none to a drug,
// is known (from memory).
var noneKnownWords = []string{"no known allergy", "no known allergies", "no known drug allergy", "no known drug allergies", "no known medication allergy", "no known medication allergies",
	"no known drug or food allergies", "no known food or drug allergies", "no known allergies (nka)", "no known drug allergies (nkda)", "nka", "nkda"}

// saysNoneKnown: the statement in words, with nothing else beside it: a code of
// another system counts by its display, which must say the same.
func saysNoneKnown(c order.Concept) bool {
	texts := []string{c.Text}
	for _, k := range c.Codings {
		if k.Display == "" {
			return false
		}
		texts = append(texts, k.Display)
	}
	said := false
	for _, t := range texts {
		t = strings.ToLower(strings.Trim(t, " ."))
		if t != "" && !slices.Contains(noneKnownWords, t) {
			return false
		}
		said = said || t != ""
	}
	return said
}

// No-known situations of one kind that is no drug: food, surroundings (from
// memory).
var noneOfAKind = []string{"429625007", "428607008"}

// saysNoneOfAKind: "no known food allergy" is no allergy, and no statement about
// drugs either.
func saysNoneOfAKind(c order.Concept) bool {
	return slices.Contains(noneOfAKind, c.Code(snomed)) || strings.HasPrefix(strings.ToLower(strings.TrimSpace(c.Name())), "no known ")
}

// manifestations are those of one reaction. Its words are a second witness of
// the first: "rash" may be described as a swollen throat.
func manifestations(r element.Node) []order.Concept {
	out := concepts(r.Get("manifestation"))
	if words := r.Get("description").Text(); words != "" && len(out) > 0 {
		out[0].Text = strings.TrimPrefix(out[0].Text+"; "+words, "; ")
	}
	return out
}
