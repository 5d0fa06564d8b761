package schedule_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/schedule"
)

func exactly(n int) schedule.Count { return schedule.Count{Least: n, Most: n} }

// The bounds of a course, each kind with open ends, on both sides of its end.
func TestBoundsEndTheCourse(t *testing.T) {
	ny := zone(t, "America/New_York")
	start := instant(t, "2026-10-31T09:00:00-04:00") // the clocks go back the next night
	daily, eight := schedule.Timing{Frequency: 1, Period: every("1", "d")}, schedule.Timing{Frequency: 1, Period: every("8", "h")}
	lengths := func(low, high, unit string) schedule.Bounds {
		var b schedule.Bounds
		if low != "" {
			b.Shortest = every(low, unit)
		}
		if high != "" {
			b.Longest = every(high, unit)
		}
		return b
	}
	for _, c := range []struct {
		says   string
		timing schedule.Timing
		bounds schedule.Bounds
		want   schedule.Count
		ends   [2]string
	}{
		{"a duration of days ends on the calendar for a daily dose", daily, lengths("2", "2", "d"), exactly(2), [2]string{"2026-11-02T09:00:00-05:00", "2026-11-02T09:00:00-05:00"}},
		{"and after elapsed hours for one every 8 hours", eight, lengths("2", "2", "d"), exactly(6), [2]string{"2026-11-02T08:00:00-05:00", "2026-11-02T08:00:00-05:00"}},
		{"a week is seven of them", daily, lengths("1", "1", "wk"), exactly(7), [2]string{"2026-11-07T09:00:00-05:00", "2026-11-07T09:00:00-05:00"}},
		{"a month is one of the calendar, and November has 30 days", eight, lengths("1", "1", "mo"), exactly(91), [2]string{"2026-11-30T09:00:00-05:00", "2026-11-30T09:00:00-05:00"}},
		{"hours are elapsed for a daily dose too", daily, lengths("48", "48", "h"), exactly(2), [2]string{"2026-11-02T08:00:00-05:00", "2026-11-02T08:00:00-05:00"}},
		{"a range of days", daily, lengths("10", "14", "d"), schedule.Count{Least: 10, Most: 14}, [2]string{"2026-11-10T09:00:00-05:00", "2026-11-14T09:00:00-05:00"}},
		{"at most so long", daily, lengths("", "14", "d"), schedule.Count{Most: 14}, [2]string{"2026-10-31T09:00:00-04:00", "2026-11-14T09:00:00-05:00"}},
		{"at least so long: a hundred years are searched", daily, lengths("10", "", "d"), schedule.Count{Least: 10, Most: 36_601, Open: true}, [2]string{"2026-11-10T09:00:00-05:00", ""}},
		{"a period", eight, schedule.Bounds{Start: start, End: instant(t, "2026-11-01T08:00:00-05:00")}, exactly(3), [2]string{"2026-11-01T08:00:00-05:00", "2026-11-01T08:00:00-05:00"}},
		{"and a second more", eight, schedule.Bounds{Start: start, End: instant(t, "2026-11-01T08:00:01-05:00")}, exactly(4), [2]string{"2026-11-01T08:00:01-05:00", "2026-11-01T08:00:01-05:00"}},
		{"a period without a start", eight, schedule.Bounds{End: instant(t, "2026-11-01T08:00:00-05:00")}, exactly(3), [2]string{"2026-11-01T08:00:00-05:00", "2026-11-01T08:00:00-05:00"}},
		{"a period without an end", eight, schedule.Bounds{Start: start}, schedule.Count{Least: 1, Most: 100_000, Open: true}, [2]string{}},
		{"no bounds", eight, schedule.Bounds{}, schedule.Count{Least: 1, Most: 100_000, Open: true}, [2]string{}},
		{"a range of times between doses, and a range of days", schedule.Timing{Frequency: 1, Period: every("4", "h"), PeriodMax: every("6", "h")}, lengths("1", "2", "d"), schedule.Count{Least: 4, Most: 12}, [2]string{"2026-11-01T08:00:00-05:00", "2026-11-02T08:00:00-05:00"}},
		{"the same without an end", schedule.Timing{Frequency: 1, Period: every("4", "h"), PeriodMax: every("6", "h")}, schedule.Bounds{}, schedule.Count{Least: 1, Most: 100_000, Open: true}, [2]string{}},
		{"every year or two, longer than any course", schedule.Timing{Period: every("300", "d"), PeriodMax: every("700", "d")}, schedule.Bounds{End: instant(t, "2226-10-31T09:00:00-04:00")}, schedule.Count{Least: 77, Most: 100_000, Open: true}, [2]string{"2226-10-31T09:00:00-04:00", "2226-10-31T09:00:00-04:00"}},
		{"the same, at most so long: not even the first is certain", schedule.Timing{Frequency: 1, Period: every("4", "h"), PeriodMax: every("6", "h")}, lengths("", "1", "d"), schedule.Count{Least: 0, Most: 6}, [2]string{"2026-10-31T09:00:00-04:00", "2026-11-01T08:00:00-05:00"}},
	} {
		timing := c.timing
		timing.Bounds = c.bounds
		s, err := schedule.Read(timing, start, ny, nil)
		require.NoError(t, err, c.says)
		assert.Equal(t, c.want, s.Count(schedule.Span{}), c.says)
		early, late := s.Ends()
		for i, at := range []time.Time{early, late} {
			if c.ends[i] == "" {
				assert.True(t, at.IsZero(), c.says)
			} else {
				assert.Equal(t, c.ends[i], at.In(ny.Location).Format(time.RFC3339), c.says)
			}
		}
	}
}

