package reconciliation_test

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"weir.example/weir/conformance/reconciliation"
	"weir.example/weir/mapping/order"
)

// onCase changes tonight's case.
func onCase(edit func(*order.Case)) func(*testing.T, *scene) {
	return func(_ *testing.T, s *scene) { edit(&s.after) }
}

func weight(kg string) func(*testing.T, *scene) {
	return func(t *testing.T, s *scene) {
		s.after.Measurements = slices.Clone(s.after.Measurements)
		s.after.Measurements = append([]order.Measurement{{Name: "weight", Quantity: amount(kg, "kg"), Literal: kg, Status: "final",
			At: order.Instant{Time: s.now.Add(-time.Hour), Literal: "2026-11-12T01:00:00-05:00"}}}, s.after.Measurements...)
		s.after.Measurements[0].Place.Expression = "Bundle.entry[98].resource"
	}
}

func allergy(name string) order.Allergy {
	return order.Allergy{Substance: order.Concept{Text: name}, Active: true, Criticality: "high"}
}

// Row m11. S1 weighs 74 kg: 10 percent more is 81.4 kg.
func TestPatientChanged(t *testing.T) {
	const code = "nightly-patient-changed"
	judge := []string{"judge-order"}
	runFixtures(t, []fixture{
		{"10 percent heavier", code, false, weight("81.4"), "", nil, false},
		{"a little more", code, true, weight("81.41"), "81.41 kg", judge, false},
		{"10 percent lighter", code, false, weight("66.6"), "", nil, false},
		{"a little less", code, true, weight("66.59"), "within 10 %", judge, false},
		{"1 percent heavier", code, false, weight("74.74"), "", nil, false},
		{"a new allergy", code, true, onCase(func(c *order.Case) {
			c.Allergies = append(slices.Clone(c.Allergies), allergy("peanut"))
		}), "a new allergy is on record", judge, false},
		{"an allergy that was refuted", code, true, func(_ *testing.T, s *scene) {
			s.before.Allergies = append(slices.Clone(s.before.Allergies), allergy("peanut"))
		}, "an allergy that was on record is gone", judge, false},
		{"the same allergies in another order", code, false, func(_ *testing.T, s *scene) {
			s.before.Allergies = append(slices.Clone(s.before.Allergies), allergy("peanut"), allergy("latex"))
			s.after.Allergies = append(slices.Clone(s.after.Allergies), allergy("latex"), allergy("peanut"))
		}, "", nil, false},
		{"pregnant", code, true, onCase(func(c *order.Case) { c.Pregnancy.Status = "pregnant" }), "pregnancy: pregnant", judge, false},
		{"not pregnant, as expected", code, false, onCase(func(c *order.Case) { c.Pregnancy.Status = "not-pregnant" }), "", nil, false},
		{"no longer pregnant", code, true, func(_ *testing.T, s *scene) {
			s.before.Pregnancy.Status, s.after.Pregnancy.Status = "pregnant", "not-pregnant"
		}, "not pregnant", judge, false},
		{"another street", code, true, onCase(func(c *order.Case) {
			c.Patient.Addresses = slices.Clone(c.Patient.Addresses)
			c.Patient.Addresses[0].Lines = []string{"1 Elsewhere Road"}
		}), "home address", []string{"judge-order", "confirm-contact"}, false},
		{"the street in capitals", code, false, onCase(func(c *order.Case) {
			c.Patient.Addresses = slices.Clone(c.Patient.Addresses)
			c.Patient.Addresses[0].City = upper(c.Patient.Addresses[0].City)
		}), "", nil, false},
		{"another telephone", code, true, onCase(func(c *order.Case) {
			c.Patient.Phones = slices.Clone(c.Patient.Phones)
			c.Patient.Phones[0].Words = "+1-555-0199"
		}), "telephone", []string{"confirm-contact"}, false},
		{"the same number with blanks", code, false, onCase(func(c *order.Case) {
			c.Patient.Phones = slices.Clone(c.Patient.Phones)
			c.Patient.Phones[0].Words = spaced(c.Patient.Phones[0].Words)
		}), "", nil, false},
		{"the patient is new", code, false, func(_ *testing.T, s *scene) { s.fresh = true }, "", nil, false},
	})
}

