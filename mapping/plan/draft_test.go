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

func TestWhatIsNotKnownIsSaid(t *testing.T) {
	q8h := schedule.Timing{Frequency: 1, Period: every("8", "h")}
	const end = "2026-12-15T15:00:00-05:00"
	for _, c := range []struct {
		says        string
		start       string
		timing      schedule.Timing
		last, where string // the dose on record
		want        []string
	}{
		{"neither start nor dose", "", q8h, "", "", []string{"the first home dose: neither a start nor a dose given is on record"}},
		{"begun without a record", "2026-11-03T22:00:00-05:00", q8h, "", "", []string{"the first home dose: the course has begun and no dose given is on record"}},
		{"a day and no time", "2026-11-12", q8h, "", "", []string{"the first home dose: the order names the day it begins and no time, and no dose given from that day on is on record"}},
		{"the only dose was given", "2026-11-10T13:30:00-05:00", schedule.Timing{Count: 1}, "2026-11-10T14:00:00-05:00", "inpatient", []string{"the first home dose: the only dose of this order is on record as given"}},
		{"how often is not said", "2026-11-03T22:00:00-05:00", schedule.Timing{Count: 10}, "2026-11-10T14:00:00-05:00", "inpatient", []string{"the first home dose: no dose that follows the last one given can be placed"}},
		{"three a week without days", "2026-11-12T10:00:00-05:00", schedule.Timing{Frequency: 3, Period: every("1", "wk")}, "", "",
			[]string{"the times of the doses: 3 doses in 7 days, and the order names neither the days nor the times", "the first home dose: the doses of the order cannot be placed"}},
		{"all doses fall in hospital", "2026-11-09T22:00:00-05:00", schedule.Timing{Count: 3, Frequency: 1, Period: every("8", "h")}, "2026-11-10T14:00:00-05:00", "inpatient", []string{"the first home dose: all ordered doses fall in hospital"}},
		{"a dose of another drug is none", "", q8h, "2026-11-10T14:00:00-05:00", "other", []string{"the first home dose: neither a start nor a dose given is on record"}},
		{"a dose after the clock is none", "", q8h, "2026-11-10T14:20:01-05:00", "inpatient", []string{"the first home dose: neither a start nor a dose given is on record"}},
		{"a dose of an older course is none", "2026-11-10T14:00:00-05:00", q8h, "2026-11-07T13:59:00-05:00", "inpatient", []string{"the first home dose: the course has begun and no dose given is on record"}},
	} {
		o := infusion(t, "cefazolin", c.start, end, c.timing)
		var k order.Case
		if c.last != "" {
			drug := "cefazolin"
			if c.where == "other" {
				drug = "ceftriaxone"
			}
			k.Administrations = []order.Administration{given(t, drug, c.last, c.where)}
		}
		p := plan.Draft(o, nil, k, rules(), zone(t, "America/New_York"), instant(t, "2026-11-10T14:20:00-05:00"))
		assert.Equal(t, c.want, p.Unknown, c.says)
		assert.True(t, p.FirstHomeDose.IsZero(), c.says)
		assert.Empty(t, p.HomeDoses, c.says)
		assert.Empty(t, p.Deliveries, c.says)
		assert.False(t, p.Complete, c.says)
		assert.False(t, p.StartPassed, c.says)
	}
	o, c := cefazolin(t)
	p := plan.Draft(o, nil, c, rules(), schedule.Zone{}, instant(t, "2026-11-10T14:20:00-05:00"))
	assert.Equal(t, []string{"the time zone of the patient's home"}, p.Unknown)
	assert.Empty(t, p.HomeDoses)
}

func TestOnlyDosesGivenCount(t *testing.T) {
	for status, used := range map[string]bool{"completed": true, "in-progress": true, "not-done": false, "stopped": false, "entered-in-error": false, "on-hold": false, "unknown": false} {
		o, c := cefazolin(t)
		c.Administrations[0].Status = status
		p := plan.Draft(o, nil, c, rules(), zone(t, "America/New_York"), instant(t, "2026-11-10T14:20:00-05:00"))
		want := "Tue 2026-11-03T22:00:00-05:00" // the other dose on record
		if used {
			want = "Tue 2026-11-10T14:00:00-05:00"
		}
		assert.Equal(t, want, show(p.LastGiven), status)
	}
}

