package verification

import (
	"slices"
	"strings"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/quantity"
)

// titrated are kinds whose dose is raised from a low start by what it does: a
// hint that it is below the usual would push it up. Row c6 names opioid,
// inotrope, insulin and heparin; prostacyclins start in the same way.
var titrated = []string{"opioid", "inotrope", "insulin", "heparin", "prostacyclin"}

// hasFloor: a low dose of the drug may be called low.
func hasFloor(f Facts) bool {
	words := wordsOf(strings.ToLower(f.order().Drug.Name + " " + f.order().Drug.Concept.Name()))
	return !slices.ContainsFunc(titrated, f.drug().Is) && !isOpioid(f) && !slices.Contains(words, "heparin") && !slices.Contains(words, "insulin")
}

// floor is the least of one usual dose, or of a usual day.
type floor struct {
	fact   compendium.Fact
	number string // dose or dailyDose
	least  quantity.Quantity
	asks   bool // false: to reach it is enough, to miss it says nothing
}

// floors are the least of every usual dose that holds or may hold. A child
// that gets an adult's usual dose is not below its own.
func floors(f Facts) []floor {
	var out []floor
	c, own := circumstance(f), population(f)
	runs := IsContinuous(f.order(), f.quantities())
	for _, population := range populations(f) {
		for _, x := range f.drug().About("usual_dose", population) {
			answer, _ := x.Holds(c)
			if answer == compendium.No {
				continue
			}
			gates := x.Gates || x.Override != nil && x.Override.Gated
			asks := population == own && answer == compendium.Yes && gates
			add := func(number string, b *compendium.Band, asks bool) {
				if q, ok := leastOf(b); ok && (number != "dose" || !runs) {
					out = append(out, floor{x, number, q, asks})
				}
			}
			v := x.Value
			add("dose", v.Dose, asks)
			add("dose", &v.Band, asks)
			add("dailyDose", v.DailyDose, asks)
			if q, ok := usualDay(v); ok {
				out = append(out, floor{x, "dailyDose", q, asks && runs})
			}
			for _, b := range v.Other { // a second dose, one of a series: only to be reached, so in any order
				add("dose", &b, false)
			}
			if q, ok := leastOf(v.Continuous); ok && runs && within(f, "duration", v.InfusionDuration) {
				out = append(out, floor{x, "dose", q, asks})
			}
		}
	}
	return out
}

// leastOf is the low end of a band; false where it has none.
func leastOf(b *compendium.Band) (quantity.Quantity, bool) {
	if b == nil || b.Value == "" && b.Low == "" {
		return quantity.Quantity{}, false
	}
	q, err := b.Quantity()
	return quantity.Point(q.Low, q.Unit), err == nil
}

// usualDay is a usual dose at its longest interval, as a dose of a day.
func usualDay(v compendium.Value) (quantity.Quantity, bool) {
	dose, ok := leastOf(v.Dose)
	if !ok || v.Interval == nil {
		return quantity.Quantity{}, false
	}
	every, err := v.Interval.Quantity()
	unit, errUnit := quantity.ParseUnit(v.Dose.Unit + "/d")
	if err != nil || errUnit != nil || every.High.Sign() <= 0 {
		return quantity.Quantity{}, false
	}
	n := unit.FromBase(dose.Unit.ToBase(dose.Low).Quo(every.Unit.ToBase(every.High)))
	return quantity.Point(n, unit), true
}

// within: a number of the order lies in a band.
func within(f Facts, number string, b *compendium.Band) bool {
	q, known := f.quantities()[number]
	if b == nil || !known {
		return false
	}
	band, err := b.Quantity()
	if err != nil {
		return false
	}
	in, err := band.In(q.Unit)
	return err == nil && !q.Value.Less(in.Low) && !in.High.Less(q.Value)
}

// reached compares the order with one floor, at the most that it permits. By
// body size the least weight of the body counts, and a tenth for rounding to
// what can be drawn up. Missing is the fact without which nobody can tell.
func (x floor) reached(f Facts, least quantity.Quantity) (ok bool, missing Fact) {
	q, _, most, known := written(f, x.number)
	if !known {
		return false, map[string]Fact{"dose": Dose, "dailyDose": DailyDose}[x.number]
	}
	in, err := least.In(q.Unit)
	if unit, perDay := quantity.ParseUnit(least.Unit.Code() + "/d"); err != nil && x.number == "dailyDose" && perDay == nil { // "12 g" and "12 g/d" alike
		in, err = quantity.Point(least.Low, unit).In(q.Unit)
		if alike, ok := readIn(f, quantity.Point(least.Low, unit), q.Unit); err != nil && ok && !bySize(unit.Code()) {
			in, err = alike, nil
		}
	}
	if err != nil {
		sized, readable := readIn(f, least, q.Unit)
		if !readable {
			return false, unread(f, least.Unit.Code())
		}
		low := sized.Low.Mul(one.Sub(f.policy().Dose.BasisHold.Number))
		if strings.Contains(least.Unit.Code(), "/kg") {
			low = low.Mul(lightest(f))
		}
		in = quantity.Point(low, q.Unit)
	}
	return !most.Less(in.Low), ""
}

