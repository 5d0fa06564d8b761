package plan_test

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/plan"
)

// unit is a bag of so many milligrams in 250 mL of saline.
func unit(drug, mg string) plan.UnitKey {
	return plan.UnitKey{Drug: drug, Strength: every(mg, "mg"), Volume: every("250", "mL"), Diluent: "saline", Device: "bag", Label: drug + " " + mg}
}

// runs lists n instants from the first, so far apart on the wall clock.
func runs(t testing.TB, first string, days int, hours time.Duration, n int, zoneName string) []time.Time {
	z := zone(t, zoneName)
	var out []time.Time
	start := instant(t, first).In(z.Location)
	y, m, d := start.Date()
	since := z.SinceMidnight(start)
	for i := range n {
		at, _, _ := z.Wall(y, m, d+i*days, since+time.Duration(i)*hours)
		out = append(out, at)
	}
	return out
}

// load is a delivery of the doses from one index to before another.
func load(t testing.TB, arrival string, doses []time.Time, from, to int) plan.Delivery {
	return plan.Delivery{Arrival: instant(t, arrival), Units: to - from, FirstDose: doses[from], LastDose: doses[to-1]}
}

// vancomycinPlans are the two plans of scenario S2: 1,250 mg every 12 hours,
// then 750 mg daily without a start, as of Tuesday 16 February 16:10.
func vancomycinPlans(t testing.TB) (old, next plan.Plan) {
	z := zone(t, "America/Chicago")
	doses := runs(t, "2027-02-10T21:00:00-06:00", 0, 12*time.Hour, 55, "America/Chicago")
	old = plan.Plan{Zone: z, FirstHomeDose: doses[0], HomeDoses: doses, LastDose: doses[54], Complete: true, Interval: 12 * time.Hour, Deliveries: []plan.Delivery{
		load(t, "2027-02-10T17:00:00-06:00", doses, 0, 14), load(t, "2027-02-17T17:00:00-06:00", doses, 14, 28),
		load(t, "2027-02-24T17:00:00-06:00", doses, 28, 42), load(t, "2027-03-03T17:00:00-06:00", doses, 42, 55)}}
	old.Basis = plan.Basis{Now: instant(t, "2027-02-10T10:10:00-06:00"), Order: "placer|V-1#1", Unit: unit("vancomycin", "1250"), Lead: 4 * time.Hour}
	next = plan.Plan{Zone: z, Replacement: true, Interval: 24 * time.Hour}
	next.Basis = plan.Basis{Now: instant(t, "2027-02-16T16:10:00-06:00"), Order: "placer|V-2#1", Unit: unit("vancomycin", "750"), Lead: 4 * time.Hour}
	return old, next
}

// firstWeek is what happened to the 14 units of the first delivery of S2:
// ten given to 15 February 09:00, two doses withheld after the level of 27.
func firstWeek(t testing.TB, old plan.Plan) []plan.Event {
	first := old.Deliveries[0]
	events := []plan.Event{
		{ID: "made", Kind: plan.Made, At: instant(t, "2027-02-10T12:00:00-06:00"), Units: 14, Lot: "V1", Unit: old.Basis.Unit, BeyondUse: instant(t, "2027-02-19T12:00:00-06:00")},
		{ID: "sent", Kind: plan.Dispatched, At: instant(t, "2027-02-10T14:00:00-06:00"), Units: 14, Lot: "V1", Delivery: first.Arrival},
		{ID: "came", Kind: plan.Delivered, At: instant(t, "2027-02-10T16:30:00-06:00"), Units: 14, Lot: "V1", Delivery: first.Arrival},
	}
	for i := range 10 {
		events = append(events, plan.Event{ID: fmt.Sprintf("given %d", i), Kind: plan.Given, At: old.HomeDoses[i].Add(5 * time.Minute), Units: 1, Lot: "V1"})
	}
	return append(events, plan.Event{Kind: plan.Withheld, At: old.HomeDoses[10], Dose: old.HomeDoses[10]}, plan.Event{Kind: plan.Withheld, At: old.HomeDoses[11], Dose: old.HomeDoses[11]})
}

