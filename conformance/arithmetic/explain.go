package arithmetic

import (
	"cmp"
	"math/bits"
	"slices"

	"weir.example/weir/mapping/quantity"
)

// explanation is one smallest set of claims which, withdrawn, lets the rest
// agree, with the interval the first of them would have to lie in.
type explanation struct {
	claims    []int
	low, high quantity.Number
	nominal   quantity.Number // the value the shortest violated relation asks for
	by        check           // that relation
	slip      slip
	score     int
	bare      int  // the score without what is customary for a drug by mass
	carried   bool // the first claim, and all that was worked out from it, as one fault
}

// violated returns the checks that fail, without those whose gap is under a
// fifth of the largest: a small rounding conflict beside a tenfold slip
// would otherwise acquit the culprit.
func violated(all []check) []check {
	largest := quantity.Number{}
	for _, c := range all {
		largest = quantity.Greatest(largest, c.gap)
	}
	if largest.Sign() == 0 {
		return nil
	}
	least := largest.Quo(quantity.Int(5))
	var out []check
	for _, c := range all {
		if c.gap.Sign() > 0 && !c.gap.Less(least) {
			out = append(out, c)
		}
	}
	return out
}

// explain lists the explanations of the failed checks, best first.
func explain(list []claim, all, failed []check, u Usual, rounding slack) []explanation {
	common := ^uint64(0)
	for _, c := range failed {
		common &= c.set
	}
	var out []explanation
	for i := range list {
		if common&(1<<i) == 0 {
			continue
		}
		if e, ok := single(list, all, failed, i, 0, rounding); ok {
			out = append(out, e)
		}
	}
	if len(out) == 0 {
		out = pairs(list, all, failed, rounding)
	}
	carried := carriedSlips(list, all, failed, rounding)
	out = append(out, carried...)
	perDay, course := factors(list)
	usual := u.expect(relationsFor(u))
	custom, withoutMass := u.customary(list, true), u.customary(list, false)
	implied := usual.implications(list, relationsFor(u))
	for k := range out {
		e := &out[k]
		c := list[e.claims[0]]
		unit := c.first().Quantity.Unit
		e.slip = slipOf(c, e.low, e.high, e.nominal, printedNumbers(list, e.claims, u), perDay, course, u)
		marks := e.slip.score + plain(c.at, e.low, e.high, unit) - plain(c.at, c.value(), c.value(), unit)
		if e.carried {
			marks += carriedOn
		} else {
			marks += secondFault * (len(e.claims) - 1)
		}
		view := seen(list, *e, implied)
		e.score, e.bare = marks+usual.fits(view, custom), marks+usual.fits(view, withoutMass)
	}
	slices.SortStableFunc(out, func(a, b explanation) int {
		return cmp.Or(cmp.Compare(b.score, a.score), slices.Compare(a.claims, b.claims))
	})
	return out
}

// single works out what claim i would have to be, every other claim outside
// without standing as stated. It fails when no value lets all its relations
// hold within 2 %.
func single(list []claim, all, failed []check, i int, without uint64, rounding slack) (explanation, bool) {
	e := explanation{claims: []int{i}}
	first := true
	for _, c := range all {
		if c.set&(1<<i) == 0 || c.set&without != 0 {
			continue
		}
		low, high := c.needs(list, i, rounding)
		if first {
			e.low, e.high, first = low, high, false
		} else {
			e.low, e.high = quantity.Greatest(e.low, low), quantity.Least(e.high, high)
		}
	}
	slack := quantity.Ratio(102, 100)
	if first || e.high.Mul(slack).Less(e.low) {
		return e, false
	}
	if e.high.Less(e.low) {
		e.low, e.high = e.high, e.low
	}
	e.by = shortest(list, failed, i, without)
	e.nominal = nominal(list, e.by, i)
	return e, true
}

// shortest is the failed relation with the fewest members that holds i;
// between equals, the one whose members are coded and not words or worked
// out.
func shortest(list []claim, failed []check, i int, without uint64) check {
	var best check
	least := 0
	for _, c := range failed {
		if c.set&(1<<i) == 0 || c.set&without != 0 {
			continue
		}
		cost := 100 * bits.OnesCount64(c.set)
		for _, j := range c.claims {
			cost += trust[list[j].first().Witness] + ratioCost[list[j].at]
		}
		if best.set == 0 || cost < least {
			best, least = c, cost
		}
	}
	return best
}

