package verification

import (
	"slices"
	"strings"

	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/plan"
)

// added is something that goes into the finished container.
type added struct {
	name  string
	place finding.Place
	words []string
}

// additives are the orders to add something to this infusion, and the words
// of this one that ask for it at home.
func additives(f Facts) []added {
	var out []added
	for _, r := range f.kase().Related {
		over := r.Status != "" && r.Status != "active" && r.Status != "draft" && r.Status != "on-hold"
		mine := len(r.Basis) == 0 || slices.Contains(f.order().Companions, r.Place.Expression)
		if r.Role != "additive" || over || !mine {
			continue
		}
		x := added{name: r.Drug.Concept.Name(), place: r.Place}
		if x.name == "" {
			x.name = r.Drug.Name
		}
		for _, d := range r.Directions {
			x.words = append(x.words, d.Text)
		}
		for _, l := range r.Lines {
			x.words = append(x.words, l.Words)
		}
		out = append(out, x)
	}
	for _, l := range f.order().Lines {
		if addsAtHome(l.Words) {
			out = append(out, added{"something", l.Place, []string{l.Words}})
		}
	}
	return out
}

var (
	adding = []string{"add", "added", "adding", "inject", "injected"}
	atUse  = []string{"at home", "before hanging", "before it is hung", "before connecting", "just before use", "immediately before use", "by the patient", "by the caregiver", "by the nurse"}
)

// clauses are the parts of a text, in lower case.
func clauses(text string) []string {
	return strings.FieldsFunc(strings.ToLower(text), func(r rune) bool { return strings.ContainsRune(".;\n", r) })
}

// addsAtHome: a clause asks to add something outside the pharmacy. One that
// forbids it asks for nothing.
func addsAtHome(text string) bool {
	return slices.ContainsFunc(clauses(text), func(c string) bool {
		has := func(list []string) bool {
			return slices.ContainsFunc(wordsOf(c), func(w string) bool { return slices.Contains(list, w) })
		}
		return has(adding) && !has(refusing) && slices.ContainsFunc(atUse, func(w string) bool { return strings.Contains(c, w) })
	})
}

// byPharmacy: the words say that the pharmacy adds it, and none that it is
// added at home.
func (a added) byPharmacy() bool {
	says := func(w string) bool {
		return slices.ContainsFunc(clauses(w), func(c string) bool {
			return (strings.Contains(c, "pharmacy") || strings.Contains(c, "pharmacist")) && !slices.ContainsFunc(wordsOf(c), func(w string) bool { return slices.Contains(refusing, w) })
		})
	}
	return slices.ContainsFunc(a.words, says) && !slices.ContainsFunc(a.words, addsAtHome)
}

func hasAdditive(f Facts) bool { return len(additives(f)) > 0 }

// homeAdditive: row f7. From the addition on another limit counts, and the
// container that was dated by the pharmacy is no longer the one that runs.
func homeAdditive(f Facts) []finding.Finding {
	var out []finding.Finding
	for _, a := range additives(f) {
		if a.byPharmacy() {
			continue
		}
		observed := a.name + " is added to the container, and nothing says that the pharmacy does it"
		if slices.ContainsFunc(a.words, addsAtHome) {
			observed = a.name + " is added at home"
		}
		x := here(a.place, observed, "the way to add it taught and seen, and a new finish-by time printed: "+fromAddition(f))
		if a.place.Expression != f.order().Place.Expression {
			x[0].Evidence = []string{f.order().Place.Expression}
		}
		out = append(out, x...)
	}
	return out
}

// fromAddition is the limit that counts once the container is opened at home:
// the longest time it may hang, where the table has one.
func fromAddition(f Facts) string {
	for _, d := range runningOf(f) {
		for _, dose := range d.Use.Doses {
			for _, l := range dose.Ends {
				if l.Of == plan.OfHang && l.Lasts > 0 {
					return "within " + notation.Duration(l.Lasts) + " of hanging (" + l.Source + ")"
				}
			}
		}
	}
	return "the table has no limit for this drug with what is added, so the pharmacist sets one"
}
