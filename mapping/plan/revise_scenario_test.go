package plan_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/plan"
)

// Scenario S2 by hand: 14 units, ten given, two withheld, so 4 at home. The
// next old dose is Tuesday 16 February 21:00, the next planned run Wednesday
// 17:00. 55 - 12 = 43 old doses fall away.
func TestFourUnitsOfTheOldDoseAreFetchedBack(t *testing.T) {
	old, next := vancomycinPlans(t)
	p, moves := settled(t, old, firstWeek(t, old), next)
	assert.Equal(t, []string{
		"02-16 21:00 call patient order-changed 4",
		"02-16 21:00 call prescriber start-missing",
		"02-16 21:00 quarantine patient wrong-strength 4",
		"02-16 21:00 doses-moved pharmacist plan-moved",
		"02-17 17:00 fetch-back supply wrong-strength 4",
		"02-17 17:00 delivery-cancelled driver plan-moved 14",
		"02-17 17:00 waste pharmacist wrong-strength 4",
		"02-24 17:00 delivery-cancelled driver plan-moved 14",
		"03-03 17:00 delivery-cancelled driver plan-moved 13",
	}, lines(moves))
	assert.Equal(t, []plan.Figure{{Name: "made", N: 14}, {Name: "came to the home", N: 14}, {Name: "given", N: 10}, {Name: "returned", N: 0}, {Name: "at home", N: 4}, {Name: "doses without a record", N: 0}}, moves[0].Figures)
	assert.Equal(t, []plan.Figure{{Name: "doses before", N: 43}, {Name: "doses now", N: 0}}, moves[3].Figures)
	assert.Contains(t, moves[1].Why, "Mon 15 Feb 2027 09:05 CST")
	assert.Empty(t, p.HomeDoses)

	// Fetched on Wednesday: what came back is thrown away, the rest is done.
	next.Basis.Now = instant(t, "2027-02-17T18:00:00-06:00")
	fetched := append(firstWeek(t, old), plan.Event{ID: "back", Kind: plan.Returned, At: instant(t, "2027-02-17T17:00:00-06:00"), Units: 4, Lot: "V1"})
	after, moves := settled(t, p, fetched, next)
	assert.Equal(t, []string{"02-17 18:00 waste pharmacist left-pharmacy 4"}, lines(moves))
	assert.Equal(t, []string{
		"02-16 21:00 call patient order-changed 4", "02-16 21:00 quarantine patient wrong-strength 4",
		"02-17 17:00 fetch-back supply wrong-strength 4", "02-17 17:00 waste pharmacist wrong-strength 4",
	}, lines(plan.Withdrawn(p, after)), "the calls about the start and the cancelled deliveries stand")
}

// On 15 February after the dose of 09:00: 4 doses left to 17 February 09:00,
// and 4 units at home.
func TestUnitsAndDosesLeftAgree(t *testing.T) {
	old, _ := vancomycinPlans(t)
	events := firstWeek(t, old)[:13]
	a := plan.Tally(events, old.HomeDoses, instant(t, "2027-02-15T09:10:00-06:00"))
	assert.Equal(t, 4, a.Count(plan.AtHome))
	same := old
	same.Basis.Now = instant(t, "2027-02-15T09:10:00-06:00")
	p, moves := settled(t, old, events, same)
	assert.Empty(t, lines(moves), "everything went as planned")
	assert.Equal(t, old.Deliveries, p.Deliveries)
}

// The start once it is stated: Thursday 18 February 09:00. The units of the
// first new week are made anew, by its arrival.
func TestANewStrengthIsMadeForTheNextDelivery(t *testing.T) {
	old, next := vancomycinPlans(t)
	asked, _ := plan.Revise(old, firstWeek(t, old), next)
	doses := runs(t, "2027-02-18T09:00:00-06:00", 1, 0, 20, "America/Chicago")
	next.Replacement, next.Complete = false, true
	next.FirstHomeDose, next.HomeDoses, next.LastDose = doses[0], doses, doses[19]
	next.Deliveries = []plan.Delivery{load(t, "2027-02-17T20:00:00-06:00", doses, 0, 7), load(t, "2027-02-24T20:00:00-06:00", doses, 7, 14), load(t, "2027-03-03T20:00:00-06:00", doses, 14, 20)}
	next.Basis.Now = instant(t, "2027-02-16T17:30:00-06:00")
	p, moves := settled(t, asked, firstWeek(t, old), next)
	assert.Equal(t, []string{
		"02-17 20:00 delivery-added driver plan-moved 7", "02-17 20:00 remake technician wrong-strength 7",
		"02-18 09:00 call patient plan-moved", "02-18 09:00 doses-moved pharmacist plan-moved",
		"02-24 20:00 delivery-added driver plan-moved 7", "03-03 20:00 delivery-added driver plan-moved 6",
	}, lines(moves), "what was told on Tuesday is not told again")
	assert.Contains(t, lines(plan.Withdrawn(asked, p)), "02-16 21:00 call prescriber start-missing")
	assert.Contains(t, lines(p.Basis.Told), "02-17 17:00 fetch-back supply wrong-strength 4")
}

