package verification

import (
	"strings"

	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
)

func genotypeAsked(f Facts) bool { return f.drug().GenotypeTest }

func genotypeUnknown(f Facts) []finding.Finding {
	for _, m := range f.kase().Measurements {
		if m.Name == "genotype" {
			return nil
		}
	}
	return here(f.order().Drug.Place, "no gene-variant test of dihydropyrimidine dehydrogenase on record", "the result, or the prescriber's word that treatment cannot wait")
}

// laboratory is the laboratory orders of the case.
func laboratory(f Facts) []order.Service {
	var out []order.Service
	for _, s := range f.kase().Services {
		if s.Kind == "laboratory" {
			out = append(out, s)
		}
	}
	return out
}

func monitored(f Facts) bool { return f.drug().MonitorBeforeFirstRelease }

func monitoring(f Facts) []finding.Finding {
	if len(laboratory(f)) > 0 {
		return nil
	}
	return here(f.order().Place, "no laboratory order in the document", "a dated laboratory plan before the first release of this drug")
}

func hasLaboratory(f Facts) bool { return len(laboratory(f)) > 0 }

func recipient(f Facts) []finding.Finding {
	if len(withRole(f.kase().People, "receives-results", "results")) > 0 {
		return nil
	}
	for _, s := range laboratory(f) {
		if len(s.Recipients) > 0 {
			return nil
		}
	}
	return here(laboratory(f)[0].Place, "nobody named to receive the results", "a named person who receives the results")
}

// FirstEver: no completed dose of the drug is on record.
func FirstEver(f Facts) bool {
	for _, a := range f.kase().Administrations {
		if a.Status == "completed" && sameSubstance(a.Drug, f.order().Drug) {
			return false
		}
	}
	return true
}

func firstDose(f Facts) []finding.Finding {
	if f.order().PriorExposure == "tolerated" || sent(f.kase().Supplies, "emergency-kit", "emergency kit") {
		return nil
	}
	return here(f.order().Drug.Place, "no earlier dose of this drug on record: treated as the first ever",
		"staff present, an emergency kit, and no earlier reaction to the class")
}

// sameDrugAllergy: an active allergy to the ordered ingredient.
func sameDrugAllergy(f Facts) []finding.Finding {
	for _, a := range f.kase().Allergies {
		if a.NoneKnown || !a.Active || !sameSubstance(a.Substance, f.order().Drug) {
			continue
		}
		return here(a.Place, "active allergy to the ordered drug: "+strings.ToLower(a.Substance.Name()), "another drug, or the allergy record refuted by the prescriber")
	}
	return nil
}

func sameSubstance(c order.Concept, d order.Drug) bool {
	const rxnorm = "http://www.nlm.nih.gov/research/umls/rxnorm"
	if code := c.Code(rxnorm); code != "" {
		for _, i := range d.Ingredients {
			if i.Concept.Code(rxnorm) == code {
				return true
			}
		}
		if d.Concept.Code(rxnorm) == code {
			return true
		}
	}
	return d.Name != "" && strings.EqualFold(strings.TrimSpace(c.Name()), d.Name)
}

// NeedsSecondCheck: the site asks for an independent second person.
func NeedsSecondCheck(f Facts) bool {
	p := f.policy().SecondCheck
	for _, kind := range p.Kinds {
		if f.drug().Is(kind) {
			return true
		}
	}
	child := f.years() >= 0 && f.years() < f.policy().Records.AdultYears
	return p.Children && child || p.Hazardous && listed(f) || f.drug().HighAlert
}

func diluentListed(f Facts) bool {
	return len(f.drug().About("diluent_compatible", population(f)))+len(f.drug().About("diluent_incompatible", population(f))) > 0
}
