package schedule_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/schedule"
)

func every(n string, unit string) quantity.Quantity {
	return quantity.Point(quantity.MustNumber(n), quantity.MustUnit(unit))
}

func TestHowOftenIsReadAsElapsedOrWallClock(t *testing.T) {
	for _, c := range []struct {
		says     string
		timing   schedule.Timing
		elapsed  bool
		interval time.Duration
	}{
		{"every 8 hours is elapsed", schedule.Timing{Frequency: 1, Period: every("8", "h")}, true, 8 * time.Hour},
		{"a frequency left out is one", schedule.Timing{Period: every("6", "h")}, true, 6 * time.Hour},
		{"every 15 minutes is elapsed", schedule.Timing{Frequency: 1, Period: every("15", "min")}, true, 15 * time.Minute},
		{"2 in 24 hours are 12 hours apart", schedule.Timing{Frequency: 2, Period: every("24", "h")}, true, 12 * time.Hour},
		{"a day and a half is elapsed", schedule.Timing{Frequency: 1, Period: every("1.5", "d")}, true, 36 * time.Hour},
		{"once a day keeps the clock", schedule.Timing{Frequency: 1, Period: every("1", "d")}, false, 24 * time.Hour},
		{"3 a day keep the clock", schedule.Timing{Frequency: 3, Period: every("1", "d")}, false, 8 * time.Hour},
		{"4 in 2 days are 2 a day", schedule.Timing{Frequency: 4, Period: every("2", "d")}, false, 12 * time.Hour},
		{"every other day", schedule.Timing{Frequency: 1, Period: every("2", "d")}, false, 48 * time.Hour},
		{"once a week", schedule.Timing{Frequency: 1, Period: every("1", "wk")}, false, 7 * 24 * time.Hour},
		{"twice in two weeks", schedule.Timing{Frequency: 2, Period: every("2", "wk")}, false, 7 * 24 * time.Hour},
		{"every 24 hours at 18:00 keeps the clock", schedule.Timing{Frequency: 1, Period: every("24", "h"), TimesOfDay: []string{"18:00:00"}}, false, 24 * time.Hour},
		{"every 8 hours at three times", schedule.Timing{Frequency: 1, Period: every("8", "h"), TimesOfDay: []string{"06:00:00", "14:00:00", "22:00:00"}}, false, 8 * time.Hour},
		{"every 2 days at 18:00 is not daily", schedule.Timing{Frequency: 1, Period: every("2", "d"), TimesOfDay: []string{"18:00:00"}}, false, 48 * time.Hour},
		{"Monday, Wednesday, Friday have no even interval", schedule.Timing{Frequency: 3, Period: every("1", "wk"), DaysOfWeek: []string{"mon", "wed", "fri"}}, false, 0},
		{"Q8H is elapsed", schedule.Timing{Code: "Q8H"}, true, 8 * time.Hour},
		{"Q12H is elapsed", schedule.Timing{Code: "Q12H"}, true, 12 * time.Hour},
		{"BID keeps the clock", schedule.Timing{Code: "BID"}, false, 12 * time.Hour},
		{"TID keeps the clock", schedule.Timing{Code: "TID"}, false, 8 * time.Hour},
		{"QID keeps the clock", schedule.Timing{Code: "QID"}, false, 6 * time.Hour},
		{"QD keeps the clock", schedule.Timing{Code: "QD"}, false, 24 * time.Hour},
		{"QOD is every second day", schedule.Timing{Code: "QOD"}, false, 48 * time.Hour},
		{"WK is every week", schedule.Timing{Code: "WK"}, false, 7 * 24 * time.Hour},
		{"a code that agrees with the repeat", schedule.Timing{Code: "BID", Frequency: 1, Period: every("12", "h")}, true, 12 * time.Hour},
		{"a local code beside a full repeat", schedule.Timing{Code: "q8-standard", Frequency: 1, Period: every("8", "h")}, true, 8 * time.Hour},
	} {
		p, err := schedule.PaceOf(c.timing)
		require.NoError(t, err, c.says)
		assert.Equal(t, c.elapsed, p.Elapsed(), c.says)
		assert.Equal(t, c.interval, p.Interval(), c.says)
	}
}

