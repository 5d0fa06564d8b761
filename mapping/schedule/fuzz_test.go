package schedule_test

import (
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