func TestACountAndARangeOfCounts(t *testing.T) {
	ny := zone(t, "America/New_York")
	start := instant(t, "2026-11-10T09:00:00-05:00")
	timing := schedule.Timing{Frequency: 1, Period: every("1", "d"), Count: 10, CountMax: 12}
	s, err := schedule.Read(timing, start, ny, nil)
	require.NoError(t, err)
	assert.Equal(t, schedule.Count{Least: 10, Most: 12}, s.Count(schedule.Span{}))
	n := 0
	for o := range s.Doses(schedule.Span{}) {
		assert.Equal(t, n >= 10, o.Optional, "dose %d", n)
		n++
	}
	assert.Equal(t, 12, n)
	// The count numbers the doses from the start, whatever span is asked for.
	assert.Equal(t, schedule.Count{Least: 3, Most: 5}, s.Count(schedule.Span{From: start.Add(7 * 24 * time.Hour)}))
	// Whichever comes first.
	timing.Bounds = length("11", "d")
	s, err = schedule.Read(timing, start, ny, nil)
	require.NoError(t, err)
	assert.Equal(t, schedule.Count{Least: 10, Most: 11}, s.Count(schedule.Span{}))
	// 3 to 4 a day, 20 to 30 times: the count ends it.
	timing = schedule.Timing{Frequency: 3, FrequencyMax: 4, Period: every("1", "d"), Count: 20, CountMax: 30}
	s, err = schedule.Read(timing, start, ny, nil)
	require.NoError(t, err)
	assert.Equal(t, schedule.Count{Least: 20, Most: 30}, s.Count(schedule.Span{}))
	assert.Equal(t, schedule.Count{Least: 6, Most: 8}, s.Count(schedule.Span{To: start.Add(48 * time.Hour)}))
	assert.Equal(t, schedule.Count{Least: 12, Most: 24}, s.Count(schedule.Span{From: start.Add(48 * time.Hour)}), "20 less the 8 that may be given, 30 less the 6 that are")
	windows := 0
	for range s.Windows() {
		windows++
	}
	assert.Equal(t, 30, windows)
}

