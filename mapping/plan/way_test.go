package plan_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/plan"
)

// Sent for 10 February 17:00, no receipt: a delivery that came is on record,
// so this one is asked about at once, and it covers no dose.
func TestADeliveryThatLeftAndNeverArrivedIsAskedAbout(t *testing.T) {
	old, _ := vancomycinPlans(t)
	for at, told := range map[string]bool{"2027-02-10T17:00:00-06:00": false, "2027-02-10T17:00:01-06:00": true, "2027-02-12T20:00:00-06:00": true} {
		next := old
		next.Basis.Now = instant(t, at)
		p, moves := settled(t, old, firstWeek(t, old)[:2], next)
		if !told {
			assert.Empty(t, lines(moves), at)
			continue
		}
		require.Len(t, moves, 1, at)
		m := moves[0]
		assert.Equal(t, []any{plan.Call, plan.ToSupply, plan.NotRecorded, 14, "V1", plan.OnTheWay, "Wed 2027-02-10T17:00:00-06:00", next.Basis.Now.Unix()}, []any{m.Kind, m.Whom, m.Reason, m.Units, m.Lot, m.Place, show(m.From), m.Due.Unix()}, at)
		assert.Equal(t, "14 units of lot V1 were due Wed 10 Feb 2027 17:00 CST and no receipt is on record: find out where they are; until then no dose is planned from them", m.Why)
		assert.Equal(t, old.Deliveries, p.Deliveries, "nothing less is sent")
		// The answer comes: it arrived, or it was lost.
		came := append(firstWeek(t, old)[:2], plan.Event{Kind: plan.Delivered, At: next.Basis.Now, Units: 14, Lot: "V1", Delivery: old.Deliveries[0].Arrival})
		after, _ := plan.Revise(p, came, next)
		assert.Equal(t, []string{m.ID()}, ids(plan.Withdrawn(p, after)))
		gone := append(firstWeek(t, old)[:2], plan.Event{Kind: plan.Lost, At: next.Basis.Now, Units: 14, Lot: "V1", Delivery: old.Deliveries[0].Arrival})
		_, moves = settled(t, p, gone, next)
		assert.NotEmpty(t, only(moves, plan.DeliverExtra))
	}
}

func ids(moves []plan.Move) []string {
	out := []string{}
	for _, m := range moves {
		out = append(out, m.ID())
	}
	return out
}

// Units on the way serve no dose that is due before they arrive.
func TestUnitsOnTheWayServeNoDoseBeforeTheyArrive(t *testing.T) {
	p, events := week(t, 18)
	second := p.Deliveries[1]
	events[2].Units = 18 // three of the first parcel are lost on the way
	events = append(events, plan.Event{Kind: plan.Lost, At: events[2].At, Units: 3, Lot: "C1", Delivery: p.Deliveries[0].Arrival},
		plan.Event{Kind: plan.Made, At: instant(t, "2026-11-16T10:00:00-05:00"), Units: 21, Lot: "C2", Unit: p.Basis.Unit, BeyondUse: instant(t, "2026-11-26T10:00:00-05:00")},
		plan.Event{Kind: plan.Dispatched, At: instant(t, "2026-11-16T15:00:00-05:00"), Units: 21, Lot: "C2", Delivery: second.Arrival})
	p.Basis.Now = instant(t, "2026-11-16T16:00:00-05:00")
	_, moves := settled(t, p, events, p)
	require.Len(t, only(moves, plan.DeliverExtra), 1)
	assert.Equal(t, p.HomeDoses[18:21], only(moves, plan.DeliverExtra)[0].Doses, "16 Nov 22:00 to 17 Nov 14:00 come before 17 Nov 18:00")
	// At its arrival a dose is served.
	for _, c := range []struct {
		before time.Duration
		short  int
	}{{0, 0}, {time.Second, 1}} {
		q, e := week(t, 21)
		e = append(e, plan.Event{Kind: plan.Made, At: instant(t, "2026-11-17T10:00:00-05:00"), Units: 21, Lot: "C2", Unit: q.Basis.Unit, BeyondUse: instant(t, "2026-11-27T10:00:00-05:00")},
			plan.Event{Kind: plan.Dispatched, At: instant(t, "2026-11-17T14:00:00-05:00"), Units: 21, Lot: "C2", Delivery: q.HomeDoses[21].Add(c.before)})
		q.Basis.Now = instant(t, "2026-11-17T20:00:00-05:00")
		q.Deliveries[1].Arrival = q.HomeDoses[21].Add(c.before)
		_, moves := settled(t, q, e, q)
		n := 0
		for _, m := range only(moves, plan.DeliverExtra) {
			n += len(m.Doses)
		}
		assert.Equal(t, c.short, n, "%s before", c.before)
	}
}

