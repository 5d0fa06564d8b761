package reconciliation_test

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"weir.example/weir/conformance/reconciliation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/plan"
	"weir.example/weir/mapping/quantity"
)

// events adds records.
func events(edit func(*scene) []plan.Event) func(*testing.T, *scene) {
	return func(_ *testing.T, s *scene) {
		more := edit(s)
		s.hold(func(h *reconciliation.HeldOrder) { h.Records = append(h.Records, more...) })
	}
}

func made(s *scene, lot string, units int, edit func(*plan.Event)) plan.Event {
	e := plan.Event{ID: "made " + lot, Kind: plan.Made, At: s.now.Add(-6 * time.Hour), Units: units, Lot: lot, Unit: s1Unit()}
	edit(&e)
	return e
}

// reported is a count of units by the home, an hour before the clock.
func reported(n int) func(*testing.T, *scene) {
	return func(t *testing.T, s *scene) {
		s.after.Reports = []order.Report{{Kind: "home-stock", Count: quantity.Point(quantity.Int(int64(n)), quantity.MustUnit("{container}")),
			At: order.Instant{Time: s.now.Add(-time.Hour), Literal: "2026-11-12T01:00:00-05:00"}}}
	}
}

// Row m6. The order is 2 g in 100 mL, 200 mL per hour.
func TestLabelDiffers(t *testing.T) {
	const code = "nightly-label-differs"
	block := []string{"dispatch-block", "quarantine-pharmacist"}
	label := func(edit func(*reconciliation.Label)) func(*testing.T, *scene) {
		return func(t *testing.T, s *scene) {
			l := reconciliation.Label{Lot: "C2", Drug: "cefazolin", Dose: amount("2", "g"), Volume: amount("100", "mL"), Concentration: amount("20", "mg/mL"), Rate: amount("200", "mL/h")}
			edit(&l)
			s.hold(func(h *reconciliation.HeldOrder) { h.Labels = []reconciliation.Label{l} })
		}
	}
	unit := func(edit func(*plan.UnitKey)) func(*testing.T, *scene) {
		return events(func(s *scene) []plan.Event {
			return []plan.Event{made(s, "C2", 7, func(e *plan.Event) { edit(&e.Unit) })}
		})
	}
	runFixtures(t, []fixture{
		{"units of the order as it stands", code, false, unit(func(k *plan.UnitKey) {}), "", nil, true},
		{"half the dose in them", code, true, unit(func(k *plan.UnitKey) { k.Strength = amount("1", "g") }), "dose 1 g, order 2 g", block, true},
		{"the same in milligrams", code, false, unit(func(k *plan.UnitKey) { k.Strength = amount("2000", "mg") }), "", nil, true},
		{"5 percent more in them", code, false, unit(func(k *plan.UnitKey) { k.Strength = amount("2.1", "g") }), "", nil, true},
		{"a little more than that", code, true, unit(func(k *plan.UnitKey) { k.Strength = amount("2.11", "g") }), "dose 2.11 g", block, true},
		{"another volume", code, true, unit(func(k *plan.UnitKey) { k.Volume = amount("50", "mL") }), "volume 50 mL", block, true},
		{"another drug", code, true, unit(func(k *plan.UnitKey) { k.Drug = "daptomycin" }), "is of daptomycin", block, true},
		{"an equal label", code, false, label(func(l *reconciliation.Label) {}), "", nil, true},
		{"a label of another dose", code, true, label(func(l *reconciliation.Label) { l.Dose = amount("1250", "mg") }), "dose 1,250 mg, order 2 g", block, true},
		{"of another rate", code, true, label(func(l *reconciliation.Label) { l.Rate = amount("50", "mL/h") }), "rate 50 mL per hour", block, true},
		{"of another concentration", code, true, label(func(l *reconciliation.Label) { l.Concentration = amount("40", "mg/mL") }), "concentration", block, true},
		{"rounded by half a percent", code, false, label(func(l *reconciliation.Label) { l.Rate = amount("201", "mL/h") }), "", nil, true},
		{"by a little more", code, true, label(func(l *reconciliation.Label) { l.Rate = amount("201.1", "mL/h") }), "", nil, true},
	})
}