// A range is never placed: each dose has a window, and a given dose moves the
// next.
func TestARangeGivesWindows(t *testing.T) {
	ny := zone(t, "America/New_York")
	for _, c := range []struct {
		says   string
		timing schedule.Timing
		start  string
		want   []string
	}{
		{"every 4 to 6 hours", schedule.Timing{Frequency: 1, Period: every("4", "h"), PeriodMax: every("6", "h")}, "2026-10-31T22:00:00-04:00",
			[]string{"10-31T22:00-04:00 10-31T22:00-04:00", "11-01T01:00-05:00 11-01T03:00-05:00", "11-01T05:00-05:00 11-01T09:00-05:00"}},
		{"3 to 4 times a day, on the wall clock", schedule.Timing{Frequency: 3, FrequencyMax: 4, Period: every("1", "d")}, "2026-10-31T22:00:00-04:00",
			[]string{"10-31T22:00-04:00 10-31T22:00-04:00", "11-01T04:00-05:00 11-01T06:00-05:00", "11-01T10:00-05:00 11-01T14:00-05:00"}},
		{"every 3 to 5 days", schedule.Timing{Period: every("3", "d"), PeriodMax: every("5", "d")}, "2026-10-31T22:00:00-04:00",
			[]string{"10-31T22:00-04:00 10-31T22:00-04:00", "11-03T22:00-05:00 11-05T22:00-05:00", "11-06T22:00-05:00 11-10T22:00-05:00"}},
		{"1 to 2 times every 8 to 12 hours", schedule.Timing{Frequency: 1, FrequencyMax: 2, Period: every("8", "h"), PeriodMax: every("12", "h")}, "2026-11-10T08:00:00-05:00",
			[]string{"11-10T08:00-05:00 11-10T08:00-05:00", "11-10T12:00-05:00 11-10T20:00-05:00", "11-10T16:00-05:00 11-11T08:00-05:00"}},
	} {
		s, err := schedule.Read(c.timing, instant(t, c.start), ny, nil)
		require.NoError(t, err, c.says)
		assert.False(t, s.Placed(), c.says)
		assert.Empty(t, doses(s, schedule.Span{}, 9), c.says)
		const layout = "01-02T15:04Z07:00"
		var got []string
		for w := range s.Windows() {
			if got = append(got, w.Earliest.Format(layout)+" "+w.Latest.Format(layout)); len(got) == 3 {
				break
			}
		}
		assert.Equal(t, c.want, got, c.says)
		next, ok := s.Next(instant(t, c.start))
		require.True(t, ok, c.says)
		assert.Equal(t, c.want[1], next.Earliest.Format(layout)+" "+next.Latest.Format(layout), c.says)
	}
}

func TestNextDose(t *testing.T) {
	ny := zone(t, "America/New_York")
	start := instant(t, "2026-11-10T09:00:00-05:00")
	s, err := schedule.Read(schedule.Timing{Frequency: 1, Period: every("8", "h"), Bounds: length("1", "d")}, start, ny, nil)
	require.NoError(t, err)
	for given, want := range map[string]string{"2026-11-10T08:59:59-05:00": "2026-11-10T09:00:00-05:00", "2026-11-10T09:00:00-05:00": "2026-11-10T17:00:00-05:00",
		"2026-11-10T17:00:00-05:00": "2026-11-11T01:00:00-05:00", "2026-11-11T01:00:00-05:00": ""} {
		w, ok := s.Next(instant(t, given))
		assert.Equal(t, want != "", ok, given)
		if ok {
			assert.Equal(t, want, w.Earliest.Format(time.RFC3339), given)
			assert.Equal(t, w.Earliest, w.Latest, given)
		}
	}
	s, err = schedule.Read(schedule.Timing{Period: every("4", "h"), PeriodMax: every("6", "h"), Bounds: length("1", "d")}, start, ny, nil)
	require.NoError(t, err)
	w, ok := s.Next(start.Add(-time.Hour))
	require.True(t, ok)
	assert.True(t, w.Earliest.Equal(start) && w.Latest.Equal(start))
	_, ok = s.Next(start.Add(20*time.Hour - 1))
	assert.True(t, ok, "a nanosecond before the end there may be one more")
	_, ok = s.Next(start.Add(20 * time.Hour))
	assert.False(t, ok, "the end is excluded")
}

