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
)

const categories = "http://terminology.hl7.org/CodeSystem/medicationrequest-category"

func category(codes ...string) []order.Concept {
	var out []order.Concept
	for _, c := range codes {
		out = append(out, order.Concept{Codings: []order.Coding{{System: categories, Code: c}}})
	}
	return out
}

// An order for the ward alone ends at every discharge: that is no stop of home
// therapy, nor is it absent or unseen.
func TestOrdersOfTheWard(t *testing.T) {
	for _, c := range []struct {
		of   []order.Concept
		home bool
	}{{category("inpatient"), false}, {category("inpatient", "discharge"), true}, {category("community"), true}, {nil, true}} {
		s := newScene(t)
		s.both(func(k *order.Case) { k.Orders[0].Categories = c.of; planForLine(k) })
		s.hold(func(h *reconciliation.HeldOrder) { h.Records = nil })
		status("stopped")(t, s)
		assert.Equal(t, c.home, s.run(t).Has("nightly-stopped"))

		s.gone = true
		assert.Equal(t, c.home, s.run(t).Has("nightly-absent"))

		s.gone, s.fresh, s.held.Orders = false, true, nil
		s.order().Status = "active"
		assert.Equal(t, c.home, s.run(t).Has("nightly-unseen"))
		s.order().Intent = "proposal"
		assert.False(t, s.run(t).Has("nightly-unseen"), "a proposal is no order yet")
	}
}

// Absent is not stopped: the home is still to be supplied.
func TestAnAbsentOrderStillRunsShort(t *testing.T) {
	s := newScene(t)
	s.after.Orders = nil
	reported(16)(t, s)
	r := s.run(t)
	assert.Equal(t, []string{"nightly-absent", "nightly-short-at-home"}, codes(r))
	assert.NotEmpty(t, r.Due)
}

// A replaced order is told whatever its own status says.
func TestAReplacedOrderIsToldOnce(t *testing.T) {
	for _, word := range []string{"active", "stopped", "cancelled", "entered-in-error", "completed", "on-hold"} {
		s := newScene(t)
		o := s.after.Orders[0]
		o.Key, o.Ref.URL, o.Place.Expression, o.Version, o.Prior = s1Key+"-2", "urn:second", "Bundle.entry[99].resource", "second", []string{s1Key}
		s.after.Orders = append(s.after.Orders, o)
		s.order().Status, s.order().Version = word, "other"
		r := s.run(t)
		assert.True(t, r.Has("nightly-replaced"), word)
		assert.False(t, r.Has("nightly-stopped") || r.Has("nightly-stopped-completed") || r.Has("nightly-changed"), "%s: %v", word, codes(r))
	}
}

// Row i8: a vancomycin trough above 20 mg per L is a call.
func TestTroughs(t *testing.T) {
	now := at(t, "2027-02-13T18:00:00-06:00")
	for literal, told := range map[string]bool{"14": false, "20": false, "20.1": true, "27": true} {
		f := base(t, "s2-vancomycin-kidneys")
		before, after := readCase(t, f, now), readCase(t, f, now)
		results(t, &after, result("trough", literal, "mg/L", "2027-02-13T08:20:00-06:00"))
		after.Measurements[0].Of = "vancomycin"
		held := reconciliation.Held{Orders: map[string]reconciliation.HeldOrder{v1: {Opened: now.AddDate(0, 0, -3), Records: firstWeek(t, now)}}}
		r := the(t, compare(t, judged(before, now), judged(after, now), held, night(now)), "V-500117")
		assert.Equal(t, told, r.Has("nightly-lab-due"), literal)
		after.Measurements[0].Of = "gentamicin"
		assert.False(t, the(t, compare(t, judged(before, now), judged(after, now), held, night(now)), "V-500117").Has("nightly-lab-due"), "of another drug")
	}
}

// Deliveries that arrive within the next 7 days are due for a dispense.
func TestDeliveriesDue(t *testing.T) {
	s := newScene(t)
	r := s.run(t)
	if assert.Len(t, r.Due, 1) {
		assert.Equal(t, "2026-11-17T19:00:00-05:00", r.Due[0].Arrival)
		assert.Equal(t, 21, r.Due[0].Units)
	}
	status("stopped")(t, s)
	assert.Empty(t, s.run(t).Due, "a stopped order has none")
}

