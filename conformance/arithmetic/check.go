package arithmetic

import (
	"math/bits"

	"weir.example/weir/mapping/quantity"
)

// check is one relation over one choice of claims: which claims enter, with
// which power, and how far the product misses 1.
type check struct {
	relation relation
	claims   []int // index into the claim list, one a quantity
	set      uint64
	low      quantity.Number // of the product
	high     quantity.Number
	gap      quantity.Number // 0 when the product can be 1
}

// mostStatements and mostClaims bound the work on an order with absurdly many
// numbers; 64 claims are one machine word. Beyond them nothing is compared
// and the answer says so: leaving some out would pass what they hide.
const (
	mostStatements = 400
	mostClaims     = 64
)

// checks lists every relation all of whose quantities are stated, once for
// each choice of claims, and every pair of claims about one quantity.
func checks(list []claim, rels []relation, rounding slack) []check {
	var byName [nameCount][]int
	var mask uint32
	for i, c := range list {
		byName[c.at] = append(byName[c.at], i)
		mask |= 1 << c.at
	}
	var out []check
	for at, same := range byName {
		for i := range same {
			for _, j := range same[i+1:] {
				out = append(out, pair(list, at, same[i], j))
			}
		}
	}
	for _, r := range rels {
		if r.mask&mask != r.mask {
			continue
		}
		chosen := make([]int, 0, bits.OnesCount32(r.mask))
		var choose func(at int)
		choose = func(at int) {
			for at < nameCount && r.powers[at] == 0 {
				at++
			}
			if at == nameCount {
				out = append(out, product(list, r, chosen, rounding))
				return
			}
			for _, i := range byName[at] {
				chosen = append(chosen, i)
				choose(at + 1)
				chosen = chosen[:len(chosen)-1]
			}
		}
		choose(0)
	}
	return out
}

// pair compares two claims about one quantity: their quotient must be 1.
func pair(list []claim, at, i, j int) check {
	c := check{claims: []int{i, j}, set: 1<<i | 1<<j}
	c.relation.mask = 1 << at
	c.low, c.high = list[i].low.Quo(list[j].high), list[i].high.Quo(list[j].low)
	c.gap = gapOf(c.low, c.high)
	return c
}

func product(list []claim, r relation, chosen []int, rounding slack) check {
	c := check{relation: r, claims: append([]int(nil), chosen...), low: quantity.Int(1), high: quantity.Int(1)}
	for _, i := range chosen {
		c.set |= 1 << i
		c.low, c.high = times(c.low, c.high, list[i], r.powers[list[i].at])
	}
	c.low, c.high = rounding.widen(r, c.low, c.high)
	c.gap = gapOf(c.low, c.high)
	return c
}

// times multiplies an interval by a claim to a power. All values are
// greater than 0, so the ends stay ends.
func times(low, high quantity.Number, c claim, power int8) (quantity.Number, quantity.Number) {
	for ; power > 0; power-- {
		low, high = low.Mul(c.low), high.Mul(c.high)
	}
	for ; power < 0; power++ {
		low, high = low.Quo(c.high), high.Quo(c.low)
	}
	return low, high
}

// gapOf is how far the interval misses 1, beyond all precision: 0.05 means
// that one side is 5 % larger than the other can be.
func gapOf(low, high quantity.Number) quantity.Number {
	one := quantity.Int(1)
	switch {
	case one.Less(low):
		return low.Sub(one)
	case high.Less(one):
		return one.Quo(high).Sub(one)
	}
	return quantity.Number{}
}

// power is the exponent of a claim in the check.
func (c check) power(list []claim, i int) int8 {
	if c.relation.powers == (powers{}) { // a pair
		if c.claims[0] == i {
			return 1
		}
		return -1
	}
	return c.relation.powers[list[i].at]
}

// needs returns the interval of base units that claim i would have to lie in
// for the check to hold, all others as stated.
func (c check) needs(list []claim, i int, rounding slack) (low, high quantity.Number) {
	low, high = quantity.Int(1), quantity.Int(1)
	power := c.power(list, i)
	for _, j := range c.claims {
		if j != i {
			low, high = times(low, high, list[j], c.power(list, j))
		}
	}
	low, high = rounding.widen(c.relation, low, high)
	if power > 0 {
		return quantity.Int(1).Quo(high), quantity.Int(1).Quo(low)
	}
	return low, high
}
