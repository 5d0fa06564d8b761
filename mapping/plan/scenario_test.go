package plan_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/plan"
	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/schedule"
)

// Scenario S1 by hand. First home dose 14:00 + 8 h = 22:00. 10 November 22:00
// to 15 December 15:00 are 34 d 17 h = 833 h; 833 / 8 = 104.1, so 105 starts,
// the last at 22:00 + 104 x 8 h = 15 December 14:00. 3 November 22:00 to 10
// November 22:00 are 168 h, 21 doses in hospital; 21 + 105 = 126. Arrival 22:00
// - 3 h - 1 h of teaching = 18:00, later ones 19:00. 30 min / 1.15 = 26.087
// min, / 0.85 = 35.294 min.
func TestAWeekInHospitalAndFiveAtHome(t *testing.T) {
	o, c := cefazolin(t)
	p := plan.Draft(o, lasts("30", "min"), c, rules(), zone(t, "America/New_York"), instant(t, "2026-11-10T14:20:00-05:00"))
	assert.Equal(t, "Tue 2026-11-10T22:00:00-05:00", show(p.FirstHomeDose))
	assert.Equal(t, "Tue 2026-12-15T14:00:00-05:00", show(p.LastDose))
	assert.Len(t, p.HomeDoses, 105)
	assert.Equal(t, []int{126, 21}, []int{p.CourseCount, p.HospitalCount})
	assert.True(t, p.Complete)
	assert.Empty(t, p.Unknown)
	assert.Equal(t, []time.Duration{8 * time.Hour, 8 * time.Hour}, []time.Duration{p.Interval, p.Gap})
	at, units, days := arrivals(p)
	assert.Equal(t, []string{"Tue 2026-11-10T18:00:00-05:00", "Tue 2026-11-17T19:00:00-05:00", "Tue 2026-11-24T19:00:00-05:00", "Tue 2026-12-01T19:00:00-05:00", "Tue 2026-12-08T19:00:00-05:00"}, at)
	assert.Equal(t, []int{21, 21, 21, 21, 21}, units)
	assert.Equal(t, []int{7, 7, 7, 7, 7}, days)
	assert.Equal(t, "Tue 2026-11-24T22:00:00-05:00", show(p.Deliveries[2].FirstDose))
	assert.Equal(t, "Tue 2026-12-01T14:00:00-05:00", show(p.Deliveries[2].LastDose))
	assert.Equal(t, "26.1 35.3", quantity.Ratio(int64(p.ShortestRun/time.Second), 60).Places(1)+" "+quantity.Ratio(int64(p.LongestRun/time.Second), 60).Places(1))
	assert.False(t, p.ClockChange, "the course begins after the change of 1 November")
	assert.False(t, p.StartPassed)
	assert.True(t, p.EndsAt.IsZero(), "an intermittent infusion has no end of its own in the plan")
	assert.Equal(t, []string{"the first home dose, Tue 10 Nov 2026 22:00 EST, follows the last hospital dose, Tue 10 Nov 2026 14:00 EST, at the ordered interval of 8 hours"}, p.Says)
}

// A date-only end includes its 22:00 dose: 105 + 1.
func TestADateOnlyEndIncludesThatDay(t *testing.T) {
	o, c := cefazolin(t)
	o.Course.End = when(t, "2026-12-15")
	p := plan.Draft(o, nil, c, rules(), zone(t, "America/New_York"), instant(t, "2026-11-10T14:20:00-05:00"))
	assert.Len(t, p.HomeDoses, 106)
	assert.Equal(t, "Tue 2026-12-15T22:00:00-05:00", show(p.LastDose))
}