// A finding that stood before is not new; one of another code is.
func TestWhatStoodIsNotNew(t *testing.T) {
	s := newScene(t)
	status("stopped")(t, s)
	s.hold(func(h *reconciliation.HeldOrder) { h.Standing = []finding.Code{"nightly-surplus-at-home"} })
	for _, f := range s.run(t).Findings {
		assert.Equal(t, f.Code != "nightly-surplus-at-home", f.New, f.Code)
	}
}

// What is known of no order of the night is not lost: the code stands in the
// table, and every code of the table but that of the feed has a rule here.
func TestEveryNightlyCodeIsAsked(t *testing.T) {
	rows := finding.Rows("nightly")
	assert.Len(t, rows, 25)
	for _, row := range rows {
		assert.Equal(t, finding.Every, row.Stage, row.Code)
		assert.True(t, asked[row.Code], "%s has no fixture", row.Code)
	}
}

// An order that names itself replaces nothing.
func TestAnOrderDoesNotReplaceItself(t *testing.T) {
	s := newScene(t)
	s.both(func(c *order.Case) { c.Orders[0].Prior = []string{s1Key} })
	assert.Empty(t, codes(s.run(t)))
}

// Nobody is sent where nothing is.
func TestAStopAsksOnlyWhereSomethingIs(t *testing.T) {
	s := newScene(t)
	status("stopped")(t, s)
	for _, code := range []string{"quarantine-driver", "quarantine-pharmacist"} {
		assert.NotContains(t, tasks(s.run(t)), code)
	}
	s.hold(func(h *reconciliation.HeldOrder) { h.Records = h.Records[:1] })
	got := tasks(s.run(t))
	assert.Contains(t, got, "quarantine-pharmacist")
	for _, code := range []string{"quarantine-driver", "quarantine-patient", "fetch-back"} {
		assert.NotContains(t, got, code)
	}
	assert.Contains(t, got, "call-patient", "doses are planned: the patient is told")
}

// A count of the home is for the order or the dispense that it names.
func TestWhatACountIsOf(t *testing.T) {
	for focus, short := range map[string]bool{"": true, s1Key: true, "urn:second": false, "Bundle.entry[24].resource": true, "Bundle.entry[25].resource": false} {
		s := newScene(t)
		s.hold(func(h *reconciliation.HeldOrder) { h.Records = nil })
		s.both(func(c *order.Case) {
			o := c.Orders[0]
			o.Key, o.Ref.URL, o.Place.Expression, o.Version, o.Drug = s1Key+"-2", "urn:second", "Bundle.entry[99].resource", "second", order.Drug{Name: "daptomycin", Concept: order.Concept{Text: "daptomycin"}}
			c.Orders = append(c.Orders, o)
			day := order.Instant{Time: at(t, "2026-11-10T17:40:00-05:00"), Literal: "2026-11-10T17:40:00-05:00"}
			first := order.Batch{Units: 21, Lot: "C1", Status: "completed", Completed: day, Handed: day, OrderRef: s1Key}
			first.Place.Expression = "Bundle.entry[24].resource"
			second := order.Batch{Units: 7, Lot: "D1", Status: "preparation", Completed: day, OrderRef: "urn:second"}
			second.Place.Expression = "Bundle.entry[25].resource"
			c.Held.Prepared = []order.Batch{first, second}
		})
		reported(3)(t, s)
		s.after.Reports[0].Focus = focus
		assert.Equal(t, short, s.run(t).Has("nightly-short-at-home"), "%q: 3 for 17 doses, else 21 less 4 that fell due", focus)
	}
}

