package r4

import (
	"strings"
	"time"

	"weir.example/weir/mapping/element"
)

// Member is what is remembered of one resource of a set (a Bulk Data folder)
// while its text is put aside: enough to know with which others it must be
// read, and nothing that keeps the text in memory.
type Member struct {
	Type, ID, Version string
	Updated           time.Time
	Sum               [32]byte // of the line as received
	Failed            bool     // the line could not be read; what is known of it may be in part

	owned   bool     // says whose it is, or is a Patient
	ties    []string // keys it shares with whatever belongs to the same patient
	name    string   // of a Patient: the key that a contained copy may be joined by
	points  []string // keys of what it refers to
	carries []string // its identifiers
}

// Owned reports whether the resource says whose it is.
func (m Member) Owned() bool { return m.owned }

// Keys of the index: a resource by Type/id, an identifier, a name, a display.
const (
	byPlace      = "r:"
	byIdentifier = "i:"
	byName       = "n:"
	byDisplay    = "d:"
)

// Remember takes from a resource what Group needs. Of a document that could
// be read in part only it takes what there is.
func Remember(d *element.Document) Member {
	n := d.Root()
	kind := n.Get("resourceType").Text()
	s := newResource(n, kind)
	m := Member{Type: strings.Clone(kind), ID: strings.Clone(s.id), Version: strings.Clone(s.version), Updated: s.updated.Time}
	for _, id := range n.Get("identifier").Each() {
		if key := identifierKey(id); key != "" {
			m.carries = append(m.carries, byIdentifier+key)
		}
	}
	m.points = pointsIn(n, true, nil)
	m.subjectOf(s)
	for _, inner := range n.Get("contained").Each() {
		if inner.Get("resourceType").Text() == "Patient" {
			m.copyOf(inner)
		}
	}
	return m
}

// subjectOf settles whose the resource is. A resource about a place, a group
// or a device is nobody's, as for a Bundle.
func (m *Member) subjectOf(s *resource) {
	switch s.kind {
	case "Patient":
		m.owned = true
		m.name = nameKey(s.node)
		m.identify(s.node)
		for _, link := range s.node.Get("link").Each() {
			m.tie(link.Get("other"))
		}
	case "Appointment":
		for _, p := range s.node.Get("participant").Each() {
			if actor := p.Get("actor"); typeIn(actor.Get("reference").Text()) == "Patient" {
				m.tie(actor)
			}
		}
		m.tie(s.subject())
	default:
		m.tie(s.subject())
		m.owned = m.owned || s.kind == "MedicationRequest"
	}
}

// tie makes the resource belong to whom the reference names.
func (m *Member) tie(ref element.Node) {
	literal, _, _ := strings.Cut(ref.Get("reference").Text(), "/_history/")
	if kind := typeIn(literal); kind != "" && kind != "Patient" {
		return
	}
	key := identifierKey(ref.Get("identifier"))
	display := strings.TrimSpace(ref.Get("display").Text())
	switch {
	case literal == "" && key == "" && display == "":
		return
	case literal != "" && literal[0] != '#':
		m.ties = append(m.ties, byPlace+literal)
	case literal == "" && key == "":
		m.ties = append(m.ties, byDisplay+display)
	}
	if key != "" {
		m.ties = append(m.ties, byIdentifier+key)
	}
	m.owned = true
}

// identify ties by identifiers with a system, which is what unites Patients.
func (m *Member) identify(patient element.Node) {
	for _, id := range patient.Get("identifier").Each() {
		if key := identifierKey(id); key != "" && !strings.HasPrefix(key, "|") {
			m.ties = append(m.ties, byIdentifier+key)
		}
	}
}

// copyOf ties a contained Patient to every entry it could be a copy of. Which
// one it is, if any, is decided when they are read together.
func (m *Member) copyOf(patient element.Node) {
	m.identify(patient)
	if key := nameKey(patient); key != "" {
		m.ties = append(m.ties, byName+key)
	}
}

// nameKey is equal for all patients whom sameName could take for one.
func nameKey(patient element.Node) string {
	name := patientName(patient)
	family, given := folded(name.Get("family").Text()), folded(name.Get("given").At(0).Text())
	if family == "" {
		return ""
	}
	first := ""
	for _, r := range given {
		first = string(r)
		break
	}
	return family + "|" + first
}

// pointsIn lists the keys of everything a resource refers to, contained
// resources included.
func pointsIn(n element.Node, root bool, list []string) []string {
	if n.Kind() == element.Object && !root {
		if ref := n.Get("reference"); ref.Kind() == element.String && ref.Text() != "" && ref.Text()[0] != '#' {
			plain, _, _ := strings.Cut(ref.Text(), "/_history/")
			list = append(list, byPlace+plain)
		}
		if key := identifierKey(n.Get("identifier")); key != "" {
			list = append(list, byIdentifier+key)
		}
	}
	switch n.Kind() {
	case element.Object:
		for _, m := range n.Members() {
			list = pointsIn(m, false, list)
		}
	case element.Array:
		for _, e := range n.Each() {
			list = pointsIn(e, false, list)
		}
	}
	return list
}
