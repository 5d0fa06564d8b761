package plan

import (
	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/order"
)

// sameDrug reports whether a dose on record is of the order's drug: by the
// code of the drug or of its only active ingredient, or by a name that says
// nothing else. A name of which it is a part only, such as a combination, is
// another drug.
func sameDrug(c order.Concept, d order.Drug) bool {
	if code := c.Code(compendium.RxNorm); code != "" {
		if d.Concept.Code(compendium.RxNorm) == code {
			return true
		}
		if active := actives(d); len(active) == 1 && active[0].Concept.Code(compendium.RxNorm) == code {
			return true
		}
	}
	return d.Name != "" && compendium.SaysOnly(c.Name(), d.Name)
}

// actives are the ingredients that are the drug.
func actives(d order.Drug) []order.Ingredient {
	var out []order.Ingredient
	for _, i := range d.Ingredients {
		if i.Active == nil && !compendium.OnlyFluid(i.Concept.Name()) || i.Active != nil && *i.Active {
			out = append(out, i)
		}
	}
	return out
}

// otherRoute reports whether a dose on record went by another route than the
// order's. Unknown is not another.
func otherRoute(given, ordered order.Concept) bool {
	for _, a := range given.Codings {
		for _, b := range ordered.Codings {
			if a.System == b.System && a.Code != "" && b.Code != "" {
				return a.Code != b.Code
			}
		}
	}
	return false
}
