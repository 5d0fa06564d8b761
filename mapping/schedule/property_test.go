package schedule_test

import (
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"weir.example/weir/mapping/schedule"
)

var propertyZones = append([]string{"Europe/London", "Asia/Kathmandu", "America/Sao_Paulo"}, clockZones...)

// anyTiming draws a timing that can be placed: every kind of pace.
func anyTiming(r *rapid.T) schedule.Timing {
	n := func(name string, low, high int) string {
		return strconv.Itoa(rapid.IntRange(low, high).Draw(r, name))
	}
	days := rapid.SliceOfNDistinct(rapid.SampledFrom([]string{"mon", "tue", "wed", "thu", "fri", "sat", "sun"}), 1, 4, rapid.ID).Draw(r, "days of the week")
	clocks := rapid.SliceOfNDistinct(rapid.SampledFrom([]string{"00:00:00", "01:30:00", "02:30:00", "09:00:00", "23:59:59"}), 1, 3, rapid.ID).Draw(r, "times of day")
	return rapid.SampledFrom([]schedule.Timing{
		{Frequency: rapid.IntRange(1, 7).Draw(r, "frequency"), Period: every(n("hours", 1, 100), "h")},
		{Frequency: 1, Period: every(n("days", 1, 9), "d")},
		{Frequency: rapid.IntRange(1, 6).Draw(r, "a day"), Period: every("1", "d")},
		{Frequency: 1, Period: every(n("months", 1, 3), "mo")},
		{DaysOfWeek: days}, {DaysOfWeek: days, TimesOfDay: clocks}, {TimesOfDay: clocks},
		{When: []string{"CM", "HS"}}, {When: []string{"AC"}, Offset: time.Duration(rapid.IntRange(0, 90).Draw(r, "minutes")) * time.Minute},
		{Code: rapid.SampledFrom([]string{"BID", "TID", "QID", "QD", "QOD", "WK", "MO", "Q1H", "Q8H"}).Draw(r, "code")},
	}).Draw(r, "timing")
}

var allMeals = schedule.Clocks{"CM": {7 * time.Hour}, "CD": {12 * time.Hour}, "CV": {18 * time.Hour}, "HS": {23 * time.Hour},
	"ACM": {6 * time.Hour}, "ACD": {11 * time.Hour}, "ACV": {17 * time.Hour}}

// anyStart draws an instant of 2025 to 2029, often near a change of clocks.
func anyStart(r *rapid.T) time.Time {
	return time.Unix(rapid.OneOf(rapid.Int64Range(1_735_689_600, 1_861_920_000), rapid.SampledFrom([]int64{1_772_953_200, 1_793_512_800, 1_804_420_800})).Draw(r, "start"), 0)
}

// The doses of two adjacent spans are those of both together, and each dose
// comes once, in order, inside its span.
func TestCountsAddUpOverAdjacentSpans(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		z := zone(t, rapid.SampledFrom(propertyZones).Draw(r, "zone"))
		timing, start := anyTiming(r), anyStart(r)
		timing.Count = rapid.SampledFrom([]int{0, 0, 5, 100}).Draw(r, "count")
		s, err := schedule.Read(timing, start, z, allMeals)
		require.NoError(r, err)
		hours := rapid.Int64Range(-100, 3000)
		a := start.Add(time.Duration(hours.Draw(r, "from")) * time.Hour)
		b := a.Add(time.Duration(rapid.Int64Range(0, 2000*3600).Draw(r, "first")) * time.Second)
		c := b.Add(time.Duration(rapid.Int64Range(0, 2000*3600).Draw(r, "second")) * time.Second)
		first, second, both := s.Count(schedule.Span{From: a, To: b}), s.Count(schedule.Span{From: b, To: c}), s.Count(schedule.Span{From: a, To: c})
		require.Equal(r, both, schedule.Count{Least: first.Least + second.Least, Most: first.Most + second.Most})
		last, n := time.Time{}, 0
		for o := range s.Doses(schedule.Span{From: a, To: c}) {
			require.False(r, o.At.Before(a) || !o.At.Before(c) || o.At.Before(start) || o.At.Before(last))
			last = o.At
			n++
		}
		require.Equal(r, both.Most, n)
	})
}

// Taking the doses one by one, stopping early, taking all, and the older list
// give the same doses.
func TestLazyDosesAreTheList(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		z := zone(t, rapid.SampledFrom(propertyZones).Draw(r, "zone"))
		timing, start := anyTiming(r), anyStart(r)
		s, err := schedule.Read(timing, start, z, allMeals)
		require.NoError(r, err)
		span := schedule.Span{From: start, To: start.Add(60 * 24 * time.Hour)}
		var all []schedule.Occurrence
		for o := range s.Doses(span) {
			all = append(all, o)
		}
		stop := rapid.IntRange(0, len(all)).Draw(r, "stop")
		var some []schedule.Occurrence
		for o := range s.Doses(schedule.Span{From: start}) {
			if len(some) == stop {
				break
			}
			some = append(some, o)
		}
		require.Equal(r, all[:stop], append([]schedule.Occurrence{}, some...))
		if len(timing.When) == 0 {
			list, complete := schedule.Occurrences(timing, span, z, len(all))
			require.True(r, complete)
			require.Equal(r, all, append([]schedule.Occurrence{}, list...))
			if len(all) > 0 {
				_, complete = schedule.Occurrences(timing, span, z, len(all)-1)
				require.False(r, complete)
			}
		}
		for _, o := range all { // the next dose after one is the one that follows
			w, ok := s.Next(o.At.Add(-1))
			require.True(r, ok)
			require.True(r, w.Earliest.Equal(o.At))
			break
		}
	})
}

