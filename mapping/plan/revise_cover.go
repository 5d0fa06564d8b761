package plan

import (
	"cmp"
	"fmt"
	"slices"
	"time"
)

// source is the units of one lot in one place, and what they are good for. On
// the way it is one for each delivery.
type source struct {
	stock   *Stock
	place   EventPlace
	arrival time.Time // on the way: when they are due at the home; zero: not on record
	count   int       // in that place, set apart or not
	free    int       // of them usable: not set apart, not possibly used up
	used    int
	until   time.Time
	reason  MoveReason // why they are not usable, or OldLabel with relabel
	state   int
}

// The states of a source.
const (
	usable = iota
	relabel
	asked // a person must read the label or the record first
	bad   // can serve no dose of the order
)

// Marks in serves.
const (
	none = -1
	held = -2 // a unit may be there: a person is asked
)

var places = []EventPlace{AtHome, OnTheWay, InPharmacy, InReturned}

// sources judges the units of every lot in every place against the order
// that holds now.
func (r *revision) sources() {
	for i := range r.account.Lots {
		s := &r.account.Lots[i]
		for _, place := range places {
			state, reason := r.judge(s, place)
			if place == OnTheWay {
				r.underWay(s, state, reason)
				continue
			}
			if n := *s.at(place); n > 0 {
				r.src = append(r.src, source{stock: s, place: place, count: n, free: max(0, n-*s.apart(place)), until: s.BeyondUse, state: state, reason: reason})
			}
		}
	}
	// Least waste: earliest beyond-use first, and what is already nearest to
	// the patient.
	slices.SortStableFunc(r.src, func(a, b source) int {
		return cmp.Or(a.until.Compare(b.until), cmp.Compare(slices.Index(places, a.place), slices.Index(places, b.place)), cmp.Compare(a.stock.Lot, b.stock.Lot), a.arrival.Compare(b.arrival))
	})
	// Doses that fell due without a record may have been given: as many units
	// at home are not counted on.
	lost := len(r.unrecorded())
	for i := range r.src {
		if s := &r.src[i]; s.place == AtHome {
			n := min(lost, s.free)
			s.free, lost = s.free-n, lost-n
		}
	}
}

// underWay judges what left and is not on record as arrived. Where it was due
// before now, or nobody knows when it is due, nobody knows whether it will
// come: it covers no dose and is asked about.
func (r *revision) underWay(s *Stock, state int, reason MoveReason) {
	for _, c := range s.Sent {
		src := source{stock: s, place: OnTheWay, arrival: c.Arrival, count: c.Units, free: c.Units - c.Apart, until: s.BeyondUse, state: state, reason: reason}
		if state != bad && c.Arrival.Before(r.now) {
			src.state, src.reason = asked, NotRecorded
		}
		r.src = append(r.src, src)
	}
}

// missing are the sources on the way that were due before now, whatever they
// hold.
func (r *revision) missing() []source {
	return slices.DeleteFunc(slices.Clone(r.src), func(s source) bool { return s.place != OnTheWay || !s.arrival.Before(r.now) })
}

// unrecorded lists the doses that fell due since the first units came to the
// home and are neither on record nor the hospital's.
func (r *revision) unrecorded() []time.Time {
	if r.account.firstHome.IsZero() {
		return nil
	}
	return slices.DeleteFunc(slices.Clone(r.fell), func(d time.Time) bool {
		return d.Before(r.account.firstHome) || !d.After(r.plan.LastGiven) || r.account.dosed(d) != nil
	})
}

// judge: contents that differ outweigh everything; what is not known is asked.
func (r *revision) judge(s *Stock, place EventPlace) (int, MoveReason) {
	if r.plan.Basis.Stopped {
		return bad, Stopped
	}
	if place == InReturned && !r.plan.Basis.Restock {
		return bad, LeftPharmacy
	}
	change, reason := s.Unit.Compare(r.plan.Basis.Unit)
	switch {
	case change == Remake:
		return bad, reason
	case s.Doubtful:
		return asked, RecordWrong
	case change == Unread:
		return asked, UnknownUnit
	case s.BeyondUse.IsZero():
		return asked, UnknownUse
	case change == Relabel && place != InPharmacy && !r.plan.Basis.RelabelAtHome:
		return bad, OldLabel
	case change == Relabel:
		return relabel, OldLabel
	}
	return usable, ""
}

