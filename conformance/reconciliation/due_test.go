package reconciliation_test

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"weir.example/weir/conformance/reconciliation"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/plan"
	"weir.example/weir/mapping/policy"
)

// keepUp gives every dose that fell due up to the clock, and brings every
// delivery, so that only the test's own matter is open.
func keepUp(t *testing.T, s *scene) {
	first := at(t, "2026-11-10T22:00:00-05:00")
	s.hold(func(h *reconciliation.HeldOrder) {
		h.Records = nil
		for i := range 5 {
			arrival := at(t, "2026-11-10T17:40:00-05:00").AddDate(0, 0, 7*i)
			lot := "C" + string(rune('1'+i))
			if arrival.After(s.now) {
				break
			}
			h.Records = append(h.Records,
				plan.Event{ID: "made " + lot, Kind: plan.Made, At: arrival.Add(-6 * time.Hour), Units: 21, Lot: lot, Unit: s1Unit()},
				plan.Event{ID: "sent " + lot, Kind: plan.Dispatched, At: arrival.Add(-2 * time.Hour), Units: 21, Lot: lot},
				plan.Event{ID: "came " + lot, Kind: plan.Delivered, At: arrival, Units: 21, Lot: lot})
		}
		n := 0
		for d := first; d.Before(s.now) && n < 105; d = d.Add(8 * time.Hour) {
			h.Records = append(h.Records, plan.Event{ID: "given " + d.String(), Kind: plan.Given, At: d, Units: 1, Lot: "C" + string(rune('1'+n/21))})
			n++
		}
	})
}

// clock moves the clock, with everything done that fell due until then.
func clock(now string) func(*testing.T, *scene) {
	return func(t *testing.T, s *scene) {
		s.now = at(t, now)
		keepUp(t, s)
		f := base(t, "s1-cefazolin-elastomeric")
		s.before, s.after = readCase(t, f, s.now), readCase(t, f, s.now)
		s.both(planForLine)
	}
}

func result(name, literal, unit, when string) order.Measurement {
	return order.Measurement{Name: name, Quantity: amount(literal, unit), Literal: literal, At: order.Instant{Literal: when}}
}

func results(t *testing.T, c *order.Case, list ...order.Measurement) {
	for i := range list {
		list[i].At.Time = at(t, list[i].At.Literal)
	}
	c.Measurements = append(slices.Clone(list), c.Measurements...)
}

// Row m10. Blood count and metabolic panel are planned for Mondays from 16
// November; a date alone is due at noon, the result a day later.
func TestLaboratory(t *testing.T) {
	const code = "nightly-lab-due"
	drawn := func(when string) func(*testing.T, *scene) {
		return func(t *testing.T, s *scene) {
			clock("2026-11-17T12:00:00-05:00")(t, s)
			results(t, &s.before, result("creatinine", "0.8", "mg/dL", when), result("platelets", "200", "10*3/uL", when))
			results(t, &s.after, result("creatinine", "0.8", "mg/dL", when), result("platelets", "200", "10*3/uL", when))
		}
	}
	unseen := func(since string) func(*testing.T, *scene) {
		return func(t *testing.T, s *scene) {
			s.held.Unseen = []reconciliation.Unseen{{Name: "creatinine", Since: at(t, since)}}
		}
	}
	runFixtures(t, []fixture{
		{"a day after noon of the draw", code, true, clock("2026-11-17T12:00:00-05:00"), "due 16 Nov 2026, no result: complete blood count; creatinine", []string{"overdue-test"}, true},
		{"a second before", code, false, clock("2026-11-17T11:59:59-05:00"), "", nil, true},
		{"drawn on the day", code, false, drawn("2026-11-16T08:00:00-05:00"), "", nil, true},
		{"drawn the day before, after noon", code, false, drawn("2026-11-15T12:00:00-05:00"), "", nil, true},
		{"drawn earlier than that", code, true, drawn("2026-11-15T11:59:59-05:00"), "", nil, true},
		{"a result seen by nobody for a day", code, false, unseen("2026-11-11T02:00:00-05:00"), "", nil, true},
		{"and a second", code, true, unseen("2026-11-11T01:59:59-05:00"), "seen by nobody", []string{"see-result"}, true},
	})
	// A new creatinine counts by what it does to the order's own checks.
	kidneys := func(literal string) reconciliation.Result {
		s := newScene(t)
		results(t, &s.after, result("creatinine", literal, "mg/dL", "2026-11-11T08:00:00-05:00"))
		return s.run(t)
	}
	r := kidneys("1.9")
	assert.Contains(t, says(r, code), "creatinine 1.9 mg per dL of Wed 11 Nov 2026 08:00 EST; new with it: `dose-kidney-injury`")
	assert.Subset(t, tasks(r), []string{"see-result", "dispatch-block", "call-prescriber", "call-patient"})
	assert.Empty(t, codes(kidneys("0.8")), "as before")
	assert.Contains(t, says(kidneys("1.2"), code), "creatinine 1.2 mg per dL", "1.2 / 0.8 = 1.5")
	assert.Empty(t, codes(kidneys("1.19")), "1.19 / 0.8 is less than 1.5, and the rise of 0.39 took more than 48 hours")
}

