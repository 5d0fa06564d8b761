package schema

import (
	"strings"

	"weir.example/weir/mapping/element"
)

// contained judges dom-2 to dom-5 of
// https://hl7.org/fhir/R4/domainresource.html: contained resources do not
// nest, are referred to, and carry neither version nor security label. Ids
// that stand twice among them would make a reference ambiguous.
func (w *walker) contained(n element.Node) {
	list := n.Get("contained").Each()
	if len(list) == 0 {
		return
	}
	used, ids := map[string]bool{}, map[string]bool{}
	collect(n, used)
	for _, c := range list {
		id, meta := c.Get("id").Text(), c.Get("meta")
		switch {
		case c.Get("contained").Exists():
			w.broken(c.Get("contained"), "dom-2", "no contained resource inside a contained one")
		case id == "":
			w.broken(c, "dom-3", "an id on a contained resource, so that its container can refer to it")
		case ids[id]:
			w.broken(c.Get("id"), "dom-3", "an id of its own for each contained resource")
		case !used["#"+id] && !refersBack(c):
			w.broken(c, "dom-3", "a reference to the contained resource from its container")
		}
		ids[id] = true
		if at := meta.Get("versionId"); at.Exists() {
			w.broken(at, "dom-4", "no version on a contained resource")
		} else if at := meta.Get("lastUpdated"); at.Exists() {
			w.broken(at, "dom-4", "no time of change on a contained resource")
		}
		if at := meta.Get("security"); at.Exists() {
			w.broken(at, "dom-5", "no security label on a contained resource")
		}
	}
}

// collect gathers what begins with # in elements that may refer: references
// and, as dom-3 allows, canonical, uri and url values. A member called
// "resource" belongs to a document of its own.
func collect(n element.Node, used map[string]bool) {
	for _, m := range n.Members() {
		for _, v := range m.Each() {
			switch v.Kind() {
			case element.String:
				if t := v.Text(); strings.HasPrefix(t, "#") {
					used[t] = true
				}
			case element.Object:
				if m.Name() != "resource" {
					collect(v, used)
				}
			}
		}
	}
}

// refersBack says whether a contained resource points at its container: then
// it need not be referred to.
func refersBack(c element.Node) bool {
	used := map[string]bool{}
	collect(c, used)
	return used["#"]
}
