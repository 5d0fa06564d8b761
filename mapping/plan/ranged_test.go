package plan_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/plan"
	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/schedule"
)

func every4to6(count int) schedule.Timing {
	return schedule.Timing{Frequency: 1, Period: every("4", "h"), PeriodMax: every("6", "h"), Count: count}
}

// Last dose 14:00, every 4 to 6 hours: 18:00 to 20:00. Leaving at 18:00 the
// dose may still be the one at 18:00; leaving a minute later, one just before
// it may have been given in hospital, and the next is six hours from there.
func TestTheFirstHomeDoseOfARangeIsAWindow(t *testing.T) {
	ny, now := zone(t, "America/New_York"), instant(t, "2026-11-10T14:20:00-05:00")
	for _, c := range []struct{ leaves, earliest, latest string }{
		{"", "Tue 2026-11-10T18:00:00-05:00", "Tue 2026-11-10T20:00:00-05:00"},
		{"2026-11-10T15:00:00-05:00", "Tue 2026-11-10T18:00:00-05:00", "Tue 2026-11-10T20:00:00-05:00"},
		{"2026-11-10T18:00:00-05:00", "Tue 2026-11-10T18:00:00-05:00", "Tue 2026-11-10T20:00:00-05:00"},
		{"2026-11-10T18:01:00-05:00", "Tue 2026-11-10T18:01:00-05:00", "Wed 2026-11-11T00:01:00-05:00"},
		{"2026-11-10T20:00:00-05:00", "Tue 2026-11-10T20:00:00-05:00", "Wed 2026-11-11T02:00:00-05:00"},
		{"2026-11-10T20:01:00-05:00", "Tue 2026-11-10T22:00:00-05:00", "Wed 2026-11-11T02:00:00-05:00"},
	} {
		o := infusion(t, "cefazolin", "2026-11-09T22:00:00-05:00", "2026-11-12T14:00:00-05:00", every4to6(0))
		k := order.Case{Administrations: []order.Administration{given(t, "cefazolin", "2026-11-10T14:00:00-05:00", "inpatient")}}
		if c.leaves != "" {
			k.Discharges = []order.Discharge{leaves(t, c.leaves)}
		}
		p := plan.Draft(o, nil, k, rules(), ny, now)
		assert.Equal(t, []string{c.earliest, c.latest}, []string{show(p.FirstEarliest), show(p.FirstLatest)}, c.leaves)
		assert.True(t, p.FirstHomeDose.IsZero(), "no single instant is made up")
		assert.Empty(t, p.HomeDoses)
		assert.Empty(t, p.Deliveries)
		assert.False(t, p.Complete)
		assert.Contains(t, p.Unknown, "the times of the doses: the order leaves a range for how often a dose is given")
	}
}

// Without a discharge in the way every dose of every choice inside the range
// falls where the plan says, and so do the counts.
func TestEveryChoiceInTheRangeLiesInTheWindowAndTheCount(t *testing.T) {
	ny := zone(t, "America/New_York")
	rapid.Check(t, func(k *rapid.T) {
		last := instant(t, "2026-11-10T14:00:00-05:00")
		leaving := last.Add(time.Duration(rapid.IntRange(0, 30*60).Draw(k, "leaves")) * time.Minute)
		end := last.Add(time.Duration(rapid.IntRange(31*60, 90*60).Draw(k, "end")) * time.Minute)
		o := infusion(t, "cefazolin", "2026-11-09T22:00:00-05:00", end.Format(time.RFC3339), every4to6(0))
		c := order.Case{Administrations: []order.Administration{given(t, "cefazolin", last.Format(time.RFC3339), "inpatient")}, Discharges: []order.Discharge{leaves(t, leaving.Format(time.RFC3339))}}
		p := plan.Draft(o, nil, c, rules(), ny, last.Add(time.Minute))
		require.False(t, p.FirstEarliest.IsZero())
		home := 0
		for at := last; ; home++ {
			at = at.Add(time.Duration(rapid.IntRange(240, 360).Draw(k, "step")) * time.Minute)
			for home == 0 && at.Before(leaving) {
				at = at.Add(time.Duration(rapid.IntRange(240, 360).Draw(k, "step")) * time.Minute)
			}
			if home == 0 {
				assert.False(t, at.Before(p.FirstEarliest) || at.After(p.FirstLatest), "%s in %s to %s", at, p.FirstEarliest, p.FirstLatest)
			}
			if !at.Before(end) {
				break
			}
		}
		assert.True(t, p.HomeLeast <= home && home <= p.HomeMost, "%d in %d to %d", home, p.HomeLeast, p.HomeMost)
	})
}

