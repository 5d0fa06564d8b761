package verification

import (
	"slices"
	"strings"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
)

// companionsAt are the companions of the drug's row with a gate, apart from
// those whose fact says that it never gates, and from naloxone, which is one
// of the safeguards of an opioid pump.
func companionsAt(f Facts, gate string) []compendium.Companion {
	var out []compendium.Companion
	for _, c := range f.drug().Companions {
		rests, known := f.drug().Fact(c.Fact)
		if c.Gate == gate && (!known || rests.Gates) && !(c.Need == "naloxone" && opioidRuns(f)) {
			out = append(out, c)
		}
	}
	return out
}

func hasCompanions(gate string) func(Facts) bool {
	return func(f Facts) bool { return len(companionsAt(f, gate)) > 0 }
}

// isSubstance: the concept is the one meant, by its RxNorm code, by an exact
// listed name, or as the same carrier fluid and nothing in it. Part of a
// longer text is no match.
func isSubstance(c order.Concept, rxnorm string, names []string) bool {
	if rxnorm != "" && c.Code(compendium.RxNorm) == rxnorm {
		return true
	}
	texts := []string{c.Text}
	for _, k := range c.Codings {
		texts = append(texts, k.Display)
	}
	return slices.ContainsFunc(texts, func(t string) bool {
		return slices.ContainsFunc(names, func(n string) bool { return t != "" && (compendium.Fold(t) == compendium.Fold(n) || sameFluid(t, n)) })
	})
}

func sameFluid(text, name string) bool {
	a, ok := compendium.Diluent(text)
	b, known := compendium.Diluent(name)
	return ok && known && a == b && compendium.OnlyFluid(text)
}

// stands are the states in which an order or a statement still holds.
func stands(status string) bool { return status == "active" || status == "intended" }

// goesAlong: the substance is ordered beside the order, or taken. A flush or
// a lock is none of it, nor is the carrier fluid of the drug itself.
func goesAlong(f Facts, rxnorm string, names []string) bool {
	k := f.kase()
	for _, o := range slices.Concat(k.Related, k.Orders) {
		if o.Role == "flush" || o.Role == "lock" || o.Role == "replaced" || !stands(o.Status) || o.DoNotPerform || o.Place == f.order().Place {
			continue
		}
		if isSubstance(o.Drug.Concept, rxnorm, names) || slices.ContainsFunc(names, func(n string) bool { return compendium.Fold(n) == compendium.Fold(o.Drug.Name) }) {
			return true
		}
		if slices.ContainsFunc(o.Drug.Ingredients, func(i order.Ingredient) bool {
			return (i.Active == nil || *i.Active) && isSubstance(i.Concept, rxnorm, names)
		}) {
			return true
		}
	}
	return slices.ContainsFunc(k.Medicines, func(m order.Medicine) bool { return stands(m.Status) && isSubstance(m.Drug, rxnorm, names) })
}

// companionMissing: which companion holds and which warns says the table.
func companionMissing(gate string) func(Facts) []finding.Finding {
	return func(f Facts) []finding.Finding {
		var missing, due []string
		var first compendium.Companion
		for _, c := range companionsAt(f, gate) {
			if goesAlong(f, c.RxNorm, c.Names) {
				continue
			}
			if len(missing) == 0 {
				first = c
			}
			missing = append(missing, c.Need)
			due = append(due, c.Need+" "+c.When)
		}
		if len(missing) == 0 {
			return nil
		}
		x := here(f.order().Drug.Place, f.drug().Name+" without an order for "+words(missing), "ordered with it: "+strings.Join(due, "; "))
		rests, _ := f.drug().Fact(first.Fact)
		x[0].Standing = rests.Standing
		if rests.Source != "" {
			x[0].Observed += " (" + rests.Source + ")"
		}
		return x
	}
}
