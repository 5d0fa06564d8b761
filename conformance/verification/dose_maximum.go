package verification

import (
	"slices"
	"strings"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/quantity"
)

// oneDose: the drug is given in doses. What runs all day has none: what its
// container holds depends on how often it is changed.
func oneDose(f Facts) bool { return !IsContinuous(f.order(), f.quantities()) }

// singleLimits are the most of one dose. A child is also held under an
// adult's, so that none of its doses is above an adult's.
func singleLimits(f Facts) (yes, unsure []limit) {
	yes, unsure = limits(f, "max_single_dose", populations(f)...)
	for _, list := range [][]limit{yes, unsure} {
		for i, x := range list {
			if x.Value.Band.Empty() && x.Value.Dose != nil {
				list[i].Value.Band = *x.Value.Dose
			}
		}
	}
	return yes, unsure
}

// dayAsSingle are the limits of a day that hold: one dose alone is within
// them, also where nobody tells how often it is given.
func dayAsSingle(f Facts) []limit {
	list, _ := dailyFacts(f)
	for i, x := range list {
		list[i].Value.Band.Unit = strings.TrimSuffix(x.Value.Band.Unit, "/d")
		if x.Override != nil {
			own := *x.Override
			own.Was.Unit = strings.TrimSuffix(own.Was.Unit, "/d")
			list[i].Override = &own
		}
	}
	return list
}

// asOrdered is the dose at the most that the order permits.
func asOrdered(f Facts) []way {
	q, _, most, ok := written(f, "dose")
	if !ok {
		return nil
	}
	return []way{{worst: most, unit: q.Unit, place: q.Place}}
}

// singleCompare sets a limit against the dose. Reckoned by the body, a dose
// is rounded to what can be drawn up: up to the difference of which
// dose-basis says nothing the limit is kept, as in the rules of the rate.
func singleCompare(f Facts) func(limit) (past, bool) {
	return func(x limit) (past, bool) {
		return compared(f, x, asOrdered(f), doseIn(f), above)
	}
}

// singleMaximum: row c6, one dose against the limits of the table that hold
// for the population and the regimen, and without one against the usual doses.
func singleMaximum(f Facts) []finding.Finding {
	var over []past
	yes, _ := singleLimits(f)
	day := dayAsSingle(f)
	for _, x := range append(slices.Clone(yes), day...) {
		if p, ok := singleCompare(f)(x); ok {
			over = append(over, p)
		}
	}
	p, found := gravest(finding.Hold, over)
	switch {
	case !found && judgedByOwn(f, yes):
		return nil
	case !found:
		return farAboveUsual(f, "dose")
	}
	out := p.finding(atMost)
	if slices.ContainsFunc(day, func(x limit) bool { return x.ID == p.ID }) {
		out[0].Expected = "in 24 hours, and so in one dose, " + out[0].Expected
	}
	return out
}

// singleUnknown: what was not compared, though nothing compared was above its
// limit. The limit of a day does not stand in for one of a single dose.
func singleUnknown(f Facts) []Fact {
	yes, unsure := singleLimits(f)
	if len(yes)+len(unsure) == 0 {
		return []Fact{TableLimit}
	}
	if len(asOrdered(f)) == 0 {
		return []Fact{Dose}
	}
	lacks := func(x limit) Fact { return unread(f, x.Value.Band.Unit) }
	out := uncompared(yes, unsure, singleCompare(f), lacks, func(x compendium.Fact) bool {
		if x.Value.Band.Empty() && x.Value.Dose != nil {
			x.Value.Band = *x.Value.Dose
		}
		return ownLimit(x, population(f))
	})
	if inDispute(f, "dose") {
		out = append(out, Dose)
	}
	return unique(out)
}

// doseIn is the most that a limit allows, in the unit of the dose.
func doseIn(f Facts) func(compendium.Band, way) (quantity.Number, bool) {
	return func(b compendium.Band, w way) (quantity.Number, bool) {
		in, ok := limitIn(f, b, w.unit)
		if !ok {
			return quantity.Number{}, false
		}
		return drawnUp(f, in.High, b.Unit, w.unit), true
	}
}
