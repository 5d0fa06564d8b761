package arithmetic

import (
	"slices"

	"weir.example/weir/mapping/quantity"
)

// band is a usual range in base units; known is false where nothing is known.
type band struct {
	low, high quantity.Number
	known     bool
}

// expected are the usual ranges of all quantities: those of the drug's table,
// and those that follow from them. A table with a dose and a time says how
// much drug an hour may bring, though it has no row for it.
type expected [nameCount]band

// expect works the ranges out. What the table states always stands.
func (u Usual) expect(rels []relation) *expected {
	e := new(expected)
	if len(u.Ranges) == 0 && u.Weight.Absent() {
		return e
	}
	for name, q := range u.Ranges {
		if at := indexOf(name); at >= 0 {
			low, high := q.Base()
			e[at] = band{low, high, low.Sign() > 0}
		}
	}
	if !u.Weight.Absent() {
		low, high := u.Weight.Base()
		e[dosingWeight] = band{low, high, low.Sign() > 0}
	}
	for range 2 { // from the table, then from what followed
		next := *e
		for _, r := range rels {
			if r.size() > 3 {
				break // sorted by size
			}
			for at := range nameCount {
				if r.powers[at] == 0 || e[at].known {
					continue
				}
				if b, ok := through((*[nameCount]band)(e), r, at); ok {
					next[at] = next[at].meet(b)
				}
			}
		}
		*e = next
	}
	return e
}

// through is the range a relation gives one of its members, when those of
// all others are known.
func through(known *[nameCount]band, r relation, at int) (band, bool) {
	b := band{quantity.Int(1), quantity.Int(1), true}
	for other := range nameCount {
		switch o := &known[other]; {
		case r.powers[other] == 0 || other == at:
		case !o.known:
			return band{}, false
		case r.powers[other] == r.powers[at]:
			b.low, b.high = b.low.Quo(o.high), b.high.Quo(o.low)
		default:
			b.low, b.high = b.low.Mul(o.low), b.high.Mul(o.high)
		}
	}
	return b, true
}

// meet keeps what two ranges share, or the first when they share nothing.
func (b band) meet(o band) band {
	if !b.known {
		return o
	}
	low, high := quantity.Greatest(b.low, o.low), quantity.Least(b.high, o.high)
	if high.Less(low) {
		return b
	}
	return band{low, high, true}
}

// view is what an order looks like once one explanation is believed: a value
// for each quantity, stated, corrected or implied.
type view struct {
	has    [nameCount]band
	stated [nameCount]bool
}

// implication is a quantity nobody states and the shortest relation that
// gives it.
type implication struct {
	at int
	by relation
}

// implications are the quantities with a usual range that follow from what
// is stated: a dose ten times smaller in the same bag is a concentration ten
// times smaller, which the drug's table may know.
func (e *expected) implications(list []claim, rels []relation) []implication {
	var mask uint32
	for _, c := range list {
		mask |= 1 << c.at
	}
	var out []implication
	for _, r := range rels {
		if r.size() > 3 {
			break // sorted by size
		}
		lacks := r.mask &^ mask
		if lacks == 0 || lacks&(lacks-1) != 0 {
			continue
		}
		if at := trailing(lacks); e[at].known {
			mask |= lacks
			out = append(out, implication{at, r})
		}
	}
	return out
}

// seen is the order without the claims withdrawn, the first of which would
// lie between low and high.
func seen(list []claim, x explanation, implied []implication) *view {
	v := new(view)
	for i := range list {
		c := &list[i]
		if v.has[c.at].known || x.withdraws(i) {
			continue
		}
		v.has[c.at], v.stated[c.at] = band{c.value(), c.value(), true}, true
	}
	if at := list[x.claims[0]].at; !v.has[at].known {
		v.has[at], v.stated[at] = band{x.low, x.high, true}, true
	}
	for _, f := range implied {
		if b, ok := through(&v.has, f.by, f.at); ok {
			v.has[f.at] = b
		}
	}
	return v
}

func (x explanation) withdraws(i int) bool {
	return slices.Contains(x.claims, i)
}

// fits scores a view: by the drug's table, or as if that table were not this
// order's, whichever says more; and by what is customary, of the kinds of
// order it may be the one that fits best.
func (e *expected) fits(v *view, kinds []*general) int {
	best := e.fitsKind(v, kinds[0])
	for _, g := range kinds[1:] {
		best = max(best, e.fitsKind(v, g))
	}
	return best
}

func (e *expected) fitsKind(v *view, g *general) int {
	right, wrong, near := 0, tableWrong, 0
	for at := range nameCount {
		b := &v.has[at]
		if !b.known {
			continue
		}
		custom := 0
		if v.stated[at] {
			custom = g[at].outside(b.low, b.high)
			near += g[at].near(b.low, b.high)
		}
		wrong += custom
		if !e[at].known {
			right += custom
			continue
		}
		by := beyond(b.low, b.high, e[at].low, e[at].high, tableStep, tableSlope, tableFloor)
		right += by
		if by == 0 && v.stated[at] {
			wrong += insideSpeak
		}
	}
	return max(right, wrong) + near
}
