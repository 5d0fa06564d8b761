package plan

import (
	"slices"
	"time"

	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
)

// prepared lays the units already made over the home doses, earliest
// beyond-use first: that wastes least. Beyond-use is the latest start of
// administration (USP <797> 2023, restated in public rules), so a dose that
// starts exactly then is in time. It is the earliest of what stands on the
// units and of every limit that is known; a date alone ends where that day
// begins.
func (p *Plan) prepared(o order.Order, c order.Case, d dates) {
	for _, b := range c.Held.Prepared {
		if b.Units <= 0 || !p.ofOrder(b, o, c) {
			continue
		}
		m := Prepared{Lot: b.Lot, Units: b.Units, Completed: p.at(b.Completed, false), drug: b.Drug, storage: b.Storage}
		own := d
		own.keep = keptAs(b.Drug, d.keep)
		own.keep.Storage = b.Storage
		if b.Category != "" {
			own.Sterility.Category = b.Category
		}
		m.Use = p.use(own, m.Completed, p.at(b.BeyondUse, false))
		m.Use.Lot, m.BeyondUse = b.Lot, m.Use.StartBefore
		p.Prepared = append(p.Prepared, m)
	}
	slices.SortStableFunc(p.Prepared, func(a, b Prepared) int {
		switch {
		case a.BeyondUse.IsZero() == b.BeyondUse.IsZero():
			return a.BeyondUse.Compare(b.BeyondUse)
		case a.BeyondUse.IsZero():
			return 1
		}
		return -1
	})
	rest := p.HomeDoses
	for i := range p.Prepared {
		m := &p.Prepared[i]
		n := min(m.Units, len(rest))
		m.Doses, m.Spare = rest[:n:n], m.Units-n
		if !p.Complete {
			m.Spare = 0
		}
		for _, at := range m.Doses {
			if !m.BeyondUse.IsZero() && at.After(m.BeyondUse) {
				m.TooLate = append(m.TooLate, at)
			}
		}
		rest = rest[n-len(m.TooLate):]
		if len(m.TooLate) > 0 {
			p.say("of %d prepared units %d would start after their beyond-use time, %s, and must be made again", m.Units, len(m.TooLate), notation.Instant(m.BeyondUse, ""))
		}
	}
}

// ofOrder: the batch names this order; or it names none of the case and is of
// its drug, since units left out would look as if nothing had been made.
func (p *Plan) ofOrder(b order.Batch, o order.Order, c order.Case) bool {
	named := func(x order.Order) bool {
		return b.OrderRef != "" && (b.OrderRef == x.Ref.URL || b.OrderRef == x.Key || b.OrderRef == x.Place.Expression)
	}
	if named(o) {
		return true
	}
	if slices.ContainsFunc(c.Orders, named) || slices.ContainsFunc(c.Related, named) {
		return false
	}
	return sameDrug(b.Drug.Concept, o.Drug) || b.Drug.Name != "" && b.Drug.Name == o.Drug.Name
}

// usable is the beyond-use instant of the units that serve a dose, and
// whether prepared units reach it in time.
func (p *Plan) usable(dose time.Time) (time.Time, bool) {
	for _, m := range p.Prepared {
		if slices.ContainsFunc(m.Doses, dose.Equal) && !slices.ContainsFunc(m.TooLate, dose.Equal) {
			return m.BeyondUse, true
		}
	}
	return time.Time{}, false
}

// tooLate: a prepared unit was meant for the dose and may no longer be used.
func (p *Plan) tooLate(dose time.Time) bool {
	return slices.ContainsFunc(p.Prepared, func(m Prepared) bool { return slices.ContainsFunc(m.TooLate, dose.Equal) })
}
