package plan

import (
	"fmt"
	"slices"
	"time"

	"weir.example/weir/mapping/notation"
)

// earlier adds what a unit had to be so far to the history, where it is
// another from now on.
func (b Basis) earlier(next Basis) []InForce {
	nothing := b.Order == "" && b.Unit.text() == UnitKey{}.text()
	if nothing || b.Stopped == next.Stopped && b.Unit.text() == next.Unit.text() {
		return b.Earlier
	}
	return append(slices.Clip(b.Earlier), InForce{next.Now, b.Unit, b.Stopped})
}

// inForce is what a unit had to be at an instant. From the clock at which a
// change was planned on the new order counts.
func (r *revision) inForce(at time.Time) (UnitKey, bool) {
	b := r.plan.Basis
	for _, x := range b.Earlier {
		if at.Before(x.Until) {
			return x.Unit, x.Stopped
		}
	}
	return b.Unit, b.Stopped && len(b.Earlier) > 0 // else nothing tells since when
}

// givenWords says what was wrong with units given, after "was given …".
var givenWords = map[MoveReason]string{
	WrongDrug: " and held another drug than the order then in force", WrongStrength: " and held another dose than the order then in force",
	WrongVolume: " and held another volume than the order then in force", WrongDiluent: " and was in another diluent than the order then in force",
	WrongDevice: " and was in another container than the order then in force", WrongRestrictor: " and ran at another rate than the order then in force",
	OldLabel: " under a label that was not the order then in force", BeyondUse: " past its beyond-use time",
	Stopped: " although the order had been stopped", SetApart: " although it had been set apart",
}

// given judges every unit on record as given by the order that held when it
// was given. A wrong one, or one too old, is told to the prescriber and the
// pharmacist; where contents or age are not known the pharmacist is asked.
func (r *revision) given() {
	for _, g := range r.account.Given {
		i := slices.IndexFunc(r.account.Lots, func(s Stock) bool { return s.Lot == g.Lot })
		s := r.account.Lots[i]
		unit, stopped := r.inForce(g.At)
		change, reason := s.Unit.Compare(unit)
		switch {
		case stopped:
			r.wrongly(g, Stopped, "", ToPrescriber, ToPharmacist)
		case change == Remake:
			r.wrongly(g, reason, s.Unit.differs(unit), ToPrescriber, ToPharmacist)
		case change == Relabel && !r.plan.Basis.RelabelAtHome:
			r.wrongly(g, reason, "", ToPharmacist)
		case change == Unread:
			r.unread(s, UnknownUnit)
		}
		switch {
		case s.BeyondUse.IsZero():
			r.unread(s, UnknownUse)
		case g.At.After(s.BeyondUse):
			r.wrongly(g, BeyondUse, notation.Instant(r.local(s.BeyondUse), ""), ToPrescriber, ToPharmacist)
		}
		if g.Apart > 0 { // the discrepancy tells the pharmacist
			r.wrongly(g, SetApart, "", ToPrescriber)
		}
	}
}

func (r *revision) wrongly(g GivenUnits, why MoveReason, more string, whom ...string) {
	m := Move{Kind: Call, Reason: why, Subject: "given", Due: r.newDose(), From: g.At, Units: g.Units, Lot: g.Lot}
	if !g.Dose.IsZero() {
		m.Doses = []time.Time{g.Dose}
	}
	if more != "" {
		more = " (" + more + ")"
	}
	m.Why = fmt.Sprintf("%s of lot %s was given %s%s%s: ask what is to be watched; the next doses keep their times and none is left out before the answer",
		howMany(g.Units, "unit"), orNone(g.Lot), notation.Instant(r.local(g.At), ""), givenWords[why], more)
	for _, m.Whom = range whom {
		r.move(m)
	}
}

// unread: units were given and nobody can tell from the record whether they
// were right. One call for a lot; a record that contradicts itself is one.
func (r *revision) unread(s Stock, why MoveReason) {
	if s.Doubtful {
		return
	}
	r.move(Move{Kind: Call, Whom: ToPharmacist, Reason: why, Subject: "given", Due: r.newDose(), Lot: s.Lot, Figures: s.figures(),
		Why: fmt.Sprintf("units of lot %s were given, and %s: find out whether they were right", orNone(s.Lot), reasonWords[why])})
}

// parcels: what was due at the home, or due to leave, and nothing on record
// tells that it did.
func (r *revision) parcels() {
	for _, s := range r.missing() {
		m := Move{Kind: Call, Whom: ToSupply, Reason: NotRecorded, Subject: "parcel", From: s.arrival, Units: s.count, Lot: s.stock.Lot, Place: OnTheWay, Figures: s.stock.figures()}
		what := howMany(s.count, "unit") + " of lot " + orNone(s.stock.Lot)
		if s.arrival.IsZero() {
			m.Why = what + " left the pharmacy and nothing on record tells when they arrive: find out; until then no dose is planned from them"
		} else {
			m.Why = fmt.Sprintf("%s were due %s and no receipt is on record: find out where they are; until then no dose is planned from them", what, notation.Instant(r.local(s.arrival), ""))
		}
		r.move(m)
	}
	if r.plan.Basis.Stopped || len(r.account.Lots) == 0 {
		return
	}
	for i, d := range r.plan.Deliveries {
		if !d.Arrival.Before(r.now) || r.left(d) || r.leftAs(d) || !r.wanting(d) {
			continue
		}
		n := numbered{d, i + 1}
		r.move(Move{Kind: Call, Whom: ToSupply, Reason: NotRecorded, Subject: "departure of " + n.name(), From: d.Arrival, Units: d.Units, Place: InPharmacy,
			Why: fmt.Sprintf("%s of %s was due %s and nothing on record tells whether it left or arrived", n.name(), howMany(d.Units, "unit"), notation.Instant(r.local(d.Arrival), ""))})
	}
}

// leftAs: the old plan had the same delivery at another hour, and it left.
func (r *revision) leftAs(d Delivery) bool {
	return slices.ContainsFunc(r.old.Deliveries, func(o Delivery) bool { return o.FirstDose.Equal(d.FirstDose) && r.left(o) })
}

// wanting: a dose of the delivery is to come and nothing at home or on the
// way serves it.
func (r *revision) wanting(d Delivery) bool {
	for i, at := range r.future {
		near := r.serves[i] >= 0 && (r.src[r.serves[i]].place == AtHome || r.src[r.serves[i]].place == OnTheWay)
		if !at.Before(d.FirstDose) && !at.After(d.LastDose) && !near {
			return true
		}
	}
	return false
}
