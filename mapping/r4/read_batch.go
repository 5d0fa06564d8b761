package r4

import (
	"strings"

	"weir.example/weir/mapping/order"
)

// storages are the codes of our code system storage, as the tables call them.
var storages = map[string]string{"room-temperature": "room", "refrigerated": "refrigerated", "frozen": "frozen", "mixed-at-use": "mixed-at-use"}

// readBatches reads what was prepared: MedicationDispenses with the batch of
// their Medication (https://hl7.org/fhir/R4/medicationdispense.html).
func (c *caseScope) readBatches() {
	for _, s := range c.mineOf("MedicationDispense") {
		n := s.node
		b := order.Batch{Status: n.Get("status").Text(), Place: n.Place(), Handed: instant(n, "whenHandedOver")}
		switch b.Status {
		case "preparation", "in-progress", "completed", "on-hold":
		default:
			s.used, s.why = false, "its status is "+quoted(b.Status)
			continue
		}
		o := &orderScope{caseScope: c, res: s, notes: notes{lenient: c.reader.lenient}}
		if t := c.touch(n.Get("medicationReference"), s); t != nil && t.kind == "Medication" {
			b.Drug = o.readMedication(t)
			batch := t.node.Get("batch")
			b.Lot = batch.Get("lotNumber").Text()
			b.BeyondUse = instant(batch, "expirationDate")
		} else {
			b.Drug.Concept = c.drugOf(s)
			b.Drug.Name = genericName(b.Drug.Concept)
		}
		c.faults = append(c.faults, o.notes.faults...)
		c.unused = append(c.unused, o.notes.unused...)
		made := extension(n, ours+"compounding")
		if v := extensionValue(made, "compoundedAt"); v.Exists() {
			b.Completed = instantOf(v, made)
		} else if w := instant(n, "whenPrepared"); !w.Absent() {
			b.Completed = w
			c.said(n.Get("whenPrepared"), "used as the time of compounding, although it means packed and reviewed: there is no other")
		}
		if v := extensionValue(made, "storage"); v.Exists() {
			storage, known := storages[v.Text()]
			if b.Storage = storage; !known {
				c.notUsed(v, "it is none of the ways to keep a prepared unit")
			}
		}
		if v := extensionValue(made, "category"); v.Exists() {
			switch v.Text() {
			case "category-1", "category-2", "category-3":
				b.Category = strings.TrimPrefix(v.Text(), "category-")
			default:
				c.notUsed(v, "it is none of the sterility categories 1, 2 and 3")
			}
		}
		if q, ok := c.quantity(n.Get("quantity")); ok {
			if units, whole := q.value.Floor(); whole && q.value.IsInt() && q.counted() {
				b.Units = int(units)
			} else {
				c.notUsed(n.Get("quantity"), "the quantity is no whole number of units")
			}
		}
		if ref := n.Get("authorizingPrescription").At(0); ref.Exists() {
			b.OrderRef = c.nameOf(ref, s)
		}
		for _, p := range n.Get("performer").Each() {
			for _, k := range concept(p.Get("function")).Codings {
				if k.Code == "checker" || k.Code == "finalchecker" {
					c.addCheck(k.Code, b.OrderRef, order.Instant{}, s, c.personAtReference(p.Get("actor"), s))
				}
			}
		}
		c.kase.Held.Prepared = append(c.kase.Held.Prepared, b)
	}
}

// addCheck records a check with who made it; one check of one kind and order
// gathers its people.
func (c *caseScope) addCheck(kind, orderRef string, at order.Instant, s *resource, who ...order.Person) {
	check := order.Check{Kind: kind, OrderRef: orderRef, At: at, Place: s.node.Place()}
	for _, p := range who {
		if name := firstText(p.Ref.URL, p.Ref.Identifier.Value, p.Name); name != "" {
			check.Who = append(check.Who, name)
		}
	}
	if len(check.Who) > 0 {
		c.kase.Checks = append(c.kase.Checks, check)
	}
}

// readChecks reads the independent second check: a completed Task with that
// code, or a Provenance with verifiers.
func (c *caseScope) readChecks() {
	for _, s := range c.mineOf("Task") {
		if concept(s.node.Get("code")).Code(taskCodes) != "" {
			continue // readTasks reads requests to stop or to pause
		}
		code := concept(s.node.Get("code")).Code(ourCodes + "task")
		if code != "second-check" || s.node.Get("status").Text() != "completed" {
			s.used, s.why = false, "it is no completed second check"
			continue
		}
		who := []order.Person{}
		if owner := s.node.Get("owner"); owner.Exists() {
			who = append(who, c.personAtReference(owner, s))
		}
		for _, out := range s.node.Get("output").Each() {
			if ref := out.Get("valueReference"); ref.Exists() {
				who = append(who, c.personAtReference(ref, s))
			}
		}
		c.addCheck(code, c.nameOf(s.node.Get("focus"), s), firstInstant(s.node, "executionPeriod.end", "lastModified"), s, who...)
	}
	for _, s := range c.all {
		if s.kind == "Provenance" && c.usable(s) {
			c.readProvenance(s)
		}
	}
}

func (c *caseScope) readProvenance(s *resource) {
	for _, target := range s.node.Get("target").Each() {
		t := c.resolve(target, s)
		if t.resource == nil || c.personOf(t.resource) != c.person {
			continue
		}
		for _, a := range s.node.Get("agent").Each() {
			for _, k := range concept(a.Get("type")).Codings {
				if k.Code == "verifier" {
					s.used = true
					c.addCheck("verifier", t.name(), firstInstant(s.node, "occurredDateTime", "recorded"), s, c.personAtReference(a.Get("who"), s))
				}
			}
		}
	}
}

// readFlags reads active flags about the patient.
func (c *caseScope) readFlags() {
	for _, s := range c.mineOf("Flag") {
		if s.node.Get("status").Text() != "active" {
			s.used, s.why = false, "it is not active"
			continue
		}
		f := concept(s.node.Get("code"))
		f.Place = s.node.Place()
		c.kase.Flags = append(c.kase.Flags, f)
	}
}
