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

var (
	glucoseUnit      = quantity.MustUnit("mg/kg/min")
	millimolePerHour = quantity.MustUnit("mmol/h")
)

// glucoseRate is the glucose at the plateau in mg/kg/min: as settled for the
// whole order, else by the fastest step, or by the plateau that empties the
// bag. Where the cycle does not give what the bag holds, settled is false: a
// high rate is found, a low one is not known.
func glucoseRate(f Facts) (n quantity.Number, place finding.Place, settled, ok bool) {
	stepped := len(f.order().Steps) > 1
	if q, known := f.quantities()["glucoseInfusionRate"]; known && !q.Disputed && !stepped {
		if in, err := quantity.Point(q.Value, q.Unit).In(glucoseUnit); err == nil {
			return in.Low, q.Place, true, true
		}
	}
	weight := get[order.Measurement](f, Weight).Quantity
	flow, paced := plateau(f)
	i := slices.IndexFunc(f.order().Drug.Ingredients, isDextrose)
	if !paced || i < 0 || weight.Absent() || weight.Low.Sign() <= 0 {
		return n, place, false, false
	}
	in := f.order().Drug.Ingredients[i]
	each, d, known := perMillilitreOf(f, in)
	if !known || d != quantity.Mass {
		return n, in.Place, false, false
	}
	perTime := each.Mul(flow).Quo(hour.ToBase(one)) // base amount per base time
	return glucoseUnit.FromBase(perTime.Quo(weight.Unit.ToBase(weight.Middle()))), in.Place, stepped || cycleAgrees(f), true
}

func atPlace(f Facts, p finding.Place) finding.Place {
	if p.Expression == "" {
		return f.order().Place
	}
	return p
}

// glucoseFound says the glucose rate where it lies above a limit, and up to
// the next one.
func glucoseFound(f Facts, above quantity.Number, upTo *quantity.Number) []finding.Finding {
	n, place, _, ok := glucoseRate(f)
	if !ok || population(f) != "adult" || !above.Less(n) || upTo != nil && upTo.Less(n) {
		return nil
	}
	x := here(atPlace(f, place), "glucose at the plateau "+notation.About(n, glucoseUnit, 3), "at most "+notation.Quantity(above, glucoseUnit)+" (site policy)")
	return x
}

func nutritionRate(f Facts) []finding.Finding {
	return append(glucoseFound(f, f.policy().Nutrition.GlucoseHold.Number, nil), potassiumFound(f)...)
}

func nutritionRateMinor(f Facts) []finding.Finding {
	hold := f.policy().Nutrition.GlucoseHold.Number
	return glucoseFound(f, f.policy().Nutrition.GlucoseWarn.Number, &hold)
}

// potassiumPerMillilitre is the least and the most potassium in a mL, in base
// units. A phosphate given as phosphate brings as much as the table says.
func potassiumPerMillilitre(f Facts) (least, most quantity.Number, place finding.Place, has, ok bool) {
	ok = true
	for _, i := range f.order().Drug.Ingredients {
		if !namedAs(i, "potassium") {
			continue
		}
		has = true
		n, d, known := perMillilitreOf(f, i)
		low, high := one, one
		if namedAs(i, "phosphate", "phosphates") {
			known = known && d == quantity.Amount // an equivalent of phosphate is read two ways
			low, high = potassiumOfPhosphate(f)
		}
		ok = ok && known && high.Sign() > 0 && (d == quantity.Amount || d == quantity.Equivalent)
		least, most = least.Add(n.Mul(low)), most.Add(n.Mul(high))
		if place.Expression == "" {
			place = i.Place
		}
	}
	return least, most, place, has, ok
}

func potassiumOfPhosphate(f Facts) (low, high quantity.Number) {
	for _, x := range f.drug().About("electrolyte_content", population(f)) {
		if b, ok := x.Value.Other["potassiumPerPhosphate"]; ok {
			if q, err := b.Quantity(); err == nil {
				return q.Low, q.High
			}
		}
	}
	return low, high
}