func TestTheIngredientIsMatchedByCodeAndNotByADiluent(t *testing.T) {
	const rxnorm = "http://www.nlm.nih.gov/research/umls/rxnorm"
	code := func(c string) order.Concept {
		return order.Concept{Codings: []order.Coding{{System: rxnorm, Code: c}}}
	}
	no := false
	o, c := cefazolin(t)
	o.Drug.Ingredients = []order.Ingredient{{Concept: code("2180")}, {Concept: code("9863"), Active: &no}}
	for drug, used := range map[string]bool{"2180": true, "9863": false, "1": false} {
		c.Administrations = []order.Administration{{Drug: code(drug), Start: when(t, "2026-11-10T14:00:00-05:00"), Status: "completed"}}
		p := plan.Draft(o, nil, c, rules(), zone(t, "America/New_York"), instant(t, "2026-11-10T14:20:00-05:00"))
		assert.Equal(t, used, !p.LastGiven.IsZero(), drug)
	}
}

// A dose given ten minutes late moves the home doses by ten minutes; the 22:00
// dose of the ordered grid is still the first one at home, not a hospital one.
func TestALateDoseIsNotCountedTwice(t *testing.T) {
	for _, c := range []struct{ last, first string }{
		{"2026-11-10T14:10:00-05:00", "Tue 2026-11-10T22:10:00-05:00"},
		{"2026-11-10T13:50:00-05:00", "Tue 2026-11-10T21:50:00-05:00"},
	} {
		o, k := cefazolin(t)
		k.Administrations[0].Start = when(t, c.last)
		p := plan.Draft(o, nil, k, rules(), zone(t, "America/New_York"), instant(t, "2026-11-10T14:20:00-05:00"))
		assert.Equal(t, c.first, show(p.FirstHomeDose))
		assert.Equal(t, []int{105, 21, 126}, []int{len(p.HomeDoses), p.HospitalCount, p.CourseCount})
	}
}

// Discharge on the 12th: 22:00, 06:00, 14:00, 22:00 and 06:00 are the
// hospital's, the 14:00 dose after leaving at 11:00 is the first at home.
func TestDosesDueBeforeDischargeAreTheHospitals(t *testing.T) {
	o, c := cefazolin(t)
	c.Discharges = []order.Discharge{leaves(t, "2026-11-12T11:00:00-05:00")}
	p := plan.Draft(o, nil, c, rules(), zone(t, "America/New_York"), instant(t, "2026-11-10T14:20:00-05:00"))
	assert.Equal(t, "Thu 2026-11-12T14:00:00-05:00", show(p.FirstHomeDose))
	assert.Equal(t, []int{100, 26, 126}, []int{len(p.HomeDoses), p.HospitalCount, p.CourseCount})
	assert.Equal(t, 8*time.Hour, p.Gap)
	assert.Contains(t, p.Says, "doses due before the discharge are the hospital's, the last of them Thu 12 Nov 2026 06:00 EST")
}

func TestADoseAtHomeOnRecordBeganTheHomePart(t *testing.T) {
	o, c := cefazolin(t)
	now := instant(t, "2026-11-11T08:00:00-05:00")
	ny := zone(t, "America/New_York")
	p := plan.Draft(o, nil, c, rules(), ny, now)
	assert.True(t, p.StartPassed, "22:00 has passed without a record")
	assert.False(t, p.FirstOnRecord)
	c.Administrations = append(c.Administrations, given(t, "cefazolin", "2026-11-10T22:05:00-05:00", "community"))
	p = plan.Draft(o, nil, c, rules(), ny, now)
	assert.False(t, p.StartPassed)
	assert.True(t, p.FirstOnRecord)
	assert.Equal(t, "Tue 2026-11-10T22:00:00-05:00", show(p.FirstHomeDose))
	assert.True(t, p.Deliveries[0].Past, "nothing tells whether the first delivery was made")
	assert.False(t, p.Deliveries[0].Late)
	assert.False(t, p.Deliveries[1].Past)
}

