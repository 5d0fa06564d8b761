package r4

import (
	"slices"
	"strings"

	"weir.example/weir/mapping/element"
)

// unitePeople finds the Patient resources that describe one person: they
// share an identifier (system and value), or one links to the other, or one
// is a contained copy under the same name. Resemblance alone never unites
// two patients that stand in the document on their own: namesakes exist.
func (r *reader) unitePeople() {
	var patients []*resource
	for _, s := range r.sorted {
		if s.kind == "Patient" {
			patients = append(patients, s)
		}
		for _, c := range r.contained[s] {
			if c.kind == "Patient" {
				patients = append(patients, c)
			}
		}
	}
	byIdentifier := map[string]*resource{}
	byFamily := map[string][]*resource{} // entries only
	for _, s := range patients {
		r.people[s] = &person{resources: []*resource{s}}
		if family := folded(patientName(s.node).Get("family").Text()); family != "" && s.host == nil {
			byFamily[family] = append(byFamily[family], s)
		}
		for _, id := range s.node.Get("identifier").Each() {
			key := identifierKey(id)
			if key == "" || strings.HasPrefix(key, "|") {
				continue
			}
			if other := byIdentifier[key]; other != nil {
				r.unite(s, other)
			} else {
				byIdentifier[key] = s
			}
		}
	}
	for _, s := range patients {
		for _, link := range s.node.Get("link").Each() {
			if t := r.resolve(link.Get("other"), s); t.resource != nil && t.kind == "Patient" {
				r.unite(s, t.resource)
			}
		}
		if s.host != nil {
			r.uniteCopy(s, byFamily)
		}
	}
	for _, s := range patients {
		slices.SortStableFunc(r.people[s].resources, comparePatients)
	}
}

// uniteCopy joins a contained Patient without a contradicting identifier to
// the only entry of the same name.
func (r *reader) uniteCopy(s *resource, byFamily map[string][]*resource) {
	var same []*resource
	for _, other := range byFamily[folded(patientName(s.node).Get("family").Text())] {
		if sameName(s.node, other.node) && !contradictingIdentifier(s.node, other.node) {
			same = append(same, other)
		}
	}
	if len(same) == 1 {
		r.unite(s, same[0])
	}
}

func (r *reader) unite(a, b *resource) {
	into, from := r.people[b], r.people[a]
	if into == nil || from == nil || into == from {
		return
	}
	for _, s := range from.resources {
		r.people[s] = into
		into.resources = append(into.resources, s)
	}
}

// comparePatients puts the record to print from first: in use before
// replaced, entries before contained copies, newest first.
func comparePatients(a, b *resource) int {
	for _, is := range []func(*resource) bool{isReplaced, func(s *resource) bool { return s.host != nil }} {
		if is(a) != is(b) {
			if is(a) {
				return 1
			}
			return -1
		}
	}
	if c := compareVersions(b, a); c != 0 {
		return c
	}
	return compareResources(a, b)
}

func isReplaced(s *resource) bool {
	for _, link := range s.node.Get("link").Each() {
		if link.Get("type").Text() == "replaced-by" {
			return true
		}
	}
	return false
}

// contradictingIdentifier reports whether both have a number of one system
// and the numbers differ.
func contradictingIdentifier(a, b element.Node) bool {
	for _, x := range a.Get("identifier").Each() {
		for _, y := range b.Get("identifier").Each() {
			if s := x.Get("system").Text(); s != "" && s == y.Get("system").Text() && x.Get("value").Text() != y.Get("value").Text() {
				return true
			}
		}
	}
	return false
}
