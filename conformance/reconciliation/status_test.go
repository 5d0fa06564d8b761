package reconciliation_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"weir.example/weir/conformance/reconciliation"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/plan"
)

func status(word string) func(*testing.T, *scene) {
	return func(_ *testing.T, s *scene) { s.order().Status, s.order().Version = word, "other" }
}

// Row m1: a stop is asked about and reaches every copy; completed is another
// thing; active is none.
func TestStops(t *testing.T) {
	every := []string{"dispatch-block", "call-prescriber", "call-patient", "quarantine-patient", "fetch-back"}
	runFixtures(t, []fixture{
		{"stopped", "nightly-stopped", true, status("stopped"), "17 units at home", every, false},
		{"cancelled", "nightly-stopped", true, status("cancelled"), "cancelled", every, false},
		{"entered in error", "nightly-stopped", true, status("entered-in-error"), "entered in error", every, false},
		{"on hold", "nightly-stopped", true, status("on-hold"), "on hold", every, false},
		{"not to be given", "nightly-stopped", true, func(_ *testing.T, s *scene) { s.order().DoNotPerform = true }, "not to be given", every, false},
		{"active", "nightly-stopped", false, status("active"), "", nil, false},
		{"completed is another thing", "nightly-stopped", false, status("completed"), "", nil, false},
		{"stopped, and nothing left: it was settled", "nightly-stopped", false, func(t *testing.T, s *scene) {
			status("stopped")(t, s)
			s.before.Orders[0].Status = "stopped"
			s.hold(func(h *reconciliation.HeldOrder) { h.Settled, h.Records = true, nil })
		}, "", nil, false},
		{"settled, but a unit is at home", "nightly-stopped", true, func(t *testing.T, s *scene) {
			status("stopped")(t, s)
			s.hold(func(h *reconciliation.HeldOrder) { h.Settled = true })
		}, "17 units at home", nil, false},
		{"settled, and the units set apart", "nightly-stopped", false, func(t *testing.T, s *scene) {
			status("stopped")(t, s)
			s.hold(func(h *reconciliation.HeldOrder) {
				h.Settled = true
				h.Records = append(h.Records, plan.Event{ID: "apart", Kind: plan.Quarantined, At: s.now.Add(-time.Hour), Units: 17, Lot: "C1", From: plan.AtHome})
			})
		}, "", nil, false},
		{"stopped again on the second night, and nobody settled it", "nightly-stopped", true, func(t *testing.T, s *scene) {
			status("stopped")(t, s)
			s.before.Orders[0].Status, s.before.Orders[0].Version = "stopped", "other"
			s.hold(func(h *reconciliation.HeldOrder) { h.Records, h.Standing = nil, []finding.Code{"nightly-stopped"} })
		}, "doses planned", nil, false},
		{"completed with doses left", "nightly-stopped-completed", true, status("completed"), "101 doses planned, 4 deliveries to come, 17 units at home", []string{"dispatch-block", "call-prescriber"}, false},
		{"completed after the last dose", "nightly-stopped-completed", false, func(t *testing.T, s *scene) {
			status("completed")(t, s)
			s.now = at(t, "2026-12-15T14:30:00-05:00")
		}, "", nil, false},
		{"stopped is no routine closing", "nightly-stopped-completed", false, status("stopped"), "", nil, false},
	})
}

// One dose is left to the last moment: 14:00 on 15 December is the last.
func TestCompletedAtTheLastDose(t *testing.T) {
	for _, c := range []struct {
		now   string
		found bool
	}{{"2026-12-15T13:59:00-05:00", true}, {"2026-12-15T14:00:00-05:00", true}, {"2026-12-15T14:00:01-05:00", false}} {
		s := newScene(t)
		status("completed")(t, s)
		s.now = at(t, c.now)
		assert.Equal(t, c.found, s.run(t).Has("nightly-stopped-completed"), c.now)
	}
}