func TestWhatContradictsItselfIsRefused(t *testing.T) {
	ny := zone(t, "America/New_York")
	a, b := instant(t, "2026-11-10T09:00:00-05:00"), instant(t, "2026-11-12T09:00:00-05:00")
	eight := func(change func(*schedule.Timing)) schedule.Timing {
		timing := schedule.Timing{Frequency: 1, Period: every("8", "h")}
		change(&timing)
		return timing
	}
	for _, c := range []struct {
		says, reason string
		timing       schedule.Timing
	}{
		{"a count below zero", "from 1 to 100000", eight(func(t *schedule.Timing) { t.Count = -1 })},
		{"a count beyond any course", "from 1 to 100000", eight(func(t *schedule.Timing) { t.Count = 100_001 })},
		{"tim-8", "no smallest", eight(func(t *schedule.Timing) { t.CountMax = 3 })},
		{"counts the wrong way round", "at least 4 and at most 3", eight(func(t *schedule.Timing) { t.Count, t.CountMax = 4, 3 })},
		{"tim-7", "longest time for one dose and no shortest", eight(func(t *schedule.Timing) { t.DurationMax = every("1", "h") })},
		{"tim-4", "below zero", eight(func(t *schedule.Timing) { t.Duration = every("-1", "h") })},
		{"durations the wrong way round", "shorter than its shortest", eight(func(t *schedule.Timing) { t.Duration, t.DurationMax = every("2", "h"), every("90", "min") })},
		{"a length and dates", "only one of them", eight(func(t *schedule.Timing) { t.Bounds = length("3", "d"); t.Bounds.End = b })},
		{"a course of no time", "ends before it begins", eight(func(t *schedule.Timing) { t.Bounds = schedule.Bounds{Start: b, End: b} })},
		{"a length below zero", "below zero", eight(func(t *schedule.Timing) { t.Bounds = length("-3", "d") })},
		{"lengths the wrong way round", "shorter than the shortest", eight(func(t *schedule.Timing) {
			t.Bounds = schedule.Bounds{Shortest: every("3", "wk"), Longest: every("20", "d")}
		})},
		{"a length beyond any course", "146 years", eight(func(t *schedule.Timing) { t.Bounds = length("99999999", "h") })},
		{"half a month of course", "whole number", eight(func(t *schedule.Timing) { t.Bounds = length("0.5", "mo") })},
		{"a length that is no time", "no single time", eight(func(t *schedule.Timing) { t.Bounds = length("3", "mL") })},
		{"events and a repeat", "several instants", eight(func(t *schedule.Timing) { t.Events = []time.Time{a, b} })},
		{"one event and another start", "another for the start", eight(func(t *schedule.Timing) { t.Events, t.Bounds.Start = []time.Time{b}, a })},
		{"two events counted three", "another number", schedule.Timing{Events: []time.Time{a, b}, Count: 3}},
		{"two events counted one", "another number", schedule.Timing{Events: []time.Time{a, b}, Count: 1}},
		{"nothing but a count", "does not say how often", schedule.Timing{Count: 2}},
		{"nothing at all", "does not say how often", schedule.Timing{}},
		{"a range and clock times", "names clock times or days as well", schedule.Timing{Frequency: 1, FrequencyMax: 2, Period: every("1", "d"), TimesOfDay: []string{"09:00:00"}}},
		{"a range and a code", "names one time", schedule.Timing{Frequency: 1, Period: every("4", "h"), PeriodMax: every("6", "h"), Code: "Q4H"}},
		{"a range without a period", "without the time", schedule.Timing{Frequency: 3, FrequencyMax: 4}},
		{"a range of months", "in months", schedule.Timing{Period: every("1", "mo"), PeriodMax: every("2", "mo")}},
		{"a range from hours to days", "not in one unit", schedule.Timing{Period: every("12", "h"), PeriodMax: every("1", "d")}},
		{"a range of parts of a second", "below a second", schedule.Timing{Period: every("0.5", "s"), PeriodMax: every("1", "s")}},
	} {
		_, err := schedule.Read(c.timing, a, ny, nil)
		var u *schedule.Unplaced
		require.ErrorAs(t, err, &u, c.says)
		assert.Contains(t, u.Reason, c.reason, c.says)
	}
	_, err := schedule.Read(eight(func(*schedule.Timing) {}), time.Time{}, ny, nil)
	assert.ErrorContains(t, err, "not from when")
	_, err = schedule.Read(schedule.Timing{Period: every("3", "d"), PeriodMax: every("5", "d")}, a, schedule.Zone{}, nil)
	assert.ErrorContains(t, err, "time zone of the home is not known")
	_, err = schedule.Zone{}.After(a, every("3", "d"), true)
	assert.ErrorContains(t, err, "needs a time zone")
}

// One event beside a repeat is its start; a start after that of the bounds
// continues the course, one before it is too early.
func TestWhereASeriesBegins(t *testing.T) {
	ny := zone(t, "America/New_York")
	a, b := instant(t, "2026-11-10T09:00:00-05:00"), instant(t, "2026-11-12T09:00:00-05:00")
	first := func(timing schedule.Timing, start time.Time) time.Time {
		s, err := schedule.Read(timing, start, ny, nil)
		require.NoError(t, err)
		for o := range s.Doses(schedule.Span{}) {
			return o.At
		}
		return time.Time{}
	}
	timing := schedule.Timing{Frequency: 1, Period: every("8", "h"), Events: []time.Time{a}}
	assert.True(t, first(timing, time.Time{}).Equal(a))
	timing = schedule.Timing{Frequency: 1, Period: every("8", "h"), Bounds: schedule.Bounds{Start: a}}
	assert.True(t, first(timing, time.Time{}).Equal(a))
	assert.True(t, first(timing, b).Equal(b))
	timing.Bounds.Start = b
	assert.True(t, first(timing, a).Equal(b))
	dated := schedule.Timing{Events: []time.Time{b, a, b.UTC()}, Count: 2}
	assert.True(t, first(dated, time.Time{}).Equal(a))
	assert.True(t, first(dated, a.Add(1)).Equal(b))
	s, err := schedule.Read(dated, time.Time{}, schedule.Zone{}, nil)
	require.NoError(t, err, "dates need no zone")
	assert.Equal(t, exactly(2), s.Count(schedule.Span{}))
}