func TestWhatCannotBePlacedIsNotGuessed(t *testing.T) {
	for _, c := range []struct {
		says, reason string
		timing       schedule.Timing
	}{
		{"nothing said", "does not say how often", schedule.Timing{}},
		{"a count alone", "does not say how often", schedule.Timing{Count: 10}},
		{"a range of frequencies", "range", schedule.Timing{Frequency: 3, FrequencyMax: 4, Period: every("1", "d")}},
		{"a range of periods", "range", schedule.Timing{Frequency: 1, Period: every("6", "h"), PeriodMax: every("8", "h")}},
		{"3 a week without days", "neither the days nor the times", schedule.Timing{Frequency: 3, Period: every("1", "wk")}},
		{"twice a month", "no fixed distance", schedule.Timing{Frequency: 2, Period: every("1", "mo")}},
		{"half a month", "no fixed distance", schedule.Timing{Frequency: 1, Period: every("0.5", "mo")}},
		{"a day of the week each month", "do not fit", schedule.Timing{Frequency: 1, Period: every("1", "mo"), DaysOfWeek: []string{"mon"}}},
		{"a frequency without a period", "without the time", schedule.Timing{Frequency: 2}},
		{"a period of nothing", "above zero", schedule.Timing{Frequency: 1, Period: every("0", "h")}},
		{"a period below zero", "above zero", schedule.Timing{Frequency: 1, Period: every("-8", "h")}},
		{"1 a day at two times", "names 2 times of day", schedule.Timing{Frequency: 1, Period: every("1", "d"), TimesOfDay: []string{"09:00:00", "21:00:00"}}},
		{"2 a day at one time", "names 1 times of day", schedule.Timing{Frequency: 2, Period: every("1", "d"), TimesOfDay: []string{"09:00:00"}}},
		{"every 12 hours at one time", "do not fit", schedule.Timing{Frequency: 1, Period: every("12", "h"), TimesOfDay: []string{"09:00:00"}}},
		{"once a week on three days", "do not fit", schedule.Timing{Frequency: 1, Period: every("1", "wk"), DaysOfWeek: []string{"mon", "wed", "fri"}}},
		{"an unknown day", "day of the week", schedule.Timing{DaysOfWeek: []string{"lun"}}},
		{"an unknown time", "time of day", schedule.Timing{TimesOfDay: []string{"9 o'clock"}}},
		{"an unknown code", "timing code", schedule.Timing{Code: "Q8"}},
		{"no hours", "timing code", schedule.Timing{Code: "Q0H"}},
		{"more than a week", "timing code", schedule.Timing{Code: "Q169H"}},
		{"code against repeat", "different times", schedule.Timing{Code: "Q8H", Frequency: 1, Period: every("12", "h")}},
		{"two meals", "events of the day", schedule.Timing{When: []string{"CM", "CV"}}},
		{"bedtime, and nobody knows when that is", "events of the day (at bedtime)", schedule.Timing{When: []string{"HS"}}},
		{"a code of a part of the day", "event of the day (in the morning)", schedule.Timing{Code: "AM"}},
		{"the afternoon or evening", "in the afternoon or evening", schedule.Timing{Code: "PM"}},
		{"the code for bedtime", "at bedtime", schedule.Timing{Code: "BED"}},
		{"an event of the day that is none", "not one that FHIR R4 lists", schedule.Timing{When: []string{"ELEVENSES"}}},
		{"a code of two doses and a frequency of three", "differ", schedule.Timing{Code: "BID", Frequency: 3}},
		{"a code of one dose a day on days of two doses", "different times", schedule.Timing{Code: "QD", Frequency: 2, Period: every("1", "d"), DaysOfWeek: []string{"mon"}}},
		{"a weekly code on two days", "different times", schedule.Timing{Code: "WK", DaysOfWeek: []string{"mon", "thu"}}},
		{"a monthly code and a weekly period", "different times", schedule.Timing{Code: "MO", Frequency: 1, Period: every("4", "wk")}},
		{"a code of hours with a leading zero", "timing code", schedule.Timing{Code: "Q08H"}},
		{"an hour of one digit", "time of day", schedule.Timing{TimesOfDay: []string{"9:00:00"}}},
		{"the hour 24", "time of day", schedule.Timing{TimesOfDay: []string{"24:00:00"}}},
		{"a leap second", "time of day", schedule.Timing{TimesOfDay: []string{"23:59:60"}}},
		{"times of day and events (tim-10)", "both clock times and events", schedule.Timing{TimesOfDay: []string{"09:00:00"}, When: []string{"HS"}}},
		{"minutes without an event (tim-9)", "names no event", schedule.Timing{TimesOfDay: []string{"09:00:00"}, Offset: time.Minute}},
		{"minutes from a meal itself (tim-9)", "before or after", schedule.Timing{When: []string{"CM"}, Offset: time.Minute}},
		{"minutes of a whole day", "a day or more", schedule.Timing{When: []string{"ACM"}, Offset: 24 * time.Hour}},
		{"a longest period without a shortest (tim-6)", "no shortest", schedule.Timing{Frequency: 1, PeriodMax: every("8", "h")}},
		{"a longest period below the shortest", "shorter than the shortest", schedule.Timing{Frequency: 1, Period: every("8", "h"), PeriodMax: every("6", "h")}},
		{"more at least than at most", "at least 4 and at most 3", schedule.Timing{Frequency: 4, FrequencyMax: 3, Period: every("1", "d")}},
	} {
		_, err := schedule.PaceOf(c.timing)
		var u *schedule.Unplaced
		require.ErrorAs(t, err, &u, c.says)
		assert.Contains(t, u.Reason, c.reason, c.says)
		doses, complete := schedule.Expand(c.timing, schedule.Span{From: instant(t, "2026-11-10T08:00:00-05:00"), To: instant(t, "2026-11-20T08:00:00-05:00")}, zone(t, "America/New_York"), 100)
		assert.Empty(t, doses, c.says)
		assert.False(t, complete, c.says)
	}
}