func upper(s string) string {
	out := []rune(s)
	for i, r := range out {
		if r >= 'a' && r <= 'z' {
			out[i] = r - 'a' + 'A'
		}
	}
	return string(out)
}

func spaced(s string) string {
	out := ""
	for _, r := range s {
		if r == '-' {
			r = ' '
		}
		out += string(r)
	}
	return out
}

// A new medicine counts when it meets something: ibuprofen beside cefazolin
// does not, and a second dose of the same drug class does.
func TestANewMedicineCountsWhenSomethingIsFound(t *testing.T) {
	add := func(name string) *scene { return adding(t, name, "active") }
	for _, over := range []string{"stopped", "completed", "entered-in-error", "not-taken"} {
		assert.False(t, adding(t, "cephalexin", over).run(t).Has("nightly-patient-changed"), over)
	}
	assert.False(t, add("loratadine").run(t).Has("nightly-patient-changed"))
	r := add("cephalexin").run(t)
	assert.True(t, r.Has("nightly-patient-changed"), codes(r))
}

func adding(t *testing.T, name, status string) *scene {
	s := newScene(t)
	m := order.Medicine{Drug: order.Concept{Text: name}, Status: status, Source: "MedicationStatement"}
	m.Place.Expression = "Bundle.entry[97].resource"
	s.after.Medicines = append(slices.Clone(s.after.Medicines), m)
	return s
}

// Row m17.
func TestIdentityDrift(t *testing.T) {
	const code = "nightly-identity-drift"
	runFixtures(t, []fixture{
		{"day and month of birth swapped", code, true, onCase(func(c *order.Case) {
			c.Patient.BirthDate = order.Instant{Time: c.Patient.BirthDate.Time.AddDate(0, 1, 0), Literal: "1979-09-22", DateOnly: true}
		}), "birth date", []string{"dispatch-block", "compare-identity"}, false},
		{"another family name", code, true, onCase(func(c *order.Case) { c.Patient.Family = "Okonkwo" }), "name", []string{"compare-identity"}, false},
		{"the name in capitals", code, false, onCase(func(c *order.Case) { c.Patient.Family = upper(c.Patient.Family) }), "", nil, false},
		{"another number of the same system", code, true, onCase(func(c *order.Case) {
			c.Patient.Identifiers = slices.Clone(c.Patient.Identifiers)
			c.Patient.Identifiers[0].Value = "MG-004471"
		}), "identifier", nil, false},
		{"a second number of the same system", code, true, onCase(func(c *order.Case) {
			second := c.Patient.Identifiers[0]
			second.Value = "MG-009999"
			c.Patient.Identifiers = append(slices.Clone(c.Patient.Identifiers), second)
		}), "identifier", nil, false},
		{"a number of another system besides", code, false, onCase(func(c *order.Case) {
			c.Patient.Identifiers = append(slices.Clone(c.Patient.Identifiers), order.Identifier{System: "urn:insurance", Value: "7"})
		}), "", nil, false},
		{"merged into another record", code, true, onCase(func(c *order.Case) { c.Patient.Inactive = true }), "out of use", nil, false},
		{"of an order that is over, with nothing left", code, false, func(t *testing.T, s *scene) {
			s.after.Patient.BirthDate.Literal = "1979-09-22"
			s.both(func(c *order.Case) { c.Orders[0].Status = "stopped" })
			s.hold(func(h *reconciliation.HeldOrder) { h.Settled, h.Records = true, nil })
		}, "", nil, false},
		{"of an order that is over, with units left", code, true, func(t *testing.T, s *scene) {
			s.after.Patient.BirthDate.Literal = "1979-09-22"
			s.both(func(c *order.Case) { c.Orders[0].Status = "stopped" })
			s.hold(func(h *reconciliation.HeldOrder) { h.Settled = true })
		}, "birth date", nil, false},
		{"a new telephone number", code, false, onCase(func(c *order.Case) {
			c.Patient.Phones = slices.Clone(c.Patient.Phones)
			c.Patient.Phones[0].Words = "+1-555-0199"
		}), "", nil, false},
	})
	s := newScene(t)
	s.after.Patient.BirthDate.Literal = "1979-09-22"
	assert.NotContains(t, says(s.run(t), code), "1979", "the values stand in the record")
}