// A creatinine that rose to 1.5 times the last one counts for every drug, also
// for one whose dose does not hang on the kidneys (S6, saline and potassium by
// gravity, has none on record: one is put there).
func TestARisenCreatinine(t *testing.T) {
	for literal, told := range map[string]bool{"0.9": false, "1.34": false, "1.35": true, "2.7": true} {
		f := base(t, "s6-hydration-gravity")
		before, after := readCase(t, f, f.Now), readCase(t, f, f.Now)
		for _, c := range []*order.Case{&before, &after} {
			c.Measurements = slices.DeleteFunc(slices.Clone(c.Measurements), func(m order.Measurement) bool { return m.Name == "creatinine" })
			results(t, c, result("creatinine", "0.9", "mg/dL", f.Now.AddDate(0, 0, -4).Format(time.RFC3339)))
		}
		results(t, &after, result("creatinine", literal, "mg/dL", f.Now.Add(-time.Hour).Format(time.RFC3339)))
		r := compare(t, judged(before, f.Now), judged(after, f.Now), reconciliation.Held{}, night(f.Now))[0]
		assert.Equal(t, told, r.Has("nightly-lab-due"), literal)
	}
}

// Row m12.
func TestDischargeMoved(t *testing.T) {
	const code = "nightly-discharge-moved"
	move := func(to string) func(*testing.T, *scene) {
		return onCase(func(c *order.Case) {
			c.Discharges = slices.Clone(c.Discharges)
			c.Discharges[0].At.Time, _ = time.Parse(time.RFC3339, to)
			c.Discharges[0].At.Literal = to
		})
	}
	ahead := func(then func(*testing.T, *scene)) func(*testing.T, *scene) {
		return func(t *testing.T, s *scene) {
			s.now = at(t, "2026-11-10T14:20:00-05:00")
			s.hold(func(h *reconciliation.HeldOrder) { h.Records = nil })
			f := base(t, "s1-cefazolin-elastomeric")
			s.before, s.after = readCase(t, f, s.now), readCase(t, f, s.now)
			then(t, s)
		}
	}
	runFixtures(t, []fixture{
		{"a minute later, before it", code, true, ahead(move("2026-11-10T15:01:00-05:00")), "as held: Tue 10 Nov 2026 15:00 EST; the course keeps its end", []string{"plan-again", "confirm-contact"}, true},
		{"a minute later, and the patient has left", code, false, move("2026-11-10T15:01:00-05:00"), "", nil, true},
		{"a day later, and the first dose with it", code, true, move("2026-11-11T15:00:00-05:00"), "discharge Wed 11 Nov 2026 15:00 EST", []string{"plan-again"}, false},
		{"the same instant in another zone", code, false, move("2026-11-10T20:00:00Z"), "", nil, true},
		{"none on record any more", code, true, onCase(func(c *order.Case) { c.Discharges = nil }), "no discharge is on record any more", nil, false},
		{"the first dose is past and on no record", code, true, func(t *testing.T, s *scene) {
			s.hold(func(h *reconciliation.HeldOrder) { h.Records = h.Records[:3] })
		}, "the first home dose, Tue 10 Nov 2026 22:00 EST, is past", []string{"plan-again"}, false},
		{"one dose is on record", code, false, func(t *testing.T, s *scene) {
			s.hold(func(h *reconciliation.HeldOrder) { h.Records = h.Records[:4] })
		}, "", nil, false},
	})
}