// cover lays the usable units over the doses still to come. Units in the
// pharmacy reach no dose before the next delivery; a dose that starts exactly
// at the beyond-use instant is in time.
func (r *revision) cover() {
	r.serves = slices.Repeat([]int{none}, len(r.future))
	from := r.delivered()
	far := func(d time.Time) bool { return !from.IsZero() && !d.Before(from) && !r.gone(d) }
	for i, d := range r.future {
		if !far(d) {
			r.serves[i] = r.pick(d, false, false)
		}
	}
	known := r.begun()
	for i, d := range r.future {
		if r.serves[i] != none || far(d) {
			continue
		}
		if r.pick(d, false, true) != none {
			r.serves[i] = held
			continue
		}
		if known {
			r.short = append(r.short, d)
		}
		r.serves[i] = r.pick(d, true, false)
	}
	for i, d := range r.future {
		if r.serves[i] == none {
			r.serves[i] = r.pick(d, true, false)
		}
	}
	for i, d := range r.future {
		if r.serves[i] == none && r.pick(d, true, true) != none {
			r.serves[i] = held
		}
	}
}

// delivered is the first dose that the next delivery covers; zero when none
// is to come.
func (r *revision) delivered() time.Time {
	if i := r.coming(); i >= 0 {
		return r.plan.Deliveries[i].FirstDose
	}
	return time.Time{}
}

// gone reports whether the delivery that a dose belongs to has left already,
// perhaps before an earlier one.
func (r *revision) gone(dose time.Time) bool {
	return slices.ContainsFunc(r.plan.Deliveries, func(d Delivery) bool {
		return !dose.Before(d.FirstDose) && !dose.After(d.LastDose) && r.left(d)
	})
}

// begun reports whether anything on record left the pharmacy: from then on a
// dose that nothing serves is short, and not merely not sent yet.
func (r *revision) begun() bool {
	return len(r.account.sent) > 0 || slices.ContainsFunc(r.account.Lots, func(s Stock) bool {
		return s.Way != 0 || s.Home != 0 || s.Given != 0 || s.Returned != 0 || s.Lost != 0
	})
}

// pick takes one unit for a dose that it can reach, of those to be asked about when ask is set.
func (r *revision) pick(dose time.Time, pharmacy, ask bool) int {
	for i := range r.src {
		s := &r.src[i]
		far := s.place == InPharmacy || s.place == InReturned
		inTime := !dose.Before(s.arrival) && (!dose.After(s.until) || ask && s.until.IsZero())
		if s.used < s.free && s.state != bad && (s.state == asked) == ask && inTime && (pharmacy || !far) {
			s.used++
			return i
		}
	}
	return none
}

// trim takes from the deliveries to come the units that the home already has
// for their doses, beyond the spares it may hold.
func (r *revision) trim() {
	spare := r.plan.Basis.Spares
	first := r.coming()
	if first < 0 {
		return
	}
	for i := first; i < len(r.plan.Deliveries); i++ {
		d := &r.plan.Deliveries[i]
		if r.left(*d) {
			continue
		}
		var home, way int
		for j, dose := range r.future {
			if dose.Before(d.FirstDose) || dose.After(d.LastDose) || r.serves[j] < 0 {
				continue
			}
			switch r.src[r.serves[j]].place {
			case AtHome:
				home++
			case OnTheWay:
				way++
			}
		}
		kept := min(spare, home)
		spare -= kept
		if n := min(home-kept, d.Units); n > 0 {
			d.Units -= n
			d.Says = joinSays(d.Says, fmt.Sprintf("%d less: at the home already", n))
		}
		if way > 0 {
			d.Says = joinSays(d.Says, fmt.Sprintf("%d of them on the way already", way))
		}
	}
}

func joinSays(a, b string) string {
	if a == "" {
		return b
	}
	return a + "; " + b
}

// uncovered lists the doses to come without a unit and without a question.
func (r *revision) uncovered() []time.Time {
	var out []time.Time
	for i, d := range r.future {
		if r.serves[i] == none {
			out = append(out, d)
		}
	}
	return out
}