// A receipt takes from the delivery it names; without a name from the one due
// nearest to it.
func TestAReceiptTakesFromItsOwnDelivery(t *testing.T) {
	p, _ := week(t, 0)
	first, second := p.Deliveries[0].Arrival, p.Deliveries[1].Arrival
	at := first.Add(-8 * time.Hour)
	events := []plan.Event{
		{Kind: plan.Made, At: at, Units: 30, Lot: "A", Unit: p.Basis.Unit, BeyondUse: at.Add(300 * time.Hour)},
		{Kind: plan.Dispatched, At: at, Units: 10, Lot: "A", Delivery: first}, {Kind: plan.Dispatched, At: at, Units: 20, Lot: "A", Delivery: second},
	}
	for _, c := range []struct {
		says string
		e    plan.Event
		want []plan.Consignment
	}{
		{"named", plan.Event{Kind: plan.Delivered, At: first, Units: 5, Delivery: second}, []plan.Consignment{{Arrival: first, Units: 10}, {Arrival: second, Units: 15}}},
		{"nearest", plan.Event{Kind: plan.Delivered, At: first, Units: 5}, []plan.Consignment{{Arrival: first, Units: 5}, {Arrival: second, Units: 20}}},
		{"nearest, the second", plan.Event{Kind: plan.Delivered, At: second.Add(-time.Hour), Units: 5}, []plan.Consignment{{Arrival: first, Units: 10}, {Arrival: second, Units: 15}}},
		{"more than that delivery held", plan.Event{Kind: plan.Delivered, At: first, Units: 12, Delivery: first}, []plan.Consignment{{Arrival: second, Units: 18}}},
		{"of a delivery that did not leave", plan.Event{Kind: plan.Delivered, At: first, Units: 5, Delivery: first.Add(1)}, []plan.Consignment{{Arrival: first, Units: 5}, {Arrival: second, Units: 20}}},
		{"lost", plan.Event{Kind: plan.Lost, At: first, Units: 20, Delivery: second}, []plan.Consignment{{Arrival: first, Units: 10}}},
		{"all", plan.Event{Kind: plan.Delivered, At: first, Units: 30}, []plan.Consignment{}},
	} {
		c.e.Lot = "A"
		a := plan.Tally(append(events[:3:3], c.e), p.HomeDoses, second)
		assert.Empty(t, codes(a), c.says)
		assert.Equal(t, c.want, a.Lots[0].Sent, c.says)
	}
	// More than ever left: the next dispatch pays it first, and it is said.
	over := append(events[:3:3], plan.Event{Kind: plan.Delivered, At: first, Units: 33, Lot: "A"}, plan.Event{Kind: plan.Dispatched, At: first.Add(time.Hour), Units: 4, Lot: "A", Delivery: second})
	a := plan.Tally(over, p.HomeDoses, second)
	assert.Equal(t, []string{"below-zero", "below-zero"}, codes(a), "three more came than left, and four left that were never made")
	assert.Equal(t, []plan.Consignment{{Arrival: second, Units: 1}}, a.Lots[0].Sent)
	assert.Equal(t, 1, a.Lots[0].Way)
}

// What left without a word of when it arrives covers nothing either.
func TestADispatchWithoutAnArrivalIsAskedAbout(t *testing.T) {
	p, events := week(t, 0)
	p.Basis.Now = instant(t, "2026-11-10T16:00:00-05:00")
	events[1].Delivery = time.Time{}
	_, moves := settled(t, p, events[:2], p)
	require.Equal(t, []string{"11-10 16:00 call supply not-recorded 21"}, lines(moves))
	assert.Equal(t, "21 units of lot C1 left the pharmacy and nothing on record tells when they arrive: find out; until then no dose is planned from them", moves[0].Why)
}

