package verification

import (
	"slices"
	"strings"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
)

// diluents are the codes of the carrier fluids of the order, with where they
// stand: its ingredients that are not said to be active.
func diluents(o order.Order) (codes []string, place finding.Place) {
	place = o.Drug.Place
	for _, i := range o.Drug.Ingredients {
		if i.Active != nil && *i.Active {
			continue
		}
		if code, ok := compendium.Diluent(i.Concept.Name()); ok {
			codes, place = append(codes, code), i.Place
		}
	}
	return codes, place
}

func diluentChosen(f Facts) bool {
	codes, _ := diluents(f.order())
	return diluentListed(f) && len(codes) > 0
}

func noDiluent(f Facts) []Fact {
	if codes, _ := diluents(f.order()); len(codes) == 0 {
		return []Fact{Diluent}
	}
	return nil
}

func listOf(f Facts, topic string) []string {
	var out []string
	for _, fact := range f.drug().About(topic, population(f)) {
		out = append(out, fact.Value.List...)
	}
	return out
}

func diluentForbidden(f Facts) []finding.Finding {
	codes, place := diluents(f.order())
	bad := listOf(f, "diluent_incompatible")
	for _, c := range codes {
		if slices.Contains(bad, c) {
			return here(place, compendium.DiluentName(c)+" is listed as incompatible with "+f.drug().Name, "one of: "+names(listOf(f, "diluent_compatible")))
		}
	}
	return nil
}

func diluentUnlisted(f Facts) []finding.Finding {
	codes, place := diluents(f.order())
	good, bad := listOf(f, "diluent_compatible"), listOf(f, "diluent_incompatible")
	for _, c := range codes {
		if len(good) > 0 && !slices.Contains(good, c) && !slices.Contains(bad, c) {
			return here(place, compendium.DiluentName(c)+" is not on the list of fluids for "+f.drug().Name, "one of: "+names(good))
		}
	}
	return nil
}

func names(codes []string) string {
	var out []string
	for _, c := range codes {
		out = append(out, compendium.DiluentName(c))
	}
	return strings.Join(out, ", ")
}

// gravityDrug: potassium and anything high-alert wants a pump (common
// practice; the site's policy may say otherwise).
func gravityDrug(f Facts) []finding.Finding {
	d := f.order().Drug
	names := []string{d.Name, d.Concept.Name()}
	for _, i := range d.Ingredients {
		names = append(names, i.Concept.Name())
	}
	for _, n := range names {
		if strings.Contains(strings.ToLower(n), "potassium") {
			return here(f.order().Device.Place, "potassium by gravity", "a pump, or the pharmacist's reason: the flow by gravity changes with height")
		}
	}
	return nil
}

func closedTransferByPolicy(f Facts) bool {
	return f.hazard().ClosedTransfer == "by-policy" && f.policy().Hazard.ClosedTransferPolicy
}
