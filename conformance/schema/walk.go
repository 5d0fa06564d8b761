package schema

import (
	"fmt"
	"slices"
	"strings"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
)

// walker goes through a document once with the table beside it.
type walker struct {
	out      []finding.Finding
	resource []element.Node // the resources we are inside of, outermost first
}

// Tables judges a document by the R4 definitions: elements, cardinality,
// formats, required codes, invariants and references.
func Tables(d *element.Document) []finding.Finding {
	w := &walker{}
	w.asResource(d.Root())
	finding.Sort(w.out)
	return w.out
}

func (w *walker) fault(code finding.Code, n element.Node, observed, expected, detail string) {
	w.out = append(w.out, finding.Finding{Code: code, Place: n.Place(), Observed: observed, Expected: expected, Detail: detail})
}

func (w *walker) asResource(n element.Node) {
	if n.Kind() != element.Object {
		w.fault("document-structure", n, "no object", "a resource", "a resource must be a JSON object")
		return
	}
	name := n.Get("resourceType").Text()
	k := r4()[name]
	if k == nil || k.kind != "resource" {
		w.unknownResource(n, name)
		return
	}
	w.resource = append(w.resource, n)
	w.object(n, k, "")
	w.invariants(n, name)
	w.resource = w.resource[:len(w.resource)-1]
}

func (w *walker) unknownResource(n element.Node, name string) {
	at, expected := n.Get("resourceType"), "a resource type of FHIR R4"
	if !at.Exists() {
		w.fault("document-structure", n, "no resourceType", expected, "a resource has no resourceType")
		return
	}
	var names []string
	for k, v := range r4() {
		if v.kind == "resource" {
			names = append(names, k)
		}
	}
	if near := nearest(name, names); near != "" {
		expected += "; did the sender mean " + near + "?"
	}
	w.fault("document-structure", at, fmt.Sprintf("%.60q", name), expected, "the resourceType is not one of FHIR R4")
}

// object checks the members of an object that stands at a path of a type.
func (w *walker) object(n element.Node, k *kind, at string) {
	l := k.below[at]
	if l == nil {
		l = &level{}
	}
	present := map[*definition]element.Node{}
	for _, m := range n.Members() {
		name := m.Name()
		if name == "resourceType" && at == "" && k.kind == "resource" {
			continue
		}
		plain, primitiveSide := strings.CutPrefix(name, "_")
		c, ok := l.byName[plain]
		if !ok {
			w.unknownElement(m, name, l, k, at)
			continue
		}
		if primitiveSide && !isPrimitive(c.typ) {
			w.fault("document-structure", m, "an extension beside an element that is no primitive", "the extension inside the element", "only primitive elements have a member with an underscore")
			continue
		}
		if other, twice := present[c.def]; twice && c.def.choice && strings.TrimPrefix(other.Name(), "_") != plain {
			w.fault("document-structure", m, "two kinds of value for "+c.def.name+"[x]", "one of them", "an element with a choice of types is given twice")
			continue
		}
		present[c.def] = m
		if primitiveSide {
			w.primitiveSide(m, c)
			continue
		}
		w.member(m, c, k)
	}
	for _, d := range l.list {
		if _, ok := present[d]; d.min > 0 && !ok {
			p := n.Place()
			p.Expression += "." + d.name
			w.out = append(w.out, finding.Finding{Code: "document-cardinality", Place: p, Observed: "nothing sent",
				Expected: "the required element " + d.name, Detail: "the required element " + d.name + " is missing"})
		}
	}
}

func (w *walker) unknownElement(m element.Node, name string, l *level, k *kind, at string) {
	var names []string
	for n := range l.byName {
		names = append(names, n)
	}
	expected := "an element that R4 defines in " + strings.TrimSuffix(k.name+"."+at, ".")
	if near := nearest(name, names); near != "" {
		expected += "; did the sender mean " + near + "?"
	}
	detail := "an element that R4 does not define here"
	if slices.Contains([]string{"reported", "informationSource", "renderedDosageInstruction", "effectiveDosePeriod", "device", "statusChanged"}, name) && k.name == "MedicationRequest" {
		detail += "; it is one of FHIR R5"
	}
	w.fault("document-structure", m, fmt.Sprintf("%.60q", name), expected, detail)
}

// member checks one element or each of a repeating one.
func (w *walker) member(m element.Node, c child, k *kind) {
	isArray := m.Kind() == element.Array
	switch {
	case c.def.many && !isArray:
		w.fault("document-structure", m, "one value", "an array: the element may repeat", "an element that may repeat is not an array")
		return
	case !c.def.many && isArray:
		w.fault("document-structure", m, "an array", "one value: the element does not repeat", "an element that does not repeat is an array")
		return
	}
	for _, v := range m.Each() {
		w.value(v, c, k)
	}
}

func (w *walker) value(v element.Node, c child, k *kind) {
	base, _, _ := strings.Cut(c.typ, "(")
	switch {
	case v.Kind() == element.Null: // padding of primitive arrays, checked by the reader
	case base == "Resource":
		w.asResource(v)
	case isPrimitive(base):
		w.primitive(v, base, c.def)
	case v.Kind() != element.Object:
		w.fault("document-structure", v, "a plain value", "an object of type "+base, "a complex element is a plain value")
	default:
		inner, at := descend(k, c)
		if inner == nil {
			return
		}
		w.object(v, inner, at)
		name := inner.name
		if at != "" {
			name += "." + at
		}
		w.invariants(v, name)
		if base == "Reference" {
			w.reference(v, c.typ)
		}
		if base == "SimpleQuantity" || strings.HasSuffix(c.def.path, "doseAndRate.dose[x]") || k.name == "Dosage" && base == "Quantity" {
			if v.Get("comparator").Exists() {
				w.fault("document-invariant", v.Get("comparator"), v.Get("comparator").Text(), "no comparator: the type is SimpleQuantity", "sqty-1: a comparator in a SimpleQuantity")
			}
		}
	}
}

func (w *walker) primitiveSide(m element.Node, c child) {
	for _, v := range m.Each() {
		if v.Kind() == element.Null {
			continue
		}
		if v.Kind() != element.Object {
			w.fault("document-structure", m, "no object", "an object with id or extension", "the member with an underscore is no object")
			return
		}
		w.object(v, r4()["Element"], "")
	}
}

// nearest is the known name at a small distance of what was typed, "" when
// none is near: letters wrong, missing or exchanged, or only case.
func nearest(typed string, names []string) string {
	slices.Sort(names)
	best, least := "", 3
	for _, n := range names {
		if strings.EqualFold(n, typed) {
			return n
		}
		if d := distance(typed, n); d < least && d*3 <= len(n) {
			best, least = n, d
		}
	}
	return best
}

// distance is the number of single-letter edits between two names, counted
// no further than 64 letters.
func distance(a, b string) int {
	a, b = a[:min(len(a), 64)], b[:min(len(b), 64)]
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := 1; i <= len(a); i++ {
		diagonal := row[0]
		row[0] = i
		for j := 1; j <= len(b); j++ {
			cost := 1
			if a[i-1] == b[j-1] {
				cost = 0
			}
			diagonal, row[j] = row[j], min(row[j]+1, row[j-1]+1, diagonal+cost)
		}
	}
	return row[len(b)]
}