// A dose given five minutes before the ordered start is that dose.
func TestTheFirstOrderedDoseIsNotGivenTwice(t *testing.T) {
	for _, c := range []struct{ says, last, first string }{
		{"within the hour", "2026-11-10T21:00:00-05:00", "Wed 2026-11-11T05:00:00-05:00"},
		{"over an hour before: the start stands and the gap shows", "2026-11-10T20:59:00-05:00", "Tue 2026-11-10T22:00:00-05:00"},
	} {
		o := infusion(t, "cefazolin", "2026-11-10T22:00:00-05:00", "2026-12-15", schedule.Timing{Frequency: 1, Period: every("8", "h")})
		k := order.Case{Administrations: []order.Administration{given(t, "cefazolin", c.last, "inpatient")}}
		p := plan.Draft(o, nil, k, rules(), zone(t, "America/New_York"), instant(t, "2026-11-10T21:30:00-05:00"))
		assert.Equal(t, c.first, show(p.FirstHomeDose), c.says)
	}
}

// A course of 42 days is 42 daily doses and 126 doses every 8 hours, whatever
// the clocks do in it.
func TestALengthIsMeasuredTheWayDosesStep(t *testing.T) {
	for _, start := range []string{"2027-03-01T18:00:00-05:00", "2026-10-20T18:00:00-04:00"} {
		for _, c := range []struct {
			timing schedule.Timing
			length quantity.Quantity
			doses  int
		}{
			{schedule.Timing{Frequency: 1, Period: every("1", "d")}, every("42", "d"), 42},
			{schedule.Timing{Frequency: 1, Period: every("1", "d")}, every("6", "wk"), 42},
			{schedule.Timing{Code: "BID"}, every("42", "d"), 84},
			{schedule.Timing{Frequency: 1, Period: every("8", "h")}, every("42", "d"), 126},
			{schedule.Timing{Frequency: 1, Period: every("8", "h")}, every("6", "wk"), 126},
			{schedule.Timing{Frequency: 1, Period: every("24", "h")}, every("1008", "h"), 42},
		} {
			o := infusion(t, "cefazolin", start, "", c.timing)
			o.Course.Length = &order.Stated{Quantity: c.length}
			p := plan.Draft(o, nil, order.Case{}, rules(), zone(t, "America/New_York"), instant(t, start).Add(-time.Hour))
			assert.Len(t, p.HomeDoses, c.doses, "%s %v", start, c.timing)
			assert.True(t, p.Complete)
		}
	}
	o := infusion(t, "cefazolin", "2027-01-31T18:00:00-05:00", "", schedule.Timing{Frequency: 1, Period: every("1", "d")})
	o.Course.Length = &order.Stated{Quantity: every("1", "mo")}
	p := plan.Draft(o, nil, order.Case{}, rules(), zone(t, "America/New_York"), instant(t, "2027-01-31T10:00:00-05:00"))
	assert.Equal(t, "2027-02-28T18:00:00-05:00", p.CourseEnd.Format(time.RFC3339), "a month from 31 January ends with February")
}

func TestACountIsSharedBetweenHospitalAndHome(t *testing.T) {
	o, c := cefazolin(t)
	o.Timing.Count, o.Course.End = 126, order.Instant{}
	ny, now := zone(t, "America/New_York"), instant(t, "2026-11-10T14:20:00-05:00")
	p := plan.Draft(o, nil, c, rules(), ny, now)
	assert.Equal(t, []int{105, 21, 126}, []int{len(p.HomeDoses), p.HospitalCount, p.CourseCount})
	assert.Equal(t, "Tue 2026-12-15T14:00:00-05:00", show(p.LastDose))
	o.Course.Start = order.Instant{}
	p = plan.Draft(o, nil, c, rules(), ny, now)
	assert.False(t, p.Complete)
	assert.Contains(t, p.Unknown, "how many of the 126 ordered doses were given in hospital")
}

// The day of the start alone: the first dose on record of that day, 22:00 on
// the 3rd, begins the count. Without one, doses are counted back from 22:00 on
// the 10th in steps of 8 h to 06:00 on the 3rd: 7 x 3 + 2 = 23; a count of
// doses is then nobody's to share.
func TestAStartWithoutATimeBeginsWithTheFirstDoseOnRecord(t *testing.T) {
	o, c := cefazolin(t)
	ny, now := zone(t, "America/New_York"), instant(t, "2026-11-10T14:20:00-05:00")
	o.Course.Start = when(t, "2026-11-03")
	p := plan.Draft(o, nil, c, rules(), ny, now)
	assert.Equal(t, "Tue 2026-11-10T22:00:00-05:00", show(p.FirstHomeDose))
	assert.Equal(t, []int{105, 21, 126}, []int{len(p.HomeDoses), p.HospitalCount, p.CourseCount})
	counted, k := o, c
	counted.Timing.Count, counted.Course.End = 126, order.Instant{}
	assert.Len(t, plan.Draft(counted, nil, c, rules(), ny, now).HomeDoses, 105)
	k.Administrations = k.Administrations[:1]
	p = plan.Draft(o, nil, k, rules(), ny, now)
	assert.Equal(t, []int{105, 23, 128}, []int{len(p.HomeDoses), p.HospitalCount, p.CourseCount})
	assert.Contains(t, p.Says, "the order names the day it begins and no time: hospital doses are counted back from the first home dose")
	p = plan.Draft(counted, nil, k, rules(), ny, now)
	assert.False(t, p.Complete)
	assert.Contains(t, p.Unknown, "how many of the 126 ordered doses were given in hospital")
}

