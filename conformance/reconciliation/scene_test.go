package reconciliation_test

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"weir.example/weir/conformance/reconciliation"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/plan"
	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/r4"
	"weir.example/weir/mapping/worksheet"
	"weir.example/weir/testdata/orders"
)

// scene is one patient of scenario S1 on the second night at home: cefazolin
// 2 g every 8 hours, first dose 10 November 22:00. 21 units came on the 10th,
// 4 doses are given; the clock is Thursday 12 November 02:00, the next dose
// 06:00, the next delivery Tuesday the 17th at 19:00. Until then 17 doses are
// due (12 to 16 November three a day, the 17th at 06:00 and 14:00), and 17
// units are at home.
type scene struct {
	now           time.Time
	before, after order.Case
	stampBefore   reconciliation.Stamp
	stampAfter    reconciliation.Stamp
	held          reconciliation.Held
	recalled      []reconciliation.Recalled
	gone          bool // the patient is not in tonight's state
	fresh         bool // nothing of the patient was held
	unjudged      bool // the sheets are those that were stored: JSON alone
}

const s1Key = "https://marrowgate.example/order|88213007"

func readCase(t testing.TB, f orders.Fixture, now time.Time) order.Case {
	doc, _ := element.Read(f.Document, element.Limit{})
	cases, faults := r4.ReadCases(doc, now)
	if len(faults) > 0 || len(cases) != 1 {
		t.Fatal(faults, len(cases))
	}
	return cases[0]
}

func newScene(t testing.TB) *scene {
	s := &scene{now: at(t, "2026-11-12T02:00:00-05:00")}
	f := base(t, "s1-cefazolin-elastomeric")
	s.before, s.after = readCase(t, f, s.now), readCase(t, f, s.now)
	s.held.Orders = map[string]reconciliation.HeldOrder{s1Key: {Received: at(t, "2026-11-10T14:20:00-05:00"), Opened: at(t, "2026-11-10T14:40:00-05:00"), Records: s1Records(t)}}
	return s
}

// s1Unit is one reservoir of 2 g in 100 mL.
func s1Unit() plan.UnitKey {
	return plan.UnitKey{Drug: "cefazolin", Strength: amount("2", "g"), Volume: amount("100", "mL"), Diluent: "saline", Device: "elastomeric", Label: "cefazolin 2 g"}
}

func s1Records(t testing.TB) []plan.Event {
	arrival := at(t, "2026-11-10T18:00:00-05:00")
	list := []plan.Event{
		{ID: "made", Kind: plan.Made, At: at(t, "2026-11-10T12:00:00-05:00"), Units: 21, Lot: "C1", Unit: s1Unit(), BeyondUse: at(t, "2026-11-20T12:00:00-05:00")},
		{ID: "sent", Kind: plan.Dispatched, At: at(t, "2026-11-10T16:00:00-05:00"), Units: 21, Lot: "C1", Delivery: arrival},
		{ID: "came", Kind: plan.Delivered, At: at(t, "2026-11-10T17:40:00-05:00"), Units: 21, Lot: "C1", Delivery: arrival},
	}
	first := at(t, "2026-11-10T22:00:00-05:00")
	for i := range 4 {
		list = append(list, plan.Event{ID: fmt.Sprint("given ", i), Kind: plan.Given, At: first.Add(time.Duration(8*i)*time.Hour + 5*time.Minute), Units: 1, Lot: "C1"})
	}
	return list
}

func amount(literal, ucum string) quantity.Quantity {
	return quantity.Point(quantity.MustNumber(literal), quantity.MustUnit(ucum))
}

// hold changes what is held of the order.
func (s *scene) hold(edit func(*reconciliation.HeldOrder)) {
	h := s.held.Orders[s1Key]
	edit(&h)
	s.held.Orders[s1Key] = h
}

// order is tonight's order.
func (s *scene) order() *order.Order { return &s.after.Orders[0] }

// planForLine: somebody ordered what becomes of the line.
func planForLine(c *order.Case) {
	c.Services = append(slices.Clone(c.Services), order.Service{Kind: "access-plan", Status: "active"})
}

// both changes both sides.
func (s *scene) both(edit func(*order.Case)) {
	edit(&s.before)
	edit(&s.after)
}

func (s *scene) sides() (before, after reconciliation.Side) {
	if !s.fresh {
		before = judged(s.before, s.now)
		before.Stamps = map[string]reconciliation.Stamp{s1Key: s.stampBefore}
	}
	if !s.gone {
		after = judged(s.after, s.now)
		after.Stamps = map[string]reconciliation.Stamp{s1Key: s.stampAfter}
	}
	if s.unjudged {
		for _, side := range []reconciliation.Side{before, after} {
			for i := range side.Sheets {
				side.Sheets[i].Refs.Numbers, side.Sheets[i].Refs.Source = nil, order.Order{}
			}
		}
	}
	return before, after
}

func (s *scene) all(t testing.TB) []reconciliation.Result {
	before, after := s.sides()
	n := night(s.now)
	n.Recalled = s.recalled
	return compare(t, before, after, s.held, n)
}

func (s *scene) run(t testing.TB) reconciliation.Result { return the(t, s.all(t), "88213007") }

// fixture is one night: what is another than in the quiet scene, and whether
// the code is found.
type fixture struct {
	name  string
	code  finding.Code
	found bool
	edit  func(*testing.T, *scene)
	says  string   // part of what is said
	tasks []string // asked for
	alone bool     // and nothing else is found
}

// asked are the codes with fixtures on both sides; a test counts them.
var asked = map[finding.Code]bool{
	"nightly-stopped": true, "nightly-stopped-completed": true, "nightly-changed": true, "nightly-changed-minor": true, "nightly-replaced": true, "nightly-unseen": true,
	"nightly-absent": true, "nightly-label-differs": true, "nightly-surplus-at-home": true, "nightly-short-at-home": true, "nightly-beyond-use": true, "nightly-lab-due": true,
	"nightly-patient-changed": true, "nightly-discharge-moved": true, "nightly-patient-unavailable": true, "nightly-line-changed": true, "nightly-end-passed": true,
	"nightly-recall": true, "nightly-identity-drift": true, "nightly-override-expired": true, "nightly-task-overdue": true, "nightly-duplicate": true,
	"nightly-feed-silent": true, "nightly-compounding-differs": true, "nightly-older-message": true,
}

func runFixtures(t *testing.T, list []fixture) {
	sides := map[finding.Code][2]bool{}
	for _, f := range list {
		s := sides[f.code]
		s[0], s[1] = s[0] || f.found, s[1] || !f.found
		sides[f.code] = s
	}
	for code, s := range sides {
		if !asked[code] || !s[0] || !s[1] {
			t.Errorf("%s needs a fixture that is found and one that is not", code)
		}
	}
	for _, f := range list {
		t.Run(string(f.code)+" "+f.name, func(t *testing.T) {
			s := newScene(t)
			f.edit(t, s)
			r := s.run(t)
			if f.found != r.Has(f.code) {
				t.Errorf("found %v, not %v: %v", r.Has(f.code), f.found, codes(r))
				for _, x := range r.Findings {
					t.Log(x.Code, x.Observed, "|", x.Expected)
				}
			}
			check(t, f, r)
		})
	}
}

type notChecked = worksheet.NotChecked

type findingCode = finding.Code
