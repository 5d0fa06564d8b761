package plan

import (
	"fmt"
	"slices"
	"time"

	"weir.example/weir/mapping/notation"
)

// differences: what the new plan has at another time than the old one.
func (r *revision) differences() {
	r.dosesMoved()
	r.deliveriesMoved()
	r.onTheWay()
	r.bookingsMoved()
}

func (r *revision) dosesMoved() {
	was, is := r.open(r.old.HomeDoses), r.future
	if slices.EqualFunc(was, is, time.Time.Equal) {
		return
	}
	m := Move{Kind: DosesMoved, Whom: ToPharmacist, Reason: PlanMoved, Subject: "doses", Figures: []Figure{{"doses before", len(was)}, {"doses now", len(is)}}}
	if len(was) > 0 {
		m.From = was[0]
	}
	if len(is) > 0 {
		m.To = is[0]
	}
	m.Due = earliest(m.From, m.To)
	switch {
	case len(is) == 0:
		m.Why = fmt.Sprintf("%s of the old plan fall away, the first of them %s; no dose is planned", howMany(len(was), "dose"), notation.Instant(r.local(was[0]), ""))
	case len(was) == 0:
		m.Why = fmt.Sprintf("%s are planned now, from %s to %s", howMany(len(is), "dose"), notation.Instant(r.local(is[0]), ""), notation.Instant(r.local(is[len(is)-1]), ""))
	default:
		m.Why = fmt.Sprintf("%s from %s to %s become %d from %s to %s", howMany(len(was), "dose"), notation.Instant(r.local(was[0]), ""), notation.Instant(r.local(was[len(was)-1]), ""),
			len(is), notation.Instant(r.local(is[0]), ""), notation.Instant(r.local(is[len(is)-1]), ""))
	}
	r.move(m)
	if len(is) > 0 { // an order without doses is called about already
		m.Kind, m.Whom = Call, ToPatient
		m.Why = "tell the patient the new times: " + m.Why
		r.move(m)
	}
}

// numbered is a delivery with its place in the plan.
type numbered struct {
	Delivery
	n int
}

func (d numbered) name() string { return fmt.Sprintf("delivery %d", d.n) }

// deliveriesMoved compares the deliveries that have not left. Equal ones are
// set aside, the others are paired in order.
func (r *revision) deliveriesMoved() {
	unsent := func(p Plan, without []Delivery) []numbered {
		var out []numbered
		for i, d := range p.Deliveries {
			same := func(o Delivery) bool {
				return o.Arrival.Equal(d.Arrival) && o.FirstDose.Equal(d.FirstDose) && o.Units == d.Units
			}
			if !r.left(d) && !slices.ContainsFunc(without, same) {
				out = append(out, numbered{d, i + 1})
			}
		}
		return out
	}
	now := r.plan.Deliveries
	if r.plan.Basis.Stopped {
		now = nil
	}
	was := unsent(r.old, now)
	kept := r.plan
	kept.Deliveries = now
	is := unsent(kept, r.old.Deliveries)
	was = slices.DeleteFunc(was, func(d numbered) bool {
		if !d.Arrival.Before(r.now) {
			return false
		}
		if slices.ContainsFunc(now, func(o Delivery) bool { return o.FirstDose.Equal(d.FirstDose) }) {
			return true // the new plan has it too, and says that it has passed
		}
		r.move(Move{Kind: Call, Whom: ToSupply, Reason: NotRecorded, Subject: d.name(), From: d.Arrival, Units: d.Units,
			Why: fmt.Sprintf("%s of %s was due %s and nothing on record tells whether it arrived", d.name(), howMany(d.Units, "unit"), notation.Instant(r.local(d.Arrival), ""))})
		return true
	})
	is = slices.DeleteFunc(is, func(d numbered) bool {
		return d.Past && slices.ContainsFunc(r.old.Deliveries, func(o Delivery) bool { return o.FirstDose.Equal(d.FirstDose) })
	})
	for i := range max(len(was), len(is)) {
		m := Move{Whom: ToDriver, Reason: PlanMoved}
		switch {
		case i >= len(is):
			d := was[i]
			m.Kind, m.Subject, m.From, m.Units, m.Due = DeliveryCancelled, d.name(), d.Arrival, d.Units, d.Arrival
			m.Why = fmt.Sprintf("%s of %s, planned to arrive by %s, does not go", d.name(), howMany(d.Units, "unit"), notation.Instant(r.local(d.Arrival), ""))
		case i >= len(was):
			d := is[i]
			m.Kind, m.Subject, m.To, m.Units, m.Due = DeliveryAdded, d.name(), d.Arrival, d.Units, d.Arrival
			m.Why = fmt.Sprintf("%s of %s is new, to arrive by %s", d.name(), howMany(d.Units, "unit"), notation.Instant(r.local(d.Arrival), ""))
		default:
			a, b := was[i], is[i]
			m.Kind, m.Subject, m.From, m.To, m.Units, m.Due = DeliveryMoved, b.name(), a.Arrival, b.Arrival, b.Units, earliest(a.Arrival, b.Arrival)
			m.Figures = []Figure{{"units before", a.Units}, {"units now", b.Units}}
			m.Why = fmt.Sprintf("%s: %s by %s, not %d by %s", b.name(), howMany(b.Units, "unit"), notation.Instant(r.local(b.Arrival), ""), a.Units, notation.Instant(r.local(a.Arrival), ""))
		}
		r.move(m)
	}
}

