package verification

import (
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// Facts of doses on demand that opioidLimit cannot do without.
const (
	Demand      Fact = "dose on demand and its lockout"
	LimitWindow Fact = "time of the pump's limit"
)

func demandsOpioid(f Facts) bool { return isOpioid(f) && asksDoses(f) }

// limitSet is the limit of the order, else of the pump sheet, with its time.
func limitSet(f Facts) (limit, window *order.Stated) {
	if c := f.order().Controlled; c != nil && c.Limit != nil {
		return c.Limit, c.Window
	}
	l, ok := f.order().Device.Parameter("doseLimit")
	if !ok {
		return nil, nil
	}
	if w, ok := f.order().Device.Parameter("limitWindow"); ok {
		return &l, &w
	}
	return &l, nil
}

// inKind is an amount, or a rate, as the kind of quantity that is wanted: a
// mass is a volume, or the other way round, by the concentration of the
// container.
func inKind(f Facts, q quantity.Quantity, want quantity.Dimension) (quantity.Number, bool) {
	base, d := q.Unit.ToBase(q.High), q.Unit.Dimension()
	if d == want {
		return base, true
	}
	c, ok := f.quantities()["concentration"]
	if !ok || c.Disputed || c.Value.Sign() <= 0 {
		return base, false
	}
	switch per := c.Unit.Dimension(); {
	case d == want.Times(per):
		return base.Quo(c.Unit.ToBase(c.Value)), true
	case want == d.Times(per):
		return base.Mul(c.Unit.ToBase(c.Value)), true
	}
	return base, false
}

// possible is the most that continuous rate and doses on demand give in the
// time of the limit, in the limit's unit. Missing is what keeps it from being
// told.
func possible(f Facts, limit, window *order.Stated) (most quantity.Number, missing Fact) {
	c := f.order().Controlled
	if c == nil || c.Demand == nil || c.Lockout == nil || c.Lockout.Quantity.Low.Sign() <= 0 {
		return most, Demand
	}
	if window == nil || window.Quantity.Low.Sign() <= 0 {
		return most, LimitWindow
	}
	unit := limit.Quantity.Unit
	amount := unit.Dimension()
	each, ok := inKind(f, c.Demand.Quantity, amount)
	if !ok {
		return most, Concentration
	}
	during := window.Quantity.Unit.ToBase(window.Quantity.Low)
	most = each.Mul(during).Quo(c.Lockout.Quantity.Unit.ToBase(c.Lockout.Quantity.Low))
	if c.Basal != nil {
		rate, ok := inKind(f, c.Basal.Quantity, amount.Per(quantity.Time))
		if !ok {
			return most, Concentration
		}
		most = most.Add(rate.Mul(during))
	}
	return unit.FromBase(most), ""
}

// opioidLimit: row q3. Continuous rate + 60 / lockout × dose on demand is no
// more than the limit of the pump, for the time that the limit is set for.
func opioidLimit(f Facts) []finding.Finding {
	limit, window := limitSet(f)
	place := f.order().Place
	c := f.order().Controlled
	if c != nil && c.Place.Expression != "" {
		place = c.Place
	}
	if limit == nil {
		observed := "no limit is set"
		if most, in, ok := hourly(f); ok {
			observed = "up to " + notation.Quantity(most, in) + " in an hour: " + parts(c) + ", and no limit is set"
		}
		return here(place, observed, "a limit on the pump that the prescriber agrees to")
	}
	most, missing := possible(f, limit, window)
	if missing != "" || !limit.Quantity.High.Less(most) {
		return nil
	}
	unit := limit.Quantity.Unit
	span := notation.Quantity(window.Quantity.Low, window.Quantity.Unit)
	x := here(place, "up to "+notation.About(most, unit, 4)+" in "+span+": "+parts(c)+"; the limit is "+notation.Quantity(limit.Quantity.High, unit)+" in "+span,
		"rate, dose and lockout that stay within the limit, or another limit")
	if limit.Place.Expression != "" && limit.Place != place {
		x[0].Evidence = []string{limit.Place.Expression}
	}
	return x
}

// hourly is the most in an hour, in the unit of the dose on demand.
func hourly(f Facts) (quantity.Number, quantity.Unit, bool) {
	c := f.order().Controlled
	if c == nil || c.Demand == nil {
		return quantity.Number{}, quantity.Unit{}, false
	}
	hour := order.Stated{Quantity: quantity.Point(one, quantity.MustUnit("h"))}
	most, missing := possible(f, c.Demand, &hour)
	return most, c.Demand.Quantity.Unit, missing == ""
}

// parts are the numbers the sum is made of.
func parts(c *order.PatientControlled) string {
	out := notation.Quantity(c.Demand.Quantity.High, c.Demand.Quantity.Unit) + " every " + notation.Quantity(c.Lockout.Quantity.Low, c.Lockout.Quantity.Unit)
	if c.Basal != nil {
		out = notation.Quantity(c.Basal.Quantity.High, c.Basal.Quantity.Unit) + " and " + out
	}
	return out
}

// opioidLimitUnknown: what keeps the sum from being compared.
func opioidLimitUnknown(f Facts) []Fact {
	limit, window := limitSet(f)
	if limit == nil {
		return nil
	}
	if _, missing := possible(f, limit, window); missing != "" {
		return []Fact{missing}
	}
	return nil
}
