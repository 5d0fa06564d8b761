package conformance

import (
	"slices"

	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// apart keeps the rate of a nutrition cycle out of the relations of one
// constant rate: with tapers, or with steps of which it is the fastest, it is
// the plateau, and the mean is less. The rule about cycles compares it with
// the container. Two rates that differ stay in, so that they are found, and so
// does one that no taper explains.
func (s *state) apart() (constant []order.Stated, plateau *order.Quantity) {
	if !s.drugKnown || !s.drug.Is("nutrition") {
		return s.order.Stated, nil
	}
	isRate := func(x order.Stated) bool { return x.Name == "rate" && !x.Quantity.Absent() }
	i := slices.IndexFunc(s.order.Stated, isRate)
	if i < 0 {
		return s.order.Stated, nil
	}
	first := s.order.Stated[i]
	low, high := first.Quantity.Base()
	if slices.ContainsFunc(s.order.Stated, func(x order.Stated) bool {
		l, h := x.Quantity.Base()
		return isRate(x) && (x.Quantity.Unit.Dimension() != first.Quantity.Unit.Dimension() || !l.Equal(low) || !h.Equal(high))
	}) {
		return s.order.Stated, nil
	}
	tapers := slices.ContainsFunc(s.order.Readings, func(r order.Reading) bool { return r.Field == "taper" })
	if top := s.topStep(); !tapers && !top.Absent() {
		_, most := top.Base()
		tapers = most.Equal(high)
	}
	if !tapers || !s.mayTaper(first) {
		return s.order.Stated, nil
	}
	q := first.Quantity
	return slices.DeleteFunc(slices.Clone(s.order.Stated), isRate),
		&order.Quantity{Value: q.High, Low: q.Low, High: q.High, Unit: q.Unit, Stated: true, Literal: first.Literal, Place: first.Place}
}

// mayTaper: rate and time give between half and twice what the container
// holds. The mean of a cycle whose rate rises and falls evenly is at least half
// of its plateau, as ramps take no more than the whole time.
func (s *state) mayTaper(rate order.Stated) bool {
	base := map[string]quantity.Number{}
	for _, x := range s.order.Stated {
		if _, seen := base[x.Name]; !seen && !x.Quantity.Absent() {
			base[x.Name] = x.Quantity.Unit.ToBase(x.Quantity.Middle())
		}
	}
	volume, duration := base["volume"], base["duration"]
	if volume.Sign() <= 0 || duration.Sign() <= 0 || rate.Quantity.Unit.Dimension() != quantity.Volume.Per(quantity.Time) {
		return false
	}
	gives, two := rate.Quantity.Unit.ToBase(rate.Quantity.Middle()).Mul(duration), quantity.Int(2)
	return !gives.Mul(two).Less(volume) && !volume.Mul(two).Less(gives)
}