// onTheWay: a delivery that left and is not where the plan wants it any more.
func (r *revision) onTheWay() {
	for _, d := range r.old.Deliveries {
		n := r.account.sentFor(d.Arrival)
		if r.account.sent[nanos(d.Arrival)] != Dispatched || n == 0 {
			continue
		}
		kept := !r.plan.Basis.Stopped && slices.ContainsFunc(r.plan.Deliveries, func(o Delivery) bool { return o.Arrival.Equal(d.Arrival) })
		if kept && !r.changed {
			continue
		}
		r.move(Move{Kind: Call, Whom: ToDriver, Reason: PlanMoved, Subject: "on the way", From: d.Arrival, Units: n, Place: OnTheWay, Due: r.now,
			Figures: []Figure{{"on the way", n}},
			Why:     fmt.Sprintf("the delivery due %s has left: stop it before it is handed over; the pharmacist says where its units go", notation.Instant(r.local(d.Arrival), ""))})
	}
}

// bookingsMoved: visits, draws and runs of the driver at another instant.
func (r *revision) bookingsMoved() {
	was, is := r.old.Basis.Bookings, r.plan.Basis.Bookings
	find := func(list []Booking, id string) (Booking, bool) {
		i := slices.IndexFunc(list, func(b Booking) bool { return b.ID == id })
		if i < 0 {
			return Booking{}, false
		}
		return list[i], true
	}
	tell := func(a, b Booking) {
		what := a.What
		if what == "" {
			what = b.What
		}
		id := a.ID
		if id == "" {
			id = b.ID
		}
		m := Move{Kind: BookingMoved, Whom: ToSupply, Reason: PlanMoved, Subject: what + " " + id, From: a.At, To: b.At, Due: earliest(a.At, b.At)}
		from, to := notation.Instant(r.local(a.At), ""), notation.Instant(r.local(b.At), "")
		switch {
		case b.At.IsZero():
			m.Why = fmt.Sprintf("the %s booked for %s falls away", bookingWords(what), from)
		case a.At.IsZero():
			m.Why = fmt.Sprintf("a %s is to be booked for %s", bookingWords(what), to)
		default:
			m.Why = fmt.Sprintf("the %s moves from %s to %s", bookingWords(what), from, to)
		}
		r.move(m)
		m.Kind, m.Whom = Call, ToNurse
		if what == "delivery" {
			m.Whom = ToDriver
		}
		r.move(m)
	}
	for _, a := range was {
		if b, ok := find(is, a.ID); !ok || !a.At.Equal(b.At) {
			tell(a, b)
		}
	}
	for _, b := range is {
		if _, ok := find(was, b.ID); !ok {
			tell(Booking{}, b)
		}
	}
}

func bookingWords(what string) string {
	switch what {
	case "first-visit":
		return "first visit"
	case "disconnect":
		return "visit to disconnect"
	case "delivery":
		return "run of the driver"
	case "laboratory":
		return "blood draw"
	}
	return "visit"
}

// carry keeps the moves told before that come from a difference between two
// plans: once the new plan is the old one, the difference is gone and the
// move still stands, until the plan says otherwise.
func (r *revision) carry() {
	about := func(m Move) string { return m.Whom + "|" + m.Subject }
	fresh := map[string]bool{}
	for _, m := range r.moves {
		fresh[about(m)] = true
	}
	for _, m := range r.old.Basis.Told {
		if !fresh[about(m)] && r.holds(m) {
			r.moves = append(r.moves, m)
		}
	}
}

// holds reports whether a move that came from a difference is still what the
// plan says.
func (r *revision) holds(m Move) bool {
	p := r.plan
	arrives := func(at time.Time) bool {
		return !p.Basis.Stopped && slices.ContainsFunc(p.Deliveries, func(d Delivery) bool { return d.Arrival.Equal(at) })
	}
	switch {
	case m.Reason == NotRecorded && (m.Place == OnTheWay || m.Place == InPharmacy):
		return false // told from the records each time
	case m.Reason == NotRecorded && m.Whom == ToSupply:
		return r.account.sent[nanos(m.From)] == ""
	case m.Reason == NotRecorded && m.Whom == ToPatient:
		return r.account.firstHome.IsZero()
	case m.Reason == StartMissing:
		return !p.Basis.Stopped && p.FirstHomeDose.IsZero()
	case m.Reason != PlanMoved:
		return false
	case m.Subject == "on the way":
		return r.account.sent[nanos(m.From)] == Dispatched
	case m.Subject == "doses":
		return len(r.future) == 0 && m.To.IsZero() || !p.Basis.Stopped && slices.ContainsFunc(p.HomeDoses, m.To.Equal)
	case m.Kind == DeliveryCancelled:
		return !arrives(m.From)
	case m.Kind == DeliveryMoved, m.Kind == DeliveryAdded:
		return arrives(m.To)
	}
	for _, b := range p.Basis.Bookings {
		if m.Subject == b.What+" "+b.ID {
			return b.At.Equal(m.To)
		}
	}
	return m.To.IsZero()
}
