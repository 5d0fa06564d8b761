package schedule_test

import (
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"weir.example/weir/mapping/schedule"
)

func local(times []time.Time) []string {
	var out []string
	for _, at := range times {
		out = append(out, at.Format("Mon 2006-01-02T15:04Z07:00"))
	}
	return out
}

func TestExpandListsEveryStart(t *testing.T) {
	for _, c := range []struct {
		says, zone, from, to string
		timing               schedule.Timing
		limit                int
		want                 []string
		complete             bool
	}{
		{"the end is excluded", "America/New_York", "2026-11-10T22:00:00-05:00", "2026-11-11T14:00:00-05:00", schedule.Timing{Frequency: 1, Period: every("8", "h")}, 9,
			[]string{"Tue 2026-11-10T22:00-05:00", "Wed 2026-11-11T06:00-05:00"}, true},
		{"a second past it is not", "America/New_York", "2026-11-10T22:00:00-05:00", "2026-11-11T14:00:01-05:00", schedule.Timing{Frequency: 1, Period: every("8", "h")}, 9,
			[]string{"Tue 2026-11-10T22:00-05:00", "Wed 2026-11-11T06:00-05:00", "Wed 2026-11-11T14:00-05:00"}, true},
		{"a count before the end", "America/New_York", "2026-11-10T22:00:00-05:00", "2026-11-20T14:00:00-05:00", schedule.Timing{Count: 2, Frequency: 1, Period: every("8", "h")}, 9,
			[]string{"Tue 2026-11-10T22:00-05:00", "Wed 2026-11-11T06:00-05:00"}, true},
		{"an end before the count", "America/New_York", "2026-11-10T22:00:00-05:00", "2026-11-11T00:00:00-05:00", schedule.Timing{Count: 2, Frequency: 1, Period: every("8", "h")}, 9,
			[]string{"Tue 2026-11-10T22:00-05:00"}, true},
		{"a range of counts leaves the end open", "America/New_York", "2026-11-10T22:00:00-05:00", "", schedule.Timing{Count: 1, CountMax: 2, Frequency: 1, Period: every("8", "h")}, 9,
			[]string{"Tue 2026-11-10T22:00-05:00", "Wed 2026-11-11T06:00-05:00"}, false},
		{"the cap cuts", "America/New_York", "2026-11-10T22:00:00-05:00", "2026-11-11T14:00:00-05:00", schedule.Timing{Frequency: 1, Period: every("8", "h")}, 1,
			[]string{"Tue 2026-11-10T22:00-05:00"}, false},
		{"the cap just holds", "America/New_York", "2026-11-10T22:00:00-05:00", "2026-11-11T14:00:00-05:00", schedule.Timing{Frequency: 1, Period: every("8", "h")}, 2,
			[]string{"Tue 2026-11-10T22:00-05:00", "Wed 2026-11-11T06:00-05:00"}, true},
		{"every 8 hours over the autumn change moves on the clock", "America/New_York", "2026-10-31T14:00:00-04:00", "2026-11-01T14:00:00-05:00", schedule.Timing{Code: "Q8H"}, 9,
			[]string{"Sat 2026-10-31T14:00-04:00", "Sat 2026-10-31T22:00-04:00", "Sun 2026-11-01T05:00-05:00", "Sun 2026-11-01T13:00-05:00"}, true},
		{"twice a day keeps the clock over it", "America/New_York", "2026-10-31T20:00:00-04:00", "2026-11-02T00:00:00-05:00", schedule.Timing{Code: "BID"}, 9,
			[]string{"Sat 2026-10-31T20:00-04:00", "Sun 2026-11-01T08:00-05:00", "Sun 2026-11-01T20:00-05:00"}, true},
		{"a time in the gap moves forward, and only that day", "America/New_York", "2027-03-13T02:30:00-05:00", "2027-03-16T00:00:00-04:00", schedule.Timing{Frequency: 1, Period: every("1", "d")}, 9,
			[]string{"Sat 2027-03-13T02:30-05:00", "Sun 2027-03-14T03:30-04:00", "Mon 2027-03-15T02:30-04:00"}, true},
		{"a time shown twice is the first", "America/New_York", "2026-10-31T01:30:00-04:00", "2026-11-03T00:00:00-05:00", schedule.Timing{TimesOfDay: []string{"01:30:00"}}, 9,
			[]string{"Sat 2026-10-31T01:30-04:00", "Sun 2026-11-01T01:30-04:00", "Mon 2026-11-02T01:30-05:00"}, true},
		{"times of day before the start are not the first day's", "America/Chicago", "2027-02-10T10:00:00-06:00", "2027-02-11T22:00:00-06:00", schedule.Timing{Frequency: 2, Period: every("1", "d"), TimesOfDay: []string{"21:00:00", "09:00:00"}}, 9,
			[]string{"Wed 2027-02-10T21:00-06:00", "Thu 2027-02-11T09:00-06:00", "Thu 2027-02-11T21:00-06:00"}, true},
		{"Monday, Wednesday, Friday", "America/Los_Angeles", "2027-06-07T10:00:00-07:00", "2027-06-15T00:00:00-07:00", schedule.Timing{Frequency: 3, Period: every("1", "wk"), DaysOfWeek: []string{"fri", "mon", "wed"}, TimesOfDay: []string{"10:00:00"}}, 9,
			[]string{"Mon 2027-06-07T10:00-07:00", "Wed 2027-06-09T10:00-07:00", "Fri 2027-06-11T10:00-07:00", "Mon 2027-06-14T10:00-07:00"}, true},
		{"twice on each Monday, the later one first when it starts late", "America/Los_Angeles", "2027-06-07T20:00:00-07:00", "2027-06-15T00:00:00-07:00", schedule.Timing{Frequency: 2, Period: every("1", "d"), DaysOfWeek: []string{"mon"}}, 9,
			[]string{"Mon 2027-06-07T20:00-07:00", "Mon 2027-06-14T08:00-07:00", "Mon 2027-06-14T20:00-07:00"}, true},
		{"every second week on Monday and Thursday, from a Thursday", "America/Los_Angeles", "2027-06-10T09:00:00-07:00", "2027-07-06T00:00:00-07:00", schedule.Timing{Frequency: 2, Period: every("2", "wk"), DaysOfWeek: []string{"mon", "thu"}}, 9,
			[]string{"Thu 2027-06-10T09:00-07:00", "Mon 2027-06-21T09:00-07:00", "Thu 2027-06-24T09:00-07:00", "Mon 2027-07-05T09:00-07:00"}, true},
		{"every second day at 18:00, begun later that day, counts from the next", "America/New_York", "2026-11-10T22:00:00-05:00", "2026-11-14T00:00:00-05:00", schedule.Timing{Frequency: 1, Period: every("2", "d"), TimesOfDay: []string{"18:00:00"}}, 9,
			[]string{"Wed 2026-11-11T18:00-05:00", "Fri 2026-11-13T18:00-05:00"}, true},
		{"without an end", "America/New_York", "2026-11-10T22:00:00-05:00", "", schedule.Timing{Frequency: 1, Period: every("8", "h")}, 2,
			[]string{"Tue 2026-11-10T22:00-05:00", "Wed 2026-11-11T06:00-05:00"}, false},
		{"one dose needs no pace", "America/New_York", "2026-10-31T11:00:00-04:00", "", schedule.Timing{Count: 1}, 9, []string{"Sat 2026-10-31T11:00-04:00"}, true},
	} {
		span := schedule.Span{From: instant(t, c.from)}
		if c.to != "" {
			span.To = instant(t, c.to)
		}
		got, complete := schedule.Expand(c.timing, span, zone(t, c.zone), c.limit)
		assert.Equal(t, c.want, local(got), c.says)
		assert.Equal(t, c.complete, complete, c.says)
	}
}

