package verification

import (
	"strings"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
)

// FirstEver: no completed dose of the drug is on record.
func FirstEver(f Facts) bool {
	for _, a := range f.kase().Administrations {
		if a.Status == "completed" && sameSubstance(a.Drug, f.order().Drug, true) {
			return false
		}
	}
	return true
}

func firstDose(f Facts) []finding.Finding {
	staff := false
	for _, s := range f.kase().Services {
		staff = staff || s.Kind == "visit" && !ended[s.Status]
	}
	if f.order().PriorExposure == "tolerated" || staff && sent(f.kase().Supplies, "emergency-kit", "emergency kit") {
		return nil
	}
	return here(f.order().Drug.Place, "no earlier dose of this drug on record: treated as the first ever",
		"staff present, an emergency kit, and no earlier reaction to the class")
}

// sameSubstance compares by RxNorm code, else by the whole name. With active,
// a carrier fluid is not the drug: a saline flush is no earlier dose.
func sameSubstance(c order.Concept, d order.Drug, active bool) bool {
	if code := c.Code(compendium.RxNorm); code != "" {
		for _, i := range d.Ingredients {
			if i.Concept.Code(compendium.RxNorm) == code && (!active || i.Active == nil || *i.Active) {
				return true
			}
		}
		if d.Concept.Code(compendium.RxNorm) == code {
			return true
		}
	}
	return d.Name != "" && strings.EqualFold(strings.TrimSpace(c.Name()), d.Name)
}

// mentions: the words of an allergy contain the drug's name ("allergy to
// cefazolin"), or those of a dose given ("cefazolin 2 g").
func mentions(c order.Concept, d order.Drug) bool {
	if d.Name == "" {
		return false
	}
	texts := []string{c.Text}
	for _, k := range c.Codings {
		texts = append(texts, k.Display)
	}
	for _, t := range texts {
		if strings.Contains(strings.ToLower(t), strings.ToLower(d.Name)) {
			return true
		}
	}
	return false
}

// given: a record of a dose is of this drug, as planning reads it.
func given(c order.Concept, d order.Drug) bool {
	return sameSubstance(c, d, true) || mentions(c, d)
}

// NeedsSecondCheck: the site asks for an independent second person, by the
// kind of the drug's row, or by its name where no row exists.
func NeedsSecondCheck(f Facts) bool {
	p := f.policy().SecondCheck
	for _, kind := range p.Kinds {
		if f.drug().Is(kind) {
			return true
		}
	}
	for _, word := range p.Names {
		if strings.Contains(strings.ToLower(f.order().Drug.Name), word) {
			return true
		}
	}
	child := f.years() >= 0 && f.years() < f.policy().Records.AdultYears
	return p.Children && child || p.Hazardous && listed(f) || f.drug().HighAlert
}

// diluentListed: the row tells at least one fluid by its code or its solute.
func diluentListed(f Facts) bool {
	for _, topic := range []string{"diluent_compatible", "diluent_incompatible"} {
		for _, fact := range f.drug().About(topic, population(f)) {
			if len(fact.Value.List)+len(fact.Value.Containing) > 0 {
				return true
			}
		}
	}
	return false
}
