package arithmetic

import (
	"cmp"
	"slices"

	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// claim is one value of one quantity with everybody who states it. Words
// that repeat a coded number are the same claim: a copy is no second vote.
type claim struct {
	at        int // place in Names
	stated    []order.Stated
	low, high quantity.Number // base units
	written   quantity.Number // as written, base units
}

// first is the statement whose source is trusted most.
func (c *claim) first() *order.Stated { return &c.stated[0] }

// value is the number as stated, in base units.
func (c *claim) value() quantity.Number { return c.written }

var trust = map[order.Witness]int{order.Given: 0, order.Coded: 1, order.Device: 2, order.PumpSheet: 2, order.Record: 3,
	order.Text: 4, order.Computed: 5}

// claims groups the statements of the network's quantities by value. The
// order of the input never matters: statements are sorted by quantity, then
// by how far their source is trusted, then by place.
func claims(stated []order.Stated) []claim {
	list := slices.Clone(stated)
	list = slices.DeleteFunc(list, func(s order.Stated) bool {
		low, _ := s.Quantity.Base()
		return indexOf(s.Name) < 0 || s.Quantity.Absent() || low.Sign() <= 0
	})
	slices.SortStableFunc(list, func(a, b order.Stated) int {
		if c := cmp.Compare(indexOf(a.Name), indexOf(b.Name)); c != 0 || a.Name != b.Name {
			return c
		}
		return cmp.Or(
			cmp.Compare(trust[a.Witness], trust[b.Witness]),
			cmp.Compare(a.Place.Expression, b.Place.Expression),
			cmp.Compare(a.Place.Span[0], b.Place.Span[0]),
			a.Quantity.Low.Cmp(b.Quantity.Low))
	})
	var out []claim
	weighed := slices.ContainsFunc(list, func(s order.Stated) bool { return s.Name == "dosingWeight" && s.Witness != order.Record })
	for i := range list {
		s := &list[i]
		at := indexOf(s.Name)
		low, high := intervalOf(*s, at)
		if at == dosingWeight && s.Witness == order.Record && weighed {
			low, high = low.Mul(quantity.Int(1).Sub(earlierWeight)), high.Mul(quantity.Int(1).Add(earlierWeight))
		}
		value := s.Quantity.Unit.ToBase(s.Quantity.Middle())
		same := slices.IndexFunc(out, func(c claim) bool {
			if c.at != at {
				return false
			}
			inside := !value.Less(c.low) && !c.high.Less(value)
			around := !c.value().Less(low) && !high.Less(c.value())
			return inside && around
		})
		if same >= 0 {
			out[same].stated = append(out[same].stated, *s)
			continue
		}
		out = append(out, claim{at: at, stated: list[i : i+1 : i+1], low: low, high: high, written: value})
	}
	return out
}