func TestEventsAreListedInOrderOnce(t *testing.T) {
	a, b, c := instant(t, "2026-11-10T09:00:00-05:00"), instant(t, "2026-11-11T09:00:00-05:00"), instant(t, "2026-11-12T09:00:00-05:00")
	timing := schedule.Timing{Events: []time.Time{c, a, b, a.UTC()}}
	ny := zone(t, "America/New_York")
	got, complete := schedule.Expand(timing, schedule.Span{From: b}, ny, 9)
	assert.Equal(t, []string{"Wed 2026-11-11T09:00-05:00", "Thu 2026-11-12T09:00-05:00"}, local(got))
	assert.True(t, complete)
	got, complete = schedule.Expand(timing, schedule.Span{From: a}, ny, 2)
	assert.Len(t, got, 2, "the cap holds for events too")
	assert.False(t, complete)
	timing.Frequency, timing.Period = 1, every("8", "h")
	got, complete = schedule.Expand(timing, schedule.Span{From: a, To: c}, ny, 9)
	assert.Empty(t, got, "several events beside a repeat say two things")
	assert.False(t, complete)
}

func TestAWallClockNeedsAZone(t *testing.T) {
	span := schedule.Span{From: instant(t, "2026-11-10T09:00:00-05:00"), To: instant(t, "2026-11-12T09:00:00-05:00")}
	got, complete := schedule.Expand(schedule.Timing{Code: "QD"}, span, schedule.Zone{}, 9)
	assert.Empty(t, got)
	assert.False(t, complete, "an unknown zone is never a complete list without doses")
	got, complete = schedule.Expand(schedule.Timing{Code: "Q24H"}, span, schedule.Zone{}, 9)
	assert.Len(t, got, 2, "elapsed time needs none")
	assert.True(t, complete)
}

