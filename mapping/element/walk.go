package element

import "iter"

// All is Each without a list.
func (n Node) All() iter.Seq[Node] {
	return func(yield func(Node) bool) {
		if n.Kind() != Array {
			if n.Exists() {
				yield(n)
			}
			return
		}
		for c := n.firstChild(); c.Exists(); c = c.sibling() {
			if !yield(c) {
				return
			}
		}
	}
}

// Within gives the value and everything in it, in document order.
func (n Node) Within() iter.Seq[Node] {
	return func(yield func(Node) bool) {
		if n.doc == nil {
			return
		}
		end := n.node().end
		for at := n.at; int(at) < len(n.doc.nodes) && n.doc.nodes[at].start < end; at++ {
			if !yield(Node{n.doc, at}) {
				return
			}
		}
	}
}

// Size is the length of the value in bytes as received.
func (n Node) Size() int {
	if n.doc == nil {
		return 0
	}
	return int(n.node().end - n.node().start)
}
