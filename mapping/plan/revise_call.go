package plan

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"weir.example/weir/mapping/notation"
)

// records: what the records say that cannot be right, and doses missed or
// given twice.
func (r *revision) records() {
	for _, d := range r.account.Discrepancies {
		r.move(Move{Kind: Call, Whom: ToPharmacist, Reason: RecordWrong, Subject: strings.TrimSpace(d.Code + " " + string(d.Kind) + " " + d.Record), Due: r.newDose(), From: d.At, Units: d.Units, Lot: d.Lot, Why: d.Says})
	}
	for _, d := range r.account.Doses {
		m := Move{Kind: Call, Whom: ToPrescriber, Subject: "dose", Due: r.newDose(), Doses: []time.Time{d.At}, Figures: []Figure{{"given", d.Given}}}
		when := notation.Instant(r.local(d.At), "")
		if d.Missed && d.Given == 0 {
			m.Reason = DoseMissed
			m.Why = fmt.Sprintf("the dose of %s was missed: ask what the drug's rule asks for; the next doses keep their times and none is doubled", when)
			r.move(m)
		}
		if d.Given > 1 {
			m.Reason = DoseTwice
			m.Why = fmt.Sprintf("%s are on record as given for the dose of %s: ask what is to be watched; the next doses keep their times", howMany(d.Given, "unit"), when)
			r.move(m)
			m.Whom = ToPharmacist
			r.move(m)
		}
	}
}

// people: who must be told before anything of the old order is used.
func (r *revision) people() {
	r.patient()
	b := r.plan.Basis
	last := ""
	if at := r.account.LastGiven; !at.IsZero() {
		last = "; the last dose on record was given " + notation.Instant(r.local(at), "")
	} else if !r.plan.LastGiven.IsZero() {
		last = "; the last dose on record was given " + notation.Instant(r.local(r.plan.LastGiven), "")
	}
	switch {
	case b.Stopped: // a stop stays a call until it is withdrawn
		r.move(Move{Kind: Call, Whom: ToPrescriber, Reason: Stopped, Subject: "order", Due: r.oldDose(),
			Why: "confirm that the order is meant to stop, and what becomes of the line" + last})
	case !b.Stopped && r.plan.FirstHomeDose.IsZero() && (r.plan.Replacement || r.changed):
		r.move(Move{Kind: Call, Whom: ToPrescriber, Reason: StartMissing, Subject: "order", Due: r.oldDose(),
			Figures: []Figure{{"doses since without a record", len(r.unrecorded())}, {"doses withheld", r.withheld()}},
			Why:     "the changed order does not say when its first dose falls after the last dose of the old one" + last})
	}
}

func (r *revision) withheld() int {
	n := 0
	for _, d := range r.account.Doses {
		if d.Withheld && d.Given == 0 {
			n++
		}
	}
	return n
}

// patient: the home may hold units of the old order.
func (r *revision) patient() {
	n, given, made, delivered, back := 0, 0, 0, 0, 0
	for i := range r.src {
		if s := r.src[i]; s.place == AtHome && s.state == bad {
			n += s.count
			delivered += s.stock.Home + s.stock.Given
			given, made, back = given+s.stock.Given, made+s.stock.Made, back+s.stock.Returned
		}
	}
	due := 0 // may have come
	for _, s := range r.missing() {
		if s.state == bad {
			due += s.count
		}
	}
	open := len(r.unrecorded())
	m := Move{Kind: Call, Whom: ToPatient, Subject: "order", Reason: OrderChanged, Due: r.oldDose(), Units: n, Place: AtHome}
	what := "the order has changed"
	if r.plan.Basis.Stopped {
		m.Reason, what = Stopped, "the order is stopped"
	}
	m.Figures = []Figure{{"made", made}, {"came to the home", delivered}, {"given", given}, {"returned", back}, {"at home", n}, {"doses without a record", open}}
	switch {
	case n > 0 && open > 0:
		m.Why = fmt.Sprintf("%s: start no dose of the old one; by the records %s of it are at home, or fewer, since %s without a record: count them", what, howMany(n, "unit"), fell(open))
	case n > 0:
		m.Why = fmt.Sprintf("%s: start no dose of the old one; %s of it are at home", what, howMany(n, "unit"))
	case due > 0:
		m.Reason, m.Units = NotRecorded, due
		m.Why = fmt.Sprintf("%s: start no dose of the old one; %s of it were due at the home and no receipt is on record: count what is there", what, howMany(due, "unit"))
		r.move(m)
		return
	case r.changed && r.account.firstHome.IsZero() && r.mayHaveCome():
		m.Reason = NotRecorded
		m.Why = what + ": start no dose of the old one; nothing on record tells how many units are at home: count them"
	default:
		return
	}
	if due > 0 {
		m.Why += fmt.Sprintf("; %s more were due and no receipt is on record", howMany(due, "unit"))
	}
	r.move(m)
}

func fell(n int) string {
	if n == 1 {
		return "1 dose fell due"
	}
	return fmt.Sprintf("%d doses fell due", n)
}

// mayHaveCome reports whether units of the old plan were due at the home by
// now, recorded or not.
func (r *revision) mayHaveCome() bool {
	if len(before(r.old.HomeDoses, r.now)) > 0 {
		return true
	}
	for _, d := range r.old.Deliveries {
		if !d.Arrival.After(r.now) {
			return true
		}
	}
	return false
}

// Batches gives the prepared lots of the plan as events, for a caller who
// holds batches and no record of each unit. Contents that agree with the order
// as far as they are stated are taken to be what the plan asks for, so this is
// right only for the plan they were made for. A lot that differs, or whose
// contents are not on record, is not: what is known of it stands in its place.
func (p Plan) Batches() []Event {
	var out []Event
	for _, m := range p.Prepared {
		unit := p.Basis.Unit
		if m.has.other != "" || m.has.unread != "" {
			unit = m.has.key
		}
		out = append(out, Event{Kind: Made, At: m.Completed, Units: m.Units, Lot: m.Lot, Unit: unit, BeyondUse: m.BeyondUse})
	}
	return out
}

// unlisted: a plan counts on a prepared lot that no record says was made. As
// long as nothing else moves that is no matter.
func (r *revision) unlisted(records int) {
	if records == 0 && len(r.moves) == 0 {
		return
	}
	for _, list := range [][]Prepared{r.old.Prepared, r.plan.Prepared} {
		for _, m := range list {
			if !slices.ContainsFunc(r.account.Lots, func(s Stock) bool { return s.Lot == m.Lot && s.Made > 0 }) {
				r.move(Move{Kind: Call, Whom: ToPharmacist, Reason: RecordWrong, Subject: "lot-not-made", Due: r.newDose(), Units: m.Units, Lot: m.Lot, Place: InPharmacy,
					Why: fmt.Sprintf("the plan counts on %s of lot %s, and no record says that they were made: no dose is planned from them here", howMany(m.Units, "unit"), orNone(m.Lot))})
			}
		}
	}
}