// Scenario S7 by hand: 8 units good until 27 December 15:00; from the 21st at
// 18:00 six serve 21 to 26 December, the 27th and 28th are too late. The end
// stays 15 January. Those two must be there with the delivery of Wednesday 23.
func TestTwoOfEightAreMadeAgainWhenDischargeSlips(t *testing.T) {
	old, next := daptomycinPlans(t)
	p, moves := settled(t, old, batchOfEight(t, old.Basis.Unit), next)
	assert.Equal(t, []string{
		"12-18 13:00 call driver plan-moved",
		"12-18 13:00 delivery-moved driver plan-moved 6",
		"12-18 13:00 booking-moved supply plan-moved",
		"12-19 17:00 call nurse plan-moved",
		"12-19 17:00 booking-moved supply plan-moved",
		"12-19 18:00 call patient plan-moved",
		"12-19 18:00 doses-moved pharmacist plan-moved",
		"12-21 13:00 waste pharmacist beyond-use 2",
		"12-23 13:00 remake technician beyond-use 2",
	}, lines(moves))
	moved := moves[1]
	assert.Equal(t, []string{"Fri 2026-12-18T13:00:00-08:00", "Mon 2026-12-21T13:00:00-08:00"}, []string{show(moved.From), show(moved.To)})
	assert.Equal(t, []plan.Figure{{Name: "units before", N: 8}, {Name: "units now", N: 6}}, moved.Figures)
	visit := moves[3]
	assert.Equal(t, []string{"Sat 2026-12-19T17:00:00-08:00", "Mon 2026-12-21T17:00:00-08:00"}, []string{show(visit.From), show(visit.To)})
	doses := moves[6]
	assert.Equal(t, []plan.Figure{{Name: "doses before", N: 28}, {Name: "doses now", N: 26}}, doses.Figures)
	again := moves[8]
	require.Len(t, again.Doses, 2)
	assert.Equal(t, []string{"Sun 2026-12-27T18:00:00-08:00", "Mon 2026-12-28T18:00:00-08:00"}, []string{show(again.Doses[0]), show(again.Doses[1])})
	assert.Equal(t, "Fri 2027-01-15T18:00:00-08:00", show(p.LastDose), "the end does not slide")
	assert.Equal(t, []int{6, 7, 7, 6}, []int{p.Deliveries[0].Units, p.Deliveries[1].Units, p.Deliveries[2].Units, p.Deliveries[3].Units})
	assert.Equal(t, "Mon 2026-12-21T09:00:00-08:00", show(p.Basis.Bookings[2].At), "the draw of Monday stays")
}

// Beyond-use on the minute of the dose is in time; a second earlier is not.
func TestADoseAtItsBeyondUseInstantIsServed(t *testing.T) {
	for _, c := range []struct {
		until string
		again int
	}{{"2026-12-28T18:00:00-08:00", 0}, {"2026-12-28T17:59:59-08:00", 1}, {"2026-12-27T18:00:00-08:00", 1}, {"2026-12-27T17:59:59-08:00", 2}} {
		old, next := daptomycinPlans(t)
		batch := batchOfEight(t, old.Basis.Unit)
		batch[0].BeyondUse = instant(t, c.until)
		_, moves := settled(t, old, batch, next)
		n := 0
		for _, m := range only(moves, plan.MakeAgain) {
			n += m.Units
		}
		assert.Equal(t, c.again, n, c.until)
		assert.Equal(t, c.again > 0, len(only(moves, plan.Waste)) == 1, c.until)
	}
}