func TestAssumptionsAreSaid(t *testing.T) {
	for _, c := range []struct {
		timing schedule.Timing
		says   string
	}{
		{schedule.Timing{Code: "BID"}, "2 doses a day without clock times: spaced evenly over the day from the first dose"},
		{schedule.Timing{Frequency: 3, Period: every("1", "d")}, "3 doses a day without clock times: spaced evenly over the day from the first dose"},
		{schedule.Timing{Frequency: 2, Period: every("24", "h")}, "2 doses in each period: spaced evenly"},
		{schedule.Timing{Code: "MO"}, "a month is no fixed distance: each dose is on the day of the month of the first one, in a shorter month on its last day"},
		{schedule.Timing{Frequency: 1, Period: every("1", "mo")}, "a month is no fixed distance: each dose is on the day of the month of the first one, in a shorter month on its last day"},
	} {
		p, err := schedule.PaceOf(c.timing)
		require.NoError(t, err)
		assert.Equal(t, []string{c.says}, p.Says)
	}
	p, err := schedule.PaceOf(schedule.Timing{Frequency: 1, Period: every("8", "h")})
	require.NoError(t, err)
	assert.Empty(t, p.Says)
}

// Times of day beside "every so many hours" lie so many hours apart, to a
// quarter of it.
func TestTimesOfDayKeepTheDistanceOfThePeriod(t *testing.T) {
	hours := func(n int64) quantity.Quantity { return quantity.Point(quantity.Int(n), quantity.MustUnit("h")) }
	for _, c := range []struct {
		says   string
		timing schedule.Timing
		placed bool
	}{
		{"every 8 hours", schedule.Timing{Frequency: 1, Period: hours(8), TimesOfDay: []string{"06:00:00", "14:00:00", "22:00:00"}}, true},
		{"6 hours apart are a quarter off", schedule.Timing{Frequency: 1, Period: hours(8), TimesOfDay: []string{"06:00:00", "12:00:00", "20:00:00"}}, true},
		{"a minute less", schedule.Timing{Frequency: 1, Period: hours(8), TimesOfDay: []string{"06:00:00", "11:59:00", "20:00:00"}}, false},
		{"10 hours to the next day are a quarter off", schedule.Timing{Frequency: 1, Period: hours(8), TimesOfDay: []string{"06:00:00", "13:00:00", "20:00:00"}}, true},
		{"a minute more", schedule.Timing{Frequency: 1, Period: hours(8), TimesOfDay: []string{"06:00:00", "13:00:00", "19:59:00"}}, false},
		{"three in two hours", schedule.Timing{Frequency: 1, Period: hours(8), TimesOfDay: []string{"06:00:00", "07:00:00", "08:00:00"}}, false},
		{"twice in 12 hours", schedule.Timing{Frequency: 2, Period: hours(12), TimesOfDay: []string{"00:00:00", "06:00:00", "12:00:00", "18:00:00"}}, true},
		{"a code", schedule.Timing{Code: "Q12H", TimesOfDay: []string{"09:00:00", "21:00:00"}}, true},
		{"a code against its times", schedule.Timing{Code: "Q12H", TimesOfDay: []string{"06:00:00", "07:00:00"}}, false},
		{"BID names no distance", schedule.Timing{Code: "BID", TimesOfDay: []string{"09:00:00", "17:00:00"}}, true},
	} {
		_, err := schedule.PaceOf(c.timing)
		assert.Equal(t, c.placed, err == nil, "%s: %v", c.says, err)
	}
}

// By the wall clock the doses of 02:00 and 03:00 would be one instant on the
// night the clocks skip an hour.
func TestHourlyDosesKeepTheirDistanceWhenTheClocksChange(t *testing.T) {
	zone, err := schedule.LoadZones().Zone("America/New_York")
	require.NoError(t, err)
	for frequency, want := range map[int]time.Duration{23: 0, 24: time.Hour, 48: 30 * time.Minute} {
		p, err := schedule.PaceOf(schedule.Timing{Frequency: frequency, Period: every("1", "d")})
		require.NoError(t, err)
		assert.Equal(t, want > 0, p.Elapsed(), frequency)
		if want > 0 {
			assert.Equal(t, want, p.Interval())
		}
		doses, _ := schedule.Expand(schedule.Timing{Frequency: frequency, Period: every("1", "d"), Count: 60}, schedule.Span{From: time.Date(2027, 3, 14, 3, 0, 0, 0, time.UTC)}, zone, 60)
		for i := 1; i < len(doses); i++ {
			assert.True(t, doses[i].After(doses[i-1]), "%d a day: two doses at %s", frequency, doses[i])
		}
	}
}