// Row m7. 17 doses until the next delivery; one unit more is within the
// tolerance.
func TestSurplusAtHome(t *testing.T) {
	const code = "nightly-surplus-at-home"
	runFixtures(t, []fixture{
		{"17 counted", code, false, reported(17), "", nil, true},
		{"18 counted", code, false, reported(18), "", nil, true},
		{"19 counted", code, true, reported(19), "19 units at home if every dose was given (counted at home Thu 12 Nov 2026 01:00 EST), 17 doses until the delivery of Tue 17 Nov 2026 19:00 EST", []string{"call-patient"}, true},
		{"of a stopped order", code, true, status("stopped"), "of an order that is not given any more", []string{"quarantine-patient", "fetch-back"}, false},
		{"of an older form of it", code, true, events(func(s *scene) []plan.Event {
			old := s1Unit()
			old.Strength = amount("1", "g")
			return []plan.Event{{ID: "made old", Kind: plan.Made, At: at(t, "2026-11-10T11:00:00-05:00"), Units: 4, Lot: "C0", Unit: old},
				{ID: "sent old", Kind: plan.Dispatched, At: at(t, "2026-11-10T16:00:00-05:00"), Units: 4, Lot: "C0", Delivery: at(t, "2026-11-10T18:00:00-05:00")},
				{ID: "came old", Kind: plan.Delivered, At: at(t, "2026-11-10T17:40:00-05:00"), Units: 4, Lot: "C0", Delivery: at(t, "2026-11-10T18:00:00-05:00")}}
		}), "4 units at home (by the records of what was handed over and given) made for another form of the order", []string{"quarantine-patient", "fetch-back"}, true},
	})
}

// Row m8.
func TestShortAtHome(t *testing.T) {
	const code = "nightly-short-at-home"
	runFixtures(t, []fixture{
		{"17 counted", code, false, reported(17), "", nil, true},
		{"16 counted", code, true, reported(16), "16 units at home", []string{"deliver-extra", "call-patient"}, true},
		{"none", code, true, reported(0), "0 units at home", []string{"deliver-extra"}, true},
		{"one was wasted at home", code, true, events(func(s *scene) []plan.Event {
			return []plan.Event{{ID: "burst", Kind: plan.Wasted, At: s.now.Add(-time.Hour), Units: 1, Lot: "C1", From: plan.AtHome}}
		}), "16 units at home (by the records", []string{"deliver-extra"}, true},
		{"before the first delivery is due nothing is short", code, false, func(t *testing.T, s *scene) {
			s.now = at(t, "2026-11-10T15:00:00-05:00")
			s.hold(func(h *reconciliation.HeldOrder) { h.Records = nil })
		}, "", nil, true},
	})
	s := newScene(t)
	reported(16)(t, s)
	for _, x := range s.run(t).Tasks {
		if x.Code == "deliver-extra" {
			assert.True(t, x.Due.Equal(at(t, "2026-11-17T14:00:00-05:00")), "before the first dose without a unit: %s", x.Due)
		}
	}
	// Nothing tells whether the first delivery came: not a pass, and no alarm.
	s = newScene(t)
	s.hold(func(h *reconciliation.HeldOrder) { h.Records = nil })
	r := s.run(t)
	assert.False(t, r.Has(code))
	assert.True(t, slices.ContainsFunc(r.NotChecked, func(n notChecked) bool { return n.Code == code && n.Missing[0] == "units at home" }), fmt.Sprint(r.NotChecked))
}