// S7 had the truck left before the message: it is stopped at once, and its
// eight units are on the way.
func TestATruckThatHasLeftIsCalledAtOnce(t *testing.T) {
	old, next := daptomycinPlans(t)
	events := append(batchOfEight(t, old.Basis.Unit), plan.Event{ID: "sent", Kind: plan.Dispatched, At: instant(t, "2026-12-18T10:20:00-08:00"), Units: 8, Lot: "D8", Delivery: old.Deliveries[0].Arrival})
	p, moves := settled(t, old, events, next)
	m := only(moves, plan.Call)[0]
	assert.Equal(t, []any{plan.ToDriver, "on the way", 8, next.Basis.Now}, []any{m.Whom, m.Subject, m.Units, m.Due.In(next.Basis.Now.Location())})
	assert.Equal(t, "6 of them on the way already", p.Deliveries[0].Says)
}

// Discharge a day earlier: 29 doses from 18 December; eight units serve 18 to
// 25 December and none is lost.
func TestAnEarlierDischargeMovesEverythingForward(t *testing.T) {
	old, next := daptomycinPlans(t)
	doses := runs(t, "2026-12-18T18:00:00-08:00", 1, 0, 29, "America/Los_Angeles")
	next.Discharge = instant(t, "2026-12-17T20:00:00-08:00")
	next.HomeDoses, next.FirstHomeDose = doses, doses[0]
	next.Deliveries = []plan.Delivery{load(t, "2026-12-18T12:00:00-08:00", doses, 0, 8), load(t, "2026-12-23T13:00:00-08:00", doses, 8, 16), load(t, "2026-12-30T13:00:00-08:00", doses, 16, 23), load(t, "2027-01-06T13:00:00-08:00", doses, 23, 29)}
	next.Basis.Now = instant(t, "2026-12-17T17:00:00-08:00")
	next.Basis.Bookings = next.Rebook(old.Basis.Bookings)
	_, moves := settled(t, old, batchOfEight(t, old.Basis.Unit), next)
	assert.Empty(t, only(moves, plan.Waste))
	assert.Empty(t, only(moves, plan.MakeAgain))
	d := only(moves, plan.DosesMoved)[0]
	assert.Equal(t, "Fri 2026-12-18T18:00:00-08:00", show(d.Due), "before the earlier of the two")
	assert.Equal(t, []plan.Figure{{Name: "doses before", N: 28}, {Name: "doses now", N: 29}}, d.Figures)
	assert.Equal(t, "Fri 2026-12-18T12:00:00-08:00", show(only(moves, plan.DeliveryMoved)[0].Due))
}

// Scenario S3: 46 hours from 31 October 11:00 EDT end 2 November 08:00 EST;
// the visit booked for 09:00 moves to 08:00.
func TestTheVisitFollowsTheEndAcrossTheClockChange(t *testing.T) {
	o, c := fluorouracil(t)
	r := rules()
	r.Continuous = true
	ny := zone(t, "America/New_York")
	now := instant(t, "2026-10-30T14:10:00-04:00")
	old := plan.Draft(o, lasts("46", "h"), c, r, ny, now)
	old.Basis = plan.Basis{Now: now, Order: "x", Bookings: []plan.Booking{{ID: "N1", What: "disconnect", At: instant(t, "2026-11-02T09:00:00-05:00")}}}
	next := old
	next.Basis.Bookings = next.Rebook(old.Basis.Bookings)
	_, moves := settled(t, old, nil, next)
	assert.Equal(t, []string{"11-02 08:00 call nurse plan-moved", "11-02 08:00 booking-moved supply plan-moved"}, lines(moves))
	assert.Equal(t, "the visit to disconnect moves from Mon 2 Nov 2026 09:00 EST to Mon 2 Nov 2026 08:00 EST", moves[0].Why)
}

