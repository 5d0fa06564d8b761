package r4

import (
	"strings"

	"weir.example/weir/mapping/element"
)

// person is one patient: the Patient resources that describe the same person,
// or a patient named by a reference that leads out of the document.
type person struct {
	resources []*resource // entries before contained, newest first
	key       string      // for one that is not in the document
	ref       element.Node
	from      *resource // whose element ref is
	orders    []*resource
}

// subjectElements are the elements in which a resource says whose it is,
// looked for in this order.
var subjectElements = []string{"subject", "patient", "for", "individual", "beneficiary", "deliverTo"}

// subject is the Reference in which the resource says whose it is.
func (s *resource) subject() element.Node {
	if s.kind == "SupplyRequest" {
		if v := extensionValue(s.node, fromR5+"SupplyRequest.deliverFor"); v.Exists() {
			return v
		}
	}
	for _, name := range subjectElements {
		if v := s.node.Get(name); v.Kind() == element.Object {
			return v
		}
	}
	if s.kind == "Appointment" {
		for _, p := range s.node.Get("participant").Each() {
			if ref := p.Get("actor"); strings.HasPrefix(typeIn(ref.Get("reference").Text()), "Patient") || ref.Get("type").Text() == "Patient" {
				return ref
			}
		}
	}
	return element.Node{}
}

// personOf is the patient a resource belongs to, nil when it names none.
func (r *reader) personOf(s *resource) *person {
	if s.kind == "Patient" {
		return r.people[s]
	}
	if s.kind == "Appointment" && !s.subject().Exists() {
		for _, p := range s.node.Get("participant").Each() {
			if t := r.resolve(p.Get("actor"), s); t.resource != nil && t.kind == "Patient" {
				return r.people[t.resource]
			}
		}
	}
	return r.personAt(s.subject(), s)
}

// personAt follows a Reference to a patient. One that leads out of the
// document is known by its address or identifier only.
func (r *reader) personAt(ref element.Node, from *resource) *person {
	if !ref.Exists() {
		return nil
	}
	t := r.resolve(ref, from)
	if t.resource != nil {
		if t.kind == "Patient" {
			return r.people[t.resource]
		}
		return nil // a Location, a Group, a Device: nobody's
	}
	key := r.address(ref, from)
	if key == "" {
		key = identifierKey(ref.Get("identifier"))
	}
	if key == "" {
		if key = strings.TrimSpace(ref.Get("display").Text()); key == "" {
			return nil
		}
	}
	if kind := typeIn(ref.Get("reference").Text()); kind != "" && kind != "Patient" {
		return nil
	}
	p := r.elsewhere[key]
	if p == nil {
		p = &person{key: key, ref: ref, from: from}
		r.elsewhere[key] = p
	}
	return p
}

// patientsWithOrders gives the patients that a MedicationRequest belongs to,
// in document order. An order that names no patient stands alone.
func (r *reader) patientsWithOrders() []*person {
	var list []*person
	for _, s := range r.all {
		if s.kind != "MedicationRequest" || r.superseded(s) {
			continue
		}
		p := r.personOf(s)
		if p == nil {
			p = &person{ref: s.node.Get("subject"), from: s}
		}
		if len(p.orders) == 0 {
			list = append(list, p)
		}
		p.orders = append(p.orders, s)
	}
	return list
}

// superseded reports whether the document holds a newer version of the same
// resource. Without a way to tell the newer one, none is.
func (r *reader) superseded(s *resource) bool {
	list := r.versions(s)
	if len(list) < 2 {
		return false
	}
	t := choose(list, "")
	return t.resource != s && !t.disagree
}

// resourcesOf gives what belongs to the patient, in an order that does not
// depend on the document's.
func (r *reader) resourcesOf(p *person) []*resource {
	if r.owned == nil {
		r.owned = map[*person][]*resource{}
		for _, s := range r.sorted {
			for _, one := range append([]*resource{s}, r.contained[s]...) {
				if q := r.personOf(one); q != nil {
					r.owned[q] = append(r.owned[q], one)
				}
			}
		}
	}
	return r.owned[p]
}