func TestClockChangesAreReportedWithTheTimeMeant(t *testing.T) {
	ny := zone(t, "America/New_York")
	half := 2*time.Hour + 30*time.Minute
	list, _ := schedule.Occurrences(schedule.Timing{TimesOfDay: []string{"02:30:00"}}, schedule.Span{From: instant(t, "2027-03-13T00:00:00-05:00"), To: instant(t, "2027-03-16T00:00:00-04:00")}, ny, 9)
	require.Len(t, list, 3)
	for i, gap := range []bool{false, true, false} {
		assert.Equal(t, gap, list[i].Gap)
		assert.Equal(t, half, list[i].Asked)
	}
	list, _ = schedule.Occurrences(schedule.Timing{TimesOfDay: []string{"01:30:00"}}, schedule.Span{From: instant(t, "2026-10-31T00:00:00-04:00"), To: instant(t, "2026-11-03T00:00:00-05:00")}, ny, 9)
	require.Len(t, list, 3)
	for i, overlap := range []bool{false, true, false} {
		assert.Equal(t, overlap, list[i].Overlap)
	}
}

var sixZones = []string{"America/New_York", "America/Chicago", "America/Denver", "America/Los_Angeles", "Europe/London", "Australia/Lord_Howe"}

// Elapsed doses are exactly evenly spaced and their count is
// N = ceil((end - start) / interval), over both clock changes.
func TestElapsedDosesAreEvenOverBothClockChanges(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		z := zone(t, rapid.SampledFrom(sixZones).Draw(r, "zone"))
		from := time.Unix(rapid.Int64Range(1_790_000_000, 1_811_000_000).Draw(r, "start"), 0) // Sep 2026 to May 2027
		minutes := rapid.Int64Range(30, 3*24*60).Draw(r, "minutes")
		length := time.Duration(rapid.Int64Range(1, 60*24*3600).Draw(r, "length")) * time.Second
		timing := schedule.Timing{Frequency: 1, Period: every(strconv.FormatInt(minutes, 10), "min")}
		got, complete := schedule.Expand(timing, schedule.Span{From: from, To: from.Add(length)}, z, 1_000_000)
		require.True(r, complete)
		step := time.Duration(minutes) * time.Minute
		require.Equal(r, int((length+step-1)/step), len(got))
		for i, at := range got {
			require.True(r, at.Equal(from.Add(time.Duration(i)*step)), "dose %d", i)
		}
	})
}

// Wall-clock doses show the same time every day, except in a gap.
func TestWallClockDosesKeepTheirTimeOverBothClockChanges(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		z := zone(t, rapid.SampledFrom(sixZones).Draw(r, "zone"))
		y, days := 2026, rapid.IntRange(1, 250).Draw(r, "days")
		first := time.Date(y, time.September, rapid.IntRange(1, 60).Draw(r, "day"), 0, 0, 0, 0, time.UTC)
		minute := time.Duration(rapid.IntRange(0, 24*60-1).Draw(r, "minute")) * time.Minute
		from, _, _ := z.Wall(first.Year(), first.Month(), first.Day(), 0)
		end := first.AddDate(0, 0, days)
		to, _, _ := z.Wall(end.Year(), end.Month(), end.Day(), 0)
		clock := time.Time{}.Add(minute).Format("15:04:05")
		list, complete := schedule.Occurrences(schedule.Timing{TimesOfDay: []string{clock}}, schedule.Span{From: from, To: to}, z, 1000)
		require.True(r, complete)
		require.Len(r, list, days, "one dose on each day, 23 or 25 hours long as it may be")
		for i, o := range list {
			day := first.AddDate(0, 0, i)
			require.Equal(r, day.Format("2006-01-02"), o.At.Format("2006-01-02"))
			require.Equal(r, !o.Gap, o.At.Format("15:04:05") == clock, "%s", o.At)
		}
	})
}