func TestClockChangesInACourseAreAllShown(t *testing.T) {
	ny := zone(t, "America/New_York")
	draft := func(timing schedule.Timing, start, end string) plan.Plan {
		return plan.Draft(infusion(t, "cefazolin", start, end, timing), lasts("30", "min"), order.Case{}, rules(), ny, instant(t, start).Add(-time.Hour))
	}
	p := draft(schedule.Timing{Frequency: 1, Period: every("8", "h")}, "2026-10-20T22:00:00-04:00", "2027-03-20")
	require.Len(t, p.Changes, 2, "autumn and spring")
	assert.Equal(t, []string{"dose-times", "dose-times"}, []string{p.Changes[0].Of, p.Changes[1].Of})
	assert.Equal(t, []string{"Sun 2026-11-01T05:00:00-05:00", "Sun 2026-11-01T06:00:00-05:00"}, []string{show(p.Changes[0].Elapsed), show(p.Changes[0].Wall)})
	assert.Equal(t, "Sat 2027-03-20T22:00:00-04:00", show(p.LastDose), "an hour earlier all winter, and back at 22:00 in spring")
	assert.False(t, draft(schedule.Timing{Code: "TID"}, "2026-10-20T22:00:00-04:00", "2027-03-20").ClockChange, "the wall clock holds")
	assert.False(t, draft(schedule.Timing{Frequency: 1, Period: every("1", "h")}, "2026-10-20T22:00:00-04:00", "2026-11-10").ClockChange, "every hour fits any change of an hour")

	p = draft(schedule.Timing{TimesOfDay: []string{"02:30:00"}}, "2027-03-10T00:00:00-05:00", "2027-03-20")
	require.Len(t, p.Changes, 1)
	assert.Equal(t, "dose-in-gap", p.Changes[0].Of)
	assert.Equal(t, "the clocks go forward over the time of a dose, which no clock shows that day: it is given Sun 14 Mar 2027 03:30 EDT, not Sun 14 Mar 2027 01:30 EST", p.Says[len(p.Says)-1])
	p = draft(schedule.Timing{TimesOfDay: []string{"01:15:00"}}, "2026-10-30T00:00:00-04:00", "2026-11-03")
	require.Len(t, p.Changes, 1)
	assert.Equal(t, "dose-in-overlap", p.Changes[0].Of)
	assert.Equal(t, "the clocks go back and show the time of a dose twice: the first is meant, Sun 1 Nov 2026 01:15 EDT, not Sun 1 Nov 2026 01:15 EST", p.Says[len(p.Says)-1])
}

// Dates that are listed one by one: the first one after the last dose given
// and the discharge is the first at home, however far away.
func TestListedDatesAreTakenAsTheyStand(t *testing.T) {
	dates := []time.Time{instant(t, "2026-11-02T09:00:00-05:00"), instant(t, "2026-12-07T09:00:00-05:00"), instant(t, "2027-01-04T09:00:00-05:00")}
	o := infusion(t, "ferumoxytol", "2026-11-02T09:00:00-05:00", "", schedule.Timing{Events: dates})
	k := order.Case{Administrations: []order.Administration{given(t, "ferumoxytol", "2026-11-02T09:10:00-05:00", "inpatient")}}
	p := plan.Draft(o, nil, k, rules(), zone(t, "America/New_York"), instant(t, "2026-11-03T09:00:00-05:00"))
	assert.Equal(t, "Mon 2026-12-07T09:00:00-05:00", show(p.FirstHomeDose))
	assert.Equal(t, []int{2, 1, 3}, []int{len(p.HomeDoses), p.HospitalCount, p.CourseCount})
	assert.True(t, p.Complete)
}
