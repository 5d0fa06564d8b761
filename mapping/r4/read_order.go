package r4

import (
	"crypto/sha256"
	"encoding/hex"
	"slices"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/order"
)

// orderScope is one MedicationRequest being read.
type orderScope struct {
	*caseScope
	notes        // faults and unused of this order; hides those of the case
	res          *resource
	medication   *resource // nil when the drug is only a concept
	instructions []instruction
	out          order.Order
}

// readOrders reads every MedicationRequest of the patient: infusions into
// Orders in document order, the others into Related.
func (c *caseScope) readOrders() {
	replaced := c.replacedOrders()
	c.olderVersions(replaced)
	var scopes []*orderScope
	for _, s := range c.person.orders {
		o := &orderScope{caseScope: c, res: s, notes: notes{lenient: c.reader.lenient}}
		o.read()
		if by := replaced[s]; by != nil {
			o.said(s.node, "history: %s replaces it, no dispense is made from it", by.name())
			o.out.Role = "replaced"
		}
		scopes = append(scopes, o)
	}
	c.sameKeys(scopes)
	for _, o := range scopes {
		o.readCompanions(scopes)
		o.readTasks()
		o.out.Faults = distinct(o.notes.faults)
		c.kase.Unused = append(c.kase.Unused, o.notes.unused...)
		if o.out.Role == "infusion" {
			c.kase.Orders = append(c.kase.Orders, o.out)
		} else {
			c.kase.Related = append(c.kase.Related, o.out)
		}
	}
}

func (o *orderScope) read() {
	n := o.res.node
	o.res.used = true
	out := &o.out
	out.Place = n.Place()
	out.Ref = o.res.reference()
	out.Key = orderKey(o.res)
	out.Version = orderVersion(n)
	out.Status, out.StatusPlace = n.Get("status").Text(), placeOf(n, "status")
	out.Intent, out.IntentPlace = n.Get("intent").Text(), placeOf(n, "intent")
	out.DoNotPerform = n.Get("doNotPerform").Literal() == "true"
	out.Categories = concepts(n.Get("category"))
	out.AuthoredOn = instant(n, "authoredOn")
	out.StatusReason = concept(n.Get("statusReason"))
	out.Stopped = o.stopped()
	out.PriorExposure = extensionValue(n, ours+"prior-exposure").Text()
	if list := o.versions(o.res); len(list) > 1 && choose(list, "").disagree {
		o.fault("record-sources-disagree", n, "several versions of one order without a time", "one version, or meta.lastUpdated on each",
			"the document holds differing versions of one order and nothing says which is newer")
	}
	o.readReferences()
	o.readModifiers()
	o.readDrug()
	o.readInstructions()
	o.readDispenseRequest()
	o.readDevice()
	o.readOrderTexts()
	o.readRole()
	o.listUnreadElements()
}

// orderKey is system|value of the placer's identifier, else the fullUrl when
// that is a web address; a urn:uuid is new in every message and no key.
func orderKey(s *resource) string {
	if id := bestIdentifier(s.node); id.Value != "" {
		return id.System + "|" + id.Value
	}
	if isWeb(s.url) {
		return s.url
	}
	return ""
}

// orderVersion is the SHA-256 of the order without meta, in hex.
func orderVersion(n element.Node) string {
	sum := sha256.Sum256(element.Canonical(n, "meta"))
	return hex.EncodeToString(sum[:])
}

// stopped is the earliest credible time at which the status changed.
func (o *orderScope) stopped() order.Instant {
	if v := extensionValue(o.res.node, fromR5+"MedicationRequest.statusChanged"); v.Exists() {
		return instantOf(v, element.Node{})
	}
	switch o.out.Status {
	case "stopped", "cancelled", "on-hold", "completed", "entered-in-error":
		return o.res.updated
	}
	return order.Instant{}
}

// readReferences reads what the order points at.
func (o *orderScope) readReferences() {
	n := o.res.node
	out := &o.out
	o.follow(n.Get("subject"))
	if e := n.Get("encounter"); e.Exists() {
		out.Encounter = o.reference(e, o.res)
		o.mustBelong(o.follow(e), e)
	}
	if p := n.Get("dispenseRequest").Get("performer"); p.Exists() {
		out.Dispenser = o.reference(p, o.res)
		o.touch(p, o.res)
	}
	out.Requester = o.personAtReference(n.Get("requester"), o.res)
	o.follow(n.Get("requester"))
	for _, ref := range n.Get("basedOn").Each() {
		out.Basis = append(out.Basis, o.nameOf(ref, o.res))
		if o.touch(ref, o.res) == nil {
			o.notUsed(ref, "what the order is based on is not in the document")
		}
	}
	if p := n.Get("priorPrescription"); p.Exists() {
		out.Prior = append(out.Prior, o.nameOf(p, o.res))
		if o.touch(p, o.res) == nil {
			o.notUsed(p, "the order it replaces is not in the document")
		}
	}
	for _, ref := range n.Get("reasonReference").Each() {
		o.readReason(ref)
	}
	out.Indications = append(out.Indications, concepts(n.Get("reasonCode"))...)
	for _, ref := range n.Get("supportingInformation").Each() {
		o.mustBelong(o.follow(ref), ref)
	}
}