func TestOfARangeTheLeastAndTheMostAreSaid(t *testing.T) {
	ny, now := zone(t, "America/New_York"), instant(t, "2026-11-10T10:00:00-05:00")
	start := "2026-11-10T12:00:00-05:00"
	daily := schedule.Timing{Frequency: 1, Period: every("1", "d")}
	draft := func(end string, timing schedule.Timing) plan.Plan {
		return plan.Draft(infusion(t, "cefazolin", start, end, timing), nil, order.Case{}, rules(), ny, now)
	}
	// 24 hours, end excluded: at 0, 6, 12, 18; at 0, 4, … 20.
	p := draft("2026-11-11T12:00:00-05:00", every4to6(0))
	assert.Equal(t, []int{4, 6}, []int{p.HomeLeast, p.HomeMost})
	assert.Contains(t, p.Says, "4 to 6 doses at home until Wed 11 Nov 2026 12:00 EST: the order leaves a range; no delivery is planned from doses without single times")
	assert.Contains(t, p.Says, "the first home dose is Tue 10 Nov 2026 12:00 EST, and those after it have no single times: the order leaves a range for how often a dose is given")
	p = draft("2026-11-11T12:01:00-05:00", every4to6(0))
	assert.Equal(t, []int{5, 7}, []int{p.HomeLeast, p.HomeMost}, "a minute more is a dose more on both sides")

	// Two to three times a day for seven days.
	p = draft("2026-11-17T12:00:00-05:00", schedule.Timing{Frequency: 2, FrequencyMax: 3, Period: every("1", "d")})
	assert.Equal(t, []int{14, 21}, []int{p.HomeLeast, p.HomeMost})

	// A count holds however they are spaced.
	p = draft("", every4to6(10))
	assert.Equal(t, []int{10, 10}, []int{p.HomeLeast, p.HomeMost})
	assert.Contains(t, p.Says, "10 doses at home: the order leaves a range; no delivery is planned from doses without single times")

	p = draft("", every4to6(0))
	assert.Zero(t, p.HomeMost)
	assert.Contains(t, p.Unknown, "the end of the course")

	// Ten to fourteen daily doses: placed, listed for the most.
	counted := daily
	counted.Count, counted.CountMax = 10, 14
	p = draft("", counted)
	assert.Equal(t, []int{10, 14, 14}, []int{p.HomeLeast, p.HomeMost, len(p.HomeDoses)})
	assert.False(t, p.Complete)
	assert.Contains(t, p.Says, "10 to 14 doses at home, the last of them Thu 19 Nov 2026 12:00 EST at the earliest and Mon 23 Nov 2026 12:00 EST at the latest: the order leaves a range; the doses listed, and what is delivered for them, are the most")
	assert.Len(t, p.Deliveries, 1)
	p = draft("2026-11-22T12:00:00-05:00", counted)
	assert.Equal(t, []int{10, 12, 12}, []int{p.HomeLeast, p.HomeMost, len(p.HomeDoses)}, "the end comes before the most")
	assert.False(t, p.Complete, "and the number is still a range")
	p = draft("2026-11-20T12:00:00-05:00", counted)
	assert.Equal(t, []int{0, 0, 10}, []int{p.HomeLeast, p.HomeMost, len(p.HomeDoses)}, "the end comes with the least: no range is left")
	assert.True(t, p.Complete)
}

