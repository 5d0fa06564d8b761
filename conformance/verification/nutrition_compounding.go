package verification

import (
	"slices"
	"strings"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// MadeComponents is the fact that a compounding record can be set beside the order.
const MadeComponents Fact = "components of the bag made, by the names of the order"

func madeNutrition(f Facts) bool { return isNutrition(f) && hasPrepared(f) }

// sameComponent compares by RxNorm code, else by the whole name.
func sameComponent(a, b order.Concept) bool {
	x, y := a.Code(compendium.RxNorm), b.Code(compendium.RxNorm)
	if x != "" && y != "" {
		return x == y
	}
	return a.Name() != "" && compendium.Fold(a.Name()) == compendium.Fold(b.Name())
}

// bagVolume is the volume of a container in mL, as its Medication states it.
func bagVolume(d order.Drug) (quantity.Number, bool) {
	if d.Amount == nil || d.Amount.Quantity.Unit.Dimension() != quantity.Volume {
		return quantity.Number{}, false
	}
	q := d.Amount.Quantity
	return millilitre.FromBase(q.Unit.ToBase(q.Middle())), true
}

// comparedBag is how a bag made stands beside the order: what differs, and
// whether a component could not be compared.
func comparedBag(f Facts, made order.Drug) (differ []string, place finding.Place, unclear bool) {
	ordered := f.order().Drug
	orderVolume, orderKnown := bagVolume(ordered)
	if v, _, ok := holds(f); ok && !orderKnown {
		orderVolume, orderKnown = v, true
	}
	madeVolume, madeKnown := bagVolume(made)
	mark := func(p finding.Place) {
		if place.Expression == "" {
			place = p
		}
	}
	used := make([]bool, len(made.Ingredients))
	var missing []order.Ingredient
	for _, want := range ordered.Ingredients {
		k := slices.IndexFunc(made.Ingredients, func(i order.Ingredient) bool { return sameComponent(want.Concept, i.Concept) })
		if k < 0 {
			missing = append(missing, want)
			continue
		}
		used[k] = true
		got := made.Ingredients[k]
		if want.Strength == nil && got.Strength == nil { // water to volume
			continue
		}
		a, d, ok := contentOf(want, orderVolume, orderKnown)
		b, e, known := contentOf(got, madeVolume, madeKnown)
		if !ok || !known || d != e {
			unclear = true
			continue
		}
		if off := b.Sub(a).Abs(); a.Mul(f.policy().Nutrition.ComponentDifference.Number).Less(off) {
			unit := want.Strength.Numerator.Unit
			differ = append(differ, want.Concept.Name()+" "+notation.About(unit.FromBase(b), unit, 4)+" made, "+notation.About(unit.FromBase(a), unit, 4)+" ordered")
			mark(got.Place)
		}
	}
	var extra []order.Ingredient
	for k, i := range made.Ingredients {
		if !used[k] {
			extra = append(extra, i)
		}
	}
	if len(missing) > 0 && len(extra) > 0 {
		return differ, place, true // perhaps the same under two names
	}
	for _, i := range missing {
		differ = append(differ, i.Concept.Name()+" ordered and not made")
	}
	for _, i := range extra {
		differ = append(differ, i.Concept.Name()+" made and not ordered")
		mark(i.Place)
	}
	if orderKnown && madeKnown && orderVolume.Mul(f.policy().Nutrition.ComponentDifference.Number).Less(madeVolume.Sub(orderVolume).Abs()) {
		differ = append(differ, "volume "+notation.About(madeVolume, millilitre, 4)+" made, "+notation.About(orderVolume, millilitre, 4)+" ordered")
	}
	return differ, place, unclear
}

// nutritionCompounding: row m22, component by component.
func nutritionCompounding(f Facts) []finding.Finding {
	var out []finding.Finding
	for _, b := range preparedFor(f) {
		if len(b.Drug.Ingredients) == 0 || len(f.order().Drug.Ingredients) == 0 {
			continue
		}
		differ, place, _ := comparedBag(f, b.Drug)
		if len(differ) == 0 {
			continue
		}
		if place.Expression == "" {
			place = b.Place
		}
		x := here(place, strings.Join(differ, "; "), "the bag as ordered; this lot goes to nobody")
		if b.Place.Expression != "" {
			x[0].Evidence = []string{b.Place.Expression}
		}
		out = append(out, x...)
	}
	return out
}

func compoundingUnknown(f Facts) []Fact {
	for _, b := range preparedFor(f) {
		if len(b.Drug.Ingredients) == 0 || len(f.order().Drug.Ingredients) == 0 {
			return []Fact{MadeComponents}
		}
		if _, _, unclear := comparedBag(f, b.Drug); unclear {
			return []Fact{MadeComponents}
		}
	}
	return nil
}
