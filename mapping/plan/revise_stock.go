package plan

import (
	"fmt"
	"slices"
	"time"

	"weir.example/weir/mapping/notation"
)

// reasonWords says why units cannot be used, after "because".
var reasonWords = map[MoveReason]string{
	BeyondUse: "the doses left start after their beyond-use time", WrongDrug: "they hold another drug than the order",
	WrongStrength: "they hold another dose than the order", WrongVolume: "they hold another volume than the order",
	WrongDiluent: "they are in another diluent than the order", WrongDevice: "they are in another container than the order",
	WrongRestrictor: "their device runs at another rate than the order", OldLabel: "their label is not the order that holds now",
	UnknownUnit: "what they hold is not fully on record", UnknownUse: "their beyond-use time is not on record",
	LeftPharmacy: "they had left the pharmacy, and nothing that left it comes back into stock",
	SetApart:     "they had been set apart before they came",
	NoDoseLeft:   "no dose is left for them", Stopped: "the order is stopped", RecordWrong: "their record contradicts itself",
}

// figures are the counts of one lot, by conservation.
func (s Stock) figures() []Figure {
	return []Figure{{"made", s.Made}, {"in the pharmacy", s.Pharmacy}, {"on the way", s.Way}, {"at home", s.Home}, {"given", s.Given}, {"returned", s.Returned}, {"wasted", s.Wasted}}
}

// stock says for the units of each lot and place what becomes of them.
func (r *revision) stock() {
	spare := r.plan.Basis.Spares
	for i := range r.src {
		s := r.src[i]
		rest := s.free - s.used
		r.untold(s)
		switch {
		case s.state == bad:
			r.unusable(s, s.count, s.reason)
			continue
		case s.state == asked:
			r.ask(s)
			continue
		case s.state == relabel && s.used > 0:
			r.relabelled(s)
		}
		if rest <= 0 {
			continue
		}
		switch {
		case r.aged(s), s.until.Before(r.now):
			r.unusable(s, rest, BeyondUse)
		case r.plan.Complete && s.place == AtHome:
			kept := min(spare, rest)
			spare -= kept
			if rest -= kept; rest > 0 {
				r.surplus(s, rest)
			}
		case r.plan.Complete && s.place != OnTheWay:
			r.unusable(s, rest, NoDoseLeft)
		}
	}
}

// unusable: units that can serve no dose are set apart where a person could
// still use them, fetched back from the home and thrown away. On a stop
// nothing is thrown away: a stop is a call, and it may be a mistake.
func (r *revision) unusable(s source, n int, why MoveReason) {
	m := Move{Reason: why, Units: n, Lot: s.stock.Lot, Place: s.place, From: s.arrival, Figures: s.stock.figures()}
	say := func(format string, args ...any) string {
		return fmt.Sprintf(format, args...) + ", because " + reasonWords[why]
	}
	units := howMany(n, "unit") + " of lot " + orNone(s.stock.Lot)
	leaves := r.arrival()
	if why == BeyondUse {
		leaves = earliest(leaves, s.until)
	}
	switch s.place {
	case AtHome:
		q := m
		q.Kind, q.Whom, q.Due = Quarantine, ToPatient, r.oldDose()
		if why == BeyondUse {
			q.Due = s.until // good until then for a dose that comes earlier
		}
		q.Why = say("set %s at home apart and use none of them", units)
		f := m
		f.Kind, f.Whom, f.Due = FetchBack, ToSupply, r.fetch()
		if why == BeyondUse {
			f.Due = r.after(s.until)
		}
		f.Why = say("fetch %s back from the home and count them", units)
		r.move(q)
		r.move(f)
		m.Due = f.Due
	case OnTheWay:
		q := m
		q.Kind, q.Whom, q.Due = Quarantine, ToDriver, r.now
		q.Why = say("hand over none of the %s that are on the way", units)
		r.move(q)
	case InPharmacy:
		m.Due = leaves
		if why == Stopped {
			m.Kind, m.Whom = Quarantine, ToPharmacist
			m.Why = say("set %s in the pharmacy apart until the stop is confirmed", units)
			r.move(m)
		}
	}
	if why == Stopped && s.place != InReturned {
		return
	}
	m.Kind, m.Whom, m.Why = Waste, ToPharmacist, say("%s can serve no dose", units)
	if s.place == AtHome || s.place == OnTheWay {
		m.Why += "; they do not come back into stock"
	}
	if s.place == InReturned && why == Stopped {
		m.Reason = LeftPharmacy
		m.Why = fmt.Sprintf("%s came back: %s", units, reasonWords[LeftPharmacy])
	}
	r.move(m)
}