// Of ten to fourteen doses three were given in hospital: seven to eleven.
func TestARangeOfCountsIsSharedBetweenHospitalAndHome(t *testing.T) {
	ny := zone(t, "America/New_York")
	draft := func(least, most int) plan.Plan {
		o := infusion(t, "cefazolin", "2026-11-08T12:00:00-05:00", "", schedule.Timing{Frequency: 1, Period: every("24", "h"), Count: least, CountMax: most})
		k := order.Case{Administrations: []order.Administration{given(t, "cefazolin", "2026-11-10T12:00:00-05:00", "inpatient")}}
		return plan.Draft(o, nil, k, rules(), ny, instant(t, "2026-11-10T13:00:00-05:00"))
	}
	p := draft(10, 14)
	assert.Equal(t, []int{3, 7, 11}, []int{p.HospitalCount, p.HomeLeast, p.HomeMost})
	p = draft(3, 4)
	assert.Equal(t, []int{3, 0, 1}, []int{p.HospitalCount, p.HomeLeast, p.HomeMost})
	assert.Contains(t, p.Says, "0 to 1 doses at home, the last of them Wed 11 Nov 2026 12:00 EST at the latest: the order leaves a range; the doses listed, and what is delivered for them, are the most")
	p = draft(2, 3)
	assert.Contains(t, p.Unknown, "the first home dose: all ordered doses fall in hospital")
	assert.Zero(t, p.HomeMost)

	// How many of a range without instants were given in hospital is open.
	o := infusion(t, "cefazolin", "2026-11-08T12:00:00-05:00", "", every4to6(30))
	k := order.Case{Administrations: []order.Administration{given(t, "cefazolin", "2026-11-10T12:00:00-05:00", "inpatient")}}
	p = plan.Draft(o, nil, k, rules(), ny, instant(t, "2026-11-10T13:00:00-05:00"))
	assert.Contains(t, p.Unknown, "how many of the 30 ordered doses were given in hospital")
	assert.Zero(t, p.HomeMost)
}

func TestARangeOfLengthsGivesTheLeastAndTheMost(t *testing.T) {
	o := infusion(t, "cefazolin", "2026-11-10T12:00:00-05:00", "", schedule.Timing{Frequency: 1, Period: every("1", "d"),
		Bounds: schedule.Bounds{Shortest: every("4", "wk"), Longest: every("6", "wk")}})
	o.Course.Length = &order.Stated{Quantity: every("6", "wk")}
	ny, now := zone(t, "America/New_York"), instant(t, "2026-11-10T10:00:00-05:00")
	p := plan.Draft(o, nil, order.Case{}, rules(), ny, now)
	assert.Equal(t, []int{28, 42, 42}, []int{p.HomeLeast, p.HomeMost, len(p.HomeDoses)})
	assert.True(t, p.Complete, "the longer length is taken, and that is said")
	assert.Contains(t, p.Says, "28 to 42 doses at home, the last of them Mon 7 Dec 2026 12:00 EST at the earliest and Mon 21 Dec 2026 12:00 EST at the latest: the order leaves a range; the doses listed, and what is delivered for them, are the most")
	same := o
	same.Timing.Bounds.Shortest = every("42", "d")
	assert.Zero(t, plan.Draft(same, nil, order.Case{}, rules(), ny, now).HomeMost, "six weeks are 42 days")
	other := o // the course is another instruction's
	other.Course.Length = &order.Stated{Quantity: every("8", "wk")}
	assert.Zero(t, plan.Draft(other, nil, order.Case{}, rules(), ny, now).HomeMost)
	ended := o
	ended.Course.End = when(t, "2026-12-01T12:00:00-05:00")
	assert.Zero(t, plan.Draft(ended, nil, order.Case{}, rules(), ny, now).HomeMost)

	// Both ranges at once: every 4 to 6 hours for one to two days.
	both := infusion(t, "cefazolin", "2026-11-10T12:00:00-05:00", "", every4to6(0))
	both.Timing.Bounds = schedule.Bounds{Shortest: every("1", "d"), Longest: every("2", "d")}
	both.Course.Length = &order.Stated{Quantity: every("2", "d")}
	p = plan.Draft(both, nil, order.Case{}, rules(), ny, now)
	assert.Equal(t, []int{4, 12}, []int{p.HomeLeast, p.HomeMost})
	assert.Contains(t, p.Says, "4 to 12 doses at home until Wed 11 Nov 2026 12:00 EST at the earliest or Thu 12 Nov 2026 12:00 EST at the latest: the order leaves a range; no delivery is planned from doses without single times")
}