// Scenario S3 by hand. 31 October 11:00 EDT is 15:00 UTC; + 46 h is 2 November
// 13:00 UTC, 08:00 EST. 46 / 1.15 = 40 h, 02:00 EST; 46 / 0.85 = 54.1176 h, 54 h
// 7 min 4 s with the second begun, 16:07:04 EST. The wall clock says 09:00.
func TestAnInfusionAcrossTheAutumnChangeEndsByElapsedTime(t *testing.T) {
	o, c := fluorouracil(t)
	r := rules()
	r.Continuous = true
	p := plan.Draft(o, lasts("46", "h"), c, r, zone(t, "America/New_York"), instant(t, "2026-10-30T14:10:00-04:00"))
	assert.Equal(t, "Sat 2026-10-31T11:00:00-04:00", show(p.FirstHomeDose))
	assert.Equal(t, "Mon 2026-11-02T08:00:00-05:00", show(p.EndsAt))
	assert.Equal(t, "Mon 2026-11-02T09:00:00-05:00", show(p.WallEnd))
	assert.Equal(t, "Mon 2026-11-02T02:00:00-05:00", show(p.EndsEarliest))
	assert.Equal(t, "Mon 2026-11-02T16:07:04-05:00", show(p.EndsLatest))
	assert.True(t, p.ClockChange)
	require.Len(t, p.Changes, 1)
	assert.Equal(t, "infusion-end", p.Changes[0].Of)
	assert.Equal(t, []string{show(p.EndsAt), show(p.WallEnd)}, []string{show(p.Changes[0].Elapsed), show(p.Changes[0].Wall)})
	assert.Equal(t, "the clocks change during the infusion begun Sat 31 Oct 2026 11:00 EDT: by elapsed time it ends Mon 2 Nov 2026 08:00 EST, by the wall clock it would end Mon 2 Nov 2026 09:00 EST", p.Says[len(p.Says)-1])
	assert.Equal(t, []int{1, 1, 0}, []int{len(p.HomeDoses), p.CourseCount, p.HospitalCount})
	at, units, days := arrivals(p)
	assert.Equal(t, []string{"Fri 2026-10-30T20:00:00-04:00"}, at, "11:00 - 4 h is 07:00, before staffed hours: the evening before")
	assert.Equal(t, []int{1, 2}, []int{units[0], days[0]})
}

func TestAPumpHasNoWindowAndADisputedTimeNoEnd(t *testing.T) {
	o, c := fluorouracil(t)
	r := rules()
	r.Continuous, r.FixedFlow = true, false
	p := plan.Draft(o, lasts("46", "h"), c, r, zone(t, "America/New_York"), instant(t, "2026-10-30T14:10:00-04:00"))
	assert.Equal(t, "Mon 2026-11-02T08:00:00-05:00", show(p.EndsAt))
	assert.True(t, p.EndsEarliest.IsZero() && p.EndsLatest.IsZero())
	q := lasts("46", "h")
	d := q["duration"]
	d.Disputed = true
	q["duration"] = d
	p = plan.Draft(o, q, c, r, zone(t, "America/New_York"), instant(t, "2026-10-30T14:10:00-04:00"))
	assert.True(t, p.EndsAt.IsZero(), "a disputed infusion time plans no end")
}

// Scenario S7 by hand. Given on 20 December 18:00, so home from Monday 21
// December 18:00; 11 + 15 = 26 doses, and the end does not slide. 12-05 to
// 01-15 are 27 + 15 = 42, of which 16 to 12-20 are the hospital's.
func TestTheEndStaysWhenDischargeSlips(t *testing.T) {
	o, c := daptomycin(t, "2026-12-20T19:30:00-08:00", "2026-12-20T18:00:00-08:00", "2026-12-19T18:00:00-08:00", "2026-12-05T18:00:00-08:00")
	la := zone(t, "America/Los_Angeles")
	p := plan.Draft(o, lasts("30", "min"), c, rules(), la, instant(t, "2026-12-20T18:45:00-08:00"))
	assert.Equal(t, "Mon 2026-12-21T18:00:00-08:00", show(p.FirstHomeDose))
	assert.Equal(t, "Fri 2027-01-15T18:00:00-08:00", show(p.LastDose))
	assert.Equal(t, []int{26, 42, 16}, []int{len(p.HomeDoses), p.CourseCount, p.HospitalCount})
	assert.False(t, p.StartPassed)

	// The message of Friday: two hospital doses are still to come.
	o, c = daptomycin(t, "2026-12-20T19:30:00-08:00", "2026-12-18T10:00:00-08:00", "2026-12-17T18:00:00-08:00")
	p = plan.Draft(o, lasts("30", "min"), c, rules(), la, instant(t, "2026-12-18T10:45:00-08:00"))
	assert.Equal(t, "Mon 2026-12-21T18:00:00-08:00", show(p.FirstHomeDose))
	assert.Len(t, p.HomeDoses, 26)
	assert.Equal(t, 24*time.Hour, p.Gap, "counted from the last dose due in hospital, Sunday 18:00")
}