// Row m15. The end is 15 December 15:00, the last dose at 14:00.
func TestEndPassed(t *testing.T) {
	const code = "nightly-end-passed"
	unplanned := func(now string) func(*testing.T, *scene) {
		return func(t *testing.T, s *scene) {
			clock(now)(t, s)
			s.both(func(c *order.Case) { c.Services = nil })
		}
	}
	left := func(now string) func(*testing.T, *scene) {
		return func(t *testing.T, s *scene) {
			clock(now)(t, s)
			s.hold(func(h *reconciliation.HeldOrder) {
				h.Records = append(h.Records, made(s, "C9", 2, func(*plan.Event) {}))
			})
		}
	}
	runFixtures(t, []fixture{
		{"3 days off and nobody said what follows", code, true, unplanned("2026-12-12T15:00:00-05:00"), "the end is Tue 15 Dec 2026 15:00 EST", []string{"call-prescriber"}, false},
		{"a second more", code, false, unplanned("2026-12-12T14:59:59-05:00"), "", nil, false},
		{"a plan for the line says it", code, false, func(t *testing.T, s *scene) {
			unplanned("2026-12-12T15:00:00-05:00")(t, s)
			s.both(planForLine)
		}, "", nil, false},
		{"the prescriber was asked", code, false, func(t *testing.T, s *scene) {
			unplanned("2026-12-12T15:00:00-05:00")(t, s)
			s.hold(func(h *reconciliation.HeldOrder) { h.EndAsked = true })
		}, "", nil, false},
		{"the end has come, with units left", code, true, left("2026-12-15T15:00:00-05:00"), "left: 2 units in the pharmacy", []string{"call-prescriber", "dispatch-block"}, false},
		{"a second before", code, false, left("2026-12-15T14:59:59-05:00"), "", nil, false},
		{"nothing left", code, false, clock("2026-12-15T15:00:00-05:00"), "", nil, false},
		{"a delivery booked after it", code, true, func(t *testing.T, s *scene) {
			clock("2026-12-15T15:00:00-05:00")(t, s)
			s.hold(func(h *reconciliation.HeldOrder) {
				h.Bookings = []plan.Booking{{ID: "d", What: "delivery", At: at(t, "2026-12-16T10:00:00-05:00")}}
			})
		}, "1 booking after it", nil, false},
	})
}

// Row m18.
func TestOverrideExpired(t *testing.T) {
	const code = "nightly-override-expired"
	until := func(of finding.Code, text string) func(*testing.T, *scene) {
		return func(t *testing.T, s *scene) {
			s.held.Overrides = []reconciliation.Override{{Code: of, Order: s1Key, Expires: at(t, text)}}
		}
	}
	before, _ := newScene(t).sides()
	held := finding.Code(before.Sheets[0].Findings[0].Code)
	runFixtures(t, []fixture{
		{"until now", code, true, until(held, "2026-11-12T02:00:00-05:00"), string(held), []string{"decide-again"}, true},
		{"a second more", code, false, until(held, "2026-11-12T02:00:01-05:00"), "", nil, true},
		{"of a finding that is gone", code, false, until("lumen-timetable", "2026-11-11T02:00:00-05:00"), "", nil, true},
		{"that does not expire", code, false, func(t *testing.T, s *scene) {
			s.held.Overrides = []reconciliation.Override{{Code: held, Order: s1Key}}
		}, "", nil, true},
		{"of another order", code, false, func(t *testing.T, s *scene) {
			until(held, "2026-11-11T02:00:00-05:00")(t, s)
			s.held.Overrides[0].Order = "another"
		}, "", nil, true},
	})
	s := newScene(t)
	until(held, "2026-11-12T02:00:00-05:00")(t, s)
	assert.Equal(t, []finding.Code{held}, s.run(t).Reopened)
}