// Bounds of the timing never stand beside the course that was read from them.
func TestTheCourseIsThatOfTheOrder(t *testing.T) {
	o, c := cefazolin(t)
	ny, now := zone(t, "America/New_York"), instant(t, "2026-11-10T14:20:00-05:00")
	plain := plan.Draft(o, nil, c, rules(), ny, now)
	o.Timing.Bounds = schedule.Bounds{Start: instant(t, "2026-11-03T22:00:00-05:00"), End: instant(t, "2026-12-15T15:00:00-05:00")}
	p := plan.Draft(o, nil, c, rules(), ny, now)
	assert.Equal(t, plain.HomeDoses, p.HomeDoses)
	assert.Equal(t, plain.Says, p.Says)
}

// At bedtime: placed only by the site's clock time, and said whose it is.
func TestAnEventOfTheDayIsPlacedByTheSitesClockTimeAlone(t *testing.T) {
	ny, now := zone(t, "America/New_York"), instant(t, "2026-11-10T10:00:00-05:00")
	site := rules()
	site.Clocks = schedule.Clocks{"HS": {22 * time.Hour}, "ACM": {7 * time.Hour}, "CM": {7*time.Hour + 30*time.Minute}, "BID": {8 * time.Hour, 20 * time.Hour}, "QOD": {9 * time.Hour}, "WK": {9 * time.Hour}, "MO": {9 * time.Hour}, "CD": {12 * time.Hour}, "CV": {18 * time.Hour}}
	for _, c := range []struct {
		timing schedule.Timing
		first  string
		n      int
		says   string
	}{
		{schedule.Timing{When: []string{"HS"}}, "Tue 2026-11-10T22:00:00-05:00", 14, "the order says at bedtime and no clock time: the pharmacy's is taken, 22:00"},
		{schedule.Timing{When: []string{"HS"}, Frequency: 1, Period: every("2", "d")}, "Tue 2026-11-10T22:00:00-05:00", 7, "the order says at bedtime and no clock time: the pharmacy's is taken, 22:00"},
		{schedule.Timing{When: []string{"ACM", "HS"}, Offset: 30 * time.Minute}, "Tue 2026-11-10T21:30:00-05:00", 28, "the order says before breakfast, at bedtime, 30 minutes from it, and no clock time: the pharmacy's are taken, 07:00, 21:30"},
		{schedule.Timing{When: []string{"C"}}, "Tue 2026-11-10T12:00:00-05:00", 42, "the order says with a meal and no clock time: the pharmacy's are taken, 07:30, 12:00, 18:00"},
		{schedule.Timing{Code: "BED", Frequency: 1, Period: every("1", "d")}, "Tue 2026-11-10T22:00:00-05:00", 14, "the order says at bedtime and no clock time: the pharmacy's is taken, 22:00"},
		{schedule.Timing{Code: "BED", DaysOfWeek: []string{"mon", "thu"}}, "Thu 2026-11-12T22:00:00-05:00", 4, "the order says at bedtime and no clock time: the pharmacy's is taken, 22:00"},
		{schedule.Timing{Code: "BED"}, "Tue 2026-11-10T22:00:00-05:00", 14, "the order says daily at bedtime and no clock time: the pharmacy's is taken, 22:00"},
	} {
		o := infusion(t, "cefazolin", "2026-11-10T11:00:00-05:00", "2026-11-24T11:00:00-05:00", c.timing)
		p := plan.Draft(o, nil, order.Case{}, site, ny, now)
		assert.Equal(t, c.first, show(p.FirstHomeDose), c.says)
		assert.Len(t, p.HomeDoses, c.n, c.says)
		assert.True(t, p.Complete)
		assert.Equal(t, c.says, p.Says[0])
		p = plan.Draft(o, nil, order.Case{}, rules(), ny, now)
		assert.True(t, p.FirstHomeDose.IsZero(), "nothing is guessed without a clock time")
		require.NotEmpty(t, p.Unknown)
		assert.Contains(t, p.Unknown[0], "no clock time is set for")
		assert.Empty(t, p.HomeDoses)
		timed := c.timing // a time of day that the order names is its own
		if timed.When, timed.Offset, timed.TimesOfDay = nil, 0, []string{"21:00:00"}; len(timed.DaysOfWeek) == 0 {
			p = plan.Draft(infusion(t, "cefazolin", "2026-11-10T11:00:00-05:00", "2026-11-24T11:00:00-05:00", timed), nil, order.Case{}, site, ny, now)
			assert.Equal(t, "Tue 2026-11-10T21:00:00-05:00", show(p.FirstHomeDose))
		}
	}
	// Codes that are placed without clock times follow the site's when it has them.
	for code, want := range map[string][]any{"BID": {"Tue 2026-11-10T20:00:00-05:00", 28}, "QOD": {"Wed 2026-11-11T09:00:00-05:00", 7}, "WK": {"Wed 2026-11-11T09:00:00-05:00", 2}, "MO": {"Wed 2026-11-11T09:00:00-05:00", 1}} {
		o := infusion(t, "cefazolin", "2026-11-10T11:00:00-05:00", "2026-11-24T11:00:00-05:00", schedule.Timing{Code: code})
		p := plan.Draft(o, nil, order.Case{}, site, ny, now)
		assert.Equal(t, want, []any{show(p.FirstHomeDose), len(p.HomeDoses)}, code)
		assert.NotContains(t, p.Says[0]+p.Says[1], code, "no code is shown to a person")
		p = plan.Draft(o, nil, order.Case{}, rules(), ny, now)
		assert.Equal(t, "Tue 2026-11-10T11:00:00-05:00", show(p.FirstHomeDose), "%s from the ordered start", code)
	}
}

