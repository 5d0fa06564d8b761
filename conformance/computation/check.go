package computation

import (
	"fmt"
	"slices"
	"strings"

	"weir.example/weir/conformance/arithmetic"
	"weir.example/weir/conformance/equation"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/quantity"
)

// checks compares every number that was given with what an equation outside
// the network makes of the others.
func (c *run) checks() []arithmetic.Conflict {
	var out []arithmetic.Conflict
	var seen [][]string // one disagreement about the same numbers is said once
	for _, e := range c.active {
		stated, ok := c.known[e.Output]
		if !ok || stated.stated == nil || c.restsOn(e, e.Output) || slices.ContainsFunc(steppedRates, func(n string) bool { return n == e.Output && len(c.steps) > 1 }) {
			continue
		}
		worked, ok := c.solve(e)
		if !ok || worked.value.Sign() == 0 {
			continue
		}
		if e.Output == "osmolarity" && worked.value.Less(stated.value) && strings.HasPrefix(e.Code, "E22") {
			continue // one solute is a lower bound: the bag's own fluid adds to it
		}
		x, ok := c.compare(e, stated, worked)
		about := slices.Compact(slices.Sorted(slices.Values(x.Names)))
		if !ok || slices.ContainsFunc(seen, func(s []string) bool { return slices.Equal(s, about) }) {
			continue
		}
		out, seen = append(out, x), append(seen, about)
	}
	return out
}

func (c *run) compare(e equation.Equation, stated, worked known) (arithmetic.Conflict, bool) {
	gap := quantity.Number{}
	one := quantity.Int(1)
	switch {
	case worked.high.Less(stated.low) && worked.high.Sign() > 0:
		gap = stated.low.Quo(worked.high).Sub(one)
	case stated.high.Less(worked.low) && stated.high.Sign() > 0:
		gap = worked.low.Quo(stated.high).Sub(one)
	default:
		return arithmetic.Conflict{}, false
	}
	unit := stated.unit
	show := func(n quantity.Number) string { return notation.Code(short(unit.FromBase(n)), unit.Code()) }
	x := arithmetic.Conflict{Kind: arithmetic.Products, Gap: gap, Ratio: stated.value.Quo(worked.value), Formula: e.Formula,
		Shown: fmt.Sprintf("%s, stated as %s", c.fill(e)+" = "+show(worked.value), show(stated.value)), Names: append([]string{e.Output}, c.uses(e)...)}
	for _, name := range x.Names {
		if k, ok := c.known[name]; ok && k.stated != nil {
			x.Places = append(x.Places, place(name))
		}
	}
	x.Culprits = c.culprits(e, stated, worked)
	return x, true
}

// culprits are the number itself and every stated input, each with the value
// that would agree. One equation alone never names one of them.
func (c *run) culprits(e equation.Equation, stated, worked known) []finding.Culprit {
	list := []finding.Culprit{c.culprit(e.Output, stated, worked.value)}
	for _, name := range c.uses(e) {
		k, ok := c.known[name]
		if !ok || k.stated == nil || e.Counts { // the edge of a count is no value that agrees
			continue
		}
		if needed, ok := c.invert(e, name, stated.value); ok {
			list = append(list, c.culprit(name, k, needed))
		}
	}
	slices.SortStableFunc(list, func(a, b finding.Culprit) int { return signed(b) - signed(a) })
	return list
}

func signed(k finding.Culprit) int {
	if k.Signature == arithmetic.NoSignature {
		return 0
	}
	return 1
}

func (c *run) culprit(name string, k known, needed quantity.Number) finding.Culprit {
	unit, agrees := k.unit, k.unit.FromBase(needed).Significant(4)
	return finding.Culprit{Name: name, Unit: unit.Code(), Stated: unit.FromBase(k.value).Decimal(), Consistent: agrees,
		Signature: arithmetic.Factor(name, k.value.Quo(needed)), Expression: name,
		Sentence: fmt.Sprintf("If the %s %s is wrong, the one that agrees is %s.", notation.Name(name),
			notation.Code(short(unit.FromBase(k.value)), unit.Code()), notation.Code(agrees, unit.Code()))}
}

// invert finds the value of one input that makes the equation give what was
// stated, to six digits, by halving: an equation that does not count
// is monotone. It looks
// from a thousandth to a thousand times the value given.
func (c *run) invert(e equation.Equation, name string, target quantity.Number) (quantity.Number, bool) {
	values := equation.Values{By: map[string]equation.Value{}}
	for _, n := range c.uses(e) {
		if w, ok := c.words[n]; ok {
			values.By[n] = equation.Value{Word: w.Word, Time: w.Time, DateOnly: w.DateOnly}
		} else {
			values.By[n] = equation.Value{Number: c.known[n].value, Unit: c.known[n].unit}
		}
	}
	at := func(n quantity.Number) (int, bool) {
		v := values.By[name]
		v.Number = n
		values.By[name] = v
		b, err := e.Solve(values)
		return b.Low.Cmp(target), err == nil
	}
	start := c.known[name].value
	low, high := start.Quo(quantity.Int(1000)), start.Mul(quantity.Int(1000))
	atStart, ok := at(start)
	if !ok || atStart == 0 {
		return start, false
	}
	// Towards which side the target lies is found by trying both.
	for _, end := range []quantity.Number{high, low} {
		near, far := start, end
		if side, ok := at(far); !ok || side == atStart {
			continue
		}
		for range 40 {
			middle := near.Add(far).Quo(quantity.Int(2)).RoundDigits(12)
			side, ok := at(middle)
			if !ok {
				return start, false
			}
			if side == atStart {
				near = middle
			} else {
				far = middle
			}
		}
		return far.RoundDigits(6), true
	}
	return start, false
}
