package plan_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/plan"
	"weir.example/weir/mapping/schedule"
)

// firstHome drafts an order from 4 January 2027 with one dose on record in
// hospital.
func firstHome(t *testing.T, timing schedule.Timing, last, leave, now string) plan.Plan {
	o := infusion(t, "examplemycin", "2027-01-04T06:00:00-05:00", "2027-02-05", timing)
	if len(timing.TimesOfDay) > 0 {
		o.Course.Start = when(t, "2027-01-04T"+timing.TimesOfDay[0]+"-05:00")
	}
	c := order.Case{Orders: []order.Order{o}, Administrations: []order.Administration{given(t, "examplemycin", last, "inpatient")}, Discharges: []order.Discharge{leaves(t, leave)}}
	return plan.Draft(o, nil, c, rules(), zone(t, "America/New_York"), instant(t, now))
}

// A dose given early or late stands for the nearest that the order names: it
// is neither doubled nor is the next one left out (common practice, no
// source).
func TestADoseGivenStandsForTheNearestOrderedTime(t *testing.T) {
	thrice := schedule.Timing{DaysOfWeek: []string{"mon", "wed", "fri"}, TimesOfDay: []string{"18:00:00"}}
	weekly := schedule.Timing{DaysOfWeek: []string{"mon"}, TimesOfDay: []string{"09:00:00"}}
	twice := schedule.Timing{Frequency: 2, Period: every("1", "d"), TimesOfDay: []string{"09:00:00", "17:00:00"}}
	three := schedule.Timing{Frequency: 3, Period: every("1", "d"), TimesOfDay: []string{"08:00:00", "14:00:00", "20:00:00"}}
	second := schedule.Timing{Frequency: 1, Period: every("2", "d"), TimesOfDay: []string{"18:00:00"}}
	for _, c := range []struct {
		says                    string
		timing                  schedule.Timing
		last, leave, now, first string
	}{
		{"Wednesday's dose 8 h early", thrice, "2027-01-13T10:00:00-05:00", "2027-01-13T12:00:00-05:00", "2027-01-13T11:00:00-05:00", "Fri 2027-01-15T18:00:00-05:00"},
		{"Wednesday's dose on Thursday morning", thrice, "2027-01-14T08:00:00-05:00", "2027-01-14T12:00:00-05:00", "2027-01-14T11:00:00-05:00", "Fri 2027-01-15T18:00:00-05:00"},
		{"Monday's dose on Sunday evening", weekly, "2027-01-10T20:00:00-05:00", "2027-01-10T22:00:00-05:00", "2027-01-10T21:00:00-05:00", "Mon 2027-01-18T09:00:00-05:00"},
		{"the second of two in a day", twice, "2027-01-13T09:00:00-05:00", "2027-01-13T11:30:00-05:00", "2027-01-13T10:20:00-05:00", "Wed 2027-01-13T17:00:00-05:00"},
		{"the last of three, after one 5 min late", three, "2027-01-13T14:05:00-05:00", "2027-01-13T15:30:00-05:00", "2027-01-13T15:00:00-05:00", "Wed 2027-01-13T20:00:00-05:00"},
		{"every second day, 20 min late", second, "2027-01-14T18:20:00-05:00", "2027-01-15T11:30:00-05:00", "2027-01-15T10:00:00-05:00", "Sat 2027-01-16T18:00:00-05:00"},
		{"every second day, a day early", second, "2027-01-13T19:00:00-05:00", "2027-01-14T11:30:00-05:00", "2027-01-14T10:00:00-05:00", "Sat 2027-01-16T18:00:00-05:00"},
	} {
		p := firstHome(t, c.timing, c.last, c.leave, c.now)
		assert.Equal(t, c.first, show(p.FirstHomeDose), "%s: %v %v", c.says, p.Unknown, p.Says)
	}
}