func (o *orderScope) readReason(ref element.Node) {
	t := o.follow(ref)
	o.mustBelong(t, ref)
	if t == nil {
		if d := ref.Get("display").Text(); d != "" {
			o.out.Indications = append(o.out.Indications, order.Concept{Text: d, Place: ref.Place()})
		}
		return
	}
	c := concept(t.node.Get("code"))
	if !c.Absent() {
		c.Place = t.node.Get("code").Place()
		o.out.Indications = append(o.out.Indications, c)
	}
}

// follow resolves a reference of the order and says when it leads nowhere,
// to several versions, or to another version than was asked for.
func (o *orderScope) follow(ref element.Node) *resource {
	if ref.Get("reference").Text() == "" {
		if t := o.resolve(ref, o.res); t.resource != nil {
			t.used = true
			return t.resource
		}
		return nil
	}
	t := o.resolve(ref, o.res)
	switch {
	case t.resource == nil:
		o.out.Unresolved = append(o.out.Unresolved, ref.Place())
		o.fault("record-reference-unresolved", ref, ref.Get("reference").Text(), "a resource of this document",
			"the order points at something that is not in the document")
		return nil
	case t.disagree:
		o.fault("record-sources-disagree", ref, "several versions of "+ref.Get("reference").Text()+" without a time", "one version, or meta.lastUpdated on each",
			"several differing versions of what the order points at are in the document and nothing says which is newer")
	case t.stale:
		o.fault("record-sources-disagree", ref, ref.Get("reference").Text(), "version "+t.version, "the order asks for another version than the document holds")
	}
	t.used = true
	return t.resource
}

// mustBelong: what the order points at must be the patient's own.
func (o *orderScope) mustBelong(t *resource, ref element.Node) {
	if t == nil {
		return
	}
	if p := o.personOf(t); p != nil && p != o.person {
		o.fault("identity-other-patient", ref, t.kind+" of another patient", t.kind+" of the order's patient",
			"a resource the order points at belongs to another patient", t.node.Expression())
		t.why = "it belongs to another patient"
	}
}

// nameOf is the name by which orders are matched.
func (r *reader) nameOf(ref element.Node, from *resource) string {
	if t := r.resolve(ref, from); t.resource != nil {
		return t.name()
	}
	if a := r.address(ref, from); a != "" {
		return a
	}
	return identifierKey(ref.Get("identifier"))
}

// touch marks what a reference leads to as used.
func (r *reader) touch(ref element.Node, from *resource) *resource {
	t := r.resolve(ref, from)
	if t.resource != nil {
		t.used = true
	}
	return t.resource
}

// replacedOrders are the orders that a valid order names in
// priorPrescription, each with its successor. Orders that name each other in
// a circle replace nothing.
func (c *caseScope) replacedOrders() map[*resource]*resource {
	by := map[*resource]*resource{}
	for _, s := range c.person.orders {
		status, intent := s.node.Get("status").Text(), s.node.Get("intent").Text()
		if slices.Contains([]string{"entered-in-error", "cancelled", "draft"}, status) || !slices.Contains(orderIntents, intent) {
			continue
		}
		if t := c.resolve(s.node.Get("priorPrescription"), s); t.resource != nil && t.resource != s && t.kind == "MedicationRequest" {
			by[t.resource] = s
		}
	}
	for s := range by {
		at := s
		for range len(by) + 1 {
			if at = by[at]; at == nil {
				break
			}
		}
		if at != nil {
			return map[*resource]*resource{} // a circle: nothing says which one stands
		}
	}
	return by
}

var orderIntents = []string{"order", "original-order", "reflex-order", "filler-order", "instance-order"}

// readCompanions lists the other orders that are based on this one, or that
// this one is based on.
func (o *orderScope) readCompanions(all []*orderScope) {
	for _, other := range all {
		if other == o {
			continue
		}
		if slices.Contains(other.out.Basis, o.res.name()) || slices.Contains(o.out.Basis, other.res.name()) {
			o.out.Companions = append(o.out.Companions, other.res.node.Expression())
		}
	}
}
