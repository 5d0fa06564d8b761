package plan_test

import (
	"testing"
	"time"

	"weir.example/weir/mapping/plan"
)

// sixWeeks is a course of 126 doses every 8 hours: six deliveries of 21 and
// 126 records (18 of lots, 108 doses given).
func sixWeeks(t testing.TB) (plan.Plan, []plan.Event) {
	doses := runs(t, "2026-11-10T22:00:00-05:00", 0, 8*time.Hour, 126, "America/New_York")
	p := plan.Plan{Zone: zone(t, "America/New_York"), FirstHomeDose: doses[0], HomeDoses: doses, LastDose: doses[125], Complete: true, Interval: 8 * time.Hour}
	p.Basis = plan.Basis{Now: doses[108].Add(-time.Hour), Order: "o#1", Unit: unit("cefazolin", "2000"), Lead: 4 * time.Hour}
	var events []plan.Event
	for i := range 6 {
		d := plan.Delivery{Arrival: doses[21*i].Add(-4 * time.Hour), Units: 21, FirstDose: doses[21*i], LastDose: doses[21*i+20]}
		p.Deliveries = append(p.Deliveries, d)
		lot := string(rune('A' + i))
		events = append(events, plan.Event{Kind: plan.Made, At: d.Arrival.Add(-9 * time.Hour), Units: 21, Lot: lot, Unit: p.Basis.Unit, BeyondUse: d.Arrival.Add(9 * 24 * time.Hour)},
			plan.Event{Kind: plan.Dispatched, At: d.Arrival.Add(-3 * time.Hour), Units: 21, Lot: lot, Delivery: d.Arrival},
			plan.Event{Kind: plan.Delivered, At: d.Arrival.Add(-time.Hour), Units: 21, Lot: lot, Delivery: d.Arrival})
	}
	for i, d := range doses[:108] {
		events = append(events, plan.Event{Kind: plan.Given, At: d.Add(5 * time.Minute), Dose: d, Units: 1, Lot: string(rune('A' + i/21))})
	}
	return p, events
}

func TestSixWeeksAsPlannedMoveNothing(t *testing.T) {
	p, events := sixWeeks(t)
	if len(events) != 126 {
		t.Fatal(len(events))
	}
	_, moves := settled(t, p, events, p)
	if len(moves) > 0 {
		t.Fatal(lines(moves))
	}
}

// BenchmarkRevise revises a six-week course with 126 records.
func BenchmarkRevise(b *testing.B) {
	p, events := sixWeeks(b)
	next := p
	next.Basis.Order, next.Basis.Unit = "o#2", unit("cefazolin", "1000")
	for b.Loop() {
		plan.Revise(p, events, next)
	}
}

// BenchmarkReviseCounting is the least the same answer can cost: one pass
// over the records that adds units up, without identity, order or proof.
func BenchmarkReviseCounting(b *testing.B) {
	_, events := sixWeeks(b)
	var home int
	for b.Loop() {
		count := map[string]int{}
		for _, e := range events {
			switch e.Kind {
			case plan.Delivered:
				count[e.Lot] += e.Units
			case plan.Given:
				count[e.Lot] -= e.Units
			}
		}
		home = 0
		for _, n := range count {
			home += n
		}
	}
	if home != 18 {
		b.Fatal(home)
	}
}
