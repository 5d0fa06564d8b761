package plan

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/schedule"
)

// attacked is a course of 30 doses every 8 hours in three deliveries, and any
// history of its units: most steps are possible ones, some are not.
func attacked(k *rapid.T) (old, next Plan, events []Event) {
	z, err := schedule.LoadZones().Zone("America/New_York")
	if err != nil {
		k.Fatal(err)
	}
	first := time.Date(2026, 11, 10, 22, 0, 0, 0, z.Location)
	mg := func(n int64) quantity.Quantity { return quantity.Point(quantity.Int(n), quantity.MustUnit("mg")) }
	key := UnitKey{Drug: "examplemycin", Strength: mg(2000), Volume: quantity.Point(quantity.Int(100), quantity.MustUnit("mL")), Diluent: "saline", Device: "bag", Label: "L"}
	old = Plan{Zone: z, FirstHomeDose: first, Complete: true, Interval: 8 * time.Hour}
	for i := range 30 {
		old.HomeDoses = append(old.HomeDoses, first.Add(time.Duration(i)*8*time.Hour))
	}
	old.LastDose = old.HomeDoses[29]
	for i := 0; i < 30; i += 10 {
		old.Deliveries = append(old.Deliveries, Delivery{Arrival: old.HomeDoses[i].Add(-4 * time.Hour), Units: 10, FirstDose: old.HomeDoses[i], LastDose: old.HomeDoses[i+9]})
	}
	old.Basis = Basis{Now: first.Add(-12 * time.Hour), Order: "o#1", Unit: key, Lead: 4 * time.Hour}
	old.Basis.Restock, old.Basis.RelabelAtHome = rapid.Bool().Draw(k, "restock"), rapid.Bool().Draw(k, "relabel")
	old.Basis.Spares = rapid.IntRange(0, 2).Draw(k, "spares")
	at := first.Add(-11 * time.Hour)
	for i := range rapid.IntRange(0, 30).Draw(k, "steps") {
		at = at.Add(time.Duration(rapid.IntRange(0, 12).Draw(k, "hours")) * time.Hour)
		e := Event{ID: fmt.Sprint(i), Kind: rapid.SampledFrom([]EventKind{Made, Made, Dispatched, Dispatched, Delivered, Delivered, Given, Given, Given, Missed, Returned, Lost, Wasted, Quarantined}).Draw(k, "kind"),
			At: at, Units: rapid.IntRange(1, 10).Draw(k, "units"), Lot: rapid.SampledFrom([]string{"A", "A", "B", "B", ""}).Draw(k, "lot")}
		switch e.Kind {
		case Made:
			e.Unit, e.BeyondUse = key, at.Add(time.Duration(rapid.IntRange(1, 10).Draw(k, "days"))*24*time.Hour)
			switch rapid.IntRange(0, 9).Draw(k, "what") {
			case 0:
				e.Unit.Strength = mg(1000)
			case 1:
				e.Unit = UnitKey{}
			case 2:
				e.BeyondUse = time.Time{}
			case 3:
				e.Unit.Label = "other"
			}
		case Given:
			e.Units = rapid.SampledFrom([]int{1, 1, 1, 2}).Draw(k, "given")
		case Wasted, Quarantined:
			e.From = rapid.SampledFrom([]EventPlace{InPharmacy, OnTheWay, AtHome}).Draw(k, "from")
		}
		if rapid.IntRange(0, 4).Draw(k, "named") > 0 {
			e.Delivery = old.Deliveries[rapid.IntRange(0, 2).Draw(k, "delivery")].Arrival
		}
		events = append(events, e)
	}
	next = old
	next.Basis.Now = at.Add(time.Duration(rapid.IntRange(0, 20).Draw(k, "later")) * time.Hour)
	switch rapid.IntRange(0, 5).Draw(k, "next") {
	case 0:
		next.Basis.Order, next.Basis.Unit.Strength = "o#2", mg(1000)
	case 1:
		next.Basis.Order, next.Basis.Stopped = "o#2", true
	case 2:
		next.Basis.Order, next.Basis.Unit.Label = "o#2", "other"
	}
	return old, next, events
}

// An attacker wants a patient to be without a dose, or to get a wrong unit,
// and nobody to hear of it.
func TestNoHistoryHidesADoseOrAUnit(t *testing.T) {
	rapid.Check(t, func(k *rapid.T) {
		old, next, events := attacked(k)
		r := revised(old, events, next)
		accounted(k, r)
		covered(k, r)
		heard(k, r)
		again := revised(r.plan, events, r.plan)
		if !slices.Equal(r.serves, again.serves) {
			k.Fatalf("served otherwise the second time: %v, %v", r.serves, again.serves)
		}
	})
}