// Units were made and the hour of the delivery passed without a word.
func TestADeliveryThatNeverLeftIsAskedAbout(t *testing.T) {
	p, events := week(t, 0)
	for at, told := range map[string]bool{"2026-11-10T18:00:00-05:00": false, "2026-11-10T18:00:01-05:00": true} {
		p.Basis.Now = instant(t, at)
		_, moves := settled(t, p, events[:1], p)
		if !told {
			assert.Empty(t, lines(moves))
			continue
		}
		require.Equal(t, []string{"11-10 18:00 call supply not-recorded 21"}, lines(moves))
		assert.Equal(t, "departure of delivery 1", moves[0].Subject)
		assert.Equal(t, "delivery 1 of 21 units was due Tue 10 Nov 2026 18:00 EST and nothing on record tells whether it left or arrived", moves[0].Why)
	}
}

// An order changes while a parcel is missing: nobody can tell whether the
// home holds the old units, so the home is asked too.
func TestTheHomeIsAskedAboutAMissingParcelOfTheOldOrder(t *testing.T) {
	p, events := week(t, 21)
	events = append(events, plan.Event{Kind: plan.Made, At: instant(t, "2026-11-17T10:00:00-05:00"), Units: 21, Lot: "C2", Unit: p.Basis.Unit, BeyondUse: instant(t, "2026-11-27T10:00:00-05:00")},
		plan.Event{Kind: plan.Dispatched, At: instant(t, "2026-11-17T14:00:00-05:00"), Units: 21, Lot: "C2", Delivery: p.Deliveries[1].Arrival})
	next := p
	next.Basis.Now = instant(t, "2026-11-17T19:00:00-05:00")
	next.Basis.Order, next.Basis.Stopped = "o#2", true
	_, moves := settled(t, p, events, next)
	var home *plan.Move
	for _, m := range only(moves, plan.Call) {
		if m.Whom == plan.ToPatient && m.Subject == "order" {
			home = &m
		}
	}
	require.NotNil(t, home)
	assert.Equal(t, []any{plan.NotRecorded, 21, "the order is stopped: start no dose of the old one; 21 units of it were due at the home and no receipt is on record: count what is there"}, []any{home.Reason, home.Units, home.Why})
	assert.Contains(t, lines(moves), "11-17 19:00 call supply not-recorded 21")
}

// What is set apart stays so wherever it goes.
func TestTheMarkMovesWithTheUnits(t *testing.T) {
	p, events := week(t, 0)
	first := p.Deliveries[0].Arrival
	at := func(h time.Duration) time.Time { return first.Add(h * time.Hour) }
	apart := func(place plan.EventPlace, n int, h time.Duration) plan.Event {
		return plan.Event{Kind: plan.Quarantined, At: at(h), Units: n, Lot: "C1", From: place}
	}
	for _, c := range []struct {
		says   string
		events []plan.Event
		want   [4]int // of pharmacy, way, home, returned
		codes  []string
	}{
		{"in the pharmacy, and sent", []plan.Event{events[0], apart(plan.InPharmacy, 21, -4), events[1]}, [4]int{0, 21, 0, 0}, []string{"set-apart-used"}},
		{"in the pharmacy, the others are sent", []plan.Event{events[0], apart(plan.InPharmacy, 5, -4), {Kind: plan.Dispatched, At: events[1].At, Units: 16, Lot: "C1", Delivery: first}}, [4]int{5, 0, 0, 0}, []string{}},
		{"on the way, and handed over", []plan.Event{events[0], events[1], apart(plan.OnTheWay, 21, -2), events[2]}, [4]int{0, 0, 21, 0}, []string{"set-apart-used"}},
		{"some on the way, the others handed over", []plan.Event{events[0], events[1], apart(plan.OnTheWay, 4, -2), {Kind: plan.Delivered, At: events[2].At, Units: 17, Lot: "C1", Delivery: first}}, [4]int{0, 4, 0, 0}, []string{}},
		{"some on the way, one of them handed over", []plan.Event{events[0], events[1], apart(plan.OnTheWay, 4, -2), {Kind: plan.Delivered, At: events[2].At, Units: 18, Lot: "C1", Delivery: first}}, [4]int{0, 3, 1, 0}, []string{"set-apart-used"}},
		{"at home, and fetched back", []plan.Event{events[0], events[1], events[2], apart(plan.AtHome, 6, 1), {Kind: plan.Returned, At: at(2), Units: 8, Lot: "C1", From: plan.AtHome}}, [4]int{0, 0, 0, 6}, []string{}},
		{"fetched back and thrown away", []plan.Event{events[0], events[1], events[2], apart(plan.AtHome, 6, 1), {Kind: plan.Returned, At: at(2), Units: 8, Lot: "C1", From: plan.AtHome}, {Kind: plan.Wasted, At: at(3), Units: 5, Lot: "C1", From: plan.InReturned}}, [4]int{0, 0, 0, 1}, []string{}},
		{"set apart again where it came is the same", []plan.Event{events[0], events[1], apart(plan.OnTheWay, 21, -2), events[2], apart(plan.AtHome, 21, 1)}, [4]int{0, 0, 21, 0}, []string{"set-apart-used"}},
	} {
		a := plan.Tally(c.events, p.HomeDoses, at(5))
		assert.Equal(t, c.want, a.Lots[0].Apart, c.says)
		assert.Equal(t, c.codes, codes(a), c.says)
		assert.True(t, a.Balanced(), c.says)
	}
}