// Row m13.
func TestUnavailable(t *testing.T) {
	const code = "nightly-patient-unavailable"
	stay := func(start, status string, inpatient bool) func(*testing.T, *scene) {
		return func(t *testing.T, s *scene) {
			d := order.Discharge{Inpatient: inpatient, Status: status, Start: order.Instant{Time: at(t, start), Literal: start}}
			d.Place.Expression = "Bundle.entry[96].resource"
			s.after.Discharges = append([]order.Discharge{d}, s.after.Discharges...)
		}
	}
	runFixtures(t, []fixture{
		{"died", code, true, onCase(func(c *order.Case) { c.Patient.Deceased = true }), "has died", []string{"dispatch-block", "call-family"}, false},
		{"in hospital again since tonight", code, true, stay("2026-11-12T01:00:00-05:00", "in-progress", true), "in hospital since Thu 12 Nov 2026 01:00 EST", []string{"dispatch-block", "call-hospital"}, false},
		{"an outpatient visit", code, false, stay("2026-11-12T01:00:00-05:00", "in-progress", false), "", nil, false},
		{"a stay that is over", code, false, stay("2026-11-11T01:00:00-05:00", "finished", true), "", nil, false},
		{"a stay that ended an hour ago, still called in progress", code, false, func(t *testing.T, s *scene) {
			stay("2026-11-11T12:00:00-05:00", "in-progress", true)(t, s)
			s.after.Discharges[0].At = order.Instant{Time: s.now.Add(-time.Hour), Literal: "then"}
		}, "", nil, false},
		{"and one that is to end tomorrow", code, true, func(t *testing.T, s *scene) {
			stay("2026-11-11T12:00:00-05:00", "in-progress", true)(t, s)
			s.after.Discharges[0].At = order.Instant{Time: s.now.AddDate(0, 0, 1), Literal: "then"}
		}, "in hospital since", nil, false},
		{"the same on the second night", code, true, func(t *testing.T, s *scene) {
			stay("2026-11-11T12:00:00-05:00", "in-progress", true)(t, s)
			s.after.Discharges[0].At = order.Instant{Time: s.now.AddDate(0, 0, 1), Literal: "then"}
			s.before.Discharges = s.after.Discharges
		}, "in hospital since", nil, false},
		{"a second stay, in which the order was written", code, false, func(t *testing.T, s *scene) {
			stay("2026-11-10T09:00:00-05:00", "in-progress", true)(t, s) // written at 11:05
			s.after.Discharges[1].At.Time = at(t, "2026-11-09T09:00:00-05:00")
			s.before.Discharges = s.after.Discharges
			s.hold(func(h *reconciliation.HeldOrder) { h.Records = nil })
		}, "", nil, false},
		{"a second stay, begun after the order was written", code, true, func(t *testing.T, s *scene) {
			stay("2026-11-10T18:00:00-05:00", "in-progress", true)(t, s)
			s.before.Discharges = s.after.Discharges
			s.hold(func(h *reconciliation.HeldOrder) { h.Records = nil })
		}, "in hospital since Tue 10 Nov 2026 18:00 EST", nil, false},
		{"a stay that nobody said the start of", code, true, func(t *testing.T, s *scene) {
			stay("2026-11-12T01:00:00-05:00", "in-progress", true)(t, s)
			s.after.Discharges[0].Start, s.after.Discharges[0].Ref.URL = order.Instant{}, "urn:stay"
		}, "since when is not on record", nil, false},
		{"the same, as before", code, false, func(t *testing.T, s *scene) {
			stay("2026-11-12T01:00:00-05:00", "in-progress", true)(t, s)
			s.after.Discharges[0].Start, s.after.Discharges[0].Ref.URL = order.Instant{}, "urn:stay"
			s.before.Discharges = s.after.Discharges
		}, "", nil, false},
		{"a stay that begins in an hour", code, false, stay("2026-11-12T03:00:00-05:00", "in-progress", true), "", nil, false},
		{"a stay planned for next week", code, false, stay("2026-11-19T01:00:00-05:00", "planned", true), "", nil, false},
		{"the stay that therapy began in", code, false, stay("2026-11-03T12:00:00-05:00", "in-progress", true), "", nil, false},
		{"died, and the order is not there any more", code, true, func(t *testing.T, s *scene) {
			s.after.Patient.Deceased, s.after.Orders = true, nil
		}, "has died", nil, false},
		{"died, before anything was made", code, true, func(t *testing.T, s *scene) {
			s.after.Patient.Deceased = true
			s.hold(func(h *reconciliation.HeldOrder) { h.Records = nil })
		}, "has died", nil, false},
		{"died, stopped, and units at home", code, true, func(t *testing.T, s *scene) {
			s.after.Patient.Deceased = true
			s.both(func(c *order.Case) { c.Orders[0].Status = "stopped" })
			s.hold(func(h *reconciliation.HeldOrder) { h.Settled = true })
		}, "has died", nil, false},
		{"died, and nothing of the order is left", code, false, func(t *testing.T, s *scene) {
			s.after.Patient.Deceased = true
			s.both(func(c *order.Case) { c.Orders[0].Status = "stopped" })
			s.hold(func(h *reconciliation.HeldOrder) { h.Settled, h.Records = true, nil })
		}, "", nil, false},
	})
}

