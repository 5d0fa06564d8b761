package reconciliation_test

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/conformance/reconciliation"
	"weir.example/weir/mapping/plan"
)

const (
	v1 = "https://fenwicktarn.example/order|V-500117"
	v2 = "https://fenwicktarn.example/order|V-500164"
)

func vancomycinUnit() plan.UnitKey {
	return plan.UnitKey{Drug: "vancomycin", Strength: amount("1250", "mg"), Volume: amount("250", "mL"), Diluent: "saline", Device: "bag", Label: "vancomycin 1,250 mg"}
}

// firstWeek is what is on record of the 14 units of S2: all came, and each
// dose up to a clock was given.
func firstWeek(t *testing.T, until time.Time) []plan.Event {
	arrival := at(t, "2027-02-10T17:00:00-06:00")
	list := []plan.Event{
		{ID: "made", Kind: plan.Made, At: at(t, "2027-02-10T12:00:00-06:00"), Units: 14, Lot: "V1", Unit: vancomycinUnit(), BeyondUse: at(t, "2027-02-19T12:00:00-06:00")},
		{ID: "sent", Kind: plan.Dispatched, At: at(t, "2027-02-10T14:00:00-06:00"), Units: 14, Lot: "V1", Delivery: arrival},
		{ID: "came", Kind: plan.Delivered, At: at(t, "2027-02-10T16:30:00-06:00"), Units: 14, Lot: "V1", Delivery: arrival},
	}
	for i := range 10 {
		dose := at(t, "2027-02-10T21:00:00-06:00").Add(time.Duration(12*i) * time.Hour)
		if dose.Before(until) {
			list = append(list, plan.Event{ID: fmt.Sprint("given ", i), Kind: plan.Given, At: dose.Add(5 * time.Minute), Units: 1, Lot: "V1"})
		}
	}
	return list
}

