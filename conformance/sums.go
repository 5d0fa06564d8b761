package conformance

import (
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// sums works out what the steps of a stepped infusion add up to: a sum is no
// product, so it enters the comparison as one more statement, beside what the
// order says of the whole.
func (s *state) sums() {
	steps := s.order.Steps
	if len(steps) < 2 {
		return
	}
	volume, time := quantity.Number{}, quantity.Number{}
	var uses []string
	for _, x := range steps {
		if x.Duration == nil || x.Duration.Quantity.Absent() || x.Rate == nil {
			return // the last step may run until the container is empty: nothing to add up
		}
		hours := x.Duration.Quantity.Unit.ToBase(x.Duration.Quantity.Middle())
		volume = volume.Add(x.Rate.Quantity.Unit.ToBase(x.Rate.Quantity.Middle()).Mul(hours))
		time = time.Add(hours)
		uses = append(uses, x.Rate.Place.Expression, x.Duration.Place.Expression)
	}
	sum := func(name string, base quantity.Number, unit quantity.Unit) order.Stated {
		low, high := base.Mul(quantity.Ratio(99, 100)), base.Mul(quantity.Ratio(101, 100)) // rates of pumps are rounded
		return order.Stated{Name: name, Quantity: quantity.Range(unit.FromBase(low), unit.FromBase(high), unit), Place: steps[0].Place, Witness: order.Computed,
			Uses: uses, Label: "sum of the steps"}
	}
	s.order.Stated = append(s.order.Stated, sum("volume", volume, millilitre), sum("duration", time, quantity.MustUnit("h")))
}

// topStep is the highest rate among the steps, absent when there are none.
func (s *state) topStep() quantity.Quantity {
	var top quantity.Quantity
	if len(s.order.Steps) < 2 {
		return top
	}
	for _, x := range s.order.Steps {
		if x.Rate == nil || x.Rate.Quantity.Absent() {
			continue
		}
		_, high := x.Rate.Quantity.Base()
		if _, most := top.Base(); top.Absent() || most.Less(high) {
			top = x.Rate.Quantity
		}
	}
	return top
}
