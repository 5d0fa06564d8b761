package schema

import (
	"strings"
	"time"

	"weir.example/weir/mapping/element"
)

// bundleRules are bdl-1 to bdl-12 of https://hl7.org/fhir/R4/bundle.html
// (bdl-6, either entry content or request, belongs to the entry).
var bundleRules = []invariant{
	{"bdl-1", "total only in a searchset or history", only("total", "searchset", "history")},
	{"bdl-2", "entry.search only in a searchset", onlyEntry("search", "searchset")},
	{"bdl-3", "entry.request in every entry of a batch, transaction or history, and in no other Bundle", requests},
	{"bdl-4", "entry.response in every entry of a response or history, and in no other Bundle", responses},
	{"bdl-7", "each fullUrl once, unless the versions differ", repeatedURL},
	{"bdl-8", "a fullUrl without a version", versionedURL},
	{"bdl-9", "identifier in a document", documentIdentifier},
	{"bdl-11", "a Composition first in a document", first("document", "Composition")},
	{"bdl-12", "a MessageHeader first in a message", first("message", "MessageHeader")},
	{"bdl-5", "a resource, request or response in every entry", emptyEntry},
}

func bundleType(n element.Node) string { return n.Get("type").Text() }

func in(s string, list ...string) bool {
	for _, x := range list {
		if x == s {
			return true
		}
	}
	return false
}

func only(name string, types ...string) func(element.Node, *walker) element.Node {
	return func(n element.Node, _ *walker) element.Node {
		if n.Get(name).Exists() && !in(bundleType(n), types...) {
			return n.Get(name)
		}
		return element.Node{}
	}
}

func onlyEntry(name string, types ...string) func(element.Node, *walker) element.Node {
	return func(n element.Node, _ *walker) element.Node {
		for _, e := range n.Get("entry").Each() {
			if e.Get(name).Exists() && !in(bundleType(n), types...) {
				return e.Get(name)
			}
		}
		return element.Node{}
	}
}

func paired(name string, types ...string) func(element.Node, *walker) element.Node {
	return func(n element.Node, _ *walker) element.Node {
		wanted := in(bundleType(n), types...)
		for _, e := range n.Get("entry").Each() {
			if at := e.Get(name); at.Exists() != wanted {
				if at.Exists() {
					return at
				}
				return e
			}
		}
		return element.Node{}
	}
}

var (
	requests  = paired("request", "batch", "transaction", "history")
	responses = paired("response", "batch-response", "transaction-response", "history")
)

func repeatedURL(n element.Node, _ *walker) element.Node {
	if bundleType(n) == "history" {
		return element.Node{}
	}
	seen := map[string]bool{}
	for _, e := range n.Get("entry").Each() {
		url := e.Get("fullUrl")
		key := url.Text() + "|" + e.Get("resource").Get("meta").Get("versionId").Text()
		if url.Exists() && seen[key] {
			return url
		}
		seen[key] = true
	}
	return element.Node{}
}

func versionedURL(n element.Node, _ *walker) element.Node {
	for _, e := range n.Get("entry").Each() {
		if strings.Contains(e.Get("fullUrl").Text(), "/_history/") {
			return e.Get("fullUrl")
		}
	}
	return element.Node{}
}

func documentIdentifier(n element.Node, _ *walker) element.Node {
	if bundleType(n) == "document" && !n.Get("identifier").Exists() {
		return n
	}
	return element.Node{}
}

func first(typ, resource string) func(element.Node, *walker) element.Node {
	return func(n element.Node, _ *walker) element.Node {
		if bundleType(n) != typ {
			return element.Node{}
		}
		e := n.Get("entry").At(0)
		if !e.Exists() {
			return n
		}
		if e.Get("resource").Get("resourceType").Text() != resource {
			return e
		}
		return element.Node{}
	}
}

func emptyEntry(n element.Node, _ *walker) element.Node {
	for _, e := range n.Get("entry").Each() {
		if !e.Get("resource").Exists() && !e.Get("request").Exists() && !e.Get("response").Exists() {
			return e
		}
	}
	return element.Node{}
}

func momentOf(text string) (time.Time, bool) {
	if len(text) < 19 {
		return time.Time{}, false
	}
	t, err := time.Parse(time.RFC3339Nano, text)
	return t, err == nil
}

// domain checks dom-2 to dom-5: contained resources do not nest, are
// referenced, and carry no version of their own.
func (w *walker) domain(n element.Node) {
	contained := n.Get("contained").Each()
	if len(contained) == 0 {
		return
	}
	used, ids := map[string]bool{}, map[string]bool{}
	collect(n, used)
	for _, c := range contained {
		broken := func(at element.Node, key, expected string) {
			w.fault("document-invariant", at, "breaks "+key, expected, "invariant "+key+" of FHIR R4 is broken: "+expected)
		}
		id := c.Get("id").Text()
		switch {
		case c.Get("contained").Exists():
			broken(c.Get("contained"), "dom-2", "no contained resource inside a contained one")
		case id == "":
			broken(c, "dom-3", "an id, so that the container can refer to it")
		case ids[id]:
			broken(c.Get("id"), "dom-3", "an id of its own for every contained resource")
		case !used["#"+id] && !used["back:"+id]:
			broken(c, "dom-3", "a reference to the contained resource from its container")
		case c.Get("meta").Get("versionId").Exists() || c.Get("meta").Get("lastUpdated").Exists():
			broken(c.Get("meta"), "dom-4", "no version or time of change on a contained resource")
		case c.Get("meta").Get("security").Exists():
			broken(c.Get("meta"), "dom-5", "no security label on a contained resource")
		}
		ids[id] = true
	}
}

// collect gathers the local references of a resource; a contained resource
// that points back at its container ("#") is referenced too.
func collect(n element.Node, used map[string]bool) {
	for _, m := range n.Members() {
		if m.Kind() == element.String && in(m.Name(), "reference", "valueUri", "valueUrl", "valueCanonical") && strings.HasPrefix(m.Text(), "#") {
			used[m.Text()] = true
			if m.Text() == "#" {
				for p := m; p.Exists(); p = p.Parent() {
					if p.Get("resourceType").Exists() {
						used["back:"+p.Get("id").Text()] = true
						break
					}
				}
			}
			continue
		}
		for _, v := range m.Each() {
			if v.Kind() == element.Object {
				collect(v, used)
			}
		}
	}
}
