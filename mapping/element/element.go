// Package element reads strict JSON into a flat tree in which every value
// keeps its literal, its FHIRPath and its line and column, and writes such
// values back in a fixed order. It knows JSON (RFC 8259, I-JSON of RFC 7493)
// and the JSON form of FHIR R4 (https://hl7.org/fhir/R4/json.html), nothing
// of what a resource means.
package element

import "strings"

// Kind is the JSON kind of a node.
type Kind byte

// The kinds. None is the kind of the zero Node: nothing there.
const (
	None Kind = iota
	Null
	Bool
	Number
	String
	Array
	Object
)

// Document is one JSON document as a flat tree. It holds its own copy of the
// bytes, does not change, and may be read by several goroutines at once.
type Document struct {
	text      string
	nodes     []node // document order; a container comes before its content
	positions positions
	line      int    // lines before the text, when it is a part of a file
	root      string // the name of the root in expressions, "" for its type
}

// node is one value. Offsets are bytes in Document.text. The first child of a
// container stands directly behind it.
type node struct {
	start, end    int32 // the value
	name, nameEnd int32 // member name between its quotes; both 0 when there is none
	parent        int32 // -1 for the root
	next          int32 // next sibling, 0 when last
	index         int32 // among its siblings, from 0
	count         int32 // children
	kind          Kind
	escaped       bool // the string has a backslash
	nameEscaped   bool
	open          bool // reading stopped inside
}

// Node is one place in the tree; the zero Node is "nothing there", and every
// method of it answers nothing.
type Node struct {
	doc *Document
	at  int32
}

// Root is the document's value; the zero Node when nothing could be read.
func (d *Document) Root() Node {
	if d == nil || len(d.nodes) == 0 {
		return Node{}
	}
	return Node{d, 0}
}

// Size is the number of nodes.
func (d *Document) Size() int {
	if d == nil {
		return 0
	}
	return len(d.nodes)
}

func (n Node) node() *node { return &n.doc.nodes[n.at] }

// Exists says whether there is anything, be it only a null.
func (n Node) Exists() bool { return n.doc != nil }

// Kind is the JSON kind, None for the zero Node.
func (n Node) Kind() Kind {
	if n.doc == nil {
		return None
	}
	return n.node().kind
}

// Len is the number of elements of an array or members of an object.
func (n Node) Len() int {
	if n.doc == nil {
		return 0
	}
	return int(n.node().count)
}

func (n Node) first() (int32, bool) {
	if n.doc == nil || n.node().count == 0 {
		return 0, false
	}
	return n.at + 1, true
}

// Get is the member of that name, the first one should the document have
// several (which Read reports).
func (n Node) Get(name string) Node {
	at, ok := n.first()
	if !ok || n.node().kind != Object {
		return Node{}
	}
	for {
		c := &n.doc.nodes[at]
		if c.nameEscaped && n.doc.nameOf(c) == name || n.doc.text[c.name:c.nameEnd] == name {
			return Node{n.doc, at}
		}
		if at = c.next; at == 0 {
			return Node{}
		}
	}
}

// At is the element at index i, counted from 0.
func (n Node) At(i int) Node {
	at, ok := n.first()
	if !ok || n.node().kind != Array || i < 0 || i >= n.Len() {
		return Node{}
	}
	for ; i > 0; i-- {
		at = n.doc.nodes[at].next
	}
	return Node{n.doc, at}
}

// Each gives the elements of an array, padding nulls included; a lone object
// or value gives itself once; absent gives none.
func (n Node) Each() []Node {
	if n.doc == nil {
		return nil
	}
	if n.node().kind == Array {
		return n.children()
	}
	return []Node{n}
}

// Members gives the members of an object in document order.
func (n Node) Members() []Node {
	if n.Kind() != Object {
		return nil
	}
	return n.children()
}

func (n Node) children() []Node {
	at, ok := n.first()
	if !ok {
		return nil
	}
	list := make([]Node, 0, n.node().count)
	for {
		list = append(list, Node{n.doc, at})
		if at = n.doc.nodes[at].next; at == 0 {
			return list
		}
	}
}

// Name is the member's name, "" for array elements and the root.
func (n Node) Name() string {
	if n.doc == nil {
		return ""
	}
	return n.doc.nameOf(n.node())
}

func (d *Document) nameOf(c *node) string {
	if c.nameEscaped {
		return unquote(d.text[c.name-1 : c.nameEnd+1])
	}
	return d.text[c.name:c.nameEnd]
}

// Parent is the array or object the node stands in.
func (n Node) Parent() Node {
	if n.doc == nil || n.node().parent < 0 {
		return Node{}
	}
	return Node{n.doc, n.node().parent}
}

// Choice finds the member of a choice element, `value[x]` by its stem
// "value", and gives the type suffix with it: "Quantity". Of two (which R4
// forbids) the first in document order is given. The primitive's companion
// `_valueString` alone is not found.
func (n Node) Choice(stem string) (Node, string) {
	at, ok := n.first()
	if !ok || n.node().kind != Object {
		return Node{}, ""
	}
	for {
		c := &n.doc.nodes[at]
		suffix, found := strings.CutPrefix(n.doc.nameOf(c), stem)
		if found && suffix != "" && suffix[0] >= 'A' && suffix[0] <= 'Z' {
			return Node{n.doc, at}, suffix
		}
		if at = c.next; at == 0 {
			return Node{}, ""
		}
	}
}

// Literal is a number or boolean as written, or a string without its quotes
// and escapes. It is "" for null, arrays, objects and nothing.
func (n Node) Literal() string {
	switch n.Kind() {
	case Number, Bool:
		return n.doc.text[n.node().start:n.node().end]
	case String:
		return n.Text()
	}
	return ""
}

// Text is a string's value, "" for every other kind.
func (n Node) Text() string {
	if n.Kind() != String {
		return ""
	}
	c := n.node()
	if c.escaped {
		return unquote(n.doc.text[c.start:c.end])
	}
	return n.doc.text[c.start+1 : c.end-1]
}

// Raw is a copy of the value's bytes as received. Where reading stopped
// inside the value it is what there is of it.
func (n Node) Raw() []byte {
	if n.doc == nil {
		return nil
	}
	return []byte(n.doc.text[n.node().start:n.node().end])
}