// aged: a dose that no unit serves starts after the beyond-use time of units
// left over.
func (r *revision) aged(s source) bool {
	return slices.ContainsFunc(r.uncovered(), func(d time.Time) bool { return d.After(s.until) })
}

// untold: units that were set apart came to the home all the same.
func (r *revision) untold(s source) {
	n := min(s.stock.Untold, s.count)
	if s.place != AtHome || s.state == bad || n == 0 {
		return
	}
	m := Move{Kind: Quarantine, Whom: ToPatient, Reason: SetApart, Due: r.newDose(), Units: n, Lot: s.stock.Lot, Place: AtHome, Figures: s.stock.figures()}
	m.Why = fmt.Sprintf("set %s of lot %s at home apart and use none of them, because %s", howMany(n, "unit"), orNone(s.stock.Lot), reasonWords[SetApart])
	r.move(m)
	m.Kind, m.Whom, m.Due = FetchBack, ToSupply, r.fetch()
	m.Why = fmt.Sprintf("fetch %s of lot %s back from the home, because %s", howMany(n, "unit"), orNone(s.stock.Lot), reasonWords[SetApart])
	r.move(m)
}

// fetch is by when units must be out of the home: before the first dose of
// the plan that holds, else with the next planned run, so that nobody has to
// tell two kinds of unit apart.
func (r *revision) fetch() time.Time {
	if len(r.future) > 0 {
		return r.future[0]
	}
	if at := r.arrival(); !at.IsZero() {
		return at
	}
	return r.oldDose()
}

// after is the first planned arrival from an instant on, else the last dose,
// else the instant itself.
func (r *revision) after(at time.Time) time.Time {
	for _, d := range r.plan.Deliveries {
		if !d.Arrival.Before(at) && !r.left(d) {
			return d.Arrival
		}
	}
	if r.plan.LastDose.After(at) {
		return r.plan.LastDose
	}
	return at
}

// surplus: more units at home than doses left.
func (r *revision) surplus(s source, n int) {
	due := r.plan.LastDose
	if due.IsZero() || due.Before(r.now) {
		due = r.now
	}
	r.move(Move{Kind: FetchBack, Whom: ToSupply, Reason: SurplusAtHome, Due: due, Units: n, Lot: s.stock.Lot, Place: AtHome, Figures: s.stock.figures(),
		Why: fmt.Sprintf("%s of lot %s at home beyond the doses left: fetch them back at the end of the course", howMany(n, "unit"), orNone(s.stock.Lot))})
}

// relabelled: right contents under an old label.
func (r *revision) relabelled(s source) {
	m := Move{Kind: NewLabel, Whom: ToPharmacist, Reason: OldLabel, Units: s.used, Lot: s.stock.Lot, Place: s.place, From: s.arrival, Figures: s.stock.figures(), Due: r.arrival()}
	if s.place != InPharmacy {
		m.Whom, m.Due = ToNurse, r.newDose()
	}
	m.Why = fmt.Sprintf("%s of lot %s keep their contents and need the label of the order that holds now", howMany(s.used, "unit"), orNone(s.stock.Lot))
	r.move(m)
}

// ask: nobody can tell from the record whether the units may be used.
func (r *revision) ask(s source) {
	if s.reason == RecordWrong || s.reason == NotRecorded {
		return // called about elsewhere
	}
	r.move(Move{Kind: Call, Whom: ToPharmacist, Reason: s.reason, Subject: "units", Due: r.newDose(), From: s.arrival, Units: s.count, Lot: s.stock.Lot, Place: s.place, Figures: s.stock.figures(),
		Why: fmt.Sprintf("read the label of %s of lot %s %s: %s, so no dose is planned from them", howMany(s.count, "unit"), orNone(s.stock.Lot), placeWords[s.place], reasonWords[s.reason])})
}

