package element

import (
	"cmp"
	"slices"
	"strconv"

	"github.com/go-json-experiment/json/jsontext"
)

// Canonical is the value without white space, with the members of every
// object sorted by name (by their bytes) and numbers by their literals, so
// that equal content gives equal bytes whatever the order and the escapes it
// was sent in. The members named in drop are left out of the outermost object
// only: Canonical(order, "meta") is what the version of an order is hashed
// from. It is not RFC 8785, which would rewrite 1.50 as 1.5.
func Canonical(n Node, drop ...string) []byte {
	if !n.Exists() {
		return nil
	}
	w := writer{out: make([]byte, 0, len(n.doc.text[n.node().start:n.node().end]))}
	w.canonical(n, drop)
	return w.out
}

func (w *writer) canonical(n Node, drop []string) {
	switch n.Kind() {
	case Object:
		members := n.Members()
		slices.SortStableFunc(members, func(a, b Node) int { return cmp.Compare(a.Name(), b.Name()) })
		w.open('{')
		written := 0
		for _, m := range members {
			if slices.Contains(drop, m.Name()) {
				continue
			}
			w.next(written, 0)
			w.name(m.Name())
			w.canonical(m, nil)
			written++
		}
		w.close('}', written, 0)
	case Array:
		w.open('[')
		written := 0
		for c := n.firstChild(); c.Exists(); c = c.sibling() {
			w.next(written, 0)
			w.canonical(c, nil)
			written++
		}
		w.close(']', written, 0)
	default:
		w.node(n, "", 0)
	}
}

func isNumber(s string) bool {
	v := jsontext.Value(s)
	return v.Kind() == jsontext.KindNumber && v.IsValid() && s[0] != ' ' && s[len(s)-1] >= '0' && s[len(s)-1] <= '9'
}

func itoa(n int) string { return strconv.Itoa(n) }