// Row m14.
func TestLineChanged(t *testing.T) {
	const code = "nightly-line-changed"
	line := func(edit func(*order.Access)) func(*testing.T, *scene) {
		return onCase(func(c *order.Case) {
			c.Access = slices.Clone(c.Access)
			edit(&c.Access[0])
		})
	}
	look := []string{"look-at-line"}
	runFixtures(t, []fixture{
		{"removed", code, true, line(func(a *order.Access) { a.Removed = order.Instant{Literal: "2026-11-11"} }), "was removed", look, false},
		{"not on record any more", code, true, onCase(func(c *order.Case) { c.Access = nil }), "not on record any more", look, false},
		{"a midline besides", code, true, onCase(func(c *order.Case) {
			c.Access = append(slices.Clone(c.Access), order.Access{Kind: "midline", Ref: "urn:midline"})
		}), "a new midline", look, false},
		{"the tip moved", code, true, line(func(a *order.Access) { a.TipConfirmed, a.TipText = false, "axillary" }), "tip: not confirmed", look, false},
		{"two lumens", code, true, line(func(a *order.Access) { a.Lumens = 2 }), "2 lumens", look, false},
		{"the same line", code, false, line(func(a *order.Access) {}), "", nil, true},
		{"a line in place and no therapy left", code, true, func(t *testing.T, s *scene) {
			s.both(func(c *order.Case) { c.Orders[0].Status = "stopped" })
			s.hold(func(h *reconciliation.HeldOrder) { h.Settled, h.Records = true, nil })
		}, "no therapy is left", look, true},
		{"and a plan for the line", code, false, func(t *testing.T, s *scene) {
			s.both(func(c *order.Case) { c.Orders[0].Status = "stopped"; planForLine(c) })
			s.hold(func(h *reconciliation.HeldOrder) { h.Settled, h.Records = true, nil })
		}, "", nil, false},
	})
}
