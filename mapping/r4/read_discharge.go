package r4

import (
	"cmp"
	"slices"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/order"
)

// Classes of v3-ActCode in which the patient is in hospital.
var inpatientClasses = []string{"IMP", "ACUTE", "NONAC", "EMER", "OBSENC", "SS"}

// readDischarges reads when the patient leaves hospital: every version of
// every Encounter that is sent, the newest first, then what appointments say
// (https://hl7.org/fhir/R4/encounter.html).
func (c *caseScope) readDischarges() {
	var list []*resource
	for _, s := range c.mine {
		if s.kind == "Encounter" {
			list = append(list, s)
		}
	}
	slices.SortStableFunc(list, func(a, b *resource) int { return cmp.Or(compareVersions(b, a), compareResources(a, b)) })
	for _, s := range list {
		st := s.node.Get("status").Text()
		if unknownModifier(s.node).Exists() {
			s.why = "it carries a modifier that this program does not know"
			continue
		}
		if st == "cancelled" || st == "entered-in-error" {
			s.why = "its status is " + quoted(st)
			continue
		}
		s.used = true
		d := order.Discharge{Status: st, Version: s.version, Ref: s.reference(), Place: s.node.Place(), Start: instant(s.node.Get("period"), "start")}
		d.Inpatient = slices.Contains(inpatientClasses, s.node.Get("class").Get("code").Text())
		if v := extensionValue(s.node, fromR5+"Encounter.plannedEndDate"); v.Exists() && st != "finished" {
			d.At = instantOf(v, element.Node{})
		}
		if d.At.Absent() {
			d.At = instant(s.node.Get("period"), "end")
		}
		d.Planned = st != "finished" || c.after(d.At)
		c.kase.Discharges = append(c.kase.Discharges, d)
	}
	for _, v := range c.kase.Services {
		if v.Kind == "discharge" && len(v.When) > 0 {
			c.kase.Discharges = append(c.kase.Discharges, order.Discharge{At: v.When[0], Planned: true, Inpatient: true, Status: v.Status, Ref: v.Ref, Place: v.Place})
		}
	}
}
