package r4

import (
	"cmp"
	"slices"

	"weir.example/weir/mapping/order"
)

// readAdministrations reads doses given, newest first
// (https://hl7.org/fhir/R4/medicationadministration.html).
func (c *caseScope) readAdministrations() {
	for _, s := range c.mineOf("MedicationAdministration") {
		n := s.node
		a := order.Administration{Status: n.Get("status").Text(), Place: n.Place(), Drug: c.drugOf(s)}
		if a.Status != "completed" && a.Status != "in-progress" {
			s.used, s.why = false, "its status is "+quoted(a.Status)
			continue
		}
		a.Start = firstInstant(n, "effectivePeriod.start", "effectiveDateTime")
		a.End = instant(n.Get("effectivePeriod"), "end")
		if a.Start.Absent() {
			s.used, s.why = false, "it has no time"
			continue
		}
		if c.after(a.Start) {
			s.used, s.why = false, afterClock
			continue
		}
		a.Setting = concept(n.Get("category")).Code("http://terminology.hl7.org/CodeSystem/medication-admin-category")
		if ref := n.Get("request"); ref.Exists() {
			a.OrderRef = c.nameOf(ref, s)
		}
		dosage := n.Get("dosage")
		a.Route = concept(dosage.Get("route"))
		if q, ok := c.quantity(dosage.Get("dose")); ok && !q.counted() {
			if f := formOf(q); f.name != "" {
				if st, ok := q.stated(f.name, f.dim, order.Record, "dose given"); ok {
					a.Dose = append(a.Dose, st)
				}
			}
		}
		c.kase.Administrations = append(c.kase.Administrations, a)
	}
	slices.SortStableFunc(c.kase.Administrations, func(a, b order.Administration) int {
		return cmp.Or(b.Start.Time.Compare(a.Start.Time), cmp.Compare(a.Drug.Name(), b.Drug.Name()))
	})
}

// drugOf is medication[x] of any resource as one concept: the active
// ingredient where a Medication states it, else its code.
func (c *caseScope) drugOf(s *resource) order.Concept {
	if m := s.node.Get("medicationCodeableConcept"); m.Exists() {
		return concept(m)
	}
	ref := s.node.Get("medicationReference")
	t := c.touch(ref, s)
	if t == nil {
		return order.Concept{Text: ref.Get("display").Text(), Place: ref.Place()}
	}
	code := concept(t.node.Get("code"))
	for _, i := range t.node.Get("ingredient").Each() {
		if i.Get("isActive").Literal() == "false" {
			continue
		}
		if in := concept(i.Get("itemCodeableConcept")); !in.Absent() && code.Code(rxnorm) == "" {
			code.Codings = append(code.Codings, in.Codings...)
			if code.Text == "" {
				code.Text = in.Text
			}
		}
	}
	return code
}

// readMedicines reads what else the patient takes: statements, and orders
// that are no infusion (https://hl7.org/fhir/R4/medicationstatement.html).
func (c *caseScope) readMedicines() {
	for _, s := range c.mineOf("MedicationStatement") {
		n := s.node
		m := order.Medicine{Drug: c.drugOf(s), Status: n.Get("status").Text(), Source: "MedicationStatement", Place: n.Place()}
		for _, d := range n.Get("dosage").Each() {
			m.Text = firstText(m.Text, d.Get("text").Text())
		}
		if m.Status == "not-taken" || m.Status == "stopped" {
			s.used, s.why = false, "its status is "+quoted(m.Status)
			continue
		}
		c.kase.Medicines = append(c.kase.Medicines, m)
	}
	for _, o := range c.kase.Related {
		if o.Role != "oral" || o.Status != "active" && o.Status != "on-hold" {
			continue
		}
		m := order.Medicine{Drug: o.Drug.Concept, Status: o.Status, Source: "MedicationRequest", Place: o.Place}
		for _, d := range o.Directions {
			m.Text = firstText(m.Text, d.Text)
		}
		c.kase.Medicines = append(c.kase.Medicines, m)
	}
}