// Given at 10:00 before an 11:00 discharge, 18:00 the same day is 8 h later,
// under three quarters of 24 h: the next is 19 December 18:00, 32 h later.
func TestADoseBroughtForwardStandsForThatEvening(t *testing.T) {
	o, c := daptomycin(t, "2026-12-18T11:00:00-08:00", "2026-12-18T10:00:00-08:00", "2026-12-17T18:00:00-08:00")
	la := zone(t, "America/Los_Angeles")
	p := plan.Draft(o, nil, c, rules(), la, instant(t, "2026-12-18T10:35:00-08:00"))
	assert.Equal(t, "Sat 2026-12-19T18:00:00-08:00", show(p.FirstHomeDose))
	assert.Equal(t, []int{28, 42, 14}, []int{len(p.HomeDoses), p.CourseCount, p.HospitalCount})
	assert.Equal(t, 32*time.Hour, p.Gap)
	p = plan.Draft(o, nil, c, rules(), la, instant(t, "2026-12-19T20:00:00-08:00"))
	assert.True(t, p.StartPassed, "two hours after it, and no record")
	p = plan.Draft(o, nil, c, rules(), la, instant(t, "2026-12-19T18:00:00-08:00"))
	assert.False(t, p.StartPassed, "at the minute itself it is not late")
}

// Eight units made on 17 December, beyond-use 27 December 15:00, would serve
// 21 to 28 December 18:00: those of the 27th and 28th come too late.
func TestUnitsPastTheirBeyondUseAreNamed(t *testing.T) {
	o, c := daptomycin(t, "2026-12-20T19:30:00-08:00", "2026-12-20T18:00:00-08:00")
	o.Key = "placer|D-1"
	c.Orders[0].Key = o.Key
	batch := order.Batch{Units: 8, Lot: "D", Completed: when(t, "2026-12-17T15:00:00-08:00"), BeyondUse: when(t, "2026-12-27T15:00:00-08:00"), OrderRef: "placer|D-1"}
	c.Held.Prepared = []order.Batch{batch}
	la, now := zone(t, "America/Los_Angeles"), instant(t, "2026-12-20T18:45:00-08:00")
	p := plan.Draft(o, nil, c, rules(), la, now)
	require.Len(t, p.Prepared, 1)
	assert.Len(t, p.Prepared[0].Doses, 8)
	require.Len(t, p.Prepared[0].TooLate, 2)
	assert.Equal(t, []string{"Sun 2026-12-27T18:00:00-08:00", "Mon 2026-12-28T18:00:00-08:00"}, []string{show(p.Prepared[0].TooLate[0]), show(p.Prepared[0].TooLate[1])})
	at, units, _ := arrivals(p)
	assert.Equal(t, []int{6, 7, 7, 6}, units, "the usable six first, then made anew: 27 December to 2 January, 3 to 9, 10 to 15")
	assert.Equal(t, "Sun 2026-12-27T15:00:00-08:00", show(p.Deliveries[0].StartBefore))
	assert.True(t, p.Deliveries[1].StartBefore.IsZero(), "not made yet")
	assert.Equal(t, "Sat 2026-12-26T15:00:00-08:00", at[1], "Sunday has no delivery")

	batch.BeyondUse = when(t, "2026-12-28T18:00:00-08:00")
	c.Held.Prepared = []order.Batch{batch}
	p = plan.Draft(o, nil, c, rules(), la, now)
	assert.Empty(t, p.Prepared[0].TooLate, "a dose that starts exactly at its beyond-use time is in time")

	batch.OrderRef = "placer|other"
	c.Held.Prepared, c.Related = []order.Batch{batch}, []order.Order{{Key: "placer|other"}}
	p = plan.Draft(o, nil, c, rules(), la, now)
	assert.Empty(t, p.Prepared, "units of another order of the patient")
}

// Scenario S4: 6 April to 3 May at 16:00 are 25 + 3 = 28.
func TestTheOrderedHomeStartIsTakenAtItsWord(t *testing.T) {
	o := infusion(t, "ceftriaxone", "2027-04-06T16:00:00-06:00", "2027-05-03", schedule.Timing{Frequency: 1, Period: every("24", "h")})
	c := order.Case{Discharges: []order.Discharge{leaves(t, "2027-04-06")}, Administrations: []order.Administration{given(t, "Ceftriaxone", "2027-04-05T16:00:00-06:00", "inpatient")}}
	p := plan.Draft(o, nil, c, rules(), zone(t, "America/Denver"), instant(t, "2027-04-06T10:00:00-06:00"))
	assert.Equal(t, "Tue 2027-04-06T16:00:00-06:00", show(p.FirstHomeDose))
	assert.Equal(t, "Mon 2027-05-03T16:00:00-06:00", show(p.LastDose))
	assert.Equal(t, []int{28, 28, 0}, []int{len(p.HomeDoses), p.CourseCount, p.HospitalCount})
	assert.Equal(t, 24*time.Hour, p.Gap)
	_, units, _ := arrivals(p)
	assert.Equal(t, []int{7, 7, 7, 7}, units)
}

