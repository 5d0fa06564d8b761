package r4

import (
	"slices"

	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/worksheet"
)

// disputes are the NAMEs that nothing may be dispensed on: those in a
// disagreement, and those a blocking or holding finding gives as its cause.
// Once one cause is named, the others are not doubted.
func disputes(w worksheet.Worksheet) map[string]bool {
	out := map[string]bool{}
	for name, q := range w.Refs.Numbers {
		out[name] = out[name] || q.Disputed
	}
	for name, q := range w.Quantities {
		out[name] = out[name] || q.Disputed
	}
	for _, f := range w.Findings {
		if finding.Gate(f.Gate).Weight() < finding.Hold.Weight() {
			continue
		}
		for _, c := range f.Culprits {
			out[c.Name] = true
			for _, n := range c.With {
				out[n] = true
			}
			if c.Named {
				break
			}
		}
	}
	return out
}

func (b *bundler) disputed(names ...string) bool {
	return slices.ContainsFunc(names, func(n string) bool { return b.disputes[n] })
}

// found reports whether a finding of one of these codes blocks or holds.
func (b *bundler) found(codes ...string) bool {
	return slices.ContainsFunc(b.w.Findings, func(f worksheet.Finding) bool {
		return slices.Contains(codes, f.Code) && finding.Gate(f.Gate).Weight() >= finding.Hold.Weight()
	})
}

// settled is a number that is not in dispute.
func (b *bundler) settled(name string) (order.Quantity, bool) {
	q, ok := b.w.Refs.Numbers[name]
	return q, ok && !b.disputes[name] && !q.Unit.IsZero()
}

// interval is the settled number as an interval. Only a range the order
// itself wrote is wider than a point: how exactly a number was printed is no
// range to dose within, and the middle of a range is nobody's dose.
func (b *bundler) interval(name string) (quantity.Quantity, bool) {
	q, ok := b.settled(name)
	if !ok {
		return quantity.Quantity{}, false
	}
	for _, s := range b.w.Refs.Source.Stated {
		if s.Name == name && s.Witness == order.Coded && !s.Quantity.IsPoint() {
			return s.Quantity, true
		}
	}
	return quantity.Point(q.Value, q.Unit), true
}

// inWords writes an interval for people: "2 g", "1 g to 2 g".
func inWords(q quantity.Quantity) string {
	if q.IsPoint() {
		return notation.About(q.Low, q.Unit, 5)
	}
	return notation.Quantity(q.Low, q.Unit) + " to " + notation.Quantity(q.High, q.Unit)
}

// fittingRate is volume over infusion time: the rate at which the container
// is empty when it should be.
func (b *bundler) fittingRate() (quantity.Quantity, bool) {
	v, okV := b.settled("volume")
	t, okT := b.settled("duration")
	if !okV || !okT || t.Value.Sign() <= 0 {
		return quantity.Quantity{}, false
	}
	return quantity.Point(rateUnit.FromBase(v.Unit.ToBase(v.Value).Quo(t.Unit.ToBase(t.Value))), rateUnit), true
}

var rateUnit = quantity.MustUnit("mL/h")
