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
func (p *Plan) prepared(o order.Order, q order.Quantities, c order.Case, d dates) {
	for _, b := range c.Held.Prepared {
		if b.Units <= 0 || !p.ofOrder(b, o, c) {
			continue
		}
		has := compareContents(b.Drug, o.Drug, q)
		switch {
		case has.other != "":
			p.unknown("what prepared lot %s is for: it names this order and %s; it serves no dose", b.Lot, has.other)
		case len(b.Drug.Ingredients) == 0:
			p.say("what prepared lot %s holds is not on record: it is laid on these doses by the order it names, and its label is to be read", b.Lot)
		case has.unread != "":
			p.say("of prepared lot %s it is not on record %s: it is laid on these doses by the order it names, and its label is to be read", b.Lot, has.unread)
		}
		m := Prepared{Lot: b.Lot, Units: b.Units, Completed: p.at(b.Completed, false), drug: b.Drug, storage: b.Storage, other: has.other != "", has: has}
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
	// A lot serves no dose before it was made. Doses since then that are on
	// record, or past, have used its units.
	rest := slices.Clone(p.HomeDoses)
	for i := range p.Prepared {
		m := &p.Prepared[i]
		if m.other {
			continue
		}
		for _, at := range rest {
			if len(m.Doses) < m.Units && !at.Before(m.Completed) {
				m.Doses = append(m.Doses, at)
			}
		}
		m.Spare = m.Units - len(m.Doses)
		if !p.Complete {
			m.Spare = 0
		}
		// A lot that is not dated, because something has no data, is still held
		// to the earliest limit that is known.
		until := m.BeyondUse
		if until.IsZero() && len(m.Use.Starts) > 0 {
			until = m.Use.Starts[0].Until
		}
		m.Until = until
		for _, at := range m.Doses {
			if !until.IsZero() && at.After(until) {
				m.TooLate = append(m.TooLate, at)
			}
		}
		rest = slices.DeleteFunc(rest, func(at time.Time) bool {
			return slices.ContainsFunc(m.Doses, at.Equal) && !slices.ContainsFunc(m.TooLate, at.Equal)
		})
		if len(m.TooLate) > 0 {
			p.say("of %d prepared units %d would start after their beyond-use time, %s, and must be made again", m.Units, len(m.TooLate), notation.Instant(until, ""))
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
