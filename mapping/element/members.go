package element

import (
	"fmt"
	"strings"
)

// few is the number of members up to which comparing all pairs is cheaper
// than a map. Resources have few; only hostile documents have many.
const few = 32

// members finds duplicate names and judges arrays with their companions.
func (in *inspector) members(object int32) {
	if in.d.nodes[object].count == 0 {
		return
	}
	var known map[string]int32
	if in.d.nodes[object].count > few {
		known = make(map[string]int32, in.d.nodes[object].count)
	}
	for at := object + 1; at != 0; at = in.d.nodes[at].next {
		c := &in.d.nodes[at]
		name := in.d.nameOf(c)
		if name == "" {
			in.f.add(fault{code: structure, offset: int(c.name) - 1, at: object, what: namelessMember})
		}
		first, twice := in.earlier(object, at, name, known)
		if twice {
			in.duplicate(first, at)
		} else if known != nil {
			known[name] = at
		}
	}
	for at := object + 1; at != 0; at = in.d.nodes[at].next {
		in.pair(object, at, known)
	}
}

// earlier finds a member of that name before the one given (0: among all).
func (in *inspector) earlier(object, before int32, name string, known map[string]int32) (int32, bool) {
	if known != nil {
		at, ok := known[name]
		return at, ok
	}
	for at := object + 1; at != before && at != 0; at = in.d.nodes[at].next {
		if c := &in.d.nodes[at]; c.nameEnd-c.name == int32(len(name)) || c.nameEscaped {
			if in.d.nameOf(c) == name {
				return at, true
			}
		}
	}
	return 0, false
}

// duplicate reports the second of two members with both places.
func (in *inspector) duplicate(first, second int32) {
	if in.f.full() { // spare the work of finding places
		in.f.more++
		return
	}
	a, b := &in.d.nodes[first], &in.d.nodes[second]
	l1, c1 := in.d.position(int(a.name) - 1)
	l2, c2 := in.d.position(int(b.name) - 1)
	w := duplicateName
	w.detail = fmt.Sprintf("%s: first at line %d column %d, again at line %d column %d", w.detail, l1, c1, l2, c2)
	w.observed = in.d.shown(first) + ", then " + in.d.shown(second)
	w.evidence = Node{in.d, first}.Expression()
	in.f.add(fault{code: syntax, offset: int(b.name) - 1, at: second, what: w})
}

// pair judges an array of primitives together with the array of their ids and
// extensions: `given` with `_given`. Both have the same length, and a null in
// one stands opposite something in the other.
func (in *inspector) pair(object, at int32, known map[string]int32) {
	c := &in.d.nodes[at]
	name := in.d.nameOf(c)
	companion := strings.HasPrefix(name, "_")
	if companion && !in.isExtension(at) {
		in.add(structure, at, notAnExtension)
	}
	if c.kind != Array || c.open {
		return
	}
	list := Node{in.d, at}
	if !companion && !holdsNull(list) {
		return
	}
	other := "_" + name
	if companion {
		other = name[1:]
	}
	partner := Node{}
	if found, ok := in.earlier(object, 0, other, known); ok && in.d.nodes[found].kind == Array {
		partner = Node{in.d, found}
	}
	if !partner.Exists() && in.d.nodes[object].open || partner.Exists() && partner.node().open {
		return // the counterpart may stand behind the place where reading stopped
	}
	if companion && partner.Exists() && partner.Len() != list.Len() {
		in.add(structure, at, unequalArrays(partner.Len(), list.Len()))
		return
	}
	in.padding(list, partner, companion)
}

// padding reports each null without a counterpart, once for both arrays.
func (in *inspector) padding(list, partner Node, companion bool) {
	opposite := partner.firstChild()
	for e := list.firstChild(); e.Exists(); e = e.sibling() {
		if e.Kind() == Null && (opposite.Kind() == None || opposite.Kind() == Null && !companion) {
			in.add(structure, e.at, strayNull)
		}
		opposite = opposite.sibling()
	}
}

// isExtension says whether a member with a leading underscore has the only
// form it may have: an object, or an array of objects and nulls. An empty one
// is reported as such.
func (in *inspector) isExtension(at int32) bool {
	n := Node{in.d, at}
	switch n.Kind() {
	case Object, Null:
		return true
	case Array:
		for e := n.firstChild(); e.Exists(); e = e.sibling() {
			if e.Kind() != Object && e.Kind() != Null {
				return false
			}
		}
		return true
	}
	return false
}

func holdsNull(list Node) bool {
	for e := list.firstChild(); e.Exists(); e = e.sibling() {
		if e.Kind() == Null {
			return true
		}
	}
	return false
}

// firstChild is the first child, the zero Node when there is none.
func (n Node) firstChild() Node {
	if at, ok := n.first(); ok {
		return Node{n.doc, at}
	}
	return Node{}
}

// sibling is the next child of the same parent.
func (n Node) sibling() Node {
	if n.doc == nil || n.node().next == 0 {
		return Node{}
	}
	return Node{n.doc, n.node().next}
}
