package plan

import (
	"slices"
	"time"
)

// Basis is what a plan rests on besides its times. The caller fills it after
// Draft; Revise adds the last five fields.
type Basis struct {
	Now           time.Time     // the clock
	Order         string        // key and version of the order
	Stopped       bool          // stopped, cancelled, or replaced without a plan of its own
	Unit          UnitKey       // what a unit must be
	Bookings      []Booking     // nil: bookings are not planned here
	VisitBefore   time.Duration // first visit before the first home dose
	Lead          time.Duration // arrival before a dose: warm-up and teaching
	Spares        int           // units a home may hold beyond the doses
	Restock       bool          // policy: units that came back may serve this patient again. Default no
	RelabelAtHome bool          // policy: a nurse may put a new label on a unit at home. Default no

	Account Account     // what the events add up to
	Planned []time.Time // planned doses to which a record can belong
	Fell    []time.Time // doses that fell due under the plan then in force
	Told    []Move      // moves told and still standing
	Earlier []InForce   // what a unit had to be before, in order
}

// InForce is what a unit had to be under an earlier plan, until an instant.
type InForce struct {
	Until   time.Time
	Unit    UnitKey
	Stopped bool
}

// Booking is something arranged with a person for an instant.
type Booking struct {
	ID   string
	What string // first-visit, disconnect, delivery, laboratory, visit
	At   time.Time
}

// Rebook moves what was booked to where the plan puts it: the first visit
// before the first home dose, the disconnection at the end of the infusion,
// the run of the driver to the first delivery, when it would leave before the
// discharge or arrive too late. Everything else stays.
func (p Plan) Rebook(booked []Booking) []Booking {
	out := slices.Clone(booked)
	for i := range out {
		b := &out[i]
		switch {
		case b.What == "first-visit" && !p.FirstHomeDose.IsZero():
			b.At = p.FirstHomeDose.Add(-p.Basis.VisitBefore)
		case b.What == "disconnect" && !p.EndsAt.IsZero():
			b.At = p.EndsAt
		case b.What == "delivery" && len(p.Deliveries) > 0:
			if d := p.Deliveries[0]; b.At.After(d.Arrival) || b.At.Before(p.Discharge) {
				b.At = d.Arrival
			}
		}
	}
	return out
}

// Revise gives the plan that holds now and what must be done because it is
// another than before. old is the plan in force, happened everything on
// record so far in any order, next the plan drafted from the order as it
// stands, with its Basis. The clock is next's.
//
// The doses are those of next: a dose missed or given twice moves no other
// and doubles none; what the drug's rule says is a person's answer. Units are
// counted by conservation and never clamped. A move told before is not told
// again: it stays in Basis.Told as long as it stands, and Withdrawn lists
// those that no longer do. Equal input gives equal output.
func Revise(old Plan, happened []Event, next Plan) (Plan, []Move) {
	told := map[string]Move{}
	for _, m := range old.Basis.Told {
		told[m.ID()] = m
	}
	r := revised(old, happened, next)
	for i, m := range r.moves {
		if was, ok := told[m.ID()]; ok {
			r.moves[i] = was
		}
	}
	r.plan.Basis.Told = sortMoves(r.moves)
	fresh := slices.DeleteFunc(slices.Clone(r.plan.Basis.Told), func(m Move) bool {
		_, ok := told[m.ID()]
		return ok
	})
	return r.plan, fresh
}

// revised works out the plan and every move that stands, told before or not.
func revised(old Plan, happened []Event, next Plan) revision {
	r := revision{old: old, plan: next, now: next.Basis.Now}
	r.plan.Deliveries = slices.Clone(next.Deliveries)
	if next.Basis.Bookings == nil {
		r.plan.Basis.Bookings = old.Basis.Bookings
	}
	reached := reachable(old, happened, next)
	r.account = Tally(happened, merged(reached, next.HomeDoses, 0), r.now)
	r.fell = merged(old.Basis.Fell, before(old.HomeDoses, r.now), next.Interval/2)
	r.fell = merged(r.fell, before(next.HomeDoses, r.now), next.Interval/2)
	r.changed = next.Basis.Stopped || next.Basis.Order != old.Basis.Order
	r.plan.Basis.Earlier = old.Basis.earlier(next.Basis)
	if !next.Basis.Stopped {
		r.future = r.open(next.HomeDoses)
	}
	r.sources()
	r.cover()
	r.trim()

	r.stock()
	r.again()
	r.records()
	r.given()
	r.parcels()
	r.people()
	r.differences()
	r.carry()
	r.unlisted(len(happened))
	r.plan.Basis.Account, r.plan.Basis.Fell = r.account, r.fell
	r.plan.Basis.Planned = reached
	return r
}