// ratioCost: a number that is itself a quotient of two others (a strength)
// carries their rounding; a measured volume or time is the better witness.
var ratioCost = map[int]int{concentration: 1, drugRate: 1, drugRatePerKg: 1, bodySurfaceArea: 2}

// nominal is the value that makes the relation hold with every other number
// exactly as written.
func nominal(list []claim, c check, i int) quantity.Number {
	product := quantity.Int(1)
	for _, j := range c.claims {
		if j == i {
			continue
		}
		if c.power(list, j) == c.power(list, i) {
			product = product.Quo(list[j].value())
		} else {
			product = product.Mul(list[j].value())
		}
	}
	return product
}

// pairs lists two-claim explanations: at least two numbers are wrong.
func pairs(list []claim, all, failed []check, rounding slack) []explanation {
	var out []explanation
	for i := range list {
		for j := range list {
			if i == j || !slices.ContainsFunc(failed, func(c check) bool { return c.set&(1<<i) != 0 && c.set&(1<<j) == 0 }) {
				continue
			}
			hits := uint64(1<<i | 1<<j)
			if slices.ContainsFunc(failed, func(c check) bool { return c.set&hits == 0 }) {
				continue
			}
			if e, ok := single(list, all, failed, i, 1<<j, rounding); ok && e.by.set != 0 {
				e.claims = []int{i, j}
				out = append(out, e)
			}
		}
	}
	return out
}

// factors are the doses per day and the doses in the course as stated, 0
// where nobody states them.
func factors(list []claim) (perDay, course quantity.Number) {
	day := quantity.Int(86400)
	for _, c := range list {
		switch c.at {
		case dosesPerDay:
			perDay = c.value().Mul(day)
		case interval:
			if perDay.Sign() == 0 {
				perDay = day.Quo(c.value())
			}
		case doseCount:
			course = c.value()
		}
	}
	for _, c := range list {
		if c.at == courseLength && course.Sign() == 0 {
			course = c.value().Quo(day).Mul(quantity.Greatest(perDay, quantity.Int(1)))
		}
	}
	return perDay, course
}

// printedNumbers are the values of all other quantities, stated or following
// from what is stated without the withdrawn claims.
func printedNumbers(list []claim, without []int, u Usual) []number {
	rest := make([]claim, 0, len(list))
	var mask uint32
	for i, c := range list {
		if !slices.Contains(without, i) {
			rest = append(rest, c)
			mask |= 1 << c.at
		}
	}
	out := make([]number, 0, nameCount)
	for _, c := range rest {
		out = append(out, number{c.at, c.value()})
	}
	firsts, rels := firstOfEach(rest), relationsFor(u)
	for at := range nameCount {
		if mask&(1<<at) == 0 {
			if v, _, ok := derive(firsts, rels, at, mask); ok {
				out = append(out, number{at, v})
			}
		}
	}
	return out
}

func relationsFor(u Usual) []relation {
	if u.Continuous {
		return continuous()
	}
	return pausing()
}

// derive works out a quantity nobody stated from the shortest relation whose
// other quantities are all stated; firsts holds one claim of each.
func derive(firsts []claim, rels []relation, at int, mask uint32) (value quantity.Number, by relation, ok bool) {
	for _, r := range rels { // sorted by size
		if r.powers[at] == 0 || r.mask&^(1<<at)&^mask != 0 {
			continue
		}
		value = quantity.Int(1)
		for k := range firsts {
			c := &firsts[k]
			switch p := r.powers[c.at]; {
			case p == 0 || c.at == at:
			case p == r.powers[at]:
				value = value.Quo(c.value())
			default:
				value = value.Mul(c.value())
			}
		}
		return value, r, true
	}
	return quantity.Number{}, relation{}, false
}

// firstOfEach is the most trusted claim of each quantity.
func firstOfEach(list []claim) []claim {
	out := make([]claim, 0, len(list))
	for i, c := range list {
		if i == 0 || list[i-1].at != c.at {
			out = append(out, c)
		}
	}
	return out
}