// Row m9: the latest start of administration; at that very instant it is in
// time. 17 units at home serve 12 November 06:00 to the 17th 14:00.
func TestBeyondUse(t *testing.T) {
	const code = "nightly-beyond-use"
	until := func(text string) func(*testing.T, *scene) {
		return func(t *testing.T, s *scene) {
			s.hold(func(h *reconciliation.HeldOrder) { h.Records[0].BeyondUse = at(t, text) })
		}
	}
	runFixtures(t, []fixture{
		{"good until after the last of its doses", code, false, until("2026-11-17T14:00:00-05:00"), "", nil, true},
		{"a second less", code, true, until("2026-11-17T13:59:59-05:00"), "1 unit past beyond-use", []string{"remake", "call-patient", "quarantine-patient"}, true},
		{"past already", code, true, until("2026-11-12T01:00:00-05:00"), "17 units past beyond-use", nil, true},
		{"not on record", code, false, func(t *testing.T, s *scene) {
			s.hold(func(h *reconciliation.HeldOrder) { h.Records[0].BeyondUse = time.Time{} })
		}, "", nil, true},
		{"of the next week, in the pharmacy", code, true, events(func(s *scene) []plan.Event {
			return []plan.Event{made(s, "C2", 21, func(e *plan.Event) { e.BeyondUse = at(t, "2026-11-24T13:00:00-05:00") })}
		}), "1 unit past beyond-use at the dose: to be started by Tue 24 Nov 2026 13:00 EST, dose Tue 24 Nov 2026 14:00 EST", []string{"remake", "quarantine-pharmacist"}, true},
		{"good for all of them", code, false, events(func(s *scene) []plan.Event {
			return []plan.Event{made(s, "C2", 21, func(e *plan.Event) { e.BeyondUse = at(t, "2026-11-24T14:00:00-05:00") })}
		}), "", nil, true},
	})
}

// Row m16.
func TestRecalledLot(t *testing.T) {
	const code = "nightly-recall"
	lot := func(number, drug string) func(*testing.T, *scene) {
		return func(_ *testing.T, s *scene) { s.recalled = []reconciliation.Recalled{{Lot: number, Drug: drug}} }
	}
	runFixtures(t, []fixture{
		{"at home", code, true, lot("C1", "cefazolin"), "recalled: 17 units at home of lot `C1`", []string{"dispatch-block", "call-patient", "quarantine-patient", "fetch-back", "deliver-extra"}, true},
		{"in small letters", code, true, lot("c1", ""), "", nil, true},
		{"another lot of the product", code, false, lot("C2", "cefazolin"), "", nil, true},
		{"the same number of another drug", code, false, lot("C1", "daptomycin"), "", nil, true},
	})
}

// One command: who has the lot, who had it, and whom to call first.
func TestRecallAmongManyPatients(t *testing.T) {
	holding := func(id, lot string, edit func(*scene)) reconciliation.Holding {
		s := newScene(t)
		s.hold(func(h *reconciliation.HeldOrder) {
			for i := range h.Records {
				h.Records[i].Lot = lot
			}
		})
		edit(s)
		before, _ := s.sides()
		return reconciliation.Holding{Patient: id, Phones: []string{"+1-555-0100"}, Side: before, Held: s.held}
	}
	now := at(t, "2026-11-12T02:00:00-05:00")
	all := []reconciliation.Holding{
		holding("p1", "X", func(*scene) {}),
		holding("p2", "C1", func(s *scene) { // in the pharmacy only
			s.hold(func(h *reconciliation.HeldOrder) { h.Records = h.Records[:1] })
		}),
		holding("p3", "C1", func(*scene) {}),
		holding("p4", "C1", func(s *scene) { // all given or set apart
			s.hold(func(h *reconciliation.HeldOrder) {
				h.Records = append(h.Records, plan.Event{ID: "apart", Kind: plan.Quarantined, At: now.Add(-time.Hour), Units: 17, Lot: "C1", From: plan.AtHome})
			})
		}),
	}
	list := reconciliation.Recall(reconciliation.Recalled{Lot: "C1", Drug: "cefazolin"}, all, night(now))
	var got []string
	for _, x := range list {
		got = append(got, fmt.Sprint(x.Patient, " home ", x.Home, " pharmacy ", x.Pharmacy, " given ", x.Given, " apart ", x.Apart, " ", x.Phones))
	}
	assert.Equal(t, []string{"p3 home 17 pharmacy 0 given 4 apart 0 [+1-555-0100]", "p2 home 0 pharmacy 21 given 0 apart 0 [+1-555-0100]", "p4 home 0 pharmacy 0 given 4 apart 17 [+1-555-0100]"}, got)
	back := slices.Clone(all)
	slices.Reverse(back)
	assert.Equal(t, fmt.Sprint(list), fmt.Sprint(reconciliation.Recall(reconciliation.Recalled{Lot: "C1", Drug: "cefazolin"}, back, night(now))), "the order of patients does not matter")
}