// daptomycinPlans are the two plans of scenario S7: 28 home doses from 19
// December, then 26 from the 21st, as of Friday 18 December 10:45.
func daptomycinPlans(t testing.TB) (old, next plan.Plan) {
	z := zone(t, "America/Los_Angeles")
	doses := runs(t, "2026-12-19T18:00:00-08:00", 1, 0, 28, "America/Los_Angeles")
	old = plan.Plan{Zone: z, Discharge: instant(t, "2026-12-18T11:00:00-08:00"), LastGiven: instant(t, "2026-12-17T18:00:00-08:00"), FirstHomeDose: doses[0], HomeDoses: doses, LastDose: doses[27], Complete: true, Interval: 24 * time.Hour, Deliveries: []plan.Delivery{
		load(t, "2026-12-18T13:00:00-08:00", doses, 0, 8), load(t, "2026-12-23T13:00:00-08:00", doses, 8, 15),
		load(t, "2026-12-30T13:00:00-08:00", doses, 15, 22), load(t, "2027-01-06T13:00:00-08:00", doses, 22, 28)}}
	old.Basis = plan.Basis{Now: instant(t, "2026-12-17T16:00:00-08:00"), Order: "placer|D-1#1", Unit: unit("daptomycin", "750"), VisitBefore: time.Hour, Lead: 5 * time.Hour, Bookings: []plan.Booking{
		{ID: "A1", What: "first-visit", At: instant(t, "2026-12-19T17:00:00-08:00")}, {ID: "A2", What: "delivery", At: instant(t, "2026-12-18T13:00:00-08:00")},
		{ID: "A3", What: "laboratory", At: instant(t, "2026-12-21T09:00:00-08:00")}}}
	next = old
	next.Discharge = instant(t, "2026-12-20T19:30:00-08:00")
	next.HomeDoses, next.FirstHomeDose = doses[2:], doses[2]
	next.Deliveries = []plan.Delivery{load(t, "2026-12-21T13:00:00-08:00", doses, 2, 8), old.Deliveries[1], old.Deliveries[2], old.Deliveries[3]}
	next.Basis.Now = instant(t, "2026-12-18T10:45:00-08:00")
	next.Basis.Bookings = next.Rebook(old.Basis.Bookings)
	return old, next
}

// batchOfEight is the lot of S7, made on Thursday at 15:00.
func batchOfEight(t testing.TB, key plan.UnitKey) []plan.Event {
	return []plan.Event{{ID: "B", Kind: plan.Made, At: instant(t, "2026-12-17T15:00:00-08:00"), Units: 8, Lot: "D8", Unit: key, BeyondUse: instant(t, "2026-12-27T15:00:00-08:00")}}
}

// lines writes moves one a line: due, kind, whom, reason, units.
func lines(moves []plan.Move) []string {
	out := []string{}
	for _, m := range moves {
		s := fmt.Sprintf("%s %s %s %s", m.Due.Format("01-02 15:04"), m.Kind, m.Whom, m.Reason)
		if m.Units > 0 {
			s += fmt.Sprintf(" %d", m.Units)
		}
		out = append(out, s)
	}
	return out
}

func only(moves []plan.Move, kind plan.MoveKind) []plan.Move {
	return slices.DeleteFunc(slices.Clone(moves), func(m plan.Move) bool { return m.Kind != kind })
}

// settled asserts what every revision must keep: nothing told twice, the same
// answer again and for events in any order, conservation, an instant and
// clean words on every move.
func settled(t testing.TB, old plan.Plan, happened []plan.Event, next plan.Plan) (plan.Plan, []plan.Move) {
	t.Helper()
	p, moves := plan.Revise(old, happened, next)
	again, none := plan.Revise(p, happened, next)
	assert.Empty(t, lines(none), "told twice")
	assert.Equal(t, p, again)
	back := slices.Clone(happened)
	slices.Reverse(back)
	_, other := plan.Revise(old, append(back, happened...), next)
	assert.Equal(t, moves, other, "events the other way round, each twice")
	require.True(t, p.Basis.Account.Balanced())
	for i, m := range moves {
		assert.False(t, m.Due.IsZero() || m.Due.Before(next.Basis.Now), m.Why)
		assert.NotEmpty(t, m.Why)
		assert.Empty(t, notation.Scan(m.Why), m.Why)
		assert.NotEmpty(t, m.Whom)
		assert.Contains(t, plan.TaskCodes(), m.Task(), "a move without a task")
		assert.NotEmpty(t, m.Reason)
		assert.True(t, i == 0 || !m.Due.Before(moves[i-1].Due), "by instant")
	}
	return p, moves
}