// Scenario S2 over its days: kidneys fail after discharge, the dose is changed,
// and the old units are still at home.
func TestS2OverItsDays(t *testing.T) {
	doc := base(t, "s2-vancomycin-kidneys").Document
	opened := at(t, "2027-02-10T10:30:00-06:00")
	held := func(until string) reconciliation.Held {
		return reconciliation.Held{Orders: map[string]reconciliation.HeldOrder{v1: {Received: opened.Add(-20 * time.Minute), Opened: opened, Records: firstWeek(t, at(t, until))}}}
	}

	// Wednesday 10 February 02:00: nothing is held yet, and the order of the
	// afternoon before has been looked at by nobody.
	now := at(t, "2027-02-10T02:00:00-06:00")
	r := the(t, compare(t, reconciliation.Side{}, side(t, doc, now), reconciliation.Held{}, night(now)), "V-500117")
	assert.Equal(t, reconciliation.New, r.State)
	assert.Equal(t, []string{"nightly-unseen"}, codes(r))

	// Saturday: everything went as planned.
	now = at(t, "2027-02-13T02:00:00-06:00")
	s := side(t, doc, now)
	r = the(t, compare(t, s, s, held("2027-02-13T02:00:00-06:00"), night(now)), "V-500117")
	assert.Equal(t, reconciliation.Unchanged, r.State)
	assert.Empty(t, codes(r))
	assert.Empty(t, r.Tasks)

	// Monday 15 February 18:00: creatinine 1.9 and a trough of 27. Every unit
	// waits, and prescriber and patient are called before the dose of 21:00.
	now = at(t, "2027-02-15T18:00:00-06:00")
	s = side(t, doc, now)
	ill := readCase(t, base(t, "s2-vancomycin-kidneys"), now)
	results(t, &ill, result("creatinine", "1.9", "mg/dL", "2027-02-15T08:20:00-06:00"), result("trough", "27", "mg/L", "2027-02-15T08:20:00-06:00"))
	ill.Measurements[1].Of = "vancomycin"
	sick := judged(ill, now)
	r = the(t, compare(t, s, sick, held("2027-02-15T18:00:00-06:00"), night(now)), "V-500117")
	assert.Equal(t, []string{"nightly-lab-due"}, codes(r))
	assert.Contains(t, says(r, "nightly-lab-due"), "creatinine 1.9 mg per dL")
	assert.Contains(t, says(r, "nightly-lab-due"), "trough 27 mg per L")
	assert.Subset(t, tasks(r), []string{"dispatch-block", "see-result", "call-prescriber", "call-patient"})
	for _, x := range r.Tasks {
		assert.False(t, x.Due.After(at(t, "2027-02-15T21:00:00-06:00")), "%s before the dose of 21:00", x.Code)
	}

	// Tuesday 16:10: 750 mg every 24 hours replaces it, five minutes old. The
	// old order is still on Wednesday's truck, and 4 units of it are at home.
	now = at(t, "2027-02-16T16:10:00-06:00")
	changed := base(t, "s2-vancomycin-kidneys-changed").Document
	h := held("2027-02-16T16:10:00-06:00")
	list := compare(t, judged(ill, now), side(t, changed, now), h, night(now))
	r = the(t, list, "V-500117")
	assert.Equal(t, []string{"nightly-replaced", "nightly-surplus-at-home"}, codes(r))
	assert.Contains(t, says(r, "nightly-replaced"), "4 units at home")
	assert.Contains(t, says(r, "nightly-replaced"), "3 deliveries to come")
	assert.Subset(t, tasks(r), []string{"dispatch-block", "call-patient", "quarantine-patient", "fetch-back", "call-prescriber"})
	assert.NotContains(t, tasks(r), "remake")
	fresh := the(t, list, "V-500164")
	assert.Equal(t, reconciliation.New, fresh.State)
	assert.Empty(t, codes(fresh), "younger than 2 hours")

	// By night it is older, and nobody has opened it. Nothing of the old order
	// was done yet: its findings stand, and are not new.
	now = at(t, "2027-02-17T02:00:00-06:00")
	old := h.Orders[v1]
	old.Standing = append(old.Standing, "nightly-replaced", "nightly-surplus-at-home")
	h.Orders[v1] = old
	h.Orders[v2] = reconciliation.HeldOrder{Received: at(t, "2027-02-16T16:06:00-06:00")}
	s = side(t, changed, now)
	list = compare(t, s, s, h, night(now))
	r = the(t, list, "V-500117")
	assert.Equal(t, []string{"nightly-replaced", "nightly-surplus-at-home"}, codes(r))
	assert.False(t, slices.ContainsFunc(r.Findings, func(f reconciliation.Found) bool { return f.New }))
	assert.Contains(t, codes(the(t, list, "V-500164")), "nightly-unseen")

	// Thursday: judged, the four units fetched back, the old order settled.
	now = at(t, "2027-02-18T02:00:00-06:00")
	old.Settled = true
	old.Records = append(old.Records, plan.Event{ID: "back", Kind: plan.Returned, At: at(t, "2027-02-17T17:00:00-06:00"), Units: 4, Lot: "V1", From: plan.AtHome})
	h.Orders[v1] = old
	h.Orders[v2] = reconciliation.HeldOrder{Received: at(t, "2027-02-16T16:06:00-06:00"), Opened: at(t, "2027-02-17T08:00:00-06:00")}
	c := readCase(t, base(t, "s2-vancomycin-kidneys-changed"), now)
	c.Reports = nil // counted before they were fetched
	s = judged(c, now)
	r = the(t, compare(t, s, s, h, night(now)), "V-500117")
	assert.Empty(t, codes(r))
	assert.Empty(t, r.Tasks)
}

const s7Key = "https://marrowgate.example/order|88220455"