// revision is one run of Revise.
type revision struct {
	old, plan Plan
	now       time.Time
	account   Account
	fell      []time.Time
	changed   bool        // the order is another, or stopped
	future    []time.Time // doses from now on that are not on record
	src       []source
	serves    []int       // for each future dose the source of its unit; none or asked
	short     []time.Time // of the future doses before the next delivery those without a unit at home
	moves     []Move
}

func (r *revision) move(m Move) {
	if m.Due.IsZero() {
		m.Due = r.now
	}
	if m.Due.Before(r.now) {
		m.Due, m.Late = r.now, true
	}
	m.Due, m.From, m.To = r.local(m.Due), r.local(m.From), r.local(m.To)
	r.moves = append(r.moves, m)
}

// open lists the doses from now on that are not on record.
func (r *revision) open(doses []time.Time) []time.Time {
	var out []time.Time
	for _, d := range doses {
		if !d.Before(r.now) && r.account.dosed(d) == nil {
			out = append(out, d)
		}
	}
	return out
}

// oldDose is the next dose of the old plan: nobody may start it before the
// patient has been told. Without one it is the next dose of the new plan,
// and without that, now.
func (r *revision) oldDose() time.Time {
	for _, doses := range [][]time.Time{r.open(r.old.HomeDoses), r.future} {
		if len(doses) > 0 {
			return doses[0]
		}
	}
	return r.now
}

// newDose is the next dose of the plan that holds, else that of the old one.
func (r *revision) newDose() time.Time {
	if len(r.future) > 0 {
		return r.future[0]
	}
	return r.oldDose()
}

// coming is the first delivery still to leave, -1 when there is none.
func (r *revision) coming() int {
	if r.plan.Basis.Stopped {
		return -1
	}
	return slices.IndexFunc(r.plan.Deliveries, func(d Delivery) bool { return !d.Past && !r.left(d) })
}

// left reports whether a delivery is on record as sent.
func (r *revision) left(d Delivery) bool { return r.account.sent[nanos(d.Arrival)] != "" }

// arrival is the first planned arrival from now on, of the plan that holds,
// else of the old one; zero when there is none.
func (r *revision) arrival() time.Time {
	if i := r.coming(); i >= 0 {
		return r.plan.Deliveries[i].Arrival
	}
	for _, d := range r.old.Deliveries {
		if !d.Arrival.Before(r.now) && !r.left(d) {
			return d.Arrival
		}
	}
	return time.Time{}
}

// earliest is the earliest instant that is known.
func earliest(list ...time.Time) time.Time {
	var out time.Time
	for _, t := range list {
		if !t.IsZero() && (out.IsZero() || t.Before(out)) {
			out = t
		}
	}
	return out
}

// before is the part of a sorted list that lies before an instant.
func before(doses []time.Time, now time.Time) []time.Time {
	i, _ := slices.BinarySearchFunc(doses, now, time.Time.Compare)
	return doses[:i:i]
}

// merged joins two sorted lists. A dose of the second within reach of one of
// the first is the same dose.
func merged(a, b []time.Time, reach time.Duration) []time.Time {
	out := slices.Clone(a)
	for _, d := range b {
		i, same := slices.BinarySearchFunc(a, d, time.Time.Compare)
		same = same || i > 0 && d.Sub(a[i-1]) < reach || i < len(a) && a[i].Sub(d) < reach
		if !same {
			out = append(out, d)
		}
	}
	slices.SortFunc(out, time.Time.Compare)
	return out
}

// reachable lists the doses to which a record can belong besides those of the
// new plan: planned ones up to the clock and half an interval on, and any that
// a record names. Later doses of an old plan attract no record.
func reachable(old Plan, happened []Event, next Plan) []time.Time {
	out := old.Basis.Planned
	for _, p := range []Plan{old, next} {
		out = merged(out, before(p.HomeDoses, next.Basis.Now.Add(p.Interval/2)), 0)
		var named []time.Time
		for _, e := range happened {
			if _, planned := slices.BinarySearchFunc(p.HomeDoses, e.Dose, time.Time.Compare); planned {
				named = append(named, e.Dose.In(p.HomeDoses[0].Location()))
			}
		}
		slices.SortFunc(named, time.Time.Compare)
		out = merged(out, slices.CompactFunc(named, time.Time.Equal), 0)
	}
	return out
}
