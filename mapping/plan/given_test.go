package plan_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/plan"
)

// toldTo lists whom a call with that reason goes to.
func toldTo(moves []plan.Move, why plan.MoveReason) []string {
	out := []string{}
	for _, m := range moves {
		if m.Kind == plan.Call && m.Reason == why {
			out = append(out, m.Whom)
		}
	}
	return out
}

var both = []string{plan.ToPharmacist, plan.ToPrescriber}

// A unit on record as given that was not what was ordered, or too old, is no
// quiet entry.
func TestAWrongOrExpiredUnitGivenIsACall(t *testing.T) {
	old, _ := vancomycinPlans(t)
	next := old
	next.Basis.Now = instant(t, "2027-02-11T10:00:00-06:00")
	for _, c := range []struct {
		says   string
		change func(*plan.Event)
		reason plan.MoveReason
		whom   []string
	}{
		{"as ordered", func(*plan.Event) {}, plan.WrongStrength, []string{}},
		{"1,750 mg for 1,250 mg", func(e *plan.Event) { e.Unit.Strength = every("1750", "mg") }, plan.WrongStrength, both},
		{"another drug", func(e *plan.Event) { e.Unit.Drug = "cefazolin" }, plan.WrongDrug, both},
		{"another label", func(e *plan.Event) { e.Unit.Label = "cefazolin" }, plan.OldLabel, []string{plan.ToPharmacist}},
		{"a second past its beyond-use time", func(e *plan.Event) { e.BeyondUse = old.HomeDoses[1].Add(-time.Second) }, plan.BeyondUse, both},
		{"at its beyond-use time", func(e *plan.Event) { e.BeyondUse = old.HomeDoses[1] }, plan.BeyondUse, []string{}},
		{"age unknown", func(e *plan.Event) { e.BeyondUse = time.Time{} }, plan.UnknownUse, []string{plan.ToPharmacist, plan.ToPharmacist}},
		{"contents unknown", func(e *plan.Event) { e.Unit = plan.UnitKey{} }, plan.UnknownUnit, []string{plan.ToPharmacist, plan.ToPharmacist}},
	} {
		events := firstWeek(t, old)[:3]
		c.change(&events[0])
		events = append(events, plan.Event{Kind: plan.Given, At: old.HomeDoses[1], Units: 1, Lot: "V1"})
		_, moves := settled(t, old, events, next)
		assert.Equal(t, c.whom, toldTo(moves, c.reason), c.says)
		for _, m := range moves {
			if m.Whom == plan.ToPrescriber {
				assert.Equal(t, []any{"given", 1, "V1", old.HomeDoses[1:2]}, []any{m.Subject, m.Units, m.Lot, m.Doses}, c.says)
			}
		}
	}
}

func TestTheCallAboutAWrongUnitSaysWhatWasGiven(t *testing.T) {
	old, _ := vancomycinPlans(t)
	next := old
	next.Basis.Now = instant(t, "2027-02-11T10:00:00-06:00")
	events := append(firstWeek(t, old)[:3], plan.Event{Kind: plan.Given, At: old.HomeDoses[1], Units: 1, Lot: "V1"})
	events[0].Unit.Strength = every("1750", "mg")
	_, moves := settled(t, old, events, next)
	for _, m := range only(moves, plan.Call) {
		if m.Whom == plan.ToPrescriber {
			assert.Equal(t, "1 unit of lot V1 was given Thu 11 Feb 2027 09:00 CST and held another dose than the order then in force (1,750 mg, not 1,250 mg): ask what is to be watched; the next doses keep their times and none is left out before the answer", m.Why)
		}
	}
}

// Two units in one record are two units for one dose.
func TestTwoUnitsForOneDoseAreACall(t *testing.T) {
	old, _ := vancomycinPlans(t)
	next := old
	next.Basis.Now = old.HomeDoses[0].Add(time.Hour)
	events := append(firstWeek(t, old)[:3], plan.Event{Kind: plan.Given, At: old.HomeDoses[0], Units: 2, Lot: "V1"})
	p, moves := settled(t, old, events, next)
	assert.Equal(t, 2, p.Basis.Account.Doses[0].Given)
	assert.Equal(t, both, toldTo(moves, plan.DoseTwice))
	assert.Equal(t, []plan.Figure{{Name: "given", N: 2}}, only(moves, plan.Call)[0].Figures)
}

// A unit is judged by what was ordered when it was given, not by the plan
// that holds now.
func TestAUnitIsJudgedByTheOrderThatThenHeld(t *testing.T) {
	old, next := vancomycinPlans(t)
	p, moves := settled(t, old, firstWeek(t, old), next)
	assert.Empty(t, toldTo(moves, plan.WrongStrength), "ten were given under the first order")
	next.Basis.Now = instant(t, "2027-02-16T22:00:00-06:00")
	events := append(firstWeek(t, old), plan.Event{Kind: plan.Given, At: instant(t, "2027-02-16T21:05:00-06:00"), Units: 1, Lot: "V1"})
	q, moves := settled(t, p, events, next)
	assert.Equal(t, both, toldTo(moves, plan.WrongStrength), "an hour ago the order had changed")
	// A third order asks for the first dose again: what was given between is
	// still wrong.
	back := old
	back.Basis.Now, back.Basis.Order = instant(t, "2027-02-17T08:00:00-06:00"), "placer|V-3#1"
	r, moves := settled(t, q, events, back)
	assert.Empty(t, toldTo(moves, plan.WrongStrength), "told already")
	assert.Equal(t, both, toldTo(r.Basis.Told, plan.WrongStrength))
	events[len(events)-1].At = instant(t, "2027-02-16T16:09:59-06:00")
	r, _ = settled(t, q, events, back)
	assert.Empty(t, toldTo(r.Basis.Told, plan.WrongStrength), "a second before the change it was right")
}

func TestAUnitGivenAfterAStopIsACall(t *testing.T) {
	p, events := week(t, 10)
	next := p
	next.Basis.Order, next.Basis.Stopped = "o#2", true
	stopped, moves := settled(t, p, events, next)
	assert.Equal(t, []string{plan.ToPatient, plan.ToPrescriber}, toldTo(moves, plan.Stopped))
	next.Basis.Now = p.HomeDoses[10].Add(time.Hour)
	events = append(events, plan.Event{Kind: plan.Given, At: p.HomeDoses[10], Units: 1, Lot: "C1"})
	_, moves = settled(t, stopped, events, next)
	var given []string
	for _, m := range only(moves, plan.Call) {
		if m.Reason == plan.Stopped && m.Subject == "given" {
			given = append(given, m.Whom)
		}
	}
	assert.Equal(t, both, given)
}

// A unit that was set apart and given is told to the prescriber too.
func TestAUnitSetApartAndGivenIsTold(t *testing.T) {
	p, events := week(t, 10)
	events = append(events, plan.Event{Kind: plan.Quarantined, At: p.HomeDoses[9].Add(30 * time.Minute), Units: 11, Lot: "C1", From: plan.AtHome},
		plan.Event{Kind: plan.Given, At: p.HomeDoses[10], Units: 1, Lot: "C1"})
	p.Basis.Now = p.HomeDoses[10].Add(time.Hour)
	_, moves := settled(t, p, events, p)
	require.Equal(t, []string{plan.ToPrescriber}, toldTo(moves, plan.SetApart))
	assert.Equal(t, []string{plan.ToPharmacist}, toldTo(moves, plan.RecordWrong))
}
