package element

// ReadAgain reads what was accepted or written by this package before, one
// line of JSON without white space: the tree of ReadLine, in half of the
// time, since nothing is judged. What turns out to be another text, or to be
// beyond a limit, is read by ReadLine.
func ReadAgain(data []byte, line int) *Document {
	doc, _ := again(data, line, nil)
	return doc
}

// Again reads again, one document after the other, in the same memory. The
// zero value is ready. It is for one goroutine.
type Again struct{ nodes []node }

// Read is ReadAgain. The document holds until the next is read; texts taken
// from it stay.
func (a *Again) Read(data []byte, line int) *Document {
	doc, nodes := again(data, line, a.nodes[:0])
	a.nodes = nodes
	return doc
}

// again gives the list of nodes that it filled, too.
func again(data []byte, line int, nodes []node) (*Document, []node) {
	limit := Limit{Bytes: MostLine}.withDefaults()
	if len(data) <= limit.Bytes {
		d := &Document{text: string(data), line: max(line, 1) - 1}
		if cap(nodes) == 0 {
			nodes = make([]node, 0, expectedNodes(d.text, limit))
		}
		r := rereader{text: d.text, limit: limit, nodes: nodes}
		whole := r.value(node{parent: -1}, 0) && r.at == len(r.text)
		if nodes = r.nodes; whole {
			d.nodes = r.nodes
			return d, nodes
		}
	}
	doc, _ := ReadLine(data, Limit{}, line)
	return doc, nodes
}

// rereader fills the tree. Its methods are false where the text is not as
// expected.
type rereader struct {
	text  string
	at    int
	limit Limit
	nodes []node
}

func (r *rereader) next() byte {
	if r.at < len(r.text) {
		return r.text[r.at]
	}
	return 0
}

func (r *rereader) take(c byte) bool {
	if r.next() != c {
		return false
	}
	r.at++
	return true
}

// value reads one value of which the name and the parent are known.
func (r *rereader) value(c node, depth int) bool {
	if len(r.nodes) == r.limit.Nodes {
		return false
	}
	place := len(r.nodes)
	c.start = int32(r.at)
	r.nodes = append(r.nodes, c)
	n := &r.nodes[place]
	ok := false
	switch r.next() {
	case '{':
		n.kind = Object
		ok = r.container(place, '}', depth)
		n = &r.nodes[place] // the list may have grown
	case '[':
		n.kind = Array
		ok = r.container(place, ']', depth)
		n = &r.nodes[place]
	case '"':
		n.kind = String
		n.escaped, ok = r.string()
	case 't':
		n.kind, ok = Bool, r.word("true")
	case 'f':
		n.kind, ok = Bool, r.word("false")
	case 'n':
		n.kind, ok = Null, r.word("null")
	default:
		n.kind, ok = Number, r.number()
	}
	n.end = int32(r.at)
	return ok
}

// container reads the values of an object or array.
func (r *rereader) container(place int, end byte, depth int) bool {
	r.at++
	if depth == r.limit.Depth {
		return false
	}
	if r.take(end) {
		return true
	}
	n := r.nodes[place]
	bound := 0
	if n.kind == Array {
		bound = r.limit.elements(r.text[n.name:n.nameEnd])
	}
	last := int32(0)
	for count := int32(0); ; count++ {
		c := node{parent: int32(place), index: count}
		if n.kind == Object {
			c.name = int32(r.at + 1)
			escaped, ok := r.string()
			c.nameEscaped, c.nameEnd = escaped, int32(r.at-1)
			if !ok || !r.take(':') {
				return false
			}
		}
		if bound > 0 && int(count) == bound {
			return false
		}
		at := int32(len(r.nodes))
		if !r.value(c, depth+1) {
			return false
		}
		if last > 0 {
			r.nodes[last].next = at
		}
		last = at
		if r.take(',') {
			continue
		}
		r.nodes[place].count = count + 1
		return r.take(end)
	}
}

func (r *rereader) string() (escaped, ok bool) {
	if !r.take('"') {
		return false, false
	}
	for ; r.at < len(r.text); r.at++ {
		switch c := r.text[r.at]; {
		case c == '"':
			r.at++
			return escaped, true
		case c == '\\':
			escaped = true
			r.at++
		case c < ' ':
			return escaped, false
		}
	}
	return escaped, false
}

func (r *rereader) word(w string) bool {
	if len(r.text)-r.at < len(w) || r.text[r.at:r.at+len(w)] != w {
		return false
	}
	r.at += len(w)
	return true
}

func (r *rereader) number() bool {
	start := r.at
	for c := r.next(); c >= '0' && c <= '9' || c == '-' || c == '+' || c == '.' || c == 'e' || c == 'E'; c = r.next() {
		r.at++
	}
	return r.at > start
}