// A stop on the way: units in the pharmacy, with the driver and at home are
// each set apart where they are.
func TestAStopReachesEveryCopy(t *testing.T) {
	s := newScene(t)
	status("stopped")(t, s)
	arrival := at(t, "2026-11-17T18:00:00-05:00")
	s.hold(func(h *reconciliation.HeldOrder) {
		h.Records = append(h.Records,
			plan.Event{ID: "made 2", Kind: plan.Made, At: s.now.Add(-3 * time.Hour), Units: 21, Lot: "C2", Unit: s1Unit()},
			plan.Event{ID: "sent 2", Kind: plan.Dispatched, At: s.now.Add(-time.Hour), Units: 14, Lot: "C2", Delivery: arrival})
	})
	r := s.run(t)
	assert.Contains(t, says(r, "nightly-stopped"), "101 doses planned, 4 deliveries to come, 7 units in the pharmacy, 14 units on the way, 17 units at home")
	assert.Subset(t, tasks(r), []string{"dispatch-block", "quarantine-pharmacist", "quarantine-driver", "quarantine-patient", "fetch-back", "call-patient", "call-prescriber"})
	due := map[string]time.Time{}
	for _, x := range r.Tasks {
		due[x.Code] = x.Due
	}
	assert.True(t, due["dispatch-block"].Equal(s.now), "dispatch is shut now")
	assert.True(t, due["call-patient"].Equal(at(t, "2026-11-12T06:00:00-05:00")), "before the next dose")
	assert.True(t, due["fetch-back"].Equal(at(t, "2026-11-17T19:00:00-05:00")), "with the next run")
	assert.Equal(t, reconciliation.Changed, r.State)
	assert.Equal(t, finding.Block, r.Worst())
}

// Row m4. Younger than 2 hours is not yet unseen.
func TestUnseen(t *testing.T) {
	fresh := func(written string) func(*testing.T, *scene) {
		return func(t *testing.T, s *scene) {
			s.fresh = true
			s.held.Orders = nil
			s.order().AuthoredOn = order.Instant{Time: at(t, written), Literal: written}
		}
	}
	runFixtures(t, []fixture{
		{"2 hours", "nightly-unseen", true, fresh("2026-11-12T00:00:00-05:00"), "Thu 12 Nov 2026 00:00 EST; nobody here", []string{"judge-order"}, false},
		{"a second less", "nightly-unseen", false, fresh("2026-11-12T00:00:01-05:00"), "", nil, false},
		{"a day", "nightly-unseen", true, fresh("2026-11-11T02:00:00-05:00"), "Wed 11 Nov 2026 02:00 EST; nobody here", nil, false},
		{"sent earlier than written", "nightly-unseen", true, func(t *testing.T, s *scene) {
			fresh("2026-11-12T01:30:00-05:00")(t, s)
			s.stampAfter.Updated = at(t, "2026-11-11T22:00:00-05:00")
		}, "Wed 11 Nov 2026 22:00 EST; nobody here", nil, false},
		{"without any time", "nightly-unseen", true, func(t *testing.T, s *scene) {
			fresh("2026-11-12T01:30:00-05:00")(t, s)
			s.order().AuthoredOn = order.Instant{}
		}, "not on record", nil, false},
		{"stopped before anybody saw it", "nightly-unseen", false, func(t *testing.T, s *scene) {
			fresh("2026-11-11T02:00:00-05:00")(t, s)
			s.order().Status = "stopped"
		}, "", nil, false},
		{"came yesterday, opened by nobody", "nightly-unseen", true, func(t *testing.T, s *scene) {
			s.hold(func(h *reconciliation.HeldOrder) { h.Opened = time.Time{} })
		}, "nobody here has looked at it", nil, true},
		{"opened", "nightly-unseen", false, func(t *testing.T, s *scene) {}, "", nil, false},
	})
	s := newScene(t)
	fresh("2026-11-11T02:00:00-05:00")(t, s)
	r := s.run(t)
	assert.Equal(t, reconciliation.New, r.State)
	assert.True(t, r.Findings[0].New)
}