// lightest is the least weight a dose may be reckoned by, as a part of the
// actual one: obese patients are dosed by an ideal or adjusted weight.
func lightest(f Facts) quantity.Number {
	ideal, known := bodyNumber(f, "idealBodyWeight", "kg")
	actual, weighed := bodyNumber(f, "dosingWeight", "kg")
	if !known || !weighed || !ideal.Less(actual) {
		return one
	}
	return ideal.Quo(actual)
}

// lowDose is the usual dose that the order comes closest to and does not
// reach, none where it reaches one; missing is what could not be compared.
func lowDose(f Facts) (low floor, reach Reach, missing []Fact) {
	list := floors(f)
	for _, x := range list {
		table := x.least
		next := Beyond
		if x.fact.Override != nil && x.number == "dose" && !x.fact.Value.Band.Empty() {
			next, _ = Reached(x.fact, x.fact.Value.Band, f.now(), func(b compendium.Band) bool {
				q, ok := leastOf(&b)
				met, _ := x.reached(f, q)
				return ok && !met
			})
		}
		switch met, lacks := x.reached(f, table); {
		case met && next != Between, next == Within:
			return floor{}, Within, nil
		case lacks != "":
			if x.asks || !slices.Contains(missing, lacks) && lacks == Weight {
				missing = append(missing, lacks)
			}
		case x.asks && (low.number == "" || lessThan(f, x, low)):
			low, reach = x, next
		}
	}
	if low.number == "" && len(missing) == 0 {
		missing = []Fact{TableLimit}
	}
	if atCeiling(f) {
		return floor{}, Within, nil
	}
	return low, reach, unique(missing)
}

// lessThan: the first is the lower floor, where the two can be compared.
func lessThan(f Facts, a, b floor) bool {
	q := f.quantities()[b.number]
	x, okX := readIn(f, a.least, q.Unit)
	y, okY := readIn(f, b.least, q.Unit)
	return a.number == b.number && okX && okY && x.Low.Less(y.Low)
}

// atCeiling: the dose, or that of a day, is the most the table allows: a dose
// by weight is cut there.
func atCeiling(f Facts) bool {
	single, unsure := singleLimits(f)
	daily, unsureDay := dailyFacts(f)
	for number, list := range map[string][]limit{"dose": append(single, unsure...), "dailyDose": append(daily, unsureDay...)} {
		q, _, most, ok := written(f, number)
		for _, x := range list {
			at, readable := dailyIn(f, x.Value.Band, q.Unit)
			if number == "dose" {
				in, okIn := inUnit(f, x.Value.Band, q.Unit)
				at, readable = in.High, okIn
			}
			if ok && readable && !bySize(x.Value.Band.Unit) && !most.Less(at) {
				return true
			}
		}
	}
	return false
}

// belowUsual: row c6. Kidneys that do not work make a low dose the right one.
func belowUsual(f Facts) []finding.Finding {
	low, reach, missing := lowDose(f)
	if reach == Within || len(missing) > 0 || len(lowForKidneys(f)) > 0 {
		return nil
	}
	q, _, most, _ := written(f, low.number)
	expected := "at least " + notation.About(low.least.Low, low.least.Unit, 4) + " usually"
	if in, ok := readIn(f, low.least, q.Unit); ok && bySize(low.least.Unit.Code()) {
		expected += ", here " + notation.About(in.Low, q.Unit, 4)
	}
	out := here(doseAt(f, q.Place), notation.About(most, q.Unit, 4), expected+limit{Fact: low.fact}.says())
	out[0].Standing = low.fact.Standing
	if reach == Between {
		out[0].Detail = LoosenedDetail
	}
	return out
}

// lowForKidneys are what keeps a low dose of an adult from being called so:
// kidneys that ask for it, or of which nothing is known. Whether it is too
// low for these kidneys stands in no table.
func lowForKidneys(f Facts) []Fact {
	switch {
	case !kidneysMatter(f) || population(f) != "adult":
		return nil
	case onDialysis(f):
		return []Fact{TableLimit}
	case !f.Has(Creatinine):
		return []Fact{Creatinine}
	}
	list, missing := clearances(f, nil)
	if missing != "" {
		return []Fact{missing}
	}
	yes, unsure := renalTables(f)
	tables := append(yes, unsure...)
	if len(tables) == 0 && list[0].value.Less(quantity.Int(60)) { // common practice, no source
		return []Fact{TableLimit}
	}
	for _, t := range tables {
		list, missing := clearances(f, t.Value.Clearance)
		if missing != "" {
			return []Fact{missing}
		}
		band, ok := bandFor(t.Value.Bands, list[0].value)
		if !beyond(t.Value.Bands, list[0].value) && !(ok && highest(t.Value.Bands, band)) {
			return []Fact{TableLimit}
		}
	}
	return nil
}

// lowUnknown is what could not be compared, where a low dose would be found.
func lowUnknown(f Facts) []Fact {
	_, reach, missing := lowDose(f)
	if inDispute(f, "dose", "dailyDose") && reach == Within && len(missing) == 0 {
		return []Fact{Dose}
	}
	if reach != Within && len(missing) == 0 {
		return lowForKidneys(f)
	}
	return missing
}

// doseAt is where a number stands, or for one that was worked out the dose.
func doseAt(f Facts, place finding.Place) finding.Place {
	if place.Expression == "" {
		place = f.quantities()["dose"].Place
	}
	if place.Expression == "" {
		place = f.order().Place
	}
	return place
}