// A discharge that slips over the autumn change: the visit stays an hour
// before the dose, and each time is shown in the zone's name of its day.
func TestAVisitSlipsOverTheClockChange(t *testing.T) {
	ny := zone(t, "America/New_York")
	at := func(first string) plan.Plan {
		doses := runs(t, first, 1, 0, 5, "America/New_York")
		p := plan.Plan{Zone: ny, FirstHomeDose: doses[0], HomeDoses: doses, LastDose: doses[4], Complete: true, Interval: 24 * time.Hour}
		p.Basis = plan.Basis{Now: instant(t, "2026-10-30T09:00:00-04:00"), Order: "x", VisitBefore: time.Hour}
		p.Basis.Bookings = p.Rebook([]plan.Booking{{ID: "V", What: "first-visit"}})
		return p
	}
	_, moves := settled(t, at("2026-10-31T18:00:00-04:00"), nil, at("2026-11-01T18:00:00-05:00"))
	m := only(moves, plan.BookingMoved)[0]
	assert.Equal(t, []string{"Sat 2026-10-31T17:00:00-04:00", "Sun 2026-11-01T17:00:00-05:00"}, []string{show(m.From), show(m.To)})
	assert.Equal(t, 25*time.Hour, m.To.Sub(m.From))
	assert.Equal(t, "the first visit moves from Sat 31 Oct 2026 17:00 EDT to Sun 1 Nov 2026 17:00 EST", m.Why)
}

// S7 with the plans as Draft makes them: 28 doses become 26, six of the
// eight units serve, two are made again.
func TestDraftedPlansGiveTheSameCounts(t *testing.T) {
	la := zone(t, "America/Los_Angeles")
	yes := true
	holds := order.Drug{Name: "daptomycin", Ingredients: []order.Ingredient{{Active: &yes, Concept: order.Concept{Text: "daptomycin"}}}}
	draft := func(leaving, now string, doses ...string) plan.Plan {
		o, c := daptomycin(t, leaving, doses...)
		o.Key = "placer|D-1"
		c.Orders[0].Key = o.Key
		c.Held.Prepared = []order.Batch{{Units: 8, Lot: "D8", Completed: when(t, "2026-12-17T15:00:00-08:00"), BeyondUse: when(t, "2026-12-27T15:00:00-08:00"), OrderRef: "placer|D-1", Drug: holds}}
		p := plan.Draft(o, lasts("30", "min"), c, rules(), la, instant(t, now))
		p.Basis = plan.Basis{Now: instant(t, now), Order: "placer|D-1", Unit: unit("daptomycin", "750"), Lead: 4 * time.Hour}
		return p
	}
	// The dose of Friday was brought forward to 10:00, as the record says.
	old := draft("2026-12-18T11:00:00-08:00", "2026-12-18T10:35:00-08:00", "2026-12-18T10:00:00-08:00", "2026-12-17T18:00:00-08:00")
	next := draft("2026-12-20T19:30:00-08:00", "2026-12-18T10:45:00-08:00", "2026-12-18T10:00:00-08:00", "2026-12-17T18:00:00-08:00")
	require.Len(t, old.HomeDoses, 28)
	p, moves := settled(t, old, batchOfEight(t, old.Basis.Unit), next)
	assert.Len(t, p.HomeDoses, 26)
	require.Len(t, only(moves, plan.Waste), 1)
	assert.Equal(t, 2, only(moves, plan.Waste)[0].Units)
	var again []string
	for _, m := range only(moves, plan.MakeAgain) {
		for _, d := range m.Doses {
			again = append(again, show(d))
		}
	}
	assert.Equal(t, []string{"Sun 2026-12-27T18:00:00-08:00", "Mon 2026-12-28T18:00:00-08:00"}, again)

	assert.Equal(t, batchOfEight(t, old.Basis.Unit)[0].BeyondUse.Unix(), old.Batches()[0].BeyondUse.Unix())
	_, same := settled(t, old, old.Batches(), next)
	assert.Equal(t, lines(moves), lines(same), "the batch of the plan is the record of the lot")

	// A batch whose contents are not on record is not taken for the right one.
	holds = order.Drug{}
	unread := draft("2026-12-18T11:00:00-08:00", "2026-12-18T10:35:00-08:00", "2026-12-18T10:00:00-08:00", "2026-12-17T18:00:00-08:00")
	_, asked := settled(t, old, unread.Batches(), next)
	assert.Contains(t, lines(asked), "12-21 18:00 call pharmacist unknown-unit 8")

	// Without the record nothing is planned from the lot, and that is asked.
	_, moves = settled(t, old, nil, next)
	assert.Empty(t, only(moves, plan.Waste))
	assert.Equal(t, "lot-not-made", only(moves, plan.Call)[len(only(moves, plan.Call))-1].Subject)
	_, moves = settled(t, old, nil, old)
	assert.Empty(t, lines(moves), "nothing happened and nothing moved")
}
