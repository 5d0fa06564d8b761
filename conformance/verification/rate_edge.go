package verification

import (
	"slices"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// fastest is the tolerance of the device to the fast side: its own, else that
// of the one device of the catalogue it may be, else the site's.
func fastest(f Facts) quantity.Number {
	if p, ok := f.order().Device.Parameter("rateTolerance"); ok {
		return p.Quantity.Unit.ToBase(p.Quantity.High)
	}
	if list := own(f); len(list) == 1 && list[0].Tolerance != nil {
		return list[0].Tolerance.Number
	}
	return f.policy().Device.Tolerance.Number
}

// atFastEdge are the rates of the fixed-flow device at its fast edge.
func atFastEdge(f Facts) []way {
	n, ok := nominal(f)
	if !ok {
		return nil
	}
	n.worst = n.worst.Mul(one.Add(fastest(f)))
	n.says = "device " + percent(fastest(f)) + " faster than nominal"
	return append(pacedBy(f, n), n)
}

// hasFastEnd: a range of the rate or the time is ordered, or the device has
// one built-in flow, which is kept within its tolerance only.
func hasFastEnd(f Facts) bool { return hasReservoir(f) || ordersRange(f) }

func ordersRange(f Facts) bool {
	o := f.order()
	isRange := func(s *order.Stated) bool { return s != nil && !s.Quantity.Absent() && !s.Quantity.IsPoint() }
	for _, s := range o.Stated {
		if slices.Contains([]string{"rate", "drugRate", "drugRatePerKg", "duration"}, s.Name) && isRange(&s) && s.Witness != order.Record && s.Witness != order.Computed {
			return true
		}
	}
	for _, s := range o.Steps {
		if isRange(s.Rate) {
			return true
		}
	}
	return o.Controlled != nil && isRange(o.Controlled.Basal)
}

// fastWays are the rates at the fast end of a range, and of the device.
func fastWays(f Facts) []way {
	out := atFastEdge(f)
	if ordersRange(f) {
		out = append(out, paces(f, fastEnd)...)
	}
	return out
}

// fastEdge: rows d10 and d3, the limit is kept at the number that is set and
// not at the fast edge of the device or of a range. A least time is no edge of
// a device: it is met by the nominal time, and the window is printed beside it.
func fastEdge(f Facts) []finding.Finding {
	var list []past
	add := func(fast, set []past) {
		for _, p := range fast {
			if !slices.ContainsFunc(set, func(s past) bool { return s.ID == p.ID && s.reach > Within }) {
				list = append(list, p)
			}
		}
	}
	for _, x := range rowsOf(f) {
		add(rateOver(x, fastWays(x)), rateOver(x, paces(x, asSet)))
	}
	if p, found := gravest(finding.Warn, list); found {
		return p.finding(atMost)
	}
	if list = nil; f.Has(DrugRow) && ordersRange(f) {
		add(timeUnder(f, fastEnd), timeUnder(f, asSet))
	}
	if p, found := gravest(finding.Warn, list); found {
		return p.finding(atLeast)
	}
	return nil
}

func fastEdgeUnchecked(f Facts) []Fact {
	yes, unsure := rateLimits(f)
	if len(yes)+len(unsure) == 0 {
		return []Fact{TableLimit}
	}
	var out []Fact
	if _, ok := nominal(f); hasReservoir(f) && !ok {
		out = append(out, Nominal)
	}
	if ways := fastWays(f); len(ways) > 0 {
		out = append(out, uncompared(yes, unsure, rateCompare(f, ways), rateLacks(f, ways), func(x compendium.Fact) bool { return ownLimit(x, population(f)) })...)
	}
	if inDispute(f, "dose", "volume", "concentration") {
		out = append(out, Concentration)
	}
	return unique(out)
}