// accounted: every unit is in one place, and what cannot be is called about.
func accounted(k *rapid.T, r revision) {
	for _, s := range r.account.Lots {
		way, apart := -s.owed, 0
		for _, c := range s.Sent {
			if c.Units <= 0 || c.Apart < 0 || c.Apart > c.Units {
				k.Fatalf("%+v", s)
			}
			way, apart = way+c.Units, apart+c.Apart
		}
		if !s.Balanced() || way != s.Way || apart != s.Apart[1] || s.Untold < 0 || s.Untold > s.Apart[2] {
			k.Fatalf("%+v", s)
		}
		if min(s.Pharmacy, s.Way, s.Home, s.Returned) < 0 && !s.Doubtful || s.Given > s.Made && !slices.ContainsFunc(r.moves, func(m Move) bool { return m.Reason == RecordWrong && m.Lot == s.Lot }) {
			k.Fatalf("more than there were, and no call: %+v", s)
		}
		for i, place := range []EventPlace{InPharmacy, OnTheWay, AtHome, InReturned} {
			used := 0
			for _, x := range r.src {
				if x.stock.Lot == s.Lot && x.place == place {
					used += x.used
				}
			}
			if used > max(0, *s.at(place)-s.Apart[i]) {
				k.Fatalf("%d of lot %q are cover %s, of %d with %d set apart", used, s.Lot, place, *s.at(place), s.Apart[i])
			}
		}
	}
}

// covered: a unit that serves a dose is right, known, in time and can be
// there.
func covered(k *rapid.T, r revision) {
	for i, n := range r.serves {
		if n < 0 {
			continue
		}
		s, at := r.src[n], r.future[i]
		change, _ := s.stock.Unit.Compare(r.plan.Basis.Unit)
		switch {
		case s.stock.Doubtful, s.until.IsZero(), at.After(s.until), at.Before(r.now), r.plan.Basis.Stopped, change == Remake, change == Unread,
			change == Relabel && s.place != InPharmacy && !r.plan.Basis.RelabelAtHome,
			s.place == InReturned && !r.plan.Basis.Restock,
			s.place == OnTheWay && (at.Before(s.arrival) || s.arrival.Before(r.now)):
			k.Fatalf("dose %s is served by %+v of %+v", at, s, *s.stock)
		}
	}
}

// heard: a dose without a unit stands in a move or in a delivery to come, and
// every unit given that was wrong, too old or unknown is called about.
func heard(k *rapid.T, r revision) {
	call := func(of func(Move) bool) bool { return slices.ContainsFunc(r.moves, of) }
	for i, at := range r.future {
		n := r.serves[i]
		named := n >= 0 && (r.src[n].place == AtHome || r.src[n].place == OnTheWay) || len(r.account.Lots) == 0
		named = named || r.brings(at) >= 0
		named = named || call(func(m Move) bool { return slices.ContainsFunc(m.Doses, at.Equal) })
		for _, s := range r.src {
			named = named || n == held && s.state == asked && call(func(m Move) bool {
				return m.Kind == Call && (m.Whom == ToPharmacist || m.Whom == ToSupply) && (m.Lot == s.stock.Lot || m.Reason == RecordWrong)
			})
		}
		for _, d := range r.plan.Deliveries {
			inIt := !at.Before(d.FirstDose) && !at.After(d.LastDose)
			named = named || inIt && call(func(m Move) bool { return m.Reason == NotRecorded && m.Place == InPharmacy && m.From.Equal(d.Arrival) })
		}
		if !named {
			k.Fatalf("nobody hears that nothing serves %s at %s: %d\n%+v\n%+v", at, r.now, n, r.account.Lots, r.account.sent)
		}
	}
	for _, g := range r.account.Given {
		i := slices.IndexFunc(r.account.Lots, func(s Stock) bool { return s.Lot == g.Lot })
		s := r.account.Lots[i]
		unit, _ := r.inForce(g.At)
		change, _ := s.Unit.Compare(unit)
		told := func(whom string) bool {
			return call(func(m Move) bool { return m.Kind == Call && m.Whom == whom && m.Subject == "given" && m.Lot == g.Lot })
		}
		wrong := change == Remake || !s.BeyondUse.IsZero() && g.At.After(s.BeyondUse)
		if wrong && (!told(ToPrescriber) || !told(ToPharmacist)) || (change == Unread || s.BeyondUse.IsZero()) && !s.Doubtful && !told(ToPharmacist) {
			k.Fatalf("given and not told: %+v of %+v", g, s)
		}
	}
	for _, s := range r.missing() {
		if !call(func(m Move) bool {
			return m.Whom == ToSupply && m.Reason == NotRecorded && m.Lot == s.stock.Lot && m.From.Equal(s.arrival)
		}) {
			k.Fatalf("missing and not told: %+v", s)
		}
	}
	for _, m := range r.moves {
		if !slices.Contains(TaskCodes(), m.Task()) {
			k.Fatalf("no task for %+v", m)
		}
	}
}
