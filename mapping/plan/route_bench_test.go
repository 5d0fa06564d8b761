package plan

import (
	"testing"
	"time"

	"weir.example/weir/mapping/schedule"
)

func sixWeeks(tb testing.TB) (Plan, Rules, time.Time) {
	z, err := schedule.LoadZones().Zone("America/New_York")
	if err != nil {
		tb.Fatal(err)
	}
	p := Plan{Zone: z, Complete: true, Interval: 8 * time.Hour, FirstHomeDose: time.Date(2026, 10, 20, 22, 0, 0, 0, z.Location), pace: schedule.Pace{Cycle: 8 * time.Hour, PerCycle: 1}}
	for i := range 126 {
		p.HomeDoses = append(p.HomeDoses, p.FirstHomeDose.Add(time.Duration(8*i)*time.Hour))
	}
	r := Rules{LongestDays: 7, NoDelivery: []time.Weekday{time.Sunday}, Holidays: []string{"2026-11-26"}, WarmUp: 3 * time.Hour, Teach: time.Hour, OpenFrom: 8 * time.Hour, OpenUntil: 20 * time.Hour}
	r.ShelfLife = 10 * 24 * time.Hour
	return p, r, p.FirstHomeDose.Add(-24 * time.Hour)
}

// plainCut is the cut by policy length alone, without a calendar: the measure
// for what the search costs.
func plainCut(p Plan, r Rules) (n int) {
	for from := 0; from < len(p.HomeDoses); n++ {
		until := p.until(p.HomeDoses[from], r)
		for from < len(p.HomeDoses) && p.HomeDoses[from].Before(until) {
			from++
		}
	}
	return n
}

// BenchmarkDeliveriesOfSixWeeks gives the search as a multiple of the plain
// cut, both in the same run.
func BenchmarkDeliveriesOfSixWeeks(b *testing.B) {
	p, r, now := sixWeeks(b)
	var search, plain time.Duration
	for b.Loop() {
		q := p
		from := time.Now()
		q.deliveries(r, now, dates{rules: r})
		search += time.Since(from)
		if len(q.Deliveries) != 6 {
			b.Fatal(len(q.Deliveries))
		}
		from = time.Now()
		for range 100 {
			if n := plainCut(p, r); n != 6 {
				b.Fatal(n)
			}
		}
		plain += time.Since(from) / 100
	}
	b.ReportMetric(float64(search)/float64(plain), "times-plain-cut")
}
