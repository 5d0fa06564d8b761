package schedule_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/schedule"
)

// A timing from outside never panics, never passes the cap, never leaves the
// span and never goes backwards.
func FuzzExpand(f *testing.F) {
	f.Add("8", "h", 1, 0, "", "", "", "", int64(1_793_000_000), int64(3_600_000), 50)
	f.Add("1", "d", 2, 0, "BID", "02:30:00", "sun", "", int64(1_805_000_000), int64(3_600_000), 10)
	f.Add("0.000000001", "s", 9, 7, "Q1H", "", "", "HS", int64(0), int64(-1), 3)
	f.Add("99999999999", "a", 1, 1, "", "23:59:59", "mon", "", int64(1<<40), int64(1<<40), 100)
	f.Fuzz(func(t *testing.T, period, unit string, frequency, count int, code, clock, day, when string, from, length int64, limit int) {
		timing := schedule.Timing{Frequency: frequency, Count: count, Code: code}
		if q, err := quantity.Parse(period, unit, quantity.Time); err == nil {
			timing.Period = q
		}
		for text, list := range map[string]*[]string{clock: &timing.TimesOfDay, day: &timing.DaysOfWeek, when: &timing.When} {
			if text != "" {
				*list = append(*list, text)
			}
		}
		limit = min(max(limit, 0), 1000)
		span := schedule.Span{From: time.Unix(from%(1<<36), 0)}
		span.To = span.From.Add(time.Duration(length%(1<<30)) * time.Second)
		got, _ := schedule.Expand(timing, span, zone(t, "America/New_York"), limit)
		require.LessOrEqual(t, len(got), limit)
		for i, at := range got {
			require.False(t, at.Before(span.From) || !at.Before(span.To), "%s is outside the span", at)
			require.False(t, i > 0 && at.Before(got[i-1]), "%s goes backwards", at)
		}
	})
}

// FuzzTiming reads a timing with every field from outside. Reading never
// panics; a refusal has a reason in words; doses lie in the span, in order
// and within the course; asking for a few never takes long; counts are
// bounds of each other and stay below the cap.
func FuzzTiming(f *testing.F) {
	f.Add("8", "h", "", 1, 0, 0, 0, "", "", "", "", int64(0), "10", "14", "d", "1", "h", int64(1_793_000_000), int64(3_600_000), int64(0), int64(0), uint8(1))
	f.Add("4", "h", "6", 1, 0, 0, 0, "", "", "", "", int64(0), "", "", "", "", "", int64(1_805_000_000), int64(3_600_000), int64(0), int64(0), uint8(2))
	f.Add("1", "d", "", 3, 4, 20, 30, "", "", "", "", int64(0), "", "3", "wk", "", "", int64(1_805_000_000), int64(9_600_000), int64(1_805_000_001), int64(0), uint8(3))
	f.Add("1", "d", "", 2, 0, 0, 0, "BID", "02:30:00", "sun", "", int64(0), "1", "1", "mo", "", "", int64(1_805_000_000), int64(3_600_000), int64(0), int64(0), uint8(4))
	f.Add("2", "d", "", 1, 0, 20, 0, "", "", "", "AC", int64(30), "", "", "", "5", "min", int64(0), int64(-1), int64(0), int64(0), uint8(5))
	f.Add("0.000000001", "s", "", 9, 0, 7, 0, "Q1H", "", "", "HS", int64(1), "1", "", "a", "", "", int64(1<<40), int64(1<<40), int64(5), int64(6), uint8(0))
	f.Add("1", "mo", "", 1, 0, 0, 0, "MO", "23:59:59.999", "", "", int64(0), "", "", "", "", "", int64(1<<36), int64(1<<33), int64(1<<35), int64(1<<36), uint8(8))
	zones := append([]string{""}, propertyZones...)
	f.Fuzz(func(t *testing.T, period, unit, periodMax string, frequency, frequencyMax, count, countMax int, code, clock, day, when string, offset int64,
		shortest, longest, boundsUnit, duration, durationUnit string, from, length, start, end int64, zoneNumber uint8) {
		timing := schedule.Timing{Frequency: frequency, FrequencyMax: frequencyMax, Count: count, CountMax: countMax, Code: code, Offset: time.Duration(offset)}
		read := func(into *quantity.Quantity, literal, unit string) {
			if q, err := quantity.Parse(literal, unit, quantity.Time); err == nil {
				*into = q
			}
		}
		read(&timing.Period, period, unit)
		read(&timing.PeriodMax, periodMax, unit)
		read(&timing.Bounds.Shortest, shortest, boundsUnit)
		read(&timing.Bounds.Longest, longest, boundsUnit)
		read(&timing.Duration, duration, durationUnit)
		for _, c := range []struct {
			text string
			list *[]string
		}{{clock, &timing.TimesOfDay}, {day, &timing.DaysOfWeek}, {when, &timing.When}} {
			for word := range strings.FieldsSeq(c.text) {
				*c.list = append(*c.list, word)
			}
		}
		at := func(n int64) time.Time {
			if n == 0 {
				return time.Time{}
			}
			return time.Unix(n%(1<<38), 0)
		}
		timing.Bounds.Start, timing.Bounds.End = at(start), at(end)
		if offset%7 == 1 {
			timing.Events = []time.Time{at(from), at(start)}
		}
		var z schedule.Zone
		if name := zones[int(zoneNumber)%len(zones)]; name != "" {
			z = zone(t, name)
		}
		s, err := schedule.Read(timing, at(from), z, allMeals)
		if err != nil {
			var u *schedule.Unplaced
			require.ErrorAs(t, err, &u)
			require.NotEmpty(t, u.Reason)
			return
		}
		begin := at(from)
		if begin.Before(timing.Bounds.Start) {
			begin = timing.Bounds.Start
		}
		span := schedule.Span{From: begin.Add(time.Duration(length%(1<<30)) * time.Second)}
		span.To = span.From.Add(time.Duration(length%(1<<20)+1<<20) * time.Second)
		early, late := s.Ends()
		require.False(t, !late.IsZero() && late.Before(early), "the end lies before itself")
		last, n := time.Time{}, 0
		for o := range s.Doses(span) {
			require.False(t, o.At.Before(span.From) || !o.At.Before(span.To) || !late.IsZero() && !o.At.Before(late), "%s is outside", o.At)
			require.False(t, n > 0 && o.At.Before(last), "%s goes backwards", o.At)
			last = o.At
			if n++; n == 200 {
				break
			}
		}
		c := s.Count(span)
		require.True(t, 0 <= c.Least && c.Least <= c.Most && c.Most <= 100_000, "%+v", c)
		require.False(t, s.Placed() && c.Most < n || n < 200 && s.Placed() && c.Most != n, "%d doses, counted %+v", n, c)
		n = 0
		for w := range s.Windows() {
			require.False(t, w.Latest.Before(w.Earliest))
			if n++; n == 20 {
				break
			}
		}
		if w, ok := s.Next(span.From); ok {
			require.False(t, w.Latest.Before(w.Earliest))
		}
	})
}