// A span far from the start is reached at once: the doses between are
// reckoned, not walked. 10,000,000 years of nanoseconds would never end.
func TestASpanFarAwayIsReachedAtOnce(t *testing.T) {
	ny := zone(t, "America/New_York")
	start := instant(t, "2000-01-03T09:00:00-05:00") // a Monday
	for says, timing := range map[string]schedule.Timing{
		"a nanosecond": {Frequency: 1, Period: quantity.Point(quantity.MustNumber("0.000000001"), quantity.MustUnit("s"))},
		"a minute":     {Frequency: 1, Period: every("1", "min")},
		"daily":        {Frequency: 1, Period: every("1", "d")},
		"weekly":       {DaysOfWeek: []string{"mon"}},
		"monthly":      {Code: "MO"},
	} {
		s, err := schedule.Read(timing, start, ny, nil)
		require.NoError(t, err, says)
		from := instant(t, "2060-01-01T00:00:00-05:00")
		n := 0
		for o := range s.Doses(schedule.Span{From: from}) {
			require.False(t, o.At.Before(from), says)
			if n++; n == 3 {
				break
			}
		}
		assert.Equal(t, 3, n, says)
	}
	// The same doses as walked from the start.
	for _, timing := range []schedule.Timing{{Frequency: 3, Period: every("50", "h")}, {Frequency: 1, Period: every("3", "d")}, {Code: "MO"}, {DaysOfWeek: []string{"tue"}, Frequency: 1, Period: every("3", "wk")}} {
		s, err := schedule.Read(timing, start, ny, nil)
		require.NoError(t, err)
		span := schedule.Span{From: instant(t, "2011-03-01T00:00:00-05:00"), To: instant(t, "2011-12-24T09:00:00-05:00")}
		all := doses(s, schedule.Span{To: span.To}, 100_000)
		some := doses(s, span, 100_000)
		require.NotEmpty(t, some)
		assert.Equal(t, all[len(all)-len(some):], some)
	}
}

// Weeks begin on Monday; a month that names times has them on its day; a day
// that a zone left out (Samoa, 30 December 2011) has its doses a day later, in
// order with those of that day.
func TestWeeksMonthsAndALostDay(t *testing.T) {
	for _, c := range []struct {
		says, zone, start string
		timing            schedule.Timing
		want              []string
	}{
		{"every second week on Sunday and Monday", "America/New_York", "2027-06-07T09:00:00-04:00", schedule.Timing{Frequency: 2, Period: every("2", "wk"), DaysOfWeek: []string{"sun", "mon"}},
			[]string{"Mon 2027-06-07T09:00-04:00", "Sun 2027-06-13T09:00-04:00", "Mon 2027-06-21T09:00-04:00", "Sun 2027-06-27T09:00-04:00"}},
		{"each month at two times, begun between them", "America/New_York", "2027-01-30T12:00:00-05:00", schedule.Timing{Frequency: 2, Period: every("1", "mo"), TimesOfDay: []string{"09:00:00", "21:00:00"}},
			[]string{"Sat 2027-01-30T21:00-05:00", "Sun 2027-02-28T09:00-05:00", "Sun 2027-02-28T21:00-05:00", "Tue 2027-03-30T09:00-04:00"}},
		{"each year", "America/New_York", "2028-02-29T09:00:00-05:00", schedule.Timing{Frequency: 1, Period: every("1", "a")},
			[]string{"Tue 2028-02-29T09:00-05:00", "Wed 2029-02-28T09:00-05:00", "Thu 2030-02-28T09:00-05:00"}},
		{"a lost day", "Pacific/Apia", "2011-12-29T12:00:00-10:00", schedule.Timing{TimesOfDay: []string{"08:00:00", "20:00:00"}},
			[]string{"Thu 2011-12-29T20:00-10:00", "Sat 2011-12-31T08:00+14:00", "Sat 2011-12-31T08:00+14:00", "Sat 2011-12-31T20:00+14:00", "Sat 2011-12-31T20:00+14:00", "Sun 2012-01-01T08:00+14:00"}},
	} {
		s, err := schedule.Read(c.timing, instant(t, c.start), zone(t, c.zone), nil)
		require.NoError(t, err, c.says)
		assert.Equal(t, c.want, doses(s, schedule.Span{}, len(c.want)), c.says)
	}
}

