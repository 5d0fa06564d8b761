package r4

import (
	"slices"
	"strings"
	"time"

	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

const taskCodes = "http://hl7.org/fhir/CodeSystem/task-code"

// olderVersions: of several orders with one order key and different content,
// the newest stands and the others are its history. Where no time tells
// which is newer, all are judged and the disagreement is said.
func (c *caseScope) olderVersions(replaced map[*resource]*resource) {
	byKey := map[string][]*resource{}
	for _, s := range c.person.orders {
		if key := orderKey(s); key != "" {
			byKey[key] = append(byKey[key], s)
		}
	}
	for _, list := range byKey {
		if len(list) < 2 {
			continue
		}
		newest := slices.MaxFunc(list, func(a, b *resource) int { return versionTime(a).Compare(versionTime(b)) })
		for _, s := range list {
			if versionTime(s).Before(versionTime(newest)) && replaced[s] == nil {
				replaced[s] = newest
			}
		}
	}
}

func versionTime(s *resource) time.Time {
	if !s.updated.Absent() {
		return s.updated.Time
	}
	return instant(s.node, "authoredOn").Time
}

// sameKeys: two orders that are judged must not have one key.
func (c *caseScope) sameKeys(scopes []*orderScope) {
	first := map[string]*orderScope{}
	for _, o := range scopes {
		if o.out.Key == "" || o.out.Role == "replaced" {
			continue
		}
		other := first[o.out.Key]
		switch {
		case other == nil:
			first[o.out.Key] = o
		case other.out.Version == o.out.Version:
			o.fault("identity-duplicate-message", o.res.node, "the same order twice in one document", "each order once",
				"one order key and content stands twice in the document", other.res.node.Expression())
		default:
			for _, x := range []*orderScope{o, other} {
				x.fault("record-sources-disagree", x.res.node, "two orders with one identifier and different content", "one order, or a time that says which is newer",
					"two orders with one key differ and nothing says which is newer")
			}
		}
	}
}

// readTasks: a request to abort or to suspend the order is stricter than the
// order's own status, and holds until the two agree.
func (o *orderScope) readTasks() {
	for _, s := range o.mine {
		if s.kind != "Task" {
			continue
		}
		code := concept(s.node.Get("code")).Code(taskCodes)
		status := map[string]string{"abort": "stopped", "suspend": "on-hold"}[code]
		if status == "" || !o.usable(s) || o.nameOf(s.node.Get("focus"), s) != o.res.name() {
			continue
		}
		switch s.node.Get("status").Text() {
		case "rejected", "cancelled", "failed", "draft":
			continue
		}
		s.used = true
		if o.out.Status != "active" {
			continue
		}
		o.fault("record-sources-disagree", s.node, "a request to "+code+" the order", "the order's status "+o.out.Status,
			"a request to stop or pause the order stands beside an active order; the stricter one holds", o.out.StatusPlace.Expression)
		o.out.Status, o.out.StatusPlace = status, s.node.Place()
		if at := firstInstant(s.node, "lastModified", "authoredOn"); !at.Absent() {
			o.out.Stopped = at
		}
	}
}

// compareSources compares facts of different resources once all are read.
func (c *caseScope) compareSources() {
	for i := range c.kase.Orders {
		o := &c.kase.Orders[i]
		if o.PriorExposure != "never" {
			continue
		}
		for _, a := range c.kase.Administrations {
			if sameDrug(a.Drug, *o) {
				o.Faults = append(o.Faults, fault("record-sources-disagree", a.Place, "a dose of the drug was given", "the order says the patient never had it",
					"a record of a dose stands beside the statement that the drug was never given"))
				break
			}
		}
	}
	for _, m := range c.kase.Medicines {
		for _, o := range c.kase.Related {
			if m.Source == "MedicationStatement" && m.Status == "active" && o.Role == "oral" && (o.Status == "stopped" || o.Status == "cancelled") && sameDrug(m.Drug, o) {
				c.faults = append(c.faults, fault("record-sources-disagree", m.Place, "taken, as stated", "the order for it is "+o.Status,
					"a medicine is stated as taken and its order is stopped"))
			}
		}
	}
	c.compareLocks()
}

func sameDrug(c order.Concept, o order.Order) bool {
	if shareCode(c, o.Drug.Concept) {
		return true
	}
	for _, i := range activeOnes(o.Drug.Ingredients) {
		if shareCode(c, i.Concept) {
			return true
		}
	}
	return o.Drug.Name != "" && strings.EqualFold(genericName(c), o.Drug.Name)
}

// compareLocks: two lock orders of different strength cannot both hold.
func (c *caseScope) compareLocks() {
	var first *order.Stated
	for _, o := range c.kase.Related {
		if o.Role != "lock" || o.Status != "active" {
			continue
		}
		for i := range o.Stated {
			s := &o.Stated[i]
			if s.Name != "concentration" {
				continue
			}
			if first == nil {
				first = s
			} else if !sameVolume(first.Quantity, s.Quantity) {
				c.faults = append(c.faults, fault("record-sources-disagree", s.Place, s.Literal+" "+s.Quantity.Unit.Code(),
					first.Literal+" "+first.Quantity.Unit.Code(), "two active lock orders have different strengths"))
			}
		}
	}
}

// compareHeights: the height of an adult does not change by more than 5 cm.
func (c *caseScope) compareHeights() {
	born := c.kase.Patient.BirthDate
	if born.Absent() {
		return
	}
	var newest order.Measurement
	for _, m := range c.kase.Measurements {
		if m.Name != "height" || m.At.Time.Before(born.Time.AddDate(18, 0, 0)) {
			continue
		}
		if newest.Name == "" {
			newest = m
			continue
		}
		a, _ := newest.Quantity.Base()
		b, _ := m.Quantity.Base()
		if quantity.Ratio(5, 100).Less(a.Sub(b).Abs()) {
			c.faults = append(c.faults, fault("record-sources-disagree", newest.Place, newest.Literal+" "+newest.Quantity.Unit.Code(),
				m.Literal+" "+m.Quantity.Unit.Code()+" before", "an adult's height changed by more than 5 cm"))
			return
		}
	}
}
