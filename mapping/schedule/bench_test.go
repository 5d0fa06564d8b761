package schedule_test

import (
	"testing"
	"time"

	"weir.example/weir/mapping/schedule"
)

// Six weeks of one order, read and listed, as a multiple of the time that a
// bare loop of time.Add takes for the 127 doses of every 8 hours: go test
// -bench SixWeeks. The number to watch is x-naive.
func BenchmarkSixWeeks(b *testing.B) {
	ny := zone(b, "America/New_York")
	from := instant(b, "2026-10-12T22:00:00-04:00") // the clocks go back on the way
	span := schedule.Span{From: from, To: instant(b, "2026-11-23T22:00:00-05:00")}
	naive := 1
	b.Run("naive", func(b *testing.B) {
		for b.Loop() {
			n := 0
			for at := span.From.In(ny.Location); at.Before(span.To); at = at.Add(8 * time.Hour) {
				n++
			}
			if n != 127 {
				b.Fatal(n)
			}
		}
		naive = max(int(b.Elapsed())/b.N, 1)
	})
	for _, c := range []struct {
		name   string
		timing schedule.Timing
		want   int
	}{
		{"every 8 hours", schedule.Timing{Frequency: 1, Period: every("8", "h")}, 127},
		{"daily", schedule.Timing{Frequency: 1, Period: every("1", "d")}, 42},
		{"weekly", schedule.Timing{DaysOfWeek: []string{"mon"}, TimesOfDay: []string{"22:00:00"}}, 6},
		{"with meals", schedule.Timing{When: []string{"AC"}}, 126},
	} {
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				s, err := schedule.Read(c.timing, from, ny, allMeals)
				if err != nil {
					b.Fatal(err)
				}
				n := 0
				for range s.Doses(span) {
					n++
				}
				if n != c.want {
					b.Fatal(n)
				}
			}
			b.ReportMetric(float64(b.Elapsed())/float64(b.N)/float64(naive), "x-naive")
		})
	}
	b.Run("every 4 to 6 hours, counted", func(b *testing.B) {
		timing := schedule.Timing{Period: every("4", "h"), PeriodMax: every("6", "h")}
		for b.Loop() {
			s, err := schedule.Read(timing, from, ny, nil)
			if err != nil {
				b.Fatal(err)
			}
			if c := s.Count(span); c != (schedule.Count{Least: 169, Most: 253}) {
				b.Fatal(c)
			}
		}
		b.ReportMetric(float64(b.Elapsed())/float64(b.N)/float64(naive), "x-naive")
	})
}