// Scenario S2: 10 February 21:00 to 9 March 21:00 are 27 x 2 + 1 = 55, of which
// 14 to 17 February 09:00 in the first delivery.
func TestTwiceADayAtNamedTimes(t *testing.T) {
	timing := schedule.Timing{Frequency: 2, Period: every("1", "d"), TimesOfDay: []string{"09:00:00", "21:00:00"}}
	o := infusion(t, "vancomycin", "2027-02-10T21:00:00-06:00", "2027-03-09", timing)
	c := order.Case{Discharges: []order.Discharge{leaves(t, "2027-02-10T15:00:00-06:00")}, Administrations: []order.Administration{given(t, "vancomycin", "2027-02-10T09:00:00-06:00", "inpatient")}}
	chicago := zone(t, "America/Chicago")
	p := plan.Draft(o, nil, c, rules(), chicago, instant(t, "2027-02-10T10:10:00-06:00"))
	assert.Len(t, p.HomeDoses, 55)
	assert.Equal(t, "Tue 2027-03-09T21:00:00-06:00", show(p.LastDose))
	_, units, _ := arrivals(p)
	assert.Equal(t, []int{14, 14, 14, 13}, units)
	assert.Equal(t, "Wed 2027-02-17T09:00:00-06:00", show(p.Deliveries[0].LastDose))

	// The changed order of 16 February does not say when it begins.
	changed := infusion(t, "vancomycin", "", "2027-03-09", schedule.Timing{Frequency: 1, Period: every("24", "h")})
	changed.Prior = []string{"MedicationRequest/old"}
	c.Administrations = append(c.Administrations, given(t, "vancomycin", "2027-02-15T09:00:00-06:00", "community"))
	p = plan.Draft(changed, nil, c, rules(), chicago, instant(t, "2027-02-16T16:10:00-06:00"))
	assert.True(t, p.Replacement)
	assert.True(t, p.FirstHomeDose.IsZero())
	assert.Empty(t, p.HomeDoses)
	assert.Equal(t, []string{"the first home dose: the order replaces another and does not say when its first dose falls after the last one of the old order"}, p.Unknown)
}

// Scenario S5: 20:00 EST and 12 hours are 09:00 EDT; 13 March to 9 April are 28.
func TestANightAcrossTheSpringChange(t *testing.T) {
	o := infusion(t, "nutrition", "2027-03-13T20:00:00-05:00", "2027-04-09", schedule.Timing{Frequency: 1, Period: every("1", "d"), TimesOfDay: []string{"20:00:00"}})
	r := rules()
	r.Continuous, r.FixedFlow = true, false
	p := plan.Draft(o, lasts("12", "h"), order.Case{}, r, zone(t, "America/New_York"), instant(t, "2027-03-13T10:00:00-05:00"))
	assert.Equal(t, "Sun 2027-03-14T09:00:00-04:00", show(p.EndsAt))
	assert.Equal(t, "Sun 2027-03-14T08:00:00-04:00", show(p.WallEnd))
	assert.Len(t, p.Changes, 1, "one night of 28")
	assert.Len(t, p.HomeDoses, 28)
	assert.Equal(t, "Fri 2027-04-09T20:00:00-04:00", show(p.LastDose))
}

// Scenario S6: Monday, Wednesday, Friday from 7 June, without an end.
func TestWithoutAnEndOnlyTheFirstDeliveryIsCounted(t *testing.T) {
	o := infusion(t, "saline", "2027-06-07T10:00:00-07:00", "", schedule.Timing{Frequency: 3, Period: every("1", "wk"), DaysOfWeek: []string{"mon", "wed", "fri"}, TimesOfDay: []string{"10:00:00"}})
	p := plan.Draft(o, lasts("4", "h"), order.Case{}, rules(), zone(t, "America/Los_Angeles"), instant(t, "2027-06-04T14:00:00-07:00"))
	assert.False(t, p.Complete)
	assert.Equal(t, []string{"the end of the course"}, p.Unknown)
	assert.Equal(t, "Mon 2027-06-07T10:00:00-07:00", show(p.FirstHomeDose))
	assert.True(t, p.LastDose.IsZero())
	assert.Len(t, p.HomeDoses, 12, "four weeks are listed")
	at, units, days := arrivals(p)
	assert.Equal(t, []string{"Sat 2027-06-05T20:00:00-07:00"}, at, "06:00 on Monday is too early, Sunday has no delivery")
	assert.Equal(t, []int{3, 7}, []int{units[0], days[0]})
	assert.True(t, p.Deliveries[0].Moved)
	assert.Zero(t, p.CourseCount)
}