// Monthly from 31 January: the last day of the shorter months, and back on
// the 31st, wherever the home part begins.
func TestMonthlyDosesFallOnTheirDayOfTheMonth(t *testing.T) {
	ny := zone(t, "America/New_York")
	month := schedule.Timing{Frequency: 1, Period: every("1", "mo")}
	for says, c := range map[string]struct {
		start, last, leaves, first string
		timing                     schedule.Timing
		doses                      []string
	}{
		"a dose given on its day": {"2027-01-31T09:00:00-05:00", "2027-02-28T09:05:00-05:00", "2027-03-02T12:00:00-05:00", "Wed 2027-03-31T09:00:00-04:00", month,
			[]string{"Wed 2027-03-31T09:00:00-04:00", "Fri 2027-04-30T09:00:00-04:00", "Mon 2027-05-31T09:00:00-04:00"}},
		"the home part begins in a short month": {"2027-01-31T09:00:00-05:00", "2027-01-31T09:05:00-05:00", "2027-02-02T12:00:00-05:00", "Sun 2027-02-28T09:00:00-05:00", month,
			[]string{"Sun 2027-02-28T09:00:00-05:00", "Wed 2027-03-31T09:00:00-04:00", "Fri 2027-04-30T09:00:00-04:00", "Mon 2027-05-31T09:00:00-04:00"}},
		"by code": {"2027-01-31T09:00:00-05:00", "2027-01-31T09:05:00-05:00", "2027-02-02T12:00:00-05:00", "Sun 2027-02-28T09:00:00-05:00", schedule.Timing{Code: "MO"},
			[]string{"Sun 2027-02-28T09:00:00-05:00", "Wed 2027-03-31T09:00:00-04:00", "Fri 2027-04-30T09:00:00-04:00", "Mon 2027-05-31T09:00:00-04:00"}},
		"a day early stands for the dose beside it": {"2027-01-15T09:00:00-05:00", "2027-04-14T09:00:00-04:00", "2027-04-14T12:00:00-04:00", "Sat 2027-05-15T09:00:00-04:00", month,
			[]string{"Sat 2027-05-15T09:00:00-04:00"}},
		"a day and no time, at the time of the last dose": {"2027-01-15", "2027-02-15T09:30:00-05:00", "2027-02-15T12:00:00-05:00", "Mon 2027-03-15T09:30:00-04:00", month,
			[]string{"Mon 2027-03-15T09:30:00-04:00", "Thu 2027-04-15T09:30:00-04:00", "Sat 2027-05-15T09:30:00-04:00"}},
		"every three months": {"2027-01-15T09:00:00-05:00", "2027-01-15T09:00:00-05:00", "2027-01-15T12:00:00-05:00", "Thu 2027-04-15T09:00:00-04:00",
			schedule.Timing{Frequency: 1, Period: every("3", "mo")}, []string{"Thu 2027-04-15T09:00:00-04:00"}},
		"a dose given after its clock time is not due again the next day": {"", "2027-02-15T09:10:00-05:00", "2027-02-15T12:00:00-05:00", "Mon 2027-03-15T09:00:00-04:00",
			schedule.Timing{Frequency: 1, Period: every("1", "mo"), TimesOfDay: []string{"09:00:00"}}, []string{"Mon 2027-03-15T09:00:00-04:00", "Thu 2027-04-15T09:00:00-04:00", "Sat 2027-05-15T09:00:00-04:00"}},
		"nor one given before it on the same day": {"", "2027-02-15T08:50:00-05:00", "2027-02-15T08:55:00-05:00", "Mon 2027-03-15T09:00:00-04:00",
			schedule.Timing{Frequency: 1, Period: every("1", "mo"), TimesOfDay: []string{"09:00:00"}}, []string{"Mon 2027-03-15T09:00:00-04:00", "Thu 2027-04-15T09:00:00-04:00", "Sat 2027-05-15T09:00:00-04:00"}},
	} {
		o := infusion(t, "ferumoxytol", c.start, "2027-06-01", c.timing)
		k := order.Case{Administrations: []order.Administration{given(t, "ferumoxytol", c.last, "inpatient")}, Discharges: []order.Discharge{leaves(t, c.leaves)}}
		p := plan.Draft(o, nil, k, rules(), ny, instant(t, c.last).Add(time.Minute))
		assert.Equal(t, c.first, show(p.FirstHomeDose), says)
		var got []string
		for _, at := range p.HomeDoses {
			got = append(got, show(at))
		}
		assert.Equal(t, c.doses, got, says)
		assert.True(t, p.Complete, says)
	}
}