// Handed over although set apart: the home is told at once, and other units
// are sent.
func TestUnitsSetApartOnTheWayAreNoCoverAtHome(t *testing.T) {
	old, _ := vancomycinPlans(t)
	next := old
	next.Basis.Now = instant(t, "2027-02-10T17:30:00-06:00")
	events := append(firstWeek(t, old)[:3], plan.Event{Kind: plan.Quarantined, At: instant(t, "2027-02-10T15:00:00-06:00"), Units: 14, Lot: "V1", From: plan.OnTheWay})
	_, moves := settled(t, old, events, next)
	assert.Equal(t, []string{
		"02-10 17:30 deliver-extra supply short-at-home 14", "02-10 17:30 remake technician short-at-home 14",
		"02-10 21:00 call pharmacist record-wrong 14", "02-10 21:00 quarantine patient set-apart 14", "02-10 21:00 fetch-back supply set-apart 14",
	}, lines(moves), "due before 21:00 less four hours, which is past")
	events = append(events, plan.Event{Kind: plan.Quarantined, At: next.Basis.Now, Units: 14, Lot: "V1", From: plan.AtHome})
	_, moves = settled(t, old, events, next)
	assert.Empty(t, only(moves, plan.Quarantine), "the home has done it")
}

// Set apart on the way without a word of which delivery: none of the lot can
// be relied on.
func TestWhichDeliveryWasSetApartIsAsked(t *testing.T) {
	p, _ := week(t, 0)
	first, second := p.Deliveries[0].Arrival, p.Deliveries[1].Arrival
	at := first.Add(-8 * time.Hour)
	events := []plan.Event{
		{Kind: plan.Made, At: at, Units: 42, Lot: "A", Unit: p.Basis.Unit, BeyondUse: at.Add(400 * time.Hour)},
		{Kind: plan.Dispatched, At: at, Units: 21, Lot: "A", Delivery: first}, {Kind: plan.Dispatched, At: at, Units: 21, Lot: "A", Delivery: second},
		{Kind: plan.Quarantined, At: at, Units: 21, Lot: "A", From: plan.OnTheWay, Delivery: second},
		{Kind: plan.Delivered, At: first, Units: 21, Lot: "A", Delivery: first},
	}
	a := plan.Tally(events, p.HomeDoses, first)
	assert.Empty(t, codes(a))
	assert.Equal(t, [4]int{0, 21, 0, 0}, a.Lots[0].Apart, "those of the second are set apart, the first are good")
	events[3].Delivery = time.Time{}
	a = plan.Tally(events, p.HomeDoses, first)
	assert.Equal(t, []string{"which-delivery"}, codes(a)[:1])
	assert.True(t, a.Lots[0].Doubtful)
}