// Doses whose time in hospital is past and that have no record are not known
// to have been given. One that fell due within the last hours is.
func TestDosesWithoutARecordInHospitalAreNotTakenForGiven(t *testing.T) {
	q8h := schedule.Timing{Frequency: 1, Period: every("8", "h")}
	p := firstHome(t, q8h, "2027-01-11T06:00:00-05:00", "2027-01-13T15:00:00-05:00", "2027-01-13T16:00:00-05:00")
	assert.Equal(t, 64*time.Hour, p.Gap)
	assert.Contains(t, p.Unknown, "whether the doses due in hospital after Mon 11 Jan 2027 06:00 EST were given: 6 without a record")
	for now, gap := range map[string]time.Duration{
		"2027-01-13T18:00:00-05:00": 8 * time.Hour,  // 4 h after its time
		"2027-01-13T18:01:00-05:00": 16 * time.Hour, // a minute more
	} {
		p = firstHome(t, q8h, "2027-01-13T06:00:00-05:00", "2027-01-13T19:00:00-05:00", now)
		assert.Equal(t, gap, p.Gap, now)
	}
}

// A discharge without an hour may be before or after the dose of that day.
func TestADischargeWithoutAnHourLeavesTheDoseOfThatDayOpen(t *testing.T) {
	daily := schedule.Timing{Frequency: 1, Period: every("1", "d")}
	p := firstHome(t, daily, "2027-01-09T08:00:00-05:00", "2027-01-10", "2027-01-09T10:00:00-05:00")
	assert.True(t, p.FirstHomeDose.IsZero())
	assert.Contains(t, p.Unknown[0], "the discharge names a day and no time")
	p = firstHome(t, schedule.Timing{Frequency: 1, Period: every("2", "d")}, "2027-01-09T08:00:00-05:00", "2027-01-10", "2027-01-09T10:00:00-05:00")
	assert.Equal(t, "Mon 2027-01-11T08:00:00-05:00", show(p.FirstHomeDose), "no dose falls on that day")
}

func TestADoseOfAnotherRouteOrCombinationIsNotTheLastDose(t *testing.T) {
	o := infusion(t, "vancomycin", "2026-11-03T00:00:00-05:00", "2026-11-20", schedule.Timing{Frequency: 1, Period: every("12", "h")})
	route := func(code string) order.Concept {
		return order.Concept{Codings: []order.Coding{{System: "http://snomed.info/sct", Code: code}}}
	}
	o.Route = route("47625008")
	for _, c := range []struct {
		drug  string
		route order.Concept
		first string
	}{
		{"vancomycin 125 mg oral capsule", order.Concept{}, "Tue 2026-11-10T12:00:00-05:00"},
		{"vancomycin 125 mg", route("26643006"), "Tue 2026-11-10T12:00:00-05:00"},
		{"vancomycin-examplactam 1 g", order.Concept{}, "Tue 2026-11-10T12:00:00-05:00"},
		{"vancomycin 1 g in sodium chloride 0.9 %, 250 mL", route("47625008"), "Tue 2026-11-10T22:00:00-05:00"},
		{"vancomycin 1 g", order.Concept{}, "Tue 2026-11-10T22:00:00-05:00"},
	} {
		late := given(t, c.drug, "2026-11-10T10:00:00-05:00", "inpatient")
		late.Route = c.route
		k := order.Case{Orders: []order.Order{o}, Discharges: []order.Discharge{leaves(t, "2026-11-10T11:00:00-05:00")},
			Administrations: []order.Administration{given(t, "vancomycin 1 g", "2026-11-10T00:00:00-05:00", "inpatient"), late}}
		p := plan.Draft(o, nil, k, rules(), zone(t, "America/New_York"), instant(t, "2026-11-10T10:30:00-05:00"))
		assert.Equal(t, c.first, show(p.FirstHomeDose), "%s: %v", c.drug, p.Says)
	}
}

// 02:30 is not shown on 14 March 2027 and 03:30 is: both would be one instant.
func TestTwoDosesAtOneInstantAreAskedAbout(t *testing.T) {
	o := infusion(t, "examplemycin", "2027-03-10T02:30:00-05:00", "2027-03-20", schedule.Timing{Frequency: 2, Period: every("1", "d"), TimesOfDay: []string{"02:30:00", "03:30:00"}})
	c := order.Case{Orders: []order.Order{o}}
	p := plan.Draft(o, nil, c, rules(), zone(t, "America/New_York"), instant(t, "2027-03-09T12:00:00-05:00"))
	assert.Contains(t, p.Unknown, "which of two doses is given Sun 14 Mar 2027 03:30 EDT: the clocks go forward and both fall on that instant")
	assert.Len(t, p.HomeDoses, 22, "neither is left out")
}
