package verification

import (
	"slices"
	"strings"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/quantity"
)

// rateLimits are the most that may run in a time.
func rateLimits(f Facts) (yes, unsure []limit) {
	return limits(f, "infusion_rate_max", populations(f)...)
}

// rateIn is a limit of the rate in the unit of a way. Reckoned by the body,
// a dose by weight is rounded to what can be drawn up: up to the difference of
// which dose-basis says nothing, the limit is kept.
func rateIn(f Facts, x limit) func(compendium.Band, way) (quantity.Number, bool) {
	return func(b compendium.Band, w way) (quantity.Number, bool) {
		in, ok := limitIn(f, b, w.unit)
		if !ok {
			return quantity.Number{}, false
		}
		at := drawnUp(f, in.High, b.Unit, w.unit)
		if at.Less(w.worst) {
			at = byOwnTime(f, b, w, at)
		}
		return at, true
	}
}

// drawnUp is a limit by weight or surface with room for what can be drawn up,
// where the order states the whole amount.
func drawnUp(f Facts, most quantity.Number, of string, in quantity.Unit) quantity.Number {
	if bySize(of) && !bySize(in.Code()) {
		return most.Mul(one.Add(f.policy().Dose.BasisWarn.Number))
	}
	return most
}

func bySize(unit string) bool { return strings.Contains(unit, "/kg") || strings.Contains(unit, "/m2") }

// byOwnTime is the rate of this dose in the least time that the table gives
// for just this dose, where it is the limit of the rate before rounding: 100 mg
// in 90 minutes are 1.11 mg per minute, and the label says 1.1.
func byOwnTime(f Facts, b compendium.Band, w way, at quantity.Number) quantity.Number {
	d, _, most, ok := written(f, "dose")
	if !ok || b.Value == "" || d.Unit.Dimension() != w.unit.Dimension().Times(quantity.Time) {
		return at
	}
	_, digits, _ := strings.Cut(b.Value.String(), ".")
	half := quantity.Ratio(1, 2)
	for range digits {
		half = half.Quo(quantity.Int(10))
	}
	unit, err := quantity.ParseUnit(b.Unit)
	if err != nil || unit.Dimension() != w.unit.Dimension() {
		return at
	}
	edge := at.Add(w.unit.FromBase(unit.ToBase(half)))
	yes, _ := limits(f, "infusion_duration_min", populations(f)...)
	for _, x := range yes {
		keyed := slices.ContainsFunc(x.AppliesTo, func(a compendium.Applies) bool { return a.Dose != nil })
		least, err := x.Value.Band.Quantity()
		if !keyed || err != nil || least.Low.Sign() <= 0 {
			continue
		}
		if by := w.unit.FromBase(d.Unit.ToBase(most).Quo(least.Unit.ToBase(least.Low))); at.Less(by) && by.Less(edge) {
			at = by
		}
	}
	return at
}

func above(limit, have quantity.Number) bool { return limit.Less(have) }

func rateCompare(f Facts, ways []way) func(limit) (past, bool) {
	return func(x limit) (past, bool) { return compared(f, x, ways, rateIn(f, x), above) }
}

// rateAbove: row d10, the rate as ordered and at the nominal rate of the
// device against the drug's own limits, and the dose of an hour.
func rateAbove(f Facts) []finding.Finding {
	var list []past
	for _, x := range rowsOf(f) {
		list = append(list, rateOver(x, paces(x, asSet))...)
	}
	p, found := gravest(finding.Block, list)
	if !found {
		return nil
	}
	out := p.finding(atMost)
	if long, ok := longEnough(p.of, p); ok {
		out[0].Remedy = "Pharmacist: ask the prescriber for a lower rate; the whole dose takes at least " + long + "."
	}
	return out
}

// rateOver are the limits beyond which one of the ways goes.
func rateOver(f Facts, ways []way) []past {
	var out []past
	yes, _ := rateLimits(f)
	for _, x := range yes {
		if p, ok := rateCompare(f, ways)(x); ok {
			p.of = f
			out = append(out, p)
		}
	}
	hourly, _ := hourLimits(f)
	for _, x := range hourly {
		if p, ok := rateCompare(f, inOneHour(f, ways))(x); ok {
			p.of = f
			out = append(out, p)
		}
	}
	return out
}

func hourLimits(f Facts) (yes, unsure []limit) {
	return limits(f, "max_dose_per_hour", populations(f)...)
}

// inOneHour is what a rate gives in its fastest hour: no more than the dose.
func inOneHour(f Facts, ways []way) []way {
	d, _, most, ok := written(f, "dose")
	var out []way
	for _, w := range ways {
		if unit, err := quantity.ParseUnit(d.Unit.Code() + "/h"); ok && err == nil && unit.Dimension() == w.unit.Dimension() {
			w.worst, w.unit = quantity.Least(unit.FromBase(w.unit.ToBase(w.worst)), most), unit
		}
		out = append(out, w)
	}
	return out
}

// longEnough is the time in which the dose keeps the limit.
func longEnough(f Facts, p past) (string, bool) {
	d, _, most, ok := written(f, "dose")
	if !ok || d.Unit.Dimension() != p.way.unit.Dimension().Times(quantity.Time) || p.at.Sign() <= 0 {
		return "", false
	}
	minutes := minute.FromBase(d.Unit.ToBase(most).Quo(p.way.unit.ToBase(p.at)))
	whole, _ := minutes.Floor()
	if quantity.Int(whole).Less(minutes) {
		whole++
	}
	return notation.Quantity(quantity.Int(whole), minute), true
}

// rateLacks is the fact without which a limit of the rate is not compared.
func rateLacks(f Facts, ways []way) func(limit) Fact {
	return func(x limit) Fact {
		unit, err := quantity.ParseUnit(x.Value.Band.Unit)
		drug := slices.ContainsFunc(ways, func(w way) bool { return w.unit.Dimension() != millilitrePerHour.Dimension() })
		switch {
		case err != nil || x.Value.Band.Empty():
			return TableLimit
		case unit.Dimension() == millilitrePerHour.Dimension():
			return Rate
		case !drug:
			return Concentration
		case !bySize(x.Value.Band.Unit) && slices.ContainsFunc(ways, func(w way) bool { return bySize(w.unit.Code()) }):
			return Weight
		}
		return unread(f, x.Value.Band.Unit)
	}
}

var rateNumbers = []string{"rate", "drugRate", "drugRatePerKg", "dose", "volume", "duration", "concentration"}

func rateUnchecked(f Facts) []Fact {
	yes, unsure := rateLimits(f)
	if len(yes)+len(unsure) == 0 {
		return []Fact{TableLimit}
	}
	ways := paces(f, asSet)
	if len(ways) == 0 {
		return []Fact{Rate}
	}
	out := uncompared(yes, unsure, rateCompare(f, ways), rateLacks(f, ways), func(x compendium.Fact) bool { return ownLimit(x, population(f)) })
	if inDispute(f, rateNumbers...) {
		out = append(out, Rate)
	}
	return unique(out)
}
