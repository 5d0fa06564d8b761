package verification

import (
	"strings"

	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
)

// lockMissing: h4. A lock order satisfies it, or for every line in use a
// standing protocol in force that is for this kind of line and for this
// patient. One for another line, another age, or with what the patient is
// allergic to satisfies nothing, and neither does an order that names no
// solution: "lock per protocol" is as good as the protocol.
func lockMissing(f Facts) []finding.Finding {
	what := "no lock order in the document"
	for _, l := range locks(f) {
		if namesSolution(l) || !impersonal(l) {
			return nil
		}
		what = "the lock order names no solution"
	}
	whom := protocolPopulation(f)
	for _, a := range f.kase().Access {
		if a.Kind == "" || a.Kind == "subcutaneous" || !a.Removed.Absent() {
			continue
		}
		who := map[string]string{"adult": "an adult", "child": "a child", "neonate": "a newborn", "": "a patient of unknown age"}[whom]
		switch p, stands := f.policy().LockProtocol(a.Kind, whom); {
		case !stands:
			return here(a.Place, what+", and no standing protocol in force for "+who+" with this line ("+lineName(a)+")",
				"a lock order (solution, strength, volume), or a signed standing protocol for this line and age")
		case lockAllergy(f, p.Solution):
			return here(a.Place, what+"; the standing protocol locks with "+p.Solution+", and an active allergy to it is on record",
				"a lock order with another solution")
		}
	}
	return nil
}

// protocolPopulation is whom a standing protocol would be for; "" while
// nobody knows the age, which makes nobody an adult.
func protocolPopulation(f Facts) string {
	switch years := f.years(); {
	case years < 0:
		return ""
	case newborn(f):
		return "neonate"
	case years < f.policy().Records.AdultYears:
		return "child"
	}
	return "adult"
}

// lockAllergy: an active allergy names what a solution rests on, or nobody can
// read what it names. Salt water is no allergen.
func lockAllergy(f Facts, solution string) bool {
	for _, substance := range []string{"heparin", "citrate"} {
		if !strings.Contains(solution, substance) {
			continue
		}
		for _, a := range f.kase().Allergies {
			if a.Active && !a.NoneKnown && (named(a.Substance, substance) || a.Substance.Name() == "") {
				return true
			}
		}
	}
	return false
}

// named reports that any text of a concept holds a word.
func named(c order.Concept, word string) bool {
	texts := c.Text
	for _, k := range c.Codings {
		texts += " " + k.Display
	}
	return strings.Contains(strings.ToLower(texts), word)
}
