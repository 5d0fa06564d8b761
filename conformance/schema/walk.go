package schema

import (
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
)

// aspect is what a walk looks for.
type aspect byte

const (
	structures aspect = 1 << iota
	invariants
	references
)

// mostFaults bounds the answer to a hostile document: what comes after them
// is not listed, and the last finding says so.
const mostFaults = 1_000

// walker goes through a document once with the table beside it.
type walker struct {
	what  aspect
	table *table
	out   []finding.Finding
	scope []*scope // the resources we are inside of, outermost first
	loops []link   // references that could lead round
}

// scope is one resource.
type scope struct {
	node      element.Node
	name      string
	contained bool
	local     map[string]element.Node // of a container: contained resources by id
	addresses map[string]string       // of a Bundle: resource type by fullUrl
	ties      []link                  // of a container: references among it and what it contains
}

func newWalker(what aspect) *walker { return &walker{what: what, table: r4()} }

func (w *walker) document(root element.Node) {
	if root.Kind() != element.Object {
		return // said when the document was read
	}
	w.asResource(root, true)
	if w.what&references != 0 {
		w.refuseLoops(w.loops, "an order that follows from itself",
			"orders that follow each other without a loop", "priorPrescription and basedOn lead round in a loop, so no order is the last one",
			"Sender: let only the newer order name the older one.")
	}
}

func (w *walker) full() bool { return len(w.out) >= mostFaults }

// add notes a finding. Detail may be logged and holds nothing of the
// document; observed is what stands there, shown as far as it cannot be
// about a person.
func (w *walker) add(c finding.Code, p finding.Place, observed, expected, remedy, detail string) {
	if w.full() {
		return
	}
	if len(w.out) == mostFaults-1 {
		c, observed, expected = "document-limit", "more than 999 faults", "a document of FHIR R4"
		remedy, detail = "Sender: check that the document is FHIR R4 at all; the faults behind this one are not listed.", "too many faults to list"
	}
	w.out = append(w.out, finding.Finding{Code: c, Place: p, Observed: observed, Expected: expected, Remedy: remedy, Detail: detail, Diagnostic: detail})
}

// asResource judges an object that must be a resource: the root, the resource
// of an entry, a contained one.
func (w *walker) asResource(n element.Node, root bool) {
	if n.Kind() != element.Object {
		w.notAResource(n)
		return
	}
	name := n.Get("resourceType").Text()
	k := w.table.resourceKind(name)
	if k == nil {
		if w.what&structures != 0 {
			w.unknownResource(n, name)
		}
		return
	}
	s := &scope{node: n, name: name, contained: !root && n.Parent().Name() == "contained"}
	w.scope = append(w.scope, s)
	if w.what&structures != 0 {
		w.profiles(n)
	}
	w.object(n, k, k.top, "")
	if w.what&invariants != 0 {
		w.breaks(n, name)
		if !s.contained {
			w.contained(n)
		}
	}
	if w.what&references != 0 {
		w.refuseLoops(s.ties, "a contained resource that refers back to what refers to it",
			"references among contained resources without a loop", "references among a resource and what it contains lead round in a loop",
			"Sender: remove the reference that leads back.")
		if name == "MedicationRequest" {
			w.follows(n)
		}
	}
	w.scope = w.scope[:len(w.scope)-1]
}

// object judges the members of an object whose children stand in a level.
func (w *walker) object(n element.Node, k *kind, l *level, path string) {
	var seen uint64
	members := n.Members()
	for _, m := range members {
		if w.full() {
			return
		}
		name := m.Name()
		if name == "resourceType" && path == "" && k.resource {
			continue
		}
		side := len(name) > 1 && name[0] == '_'
		plain := name
		if side {
			plain = name[1:]
		}
		c := l.byName[plain]
		if c == nil {
			w.unknownElement(m, plain, k, l, path)
			continue
		}
		if !w.mayStand(members, m, c, plain, side) {
			continue
		}
		seen |= c.def.bit
		if side {
			w.side(n, m, plain)
		} else {
			w.member(m, c, k)
		}
	}
	if w.what&structures == 0 {
		return
	}
	for _, d := range l.list {
		if d.min > 0 && seen&d.bit == 0 {
			w.missing(n, d)
		}
	}
}

// member judges an element, or each of a repeating one.
func (w *walker) member(m element.Node, c *child, k *kind) {
	if m.Kind() != element.Array {
		if c.def.many {
			w.notAnArray(m)
			return
		}
		w.value(m, c, k)
		return
	}
	if !c.def.many {
		w.notSingle(m)
		return
	}
	for _, v := range m.Each() {
		if w.full() {
			return
		}
		w.value(v, c, k)
	}
}

func (w *walker) value(v element.Node, c *child, k *kind) {
	switch {
	case v.Kind() == element.Null: // padding of primitive arrays, judged when the document was read
	case c.format.known():
		if w.what&structures != 0 {
			w.primitive(v, c)
		}
	case c.typ == "Resource":
		w.asResource(v, false)
	case v.Kind() != element.Object:
		w.notAnObject(v, c)
	default:
		w.complex(v, c, k)
	}
}

func (w *walker) complex(v element.Node, c *child, k *kind) {
	inner, l := c.content(k)
	if l == nil {
		return
	}
	name, path := inner.name, ""
	if c.def.nested {
		path = c.def.path
		name += "." + path
	}
	w.object(v, inner, l, path)
	if w.what&invariants != 0 {
		w.breaks(v, name)
	}
	if w.what&references != 0 {
		switch {
		case c.typ == "Reference":
			w.reference(v, c)
		case name == "Bundle.entry":
			w.entry(v)
		}
	}
}

// side judges what stands beside a primitive: `_status`, an object or an
// array of objects with id and extensions.
func (w *walker) side(n, m element.Node, plain string) {
	alone := !n.Get(plain).Exists()
	for _, v := range m.Each() {
		if v.Kind() != element.Object {
			continue // null is padding; anything else was said when the document was read
		}
		w.object(v, w.table.kinds["Element"](), w.table.kinds["Element"]().top, "")
		if alone && w.what&invariants != 0 && !v.Get("extension").Exists() {
			w.broken(v, "ele-1", "a value, or an extension that says why there is none")
		}
	}
}