// What cannot be told is listed and is no finding.
func TestWhatCannotBeToldIsListed(t *testing.T) {
	lists := func(s *scene, code, missing string) {
		t.Helper()
		r := s.run(t)
		assert.False(t, r.Has(finding.Code(code)), code)
		assert.True(t, slices.ContainsFunc(r.NotChecked, func(n notChecked) bool {
			return n.Code == code && n.Missing[0] == missing && n.Gate == "" && n.Says != ""
		}), "%s %s: %v", code, missing, r.NotChecked)
	}
	s := newScene(t)
	s.both(func(c *order.Case) { c.Orders[0].Course.Start, c.Administrations = order.Instant{}, nil })
	lists(s, "nightly-short-at-home", "planned doses until the next delivery")

	s = newScene(t)
	s.hold(func(h *reconciliation.HeldOrder) { h.Records[0].BeyondUse = time.Time{} })
	lists(s, "nightly-beyond-use", "beyond-use time of a prepared unit")

	s = newScene(t)
	s.hold(func(h *reconciliation.HeldOrder) {
		h.Records[0].Unit = plan.UnitKey{Drug: "cefazolin"}
		h.Records = h.Records[:1]
	})
	lists(s, "nightly-label-differs", "contents of a prepared unit")

	s = newScene(t)
	clock("2026-11-17T12:00:00-05:00")(t, s)
	s.both(func(c *order.Case) {
		c.Services = []order.Service{{Kind: "laboratory", Tests: []string{"uric acid"}, Status: "active", When: []order.Instant{{Time: at(t, "2026-11-16T00:00:00Z"), Literal: "2026-11-16", DateOnly: true}}}}
	})
	lists(s, "nightly-lab-due", "result of a test that no measurement is read for")
}

// An order without a key is known by its address, and its sheet by its place.
func TestAnOrderWithoutAKey(t *testing.T) {
	s := newScene(t)
	s.both(func(c *order.Case) { c.Orders[0].Key = "" })
	s.held.Orders = map[string]reconciliation.HeldOrder{s.order().Ref.URL: s.held.Orders[s1Key]}
	list := s.all(t)
	if assert.Len(t, list, 1) {
		assert.Equal(t, s.order().Ref.URL, list[0].Key)
		assert.Empty(t, codes(list[0]))
		assert.Empty(t, list[0].NotChecked, "its sheet is found")
	}
}

// A count that is no count of units is not used.
func TestACountThatIsNone(t *testing.T) {
	for _, n := range []int{-1, 10_000} {
		s := newScene(t)
		reported(n)(t, s)
		assert.Empty(t, codes(s.run(t)), "%d: the records count", n)
	}
}

// A count is used when it is of units, has an hour, is not of the future and
// not older than the last hand-over; of several the newest.
func TestWhichCountIsUsed(t *testing.T) {
	for name, c := range map[string]struct {
		edit func(*scene, *order.Report)
		used bool
	}{
		"an hour ago":           {func(s *scene, r *order.Report) {}, true},
		"now":                   {func(s *scene, r *order.Report) { r.At.Time = s.now }, true},
		"of the future":         {func(s *scene, r *order.Report) { r.At.Time = s.now.Add(time.Second) }, false},
		"of a day alone":        {func(s *scene, r *order.Report) { r.At.DateOnly = true }, false},
		"without a time":        {func(s *scene, r *order.Report) { r.At = order.Instant{} }, false},
		"of syringes":           {func(s *scene, r *order.Report) { r.Item = "saline-syringe" }, false},
		"of doses":              {func(s *scene, r *order.Report) { r.Kind = "doses-missed" }, false},
		"before the units came": {func(s *scene, r *order.Report) { r.At.Time = at(t, "2026-11-10T17:39:59-05:00") }, false},
		"as the units came":     {func(s *scene, r *order.Report) { r.At.Time = at(t, "2026-11-10T17:40:00-05:00") }, true},
		"and a newer one besides": {func(s *scene, r *order.Report) {
			newer := *r
			newer.Count, newer.At.Time = amount("17", "{container}"), s.now
			s.after.Reports = append(s.after.Reports, newer)
		}, false},
		"and an older one besides": {func(s *scene, r *order.Report) {
			older := *r
			older.Count, older.At.Time = amount("17", "{container}"), s.now.Add(-2*time.Hour)
			s.after.Reports = append(s.after.Reports, older)
		}, true},
	} {
		s := newScene(t)
		reported(3)(t, s)
		c.edit(s, &s.after.Reports[0])
		assert.Equal(t, c.used, s.run(t).Has("nightly-short-at-home"), name)
	}
}