// Row m19 with n5: after 15 minutes the next in line, after 30 the supervisor.
func TestTaskOverdue(t *testing.T) {
	const code = "nightly-task-overdue"
	due := func(text string) func(*testing.T, *scene) {
		return func(t *testing.T, s *scene) {
			s.held.Tasks = []reconciliation.OpenTask{{ID: "t1", Code: "refill-call", Role: "supply", Order: s1Key, Due: at(t, text)}}
		}
	}
	runFixtures(t, []fixture{
		{"15 minutes", code, false, due("2026-11-12T01:45:00-05:00"), "", nil, true},
		{"a second more", code, true, due("2026-11-12T01:44:59-05:00"), "supply: call the patient before the next delivery", []string{"escalate-next"}, true},
		{"30 minutes", code, true, due("2026-11-12T01:30:00-05:00"), "due Thu 12 Nov 2026 01:30 EST, supply", []string{"escalate-next"}, true},
		{"a second more than that", code, true, due("2026-11-12T01:29:59-05:00"), "", []string{"escalate-supervisor"}, true},
		{"the escalation of another", code, false, func(t *testing.T, s *scene) {
			due("2026-11-12T01:00:00-05:00")(t, s)
			s.held.Tasks[0].Code = "escalate-next"
		}, "", nil, true},
		{"without a due time", code, false, func(t *testing.T, s *scene) {
			s.held.Tasks = []reconciliation.OpenTask{{Code: "refill-call", Order: s1Key}}
		}, "", nil, true},
		{"of the patient", code, true, func(t *testing.T, s *scene) {
			due("2026-11-11T12:00:00-05:00")(t, s)
			s.held.Tasks[0].Order = ""
		}, "", nil, true},
		{"of an order that is on neither side", code, true, func(t *testing.T, s *scene) {
			due("2026-11-11T12:00:00-05:00")(t, s)
			s.held.Tasks[0].Order = "another"
		}, "", nil, true},
		{"of another order of the patient", code, false, func(t *testing.T, s *scene) {
			due("2026-11-11T12:00:00-05:00")(t, s)
			s.held.Tasks[0].Order = s1Key + "-2"
			s.both(func(c *order.Case) {
				o := c.Orders[0]
				o.Key, o.Ref.URL, o.Place.Expression, o.Version, o.Status = s1Key+"-2", "urn:second", "Bundle.entry[99].resource", "second", "completed"
				c.Orders = append(c.Orders, o)
			})
		}, "", nil, true},
	})
}

// Row m21, each threshold on both sides.
func TestFeed(t *testing.T) {
	now := at(t, "2026-11-12T02:00:00-05:00")
	good := reconciliation.Delivered{Now: now, Time: now.Add(-2 * time.Hour), Lines: 4_000, Active: 400, Absent: 3}
	for _, c := range []struct {
		name  string
		edit  func(*reconciliation.Delivered)
		found int
	}{
		{"2 hours old, all lines read", func(*reconciliation.Delivered) {}, 0},
		{"12 hours", func(d *reconciliation.Delivered) { d.Time = now.Add(-12 * time.Hour) }, 0},
		{"a second more", func(d *reconciliation.Delivered) { d.Time = now.Add(-12*time.Hour - time.Second) }, 1},
		{"of no known time", func(d *reconciliation.Delivered) { d.Time = time.Time{} }, 1},
		{"10 percent absent", func(d *reconciliation.Delivered) { d.Absent = 40 }, 0},
		{"one more", func(d *reconciliation.Delivered) { d.Absent = 41 }, 1},
		{"none held yet", func(d *reconciliation.Delivered) { d.Active, d.Absent = 0, 0 }, 0},
		{"one line failed", func(d *reconciliation.Delivered) { d.Failed = 1 }, 1},
		{"fewer lines than counted", func(d *reconciliation.Delivered) { d.Short = []string{"Patient"} }, 1},
		{"a file of the manifest is not there", func(d *reconciliation.Delivered) { d.Missing = []string{"Encounter"} }, 1},
		{"a file ends inside a line", func(d *reconciliation.Delivered) { d.Broken = []string{"Observation"} }, 1},
		{"everything", func(d *reconciliation.Delivered) {
			d.Time, d.Absent, d.Failed, d.Short, d.Missing, d.Broken = time.Time{}, 400, 9, []string{"Patient"}, []string{"Encounter"}, []string{"Observation"}
		}, 6},
	} {
		d := good
		c.edit(&d)
		r := reconciliation.Feed(d, policy.Default())
		assert.Len(t, r.Findings, c.found, c.name)
		assert.Equal(t, c.found == 0, r.Allowed, c.name)
		for _, f := range r.Findings {
			assert.Equal(t, finding.Code("nightly-feed-silent"), f.Code)
			assert.Equal(t, finding.Block, f.Gate())
			assert.NotEmpty(t, f.Observed)
			assert.NotEmpty(t, f.Expected)
		}
	}
}