// A count of monthly doses is shared like any other.
func TestACountOfMonthlyDosesIsShared(t *testing.T) {
	ny := zone(t, "America/New_York")
	for _, c := range []struct{ least, most, home, homeLeast, homeMost int }{{6, 0, 4, 0, 0}, {4, 6, 4, 2, 4}, {2, 0, 0, 0, 0}} {
		o := infusion(t, "ferumoxytol", "2027-01-31T09:00:00-05:00", "", schedule.Timing{Code: "MO", Count: c.least, CountMax: c.most})
		k := order.Case{Administrations: []order.Administration{given(t, "ferumoxytol", "2027-02-28T09:05:00-05:00", "inpatient")}}
		p := plan.Draft(o, nil, k, rules(), ny, instant(t, "2027-03-01T09:00:00-05:00"))
		assert.Equal(t, []int{c.home, c.homeLeast, c.homeMost}, []int{len(p.HomeDoses), p.HomeLeast, p.HomeMost}, c)
		if c.home > 0 {
			assert.Equal(t, 2, p.HospitalCount)
			assert.Equal(t, "Wed 2027-06-30T09:00:00-04:00", show(p.HomeDoses[3]))
		}
	}
}

// A course that begins in the hour shown twice, after the first of the two:
// the second is meant.
func TestBothTimesOfAnHourShownTwiceAreTold(t *testing.T) {
	o := infusion(t, "cefazolin", "2026-11-01T01:10:00-05:00", "2026-11-03", schedule.Timing{TimesOfDay: []string{"01:15:00"}})
	p := plan.Draft(o, nil, order.Case{}, rules(), zone(t, "America/New_York"), instant(t, "2026-10-31T12:00:00-04:00"))
	require.Len(t, p.Changes, 1)
	assert.Equal(t, []string{"Sun 2026-11-01T01:15:00-05:00", "Sun 2026-11-01T01:15:00-04:00"}, []string{show(p.Changes[0].Wall), show(p.Changes[0].Elapsed)})
	assert.Equal(t, "the clocks go back and show the time of a dose twice: the second is meant, since the first lies before the course, Sun 1 Nov 2026 01:15 EST, not Sun 1 Nov 2026 01:15 EDT", p.Says[len(p.Says)-1])
}