// Row m5: absent is never stopped.
func TestAbsent(t *testing.T) {
	lost := func(t *testing.T, s *scene) { s.after.Orders = nil }
	runFixtures(t, []fixture{
		{"the order is not there", "nightly-absent", true, lost, "not in the hospital's state", []string{"call-hospital"}, false},
		{"nor the patient", "nightly-absent", true, func(t *testing.T, s *scene) { s.gone = true }, "", []string{"call-hospital"}, true},
		{"it was stopped before", "nightly-absent", false, func(t *testing.T, s *scene) {
			lost(t, s)
			s.before.Orders[0].Status = "stopped"
		}, "", nil, false},
		{"settled here", "nightly-absent", false, func(t *testing.T, s *scene) {
			lost(t, s)
			s.hold(func(h *reconciliation.HeldOrder) { h.Settled = true })
		}, "", nil, false},
		{"its last dose is over and nothing is left", "nightly-absent", false, func(t *testing.T, s *scene) {
			lost(t, s)
			s.now = at(t, "2026-12-15T14:00:01-05:00")
			s.hold(func(h *reconciliation.HeldOrder) { h.Records = nil })
		}, "", nil, false},
		{"its last dose is now", "nightly-absent", true, func(t *testing.T, s *scene) {
			lost(t, s)
			s.now = at(t, "2026-12-15T14:00:00-05:00")
			s.hold(func(h *reconciliation.HeldOrder) { h.Records = nil })
		}, "", nil, false},
		{"there and active", "nightly-absent", false, func(t *testing.T, s *scene) {}, "", nil, false},
	})
	s := newScene(t)
	s.gone = true
	r := s.run(t)
	assert.Equal(t, reconciliation.Absent, r.State)
	assert.NotContains(t, tasks(r), "dispatch-block", "absence stops nothing")
	assert.Equal(t, finding.Hold, r.Worst())
}

// Row m23: by the sender's time, then the number of the version, then when the
// order was written. Nothing of an older message is applied.
func TestOlderMessages(t *testing.T) {
	revive := func(t *testing.T, s *scene) { // held stopped, an active copy comes after it
		s.before.Orders[0].Status, s.before.Orders[0].Version = "stopped", "newer"
		s.hold(func(h *reconciliation.HeldOrder) { h.Settled, h.Records = true, nil })
		s.both(planForLine)
	}
	stamps := func(t *testing.T, s *scene, before, after string) {
		s.stampBefore.Updated, s.stampAfter.Updated = at(t, before), at(t, after)
	}
	runFixtures(t, []fixture{
		{"an active copy after the stop", "nightly-older-message", true, func(t *testing.T, s *scene) {
			revive(t, s)
			stamps(t, s, "2026-11-11T16:00:00-05:00", "2026-11-11T15:59:59-05:00")
		}, "status active", nil, true},
		{"an equal time", "nightly-older-message", false, func(t *testing.T, s *scene) {
			revive(t, s)
			stamps(t, s, "2026-11-11T16:00:00-05:00", "2026-11-11T16:00:00-05:00")
		}, "", nil, false},
		{"version 3 after version 4 of one time", "nightly-older-message", true, func(t *testing.T, s *scene) {
			revive(t, s)
			stamps(t, s, "2026-11-11T16:00:00-05:00", "2026-11-11T16:00:00-05:00")
			s.stampBefore.Version, s.stampAfter.Version = "4", "3"
		}, "version `3`", nil, true},
		{"version 10 after version 9", "nightly-older-message", false, func(t *testing.T, s *scene) {
			revive(t, s)
			s.stampBefore.Version, s.stampAfter.Version = "9", "10"
		}, "", nil, false},
		{"written earlier, without stamps", "nightly-older-message", true, func(t *testing.T, s *scene) {
			revive(t, s)
			s.before.Orders[0].AuthoredOn = order.Instant{Time: at(t, "2026-11-12T00:00:00-05:00"), Literal: "2026-11-12T00:00:00-05:00"}
		}, "", nil, true},
		{"older with equal content is a duplicate", "nightly-older-message", false, func(t *testing.T, s *scene) {
			stamps(t, s, "2026-11-11T16:00:00-05:00", "2026-11-11T15:00:00-05:00")
		}, "", nil, false},
	})
	s := newScene(t)
	revive(t, s)
	stamps(t, s, "2026-11-11T16:00:00-05:00", "2026-11-11T15:59:59-05:00")
	r := s.run(t)
	assert.Equal(t, reconciliation.Older, r.State)
	assert.Equal(t, finding.Note, r.Worst())
	assert.Empty(t, r.Tasks)
	s = newScene(t)
	stamps(t, s, "2026-11-11T16:00:00-05:00", "2026-11-11T15:00:00-05:00")
	assert.Equal(t, reconciliation.Unchanged, s.run(t).State)
	s = newScene(t)
	revive(t, s)
	r = s.run(t)
	assert.True(t, r.Has("nightly-changed"), "a newer active copy after a stop is a change: %v", codes(r))
}