// Row m22: S5 made magnesium 12 mmol where 8 are ordered.
func TestCompounding(t *testing.T) {
	f := base(t, "s5-nutrition-cycle")
	s := side(t, f.Document, f.Now)
	r := compare(t, s, s, reconciliation.Held{}, night(f.Now))[0]
	assert.Equal(t, []string{"nightly-compounding-differs"}, codes(r))
	assert.Contains(t, says(r, "nightly-compounding-differs"), "12 mmol made, 8 mmol ordered")
	assert.Subset(t, tasks(r), []string{"dispatch-block", "quarantine-pharmacist"})
	c := readCase(t, f, f.Now)
	for i := range c.Held.Prepared {
		c.Held.Prepared[i].Drug = c.Orders[0].Drug
	}
	s = judged(c, f.Now)
	assert.Empty(t, codes(compare(t, s, s, reconciliation.Held{}, night(f.Now))[0]), "made as ordered")
}

// Records of one batch on both sides count once, wherever they stand in their
// documents, and a place of one document names nothing in the other.
func TestABatchOfBothSidesCountsOnce(t *testing.T) {
	b := order.Batch{Units: 14, Status: "completed", Completed: order.Instant{Time: at(t, "2026-11-10T12:00:00-05:00"), Literal: "2026-11-10T12:00:00-05:00"},
		Handed: order.Instant{Time: at(t, "2026-11-10T17:00:00-05:00"), Literal: "2026-11-10T17:00:00-05:00"}}
	units := func(edit func(*scene)) string {
		s := newScene(t)
		s.hold(func(h *reconciliation.HeldOrder) { h.Records = nil })
		b.OrderRef = s.order().Ref.URL
		s.before.Held.Prepared, s.after.Held.Prepared = []order.Batch{b}, []order.Batch{b}
		s.before.Held.Prepared[0].Place.Expression, s.after.Held.Prepared[0].Place.Expression = "Bundle.entry[24].resource", "MedicationDispense/w1"
		edit(s)
		status("stopped")(t, s)
		return says(s.run(t), "nightly-stopped")
	}
	assert.Contains(t, units(func(*scene) {}), " 14 units at home")
	assert.Contains(t, units(func(s *scene) { // handed over since the last night
		s.before.Held.Prepared[0].Status, s.before.Held.Prepared[0].Handed = "preparation", order.Instant{}
	}), " 14 units at home")
	assert.Contains(t, units(func(s *scene) { // two of a kind tonight
		s.after.Held.Prepared = append(s.after.Held.Prepared, s.after.Held.Prepared[0])
	}), " 28 units at home")
	assert.Contains(t, units(func(s *scene) { s.after.Held.Prepared = nil }), " 14 units at home", "what was held is not lost")
	// The place of tonight's order is that of another thing in the old document.
	assert.NotContains(t, units(func(s *scene) {
		s.before.Orders[0].Place.Expression = "Bundle.entry[77].resource"
		s.before.Held.Prepared[0].OrderRef, s.after.Held.Prepared = s.order().Place.Expression, nil
	}), "units at home")
	assert.Contains(t, units(func(s *scene) {
		s.before.Held.Prepared[0].OrderRef, s.after.Held.Prepared = s.before.Orders[0].Place.Expression, nil
	}), " 14 units at home")
}

// A count from before the last hand-over does not count what came then.
func TestACountBeforeTheLastDelivery(t *testing.T) {
	s := newScene(t)
	s.hold(func(h *reconciliation.HeldOrder) { h.Records = nil })
	day := func(text string) order.Instant { return order.Instant{Time: at(t, text), Literal: text} }
	b := order.Batch{Units: 4, Lot: "C0", Status: "completed", Completed: day("2026-11-10T12:00:00-05:00"), Handed: day("2026-11-10T17:00:00-05:00"), OrderRef: s1Key}
	c := order.Batch{Units: 17, Lot: "C1", Status: "completed", Completed: day("2026-11-11T12:00:00-05:00"), Handed: day("2026-11-12T01:30:00-05:00"), OrderRef: s1Key}
	s.after.Held.Prepared = []order.Batch{b, c}
	reported(0)(t, s) // at 01:00
	assert.False(t, s.run(t).Has("nightly-short-at-home"), "4 were used up, 17 came at 01:30, for 17 doses")
	s.after.Held.Prepared[1].Handed = day("2026-11-12T00:30:00-05:00")
	assert.True(t, s.run(t).Has("nightly-short-at-home"), "none left, by the count after both came")
}