// again lists the units to be made again: for doses before the next delivery
// that nothing serves, for units that will be past their beyond-use time, and
// for the next delivery when its units were made for another order or some of
// them are spoilt. Units never made yet are no move: they are the plan.
func (r *revision) again() {
	if len(r.short) > 0 {
		due := r.short[0].Add(-r.plan.Basis.Lead)
		r.move(Move{Kind: DeliverExtra, Whom: ToSupply, Reason: ShortAtHome, Due: due, Units: len(r.short), Doses: r.short, Figures: []Figure{{"at home", r.account.Count(AtHome)}, {"on the way", r.account.Count(OnTheWay)}, {"doses without a record", len(r.unrecorded())}},
			Why: fmt.Sprintf("%s before the next delivery, and no usable unit at home is on record for %s", howMany(len(r.short), "dose"), themOrIt(len(r.short)))})
	}
	reason := map[int64]MoveReason{}
	mark := func(d time.Time, why MoveReason) {
		if _, ok := reason[nanos(d)]; !ok {
			reason[nanos(d)] = why
		}
	}
	open := r.uncovered()
	spoilt, wrong := r.spoilt()
	for _, d := range open {
		if slices.ContainsFunc(r.short, d.Equal) {
			mark(d, ShortAtHome)
		}
		if i := r.coming(); i >= 0 && (spoilt || wrong != "") {
			if next := r.plan.Deliveries[i]; !d.Before(next.FirstDose) && !d.After(next.LastDose) {
				mark(d, orReason(wrong, RecordWrong))
			}
		}
	}
	n, until := r.past()
	for _, d := range open {
		if n > 0 && d.After(until) {
			mark(d, BeyondUse)
			n--
		}
	}
	type group struct {
		delivery int // -1: none planned in time
		reason   MoveReason
	}
	doses := map[group][]time.Time{}
	var keys []group
	for _, d := range open {
		why, ok := reason[nanos(d)]
		if !ok {
			continue
		}
		g := group{r.brings(d), why}
		if doses[g] == nil {
			keys = append(keys, g)
		}
		doses[g] = append(doses[g], d)
	}
	for _, g := range keys {
		list := doses[g]
		due := list[0].Add(-r.plan.Basis.Lead)
		if g.delivery >= 0 {
			due = r.plan.Deliveries[g.delivery].Arrival
		}
		why := "units for them are past their beyond-use time before they start"
		switch g.reason {
		case ShortAtHome:
			why = "nothing usable is on record for them"
		case RecordWrong:
			why = "units made for that delivery were lost, wasted or set apart"
		case BeyondUse:
		default:
			why = "the units made for them cannot serve them: " + reasonWords[g.reason]
		}
		r.move(Move{Kind: MakeAgain, Whom: ToTechnician, Reason: g.reason, Due: due, Units: len(list), Doses: list,
			Why: fmt.Sprintf("make %s for the doses from %s to %s: %s", howMany(len(list), "unit"), notation.Instant(r.local(list[0]), ""), notation.Instant(r.local(list[len(list)-1]), ""), why)})
	}
}

// past counts usable units that are too old for the doses left, and says until
// when the first of them were good.
func (r *revision) past() (n int, until time.Time) {
	for _, s := range r.src {
		if rest := s.free - s.used; rest > 0 && (s.state == usable || s.state == relabel) && r.aged(s) {
			n, until = n+rest, earliest(until, s.until)
		}
	}
	return n, until
}

// spoilt reports whether units of a lot that is partly in the pharmacy were
// lost, wasted or set apart, and whether units were made for another order.
func (r *revision) spoilt() (bool, MoveReason) {
	var wrong MoveReason
	some := false
	for _, s := range r.src {
		if s.state == bad && s.place != InReturned && wrong == "" {
			wrong = s.reason
		}
		if s.place == InPharmacy && s.state != bad && s.stock.Wasted+s.stock.Apart[0] > 0 {
			some = true
		}
	}
	return some, wrong
}

// brings is the delivery still to come that covers a dose, -1 when there is
// none: then its unit must be there so long before it as warm-up and teaching
// take.
func (r *revision) brings(dose time.Time) int {
	return slices.IndexFunc(r.plan.Deliveries, func(d Delivery) bool {
		return !dose.Before(d.FirstDose) && !dose.After(d.LastDose) && !d.Arrival.Before(r.now) && !r.left(d)
	})
}

// local shows an instant in the patient's zone; the zero time stays zero.
func (r *revision) local(t time.Time) time.Time {
	for _, z := range []*time.Location{r.plan.Zone.Location, r.old.Zone.Location} {
		if z != nil && !t.IsZero() {
			return t.In(z)
		}
	}
	return t
}

func orNone(lot string) string {
	if lot == "" {
		return "without a number"
	}
	return lot
}

func orReason(a, b MoveReason) MoveReason {
	if a == "" {
		return b
	}
	return a
}

func themOrIt(n int) string {
	if n == 1 {
		return "it"
	}
	return "them"
}