// Row m20.
func TestDuplicates(t *testing.T) {
	second := func(edit func(*order.Order)) func(*testing.T, *scene) {
		return func(t *testing.T, s *scene) {
			s.both(func(c *order.Case) {
				o := c.Orders[0]
				o.Key, o.Ref.URL, o.Place.Expression, o.Version = s1Key+"-2", "urn:second", "Bundle.entry[99].resource", "second"
				o.AuthoredOn = order.Instant{Time: o.AuthoredOn.Time.Add(-time.Hour), Literal: "earlier"}
				edit(&o)
				c.Orders = append(c.Orders, o)
			})
		}
	}
	runFixtures(t, []fixture{
		{"the same drug twice", "nightly-duplicate", true, second(func(o *order.Order) {}), "two active orders for ceFAZolin", []string{"call-prescriber"}, false},
		{"one of them stopped", "nightly-duplicate", false, second(func(o *order.Order) { o.Status = "stopped" }), "", nil, false},
		{"one names the other as replaced", "nightly-duplicate", false, func(t *testing.T, s *scene) {
			second(func(o *order.Order) {})(t, s)
			s.both(func(c *order.Case) { c.Orders[0].Prior = []string{"urn:second"} })
		}, "", nil, false},
		{"another drug", "nightly-duplicate", false, second(func(o *order.Order) {
			o.Drug = order.Drug{Name: "daptomycin", Concept: order.Concept{Text: "daptomycin"}}
		}), "", nil, false},
		{"the other begins when this one is over", "nightly-duplicate", false, second(func(o *order.Order) {
			o.Course.Start = order.Instant{Time: o.Course.End.Time, Literal: "then"}
			o.Course.End = order.Instant{Time: o.Course.End.Time.AddDate(0, 0, 14), Literal: "later"}
		}), "", nil, false},
		{"a minute before this one is over", "nightly-duplicate", true, second(func(o *order.Order) {
			o.Course.Start = order.Instant{Time: o.Course.End.Time.Add(-time.Minute), Literal: "then"}
			o.Course.End = order.Instant{Time: o.Course.End.Time.AddDate(0, 0, 14), Literal: "later"}
		}), "", nil, false},
		{"a single loading dose", "nightly-duplicate", false, second(func(o *order.Order) { o.Course.Single = true }), "", nil, false},
	})
	s := newScene(t)
	second(func(o *order.Order) {})(t, s)
	n := 0
	for _, r := range s.all(t) {
		if r.Has("nightly-duplicate") {
			n++
		}
	}
	assert.Equal(t, 2, n, "both are held: nobody knows which one counts")
}

// Row m3.
func TestReplaced(t *testing.T) {
	by := func(edit func(*order.Order)) func(*testing.T, *scene) {
		return func(t *testing.T, s *scene) {
			o := s.after.Orders[0]
			o.Key, o.Ref.URL, o.Place.Expression, o.Version, o.Prior = s1Key+"-2", "urn:second", "Bundle.entry[99].resource", "second", []string{s.after.Orders[0].Ref.URL}
			edit(&o)
			s.after.Orders = append(s.after.Orders, o)
		}
	}
	runFixtures(t, []fixture{
		{"another order took its place", "nightly-replaced", true, by(func(o *order.Order) {}), "17 units at home", []string{"dispatch-block", "quarantine-patient", "fetch-back"}, false},
		{"the other is a draft", "nightly-replaced", false, by(func(o *order.Order) { o.Status = "draft" }), "", nil, false},
		{"the other was cancelled", "nightly-replaced", false, by(func(o *order.Order) { o.Status = "cancelled" }), "", nil, false},
		{"the other names none", "nightly-replaced", false, by(func(o *order.Order) { o.Prior = nil }), "", nil, false},
		{"ended here, its units on a return task", "nightly-replaced", false, func(t *testing.T, s *scene) {
			by(func(o *order.Order) {})(t, s)
			s.hold(func(h *reconciliation.HeldOrder) { h.Settled, h.Records = true, nil })
		}, "", nil, false},
	})
}
