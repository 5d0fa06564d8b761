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

// ceiling is the most of one usual dose, or of a usual day.
type ceiling struct {
	fact   compendium.Fact
	number string // dose or dailyDose
	most   quantity.Quantity
	summed bool // a usual dose at its interval, and not a day that the table writes
}

// hasCeiling: a dose of the drug may be called high by its usual one. What is
// raised from a low start by what it does has no usual dose (row q3).
func hasCeiling(f Facts) bool { return hasFloor(f) }

// ceilings are the most of every usual dose that holds or may hold, and of
// every first one. A drug without a usual dose for a child is held under an
// adult's.
func ceilings(f Facts) []ceiling {
	for _, population := range populations(f) {
		var out []ceiling
		for _, topic := range []string{"usual_dose", "loading_dose"} {
			for _, x := range f.drug().About(topic, population) {
				if answer, _ := x.Holds(circumstance(f)); answer != compendium.No {
					out = append(out, ceilingsOf(f, x)...)
				}
			}
		}
		if len(out) > 0 {
			return out
		}
	}
	return nil
}

func ceilingsOf(f Facts, x compendium.Fact) (out []ceiling) {
	add := func(number string, b *compendium.Band) {
		if q, ok := highEnd(b); ok {
			out = append(out, ceiling{x, number, q, false})
		}
	}
	v := x.Value
	if IsContinuous(f.order(), f.quantities()) {
		if within(f, "duration", v.InfusionDuration) {
			add("dose", v.Continuous)
		}
	} else {
		add("dose", v.Dose)
		add("dose", &v.Band)
		add("dose", v.Bolus)
		for _, b := range v.Other { // the first of a series, a second one
			add("dose", &b)
		}
	}
	add("dailyDose", v.DailyDose)
	if q, ok := mostOfDay(v); ok {
		out = append(out, ceiling{x, "dailyDose", q, true})
	}
	return out
}

// highEnd is the high end of a band; false where it has none.
func highEnd(b *compendium.Band) (quantity.Quantity, bool) {
	if b == nil || b.Value == "" && b.High == "" {
		return quantity.Quantity{}, false
	}
	q, err := b.Quantity()
	return quantity.Point(q.High, q.Unit), err == nil
}

// mostOfDay is a usual dose at its shortest interval, as a dose of a day.
func mostOfDay(v compendium.Value) (quantity.Quantity, bool) {
	dose, ok := highEnd(v.Dose)
	if !ok || v.Interval == nil {
		return quantity.Quantity{}, false
	}
	every, err := v.Interval.Quantity()
	unit, errUnit := quantity.ParseUnit(v.Dose.Unit + "/d")
	if err != nil || errUnit != nil || every.Low.Sign() <= 0 {
		return quantity.Quantity{}, false
	}
	return quantity.Point(unit.FromBase(dose.Unit.ToBase(dose.High).Quo(every.Unit.ToBase(every.Low))), unit), true
}

// in reads the ceiling in a unit, cut where the table cuts a dose by weight.
// One dose is also within a day that the table writes. Unread: it goes by a size of the body
// that is not known. Ok is false for that and for another kind of number.
func (c ceiling) in(f Facts, number string, unit quantity.Unit) (n quantity.Number, unread, ok bool) {
	_, timed := f.quantities()["duration"] // without it one dose may be what runs all day
	if c.number != number && (number == "dailyDose" || c.summed && timed) {
		return n, false, false
	}
	read := func(q quantity.Quantity) (quantity.Number, bool) {
		code := strings.TrimSuffix(q.Unit.Code(), "/d") // the tables write "12 g" and "12 g/d" alike
		if number == "dailyDose" {
			code += "/d"
		}
		as, err := quantity.ParseUnit(code)
		if err != nil {
			return n, false
		}
		in, ok := readIn(f, quantity.Point(q.High, as), unit)
		return in.High, ok
	}
	if n, ok = read(c.most); !ok {
		return n, bySize(c.most.Unit.Code()), false
	}
	if most, cut := highEnd(c.fact.Value.Max); cut {
		if at, ok := read(most); ok {
			n = quantity.Least(n, at)
		}
	}
	return n, false, true
}

// farAboveUsual is found where the table has no limit of its own for the
// number: many drugs have none, and ten times the usual dose would pass. The
// site says how many times the highest usual one is far above it.
func farAboveUsual(f Facts, number string) []finding.Finding {
	q, most, ok := ordered(f, number)
	if !ok || !hasCeiling(f) {
		return nil
	}
	var top ceiling
	var highest quantity.Number
	for _, c := range ceilings(f) {
		n, unread, ok := c.in(f, number, q.Unit)
		switch {
		case unread:
			return nil
		case ok && highest.Less(n):
			top, highest = c, n
		}
	}
	times := f.policy().Dose.AboveUsual.Number
	if population(f) != "adult" {
		times = f.policy().Dose.AboveUsualChild.Number
	}
	if highest.Sign() <= 0 || !highest.Mul(times).Less(most) {
		return nil
	}
	expected := "no more than " + times.Decimal() + " times the highest usual one of the table, " + top.shown()
	if bySize(top.most.Unit.Code()) {
		expected += ", here " + notation.About(highest, q.Unit, 4)
	}
	x := here(doseAt(f, q.Place), notation.About(most, q.Unit, 5), expected+limit{Fact: top.fact}.says()+"; the table has no maximum"+map[bool]string{true: " by weight"}[population(f) != "adult"])
	x[0].Standing = top.fact.Standing
	return x
}

// shown is the ceiling as the table writes it.
func (c ceiling) shown() string {
	if v := c.fact.Value; c.summed {
		dose, _ := highEnd(v.Dose)
		every, _ := v.Interval.Quantity()
		return notation.About(dose.High, dose.Unit, 4) + " every " + notation.Code(every.Low.Decimal(), every.Unit.Code())
	}
	return notation.About(c.most.High, c.most.Unit, 4)
}

// ordered is the number at the most that the order permits.
func ordered(f Facts, number string) (order.Quantity, quantity.Number, bool) {
	if number == "dailyDose" {
		q := dayAsOrdered(f)
		return q, q.High, q.High.Sign() > 0 && q.Unit.Code() != ""
	}
	q, _, most, ok := written(f, number)
	return q, most, ok
}

// judgedByOwn: a limit of the table that holds for this population was there
// to compare with. For a child that is one by its size: a fixed one only keeps
// it under the dose of an adult.
func judgedByOwn(f Facts, list []limit) bool {
	return slices.ContainsFunc(list, func(x limit) bool {
		band := x.Value.Band
		return population(f) == "adult" || bySize(band.Unit) && ownLimit(x.Fact, population(f))
	})
}