// A clock time of each day is shown on each day, but for a gap; the other
// time is given exactly when there is a gap or an overlap, and an overlap's
// shows the same clock.
func TestWallTimesAreEqualOnEachDay(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		z := zone(t, rapid.SampledFrom(propertyZones).Draw(r, "zone"))
		timing := anyTiming(r)
		start := anyStart(r)
		s, err := schedule.Read(timing, start, z, allMeals)
		require.NoError(r, err)
		pace, err := schedule.PaceAt(timing, allMeals)
		require.NoError(r, err)
		n := 0
		for o := range s.Doses(schedule.Span{}) {
			if n++; n > 400 {
				break
			}
			require.Equal(r, o.Gap || o.Overlap, !o.Other.IsZero())
			if pace.Elapsed() {
				require.Zero(r, o.Asked)
				continue
			}
			require.Equal(r, !o.Gap, z.SinceMidnight(o.At) == o.Asked, "%s", o.At)
			if o.Overlap {
				require.Equal(r, o.Asked, z.SinceMidnight(o.Other))
				require.True(r, o.At.Before(o.Other) || o.Other.Before(start))
			}
		}
	})
}

// Whoever gives each dose of a range somewhere in its window gives no fewer
// than the least and no more than the most, in any span.
func TestAnyCourseInARangeIsWithinItsCount(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		z := zone(t, rapid.SampledFrom(propertyZones).Draw(r, "zone"))
		unit := rapid.SampledFrom([]string{"h", "d", "wk"}).Draw(r, "unit")
		period := rapid.IntRange(1, 9).Draw(r, "period")
		frequency := rapid.IntRange(1, 4).Draw(r, "frequency")
		timing := schedule.Timing{Frequency: frequency, FrequencyMax: frequency + rapid.IntRange(1, 3).Draw(r, "more"), Period: every(strconv.Itoa(period), unit),
			PeriodMax: every(strconv.Itoa(period+rapid.IntRange(0, 4).Draw(r, "longer")), unit)}
		if rapid.Bool().Draw(r, "counted") {
			timing.Count = rapid.IntRange(1, 30).Draw(r, "count")
			timing.CountMax = timing.Count + rapid.IntRange(0, 10).Draw(r, "count more")
		}
		start := anyStart(r)
		s, err := schedule.Read(timing, start, z, nil)
		require.NoError(r, err)
		stop := timing.Count + 200
		if timing.CountMax > 0 {
			stop = rapid.IntRange(timing.Count, timing.CountMax).Draw(r, "stops after")
		}
		given := []time.Time{start}
		for len(given) < stop {
			w, ok := s.Next(given[len(given)-1])
			require.True(r, ok)
			room := max(w.Latest.Sub(w.Earliest), 0)
			given = append(given, w.Earliest.Add(time.Duration(rapid.Int64Range(0, int64(room)).Draw(r, "wait"))))
		}
		end := given[len(given)-1]
		if timing.CountMax > 0 {
			end = end.Add(48 * time.Hour)
		}
		length := int64(end.Sub(start))
		from := start.Add(time.Duration(rapid.OneOf(rapid.Just[int64](0), rapid.Int64Range(0, length)).Draw(r, "from")))
		to := from.Add(time.Duration(rapid.Int64Range(0, int64(end.Sub(from))).Draw(r, "to")))
		n := 0
		for _, at := range given {
			if !at.Before(from) && at.Before(to) {
				n++
			}
		}
		c := s.Count(schedule.Span{From: from, To: to})
		require.False(r, c.Open)
		require.LessOrEqual(r, c.Least, n)
		require.GreaterOrEqual(r, c.Most, n)
	})
}

// From the start on the bounds of a range are reached: by giving each dose as
// late, and as early, as its window allows.
func TestTheBoundsOfARangeAreReached(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		z := zone(t, "America/New_York")
		hours := rapid.IntRange(1, 12).Draw(r, "hours")
		timing := schedule.Timing{Period: every(strconv.Itoa(hours), "h"), PeriodMax: every(strconv.Itoa(hours+rapid.IntRange(1, 6).Draw(r, "more")), "h")}
		start := anyStart(r)
		s, err := schedule.Read(timing, start, z, nil)
		require.NoError(r, err)
		to := start.Add(time.Duration(rapid.Int64Range(1, 30*24*3600).Draw(r, "length")) * time.Second)
		given := func(pick func(schedule.Window) time.Time) int {
			n := 0
			for at := start; at.Before(to); n++ {
				w, ok := s.Next(at)
				require.True(r, ok)
				at = pick(w)
			}
			return n
		}
		late := given(func(w schedule.Window) time.Time { return w.Latest })
		early := given(func(w schedule.Window) time.Time { return w.Earliest })
		require.Equal(r, schedule.Count{Least: late, Most: early}, s.Count(schedule.Span{To: to}))
	})
}
