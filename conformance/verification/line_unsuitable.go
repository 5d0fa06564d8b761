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

func lineName(a order.Access) string {
	if row, ok := compendium.AccessOf(a.Kind); ok {
		return row.Name
	}
	return a.Kind
}

// unsuitable: row h1. One finding with every reason: one line is to be
// arranged, whatever the number of reasons.
func unsuitable(f Facts) []finding.Finding {
	if !throughVein(f) || len(candidates(f)) == 0 || len(whichLine(f)) > 0 {
		return nil
	}
	list, _ := reasons(f)
	if len(list) == 0 {
		return nil
	}
	says, worst := joined(list)
	var limits []string
	for _, n := range list {
		limits = append(limits, n.limit)
	}
	a := outside(f)[0]
	x := here(a.Place, lineName(a)+": "+says, strings.Join(limits, "; "))
	x[0].Standing, x[0].AtMost = worst.standing, worst.atMost
	x[0].Evidence = []string{f.order().Place.Expression}
	return x
}

// joined are all reasons in words, and the gravest of them.
func joined(list []needs) (says string, worst needs) {
	var out []string
	for i, n := range list {
		out = append(out, n.says)
		if i == 0 || graver(n, worst) {
			worst = n
		}
	}
	return strings.Join(out, "; "), worst
}

// graver: a reason that no table lowers before one that is, and one that was
// read or reckoned before one that was recalled.
func graver(a, b needs) bool {
	if a.atMost != b.atMost {
		return a.atMost == finding.NoGate || b.atMost == finding.Warn && a.atMost == finding.Hold
	}
	return b.standing == compendium.Memory && a.standing != compendium.Memory
}

// unsuitableUnknown: whether the line suits hangs on something that is not
// known.
func unsuitableUnknown(f Facts) []Fact {
	list, lacks := reasons(f)
	if len(list) > 0 || slices.ContainsFunc(lacks, func(x Fact) bool { return !x.Ours() }) {
		lacks = append(whichLine(f), lacks...)
	}
	return unique(lacks)
}

// vesicantAccess: row g9. A vesicant that the table only warns of is left to
// the rule on access.
func vesicantAccess(f Facts) []finding.Finding {
	list, _ := vesicant(f)
	if len(list) == 0 || list[0].atMost != finding.NoGate || !throughVein(f) || len(candidates(f)) == 0 || len(whichLine(f)) > 0 {
		return nil
	}
	a := outside(f)[0]
	x := here(a.Place, list[0].says+" through a "+lineName(a), list[0].limit)
	x[0].Standing = list[0].standing
	x[0].Evidence = []string{f.order().Place.Expression}
	return x
}

func vesicantUnknown(f Facts) []Fact {
	_, answer, _ := flagged(f, compendium.Vesicant)
	_, lacks := vesicant(f)
	if answer != compendium.No {
		lacks = append(whichLine(f), lacks...)
	}
	return unique(lacks)
}

// acidBelow and alkalineAbove are the numbers that nursing standards named
// until 2016 (J Assoc Vasc Access 2017;22(1):38). They forbid nothing today:
// the vein is watched.
var acidBelow, alkalineAbove = quantity.Int(5), quantity.Int(9)

// acidity: row h1, the acidity of the drug as its table gives it, which is
// that of the vial.
func acidity(f Facts) []finding.Finding {
	if len(outside(f)) == 0 {
		return nil
	}
	for _, x := range f.drug().About("ph", population(f)) {
		low, high, ok := bandEnds(x.Value.Band)
		if !ok || !low.Less(acidBelow) && !alkalineAbove.Less(high) {
			continue
		}
		shown := notation.Number(low)
		if low.Less(high) {
			shown += " to " + notation.Number(high)
		}
		if x.Condition != "" {
			shown += " (" + x.Condition + ")"
		}
		a := outside(f)[0]
		out := here(a.Place, f.drug().Name+" has a pH of "+shown+" and may run through a "+lineName(a), "the vein watched: outside "+notation.Number(acidBelow)+" to "+notation.Number(alkalineAbove)+" ("+x.Source+")")
		out[0].Standing = x.Standing
		out[0].Evidence = []string{f.order().Place.Expression}
		return out
	}
	return nil
}

func bandEnds(b compendium.Band) (low, high quantity.Number, ok bool) {
	least, most := b.Low.String(), b.High.String()
	if b.Value != "" {
		least, most = b.Value.String(), b.Value.String()
	}
	low, errLow := quantity.ParseNumber(least)
	high, errHigh := quantity.ParseNumber(most)
	return low, high, errLow == nil && errHigh == nil
}

// acidityUnknown: our table gives none, or nobody can tell through which line.
func acidityUnknown(f Facts) []Fact {
	for _, x := range f.drug().About("ph", population(f)) {
		if _, _, ok := bandEnds(x.Value.Band); ok {
			return nil
		}
	}
	return []Fact{TableLimit}
}