// Whatever a timing says, a plan neither fails nor contradicts itself: the
// least is not above the most, no window is upside down, and what has no
// instants is listed and delivered nowhere.
func TestAnyTimingGivesAPlanThatAgreesWithItself(t *testing.T) {
	ny := zone(t, "America/New_York")
	clocks := schedule.Clocks{"HS": {22 * time.Hour}, "CM": {7 * time.Hour}, "BID": {8 * time.Hour, 20 * time.Hour}, "MO": {9 * time.Hour}}
	rapid.Check(t, func(k *rapid.T) {
		// Most members are absent, so that most timings say something.
		rare := func(name string, in int) bool { return rapid.IntRange(1, in).Draw(k, name+" is there") == 1 }
		number := func(name string, most, in int) int {
			if !rare(name, in) {
				return 0
			}
			return rapid.IntRange(1, most).Draw(k, name)
		}
		length := func(name string, in int) quantity.Quantity {
			if n := number(name, 40, in); n > 0 {
				return every(quantity.Int(int64(n)).Decimal(), rapid.SampledFrom([]string{"h", "h", "d", "d", "s", "min", "wk", "mo", "a"}).Draw(k, name+" unit"))
			}
			return quantity.Quantity{}
		}
		some := func(name string, list ...string) []string {
			if !rare(name, 8) {
				return nil
			}
			return rapid.SliceOfN(rapid.SampledFrom(list), 1, 2).Draw(k, name)
		}
		timing := schedule.Timing{Count: number("count", 12, 3), CountMax: number("countMax", 30, 5), Frequency: number("frequency", 3, 3), FrequencyMax: number("frequencyMax", 5, 4), Period: length("period", 1), PeriodMax: length("periodMax", 4),
			DaysOfWeek: some("days", "mon", "fri"), TimesOfDay: some("times", "09:00:00", "02:30:00"), When: some("when", "HS", "CM", "ACM", "NOON"), Offset: time.Duration(number("offset", 90, 12)) * time.Minute,
			Code: rapid.SampledFrom([]string{"", "", "", "", "BID", "BED", "MO", "Q8H", "X"}).Draw(k, "code"), Bounds: schedule.Bounds{Shortest: length("shortest", 3), Longest: length("longest", 3)}}
		if rare("no period", 3) {
			timing.Period = quantity.Quantity{}
		}
		o := infusion(t, "cefazolin", rapid.SampledFrom([]string{"", "2026-10-31", "2026-10-31T22:00:00-04:00"}).Draw(k, "start"), rapid.SampledFrom([]string{"", "2026-11-20"}).Draw(k, "end"), timing)
		if !timing.Bounds.Longest.Absent() {
			o.Course.Length = &order.Stated{Quantity: timing.Bounds.Longest}
		}
		c := order.Case{}
		if rapid.Bool().Draw(k, "given") {
			c.Administrations = []order.Administration{given(t, "cefazolin", "2026-10-31T22:00:00-04:00", "inpatient")}
			c.Discharges = []order.Discharge{leaves(t, "2026-11-02T12:00:00-05:00")}
		}
		r := rules()
		r.Clocks = clocks
		p := plan.Draft(o, nil, c, r, ny, instant(t, "2026-10-31T23:00:00-04:00"))
		assert.False(t, p.FirstLatest.Before(p.FirstEarliest))
		assert.LessOrEqual(t, p.HomeLeast, p.HomeMost)
		assert.True(t, p.FirstEarliest.IsZero() || p.FirstHomeDose.IsZero() && len(p.HomeDoses)+len(p.Deliveries) == 0)
		assert.True(t, len(p.HomeDoses) == 0 || p.HomeMost == 0 || p.HomeMost == len(p.HomeDoses))
		assert.True(t, p.Complete || len(p.Unknown) > 0, "what is open is said")
		for i, at := range p.HomeDoses {
			assert.True(t, i == 0 || p.HomeDoses[i-1].Before(at))
		}
	})
}