// potassiumRate is the potassium at the plateau in mmol/h, and the limit of
// the site for this patient.
func potassiumRate(f Facts) (least, most, limit quantity.Number, place finding.Place, ok bool) {
	low, high, place, has, known := potassiumPerMillilitre(f)
	flow, paced := plateau(f)
	if !has || !known || !paced {
		return least, most, limit, place, false
	}
	limit = f.policy().Nutrition.PotassiumMost.Number
	if population(f) != "adult" {
		w := get[order.Measurement](f, Weight).Quantity
		if w.Absent() {
			return least, most, limit, place, false
		}
		limit = f.policy().Nutrition.PotassiumMostChild.Number.Mul(kilogram.FromBase(w.Unit.ToBase(w.Middle())))
	}
	perHour := func(n quantity.Number) quantity.Number {
		return millimolePerHour.FromBase(n.Mul(flow).Quo(hour.ToBase(one)))
	}
	return perHour(low), perHour(high), limit, place, true
}

var kilogram = quantity.MustUnit("kg")

// potassiumFound: what the rule about rates already blocks is not held again.
func potassiumFound(f Facts) []finding.Finding {
	least, most, limit, place, ok := potassiumRate(f)
	if !ok || !limit.Less(least) || len(rateAbove(f)) > 0 {
		return nil
	}
	shown := notation.About(most, millimolePerHour, 3)
	if least.Less(most) {
		shown = notation.Rounded(least, 3) + " to " + shown
	}
	return here(atPlace(f, place), "potassium at the plateau "+shown, "at most "+notation.About(limit, millimolePerHour, 3)+" (site policy)")
}

// nutritionRateUnknown: no glucose rate, no limit of the table for a child,
// or potassium that cannot be told.
func nutritionRateUnknown(f Facts) []Fact {
	out := glucoseUnknown(f)
	_, _, _, has, known := potassiumPerMillilitre(f)
	least, most, limit, _, ok := potassiumRate(f)
	switch {
	case has && !known:
		out = append(out, Potassium)
	case has && !ok && population(f) != "adult" && !f.Has(Weight):
		out = append(out, Weight)
	case has && !ok:
		out = append(out, Rate)
	case ok && !limit.Less(least) && limit.Less(most): // between the two of the table
		out = append(out, TableLimit)
	}
	return unique(out)
}

func glucoseUnknown(f Facts) []Fact {
	if population(f) != "adult" {
		return []Fact{TableLimit} // no limit for children in the policy
	}
	if _, _, settled, ok := glucoseRate(f); ok && settled || len(glucoseFound(f, f.policy().Nutrition.GlucoseHold.Number, nil)) > 0 {
		return nil // what holds is not asked for again by the minor rule
	}
	if !f.Has(Weight) {
		return []Fact{Weight}
	}
	return []Fact{Glucose}
}

// calciumAndPhosphate: both are in the bag. Phosphate bound to glycerol stays
// dissolved with calcium, and a phospholipid is no phosphate.
func calciumAndPhosphate(f Facts) bool {
	list := f.order().Drug.Ingredients
	has := func(words ...string) bool {
		return slices.ContainsFunc(list, func(i order.Ingredient) bool { return namedAs(i, words...) && !namedAs(i, "glycerophosphate") })
	}
	return isNutrition(f) && (len(list) == 0 || has("calcium") && has("phosphate", "phosphates", "phosphorus"))
}

func componentsUnknown(f Facts) []Fact {
	if len(f.order().Drug.Ingredients) == 0 {
		return []Fact{Components}
	}
	return nil
}

// solubilityUnchecked: no check is on record for this order, or none that
// names the amino acid product of the bag.
func solubilityUnchecked(f Facts) []finding.Finding {
	list := f.order().Drug.Ingredients
	if len(list) == 0 {
		return nil
	}
	i := slices.IndexFunc(list, func(i order.Ingredient) bool { return namedAs(i, "amino") })
	amino := "the amino acid"
	if i >= 0 {
		amino = list[i].Concept.Name()
	}
	expected := "a check of calcium and phosphate for " + amino + ", recorded for this order"
	place := f.order().Drug.Place
	a, there := answered(f, "calcium-phosphate-solubility")
	switch {
	case !there:
		return here(place, "no check that calcium and phosphate stay dissolved", expected)
	case isNo(a):
		return here(a.Place, "the check of calcium and phosphate did not pass", expected)
	case i >= 0 && !strings.Contains(compendium.Fold(a.Text), compendium.Fold(amino)):
		return here(a.Place, "the check of calcium and phosphate does not name "+amino, expected)
	}
	return nil
}