// The list of before knows bounds too: a range of lengths leaves it open.
func TestTheListKnowsTheBounds(t *testing.T) {
	ny := zone(t, "America/New_York")
	span := schedule.Span{From: instant(t, "2026-11-10T09:00:00-05:00")}
	timing := schedule.Timing{Code: "QD", Bounds: length("10", "d")}
	got, complete := schedule.Expand(timing, span, ny, 100)
	assert.Len(t, got, 10)
	assert.True(t, complete)
	timing.Bounds.Longest = every("14", "d")
	got, complete = schedule.Expand(timing, span, ny, 100)
	assert.Len(t, got, 14)
	assert.False(t, complete)
	got, _ = schedule.Expand(schedule.Timing{Code: "QD", Bounds: schedule.Bounds{Start: span.From.Add(24 * time.Hour)}}, span, ny, 1)
	assert.True(t, got[0].Equal(span.From.Add(24*time.Hour)))
}

func TestTheOtherTimeIsGivenAtAClockChange(t *testing.T) {
	ny := zone(t, "America/New_York")
	for _, c := range []struct{ clock, from, at, other string }{
		{"02:30:00", "2027-03-14T00:00:00-05:00", "2027-03-14T03:30:00-04:00", "2027-03-14T01:30:00-05:00"},
		{"01:30:00", "2026-11-01T00:00:00-04:00", "2026-11-01T01:30:00-04:00", "2026-11-01T01:30:00-05:00"},
		{"09:00:00", "2026-11-01T00:00:00-04:00", "2026-11-01T09:00:00-05:00", ""},
	} {
		s, err := schedule.Read(schedule.Timing{TimesOfDay: []string{c.clock}}, instant(t, c.from), ny, nil)
		require.NoError(t, err)
		for o := range s.Doses(schedule.Span{}) {
			assert.Equal(t, c.at, o.At.Format(time.RFC3339))
			if c.other == "" {
				assert.True(t, o.Other.IsZero())
			} else {
				assert.Equal(t, c.other, o.Other.Format(time.RFC3339))
			}
			break
		}
	}
}

// A course that begins in the hour that is shown again has its first dose
// then: the first showing was before the course.
func TestACourseBeginsInTheSecondOfTwoHours(t *testing.T) {
	ny := zone(t, "America/New_York")
	start := instant(t, "2026-11-01T01:30:00-05:00")
	for says, timing := range map[string]schedule.Timing{
		"daily":         {Frequency: 1, Period: every("1", "d")},
		"twice a day":   {Code: "BID"},
		"every 2 days":  {Frequency: 1, Period: every("2", "d")},
		"monthly":       {Code: "MO"},
		"at that time":  {TimesOfDay: []string{"01:30:00"}},
		"every 8 hours": {Code: "Q8H"},
	} {
		s, err := schedule.Read(timing, start, ny, nil)
		require.NoError(t, err, says)
		for o := range s.Doses(schedule.Span{}) {
			assert.True(t, o.At.Equal(start), "%s: %s", says, o.At)
			if !o.Other.IsZero() {
				assert.Equal(t, "2026-11-01T01:30:00-04:00", o.Other.Format(time.RFC3339), says)
			}
			break
		}
	}
	s, err := schedule.Read(schedule.Timing{TimesOfDay: []string{"01:29:59"}}, start, ny, nil)
	require.NoError(t, err)
	assert.Equal(t, "Mon 2026-11-02T01:29-05:00", doses(s, schedule.Span{}, 1)[0], "one second earlier both lie before the course")
}

func TestADoseThatOutlastsItsIntervalIsSaid(t *testing.T) {
	ny := zone(t, "America/New_York")
	timing := schedule.Timing{Frequency: 1, Period: every("24", "h"), Duration: every("24", "h")}
	s, err := schedule.Read(timing, instant(t, "2026-11-10T09:00:00-05:00"), ny, nil)
	require.NoError(t, err)
	assert.Empty(t, s.Says())
	timing.Duration = every("25", "h")
	s, err = schedule.Read(timing, instant(t, "2026-11-10T09:00:00-05:00"), ny, nil)
	require.NoError(t, err)
	require.Len(t, s.Says(), 1)
	assert.Contains(t, s.Says()[0], "longer than the time to the next dose")
}
