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

// fluids are the names of everything in the order that is not said to be
// active: a fluid of no listed strength has its solute in its name.
func fluids(o order.Order) []order.Ingredient {
	var out []order.Ingredient
	for _, i := range o.Drug.Ingredients {
		if i.Active == nil || !*i.Active {
			out = append(out, i)
		}
	}
	return out
}

// diluentForbidden: the fluid is listed as incompatible, by its code or by a
// solute that no fluid for this drug may hold.
func diluentForbidden(f Facts) []finding.Finding {
	for _, fact := range f.drug().About("diluent_incompatible", population(f)) {
		if !fact.Gates {
			continue
		}
		for _, i := range fluids(f.order()) {
			name := i.Concept.Name()
			code, known := compendium.Diluent(name)
			bad := known && slices.Contains(fact.Value.List, code)
			for _, solute := range fact.Value.Containing {
				bad = bad || compendium.FluidContains(name, solute) && !sameDrug(f, name)
			}
			if bad {
				if known {
					name = compendium.DiluentName(code)
				}
				out := here(i.Place, name+" is listed as incompatible with "+f.drug().Name, "one of: "+names(listOf(f, "diluent_compatible")))
				out[0].Standing = fact.Standing
				return out
			}
		}
	}
	return nil
}

// sameDrug: the name is that of the drug itself, not of a fluid around it.
func sameDrug(f Facts, name string) bool {
	return compendium.Fold(name) == f.drug().Name || slices.Contains(f.drug().Also, compendium.Fold(name))
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
	if len(codes) == 0 {
		return "a fluid the label of the product names"
	}
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
