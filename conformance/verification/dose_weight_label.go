package verification

import (
	"slices"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/quantity"
)

// lighter are the words of the table for a weight below the actual one of an
// obese patient. For a lean weight the adjusted one is used (common practice).
var lighter = []string{"ideal", "ideal in obesity", "lean"}

// labelledLighter is the labelling that reckons an obese adult by less than
// the actual weight.
func labelledLighter(f Facts) (compendium.Fact, bool) {
	list := f.drug().About("weight_basis", "adult")
	i := slices.IndexFunc(list, func(x compendium.Fact) bool { return slices.Contains(lighter, x.Value.Weight) && x.Gates })
	if i < 0 {
		return compendium.Fact{}, false
	}
	return list[i], true
}

// byActual: the dose was reckoned by the actual weight: it agrees with the
// ordered dose per kg and that weight, or without one it is a usual dose by it
// and by no other.
func byActual(f Facts, list []bodyWeight) bool {
	if states(f.order(), "dosePerKg") {
		return !inDispute(f, "dose", "dosePerKg")
	}
	_, least, most, u, ok := reckoned(f)
	for i, w := range list {
		ok = ok && u.has(f, least, most, w.weight) == (i == 0)
	}
	return ok
}

// againstLabel: row c3. The labelling names a lighter weight in obesity, and
// the dose is reckoned by the actual one.
func againstLabel(f Facts, label compendium.Fact) []finding.Finding {
	list, missing := otherWeights(f)
	index, known := massIndex(f)
	if missing != "" || len(list) < 2 || known && index.Less(quantity.Int(int64(f.policy().Dose.ObeseIndex))) {
		return nil
	}
	q, _, _, ok := written(f, "dose")
	if basis := f.order().DoseBasis; !ok || basis != "" && basis != "actual-weight" || !byActual(f, list) {
		return nil
	}
	own, adjusted, ideal := list[0], list[1], list[2]
	in := func(w bodyWeight) string {
		return notation.About(q.Value.Quo(own.weight).Mul(w.weight), q.Unit, 3) + " by the " + w.name + " weight of " + notation.Code(w.weight.Significant(3), "kg")
	}
	x := here(doseAt(f, q.Place), notation.About(q.Value, q.Unit, 4)+", by the actual weight of "+notation.Code(own.weight.Significant(3), "kg"),
		label.Value.Text+limit{Fact: label}.says()+": "+in(ideal)+", "+in(adjusted)+"; or the prescriber's word that the actual weight is meant")
	x[0].Standing = label.Standing
	return x
}