// Scenario S7 over its days: the discharge slips two days after eight units
// were made; the end of the course stays, two units pass their time.
func TestS7OverItsDays(t *testing.T) {
	planned := base(t, "s7-daptomycin-discharge-planned")
	moved := base(t, "s7-discharge-moved")
	unit := plan.UnitKey{Drug: "daptomycin", Strength: amount("750", "mg"), Volume: amount("50", "mL"), Diluent: "saline", Device: "elastomeric", Label: "daptomycin 750 mg"}
	records := []plan.Event{{ID: "B", Kind: plan.Made, At: at(t, "2026-12-17T15:00:00-08:00"), Units: 8, Lot: "D8", Unit: unit, BeyondUse: at(t, "2026-12-27T15:00:00-08:00")}}
	held := reconciliation.Held{Orders: map[string]reconciliation.HeldOrder{s7Key: {
		Received: at(t, "2026-12-17T09:00:00-08:00"), Opened: at(t, "2026-12-17T10:00:00-08:00"), Records: records,
		Bookings: []plan.Booking{{ID: "A1", What: "first-visit", At: at(t, "2026-12-19T17:00:00-08:00")}, {ID: "A2", What: "delivery", At: at(t, "2026-12-18T13:00:00-08:00")},
			{ID: "A3", What: "laboratory", At: at(t, "2026-12-21T09:00:00-08:00")}}}}}

	// Thursday night to Friday: quiet.
	now := at(t, "2026-12-18T10:35:00-08:00")
	s := side(t, planned.Document, now)
	r := the(t, compare(t, s, s, held, night(now)), "88220455")
	assert.Empty(t, codes(r))

	// Friday 10:45: the discharge is now Sunday. Driver, visit and doses move,
	// two units are made again, and the end does not slide.
	now = at(t, "2026-12-18T10:45:00-08:00")
	before, after := side(t, planned.Document, now), side(t, moved.Document, now)
	r = the(t, compare(t, before, after, held, night(now)), "88220455")
	assert.Equal(t, []string{"nightly-beyond-use", "nightly-discharge-moved"}, codes(r))
	assert.Contains(t, says(r, "nightly-discharge-moved"), "as held: Fri 18 Dec 2026 11:00 PST; the course keeps its end")
	assert.Contains(t, says(r, "nightly-beyond-use"), "2 units past beyond-use at the dose: to be started by Sun 27 Dec 2026 15:00 PST, dose Sun 27 Dec 2026 18:00 PST")
	assert.Equal(t, "2027-01-15T18:00:00-08:00", after.Sheets[0].Schedule.LastDose)
	assert.Equal(t, 26, after.Sheets[0].Schedule.DoseCount)
	assert.Subset(t, tasks(r), []string{"plan-again", "remake", "doses-moved", "booking-moved", "call-nurse", "call-driver", "delivery-moved"})
	assert.NotEmpty(t, r.Told)

	// Asked again: nothing is told twice.
	h := held.Orders[s7Key]
	h.Told, h.Standing = r.Told, []findingCode{"nightly-discharge-moved", "nightly-beyond-use"}
	held.Orders[s7Key] = h
	again := the(t, compare(t, before, after, held, night(now)), "88220455")
	assert.Empty(t, again.Moves)
	assert.Equal(t, r.Told, again.Told)

	// Sunday 18:45, after the second hospital dose: the plan held, and the two
	// units still pass their time.
	now = at(t, "2026-12-20T18:45:00-08:00")
	h.Bookings = nil
	held.Orders[s7Key] = h
	before, after = side(t, moved.Document, now), side(t, base(t, "s7-daptomycin-discharge").Document, now)
	r = the(t, compare(t, before, after, held, night(now)), "88220455")
	assert.Equal(t, []string{"nightly-beyond-use"}, codes(r))
	require.Len(t, r.Findings, 1)
	assert.False(t, r.Findings[0].New)

	// Two were thrown away and made again: quiet.
	h.Records = append(records, plan.Event{ID: "waste", Kind: plan.Wasted, At: at(t, "2026-12-20T19:00:00-08:00"), Units: 2, Lot: "D8", From: plan.InPharmacy},
		plan.Event{ID: "again", Kind: plan.Made, At: at(t, "2026-12-20T20:00:00-08:00"), Units: 2, Lot: "D9", Unit: unit, BeyondUse: at(t, "2026-12-30T20:00:00-08:00")})
	h.Told = nil
	held.Orders[s7Key] = h
	now = at(t, "2026-12-21T02:00:00-08:00")
	s = side(t, base(t, "s7-daptomycin-discharge").Document, now)
	assert.Empty(t, codes(the(t, compare(t, s, s, held, night(now)), "88220455")))
}
