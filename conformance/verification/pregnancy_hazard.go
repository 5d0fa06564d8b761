package verification

import (
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
)

// statedPregnant: what is not stated is asked for by another rule.
func statedPregnant(f Facts) bool { return f.kase().Pregnancy.Status == "pregnant" }

// hazardInPregnancy: a hazardous drug and a record that says pregnant, however
// old it is.
func hazardInPregnancy(f Facts) []finding.Finding {
	if f.hazard().Listed != "yes" {
		return nil
	}
	p := f.kase().Pregnancy
	observed := "a hazardous drug, and the patient is recorded as pregnant"
	if !p.At.Absent() {
		observed += " on " + notation.Date(p.At.Time)
	}
	place := p.Place
	if place.Expression == "" {
		place = f.kase().Patient.Place
	}
	x := here(place, observed, "the prescriber's decision on record before the first dose")
	x[0].Evidence = []string{f.order().Drug.Place.Expression}
	return x
}

// hazardOpen: nobody has said whether the drug is hazardous.
func hazardOpen(f Facts) []Fact {
	if l := f.hazard().Listed; l != "yes" && l != "no" {
		return []Fact{Hazard}
	}
	return nil
}
