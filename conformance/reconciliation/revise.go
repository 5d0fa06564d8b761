package reconciliation

import (
	"slices"
	"time"

	"weir.example/weir/mapping/fulfillment"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/plan"
	"weir.example/weir/mapping/quantity"
)

// revise asks what the changed plan means for units made and for what was
// booked, as far as both are on record. Without records of units there is
// nothing to move that the rules do not ask for themselves.
func (p *pair) revise() (moves, told []plan.Move, tasks []fulfillment.Task) {
	told = p.held.Told
	if p.was == nil || p.now == nil || p.was.sheet == nil || p.now.sheet == nil || !p.inForce() || len(p.held.Records) == 0 && len(p.held.Bookings) == 0 {
		return nil, told, nil
	}
	old, next := p.planOf(p.was), p.planOf(p.now)
	if len(old.HomeDoses) == 0 || samePlan(old, next) && p.was.order.Version == p.now.order.Version && len(told) == 0 {
		return nil, told, nil
	}
	old.Basis.Told = told
	revised, moves := plan.Revise(old, p.held.Records, next)
	for _, m := range moves {
		if t, ok := fulfillment.Asked(m.Task(), m.Due, m.Why); ok {
			tasks = append(tasks, t)
		}
	}
	return moves, revised.Basis.Told, tasks
}

// planOf is the plan of a version as re-planning reads it.
func (p *pair) planOf(v *version) plan.Plan {
	c, d := courseOf(v), p.night.Reference.Policy.Delivery
	x := plan.Plan{Zone: c.zone, Complete: c.complete, HomeDoses: c.doses, Deliveries: c.deliveries, FirstHomeDose: c.firstDose, Interval: c.interval,
		Replacement: standsIn(v, "schedule-replacement-start"), EndsAt: instant(v.sheet.Schedule.EndsAt)}
	kase := p.before.Case
	if v == p.now {
		kase = p.after.Case
	}
	if d := discharge(kase); d != nil {
		x.Discharge = p.local(c.place(d.At, false))
	}
	x.HomeDoses, x.Deliveries = slices.Clone(x.HomeDoses), slices.Clone(x.Deliveries)
	for i := range x.HomeDoses {
		x.HomeDoses[i] = p.local(x.HomeDoses[i])
	}
	if n := len(x.HomeDoses); n > 0 {
		x.LastDose = x.HomeDoses[n-1]
	}
	for i := range x.Deliveries {
		x.Deliveries[i].Arrival = p.local(x.Deliveries[i].Arrival)
		x.Deliveries[i].Past = x.Deliveries[i].Arrival.Before(p.night.Now)
	}
	x.Basis = plan.Basis{Now: p.night.Now, Order: p.key + "#" + v.order.Version, Unit: p.unitOf(v), VisitBefore: time.Duration(d.VisitBefore),
		Lead: time.Duration(d.WarmUp) + time.Duration(d.Teach)}
	if p.held.Bookings != nil {
		x.Basis.Bookings = p.held.Bookings
		if v == p.now {
			x.Basis.Bookings = x.Rebook(p.held.Bookings)
		}
	}
	return x
}

// unitOf is what a unit of the version must be. Parts that records of made
// units carry by themselves are taken from them where the numbers agree, so
// that a unit is not unread for the words of its label.
func (p *pair) unitOf(v *version) plan.UnitKey {
	for _, e := range p.held.Records {
		if e.Kind != plan.Made {
			continue
		}
		q := &pair{key: p.key, now: v, night: p.night}
		if other, _ := q.contents(lot{name: e.Lot, unit: e.Unit}); other == "" && e.Unit.Drug != "" {
			return e.Unit
		}
	}
	k := plan.UnitKey{Drug: drugName(v.order), Diluent: fluids(v.order.Drug), Device: v.order.Device.Kind, Label: v.order.Version}
	if q, ok := v.numbers()["dose"]; ok && !q.Disputed {
		k.Strength = pointOf(q)
	}
	if q, ok := v.numbers()["volume"]; ok && !q.Disputed {
		k.Volume = pointOf(q)
	}
	return k
}

func samePlan(a, b plan.Plan) bool {
	if len(a.HomeDoses) != len(b.HomeDoses) || len(a.Deliveries) != len(b.Deliveries) {
		return false
	}
	for i := range a.HomeDoses {
		if !a.HomeDoses[i].Equal(b.HomeDoses[i]) {
			return false
		}
	}
	for i := range a.Deliveries {
		if !a.Deliveries[i].Arrival.Equal(b.Deliveries[i].Arrival) || a.Deliveries[i].Units != b.Deliveries[i].Units {
			return false
		}
	}
	return true
}

func pointOf(q order.Quantity) quantity.Quantity { return quantity.Point(q.Value, q.Unit) }
