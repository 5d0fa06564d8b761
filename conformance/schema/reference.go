package schema

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"weir.example/weir/mapping/element"
)

var relative = regexp.MustCompile(`^([A-Z][A-Za-z]+)/([A-Za-z0-9\-\.]{1,64})(/_history/[A-Za-z0-9\-\.]{1,64})?$`)

// reference checks ref-1 (a local reference is contained), that a relative
// reference names a resource type, and that the type is one the element
// allows. That the target is in the document is no matter of R4: a missing
// one is a finding about the order.
func (w *walker) reference(v element.Node, typ string) {
	ref := v.Get("reference")
	if !ref.Exists() {
		return
	}
	text := ref.Text()
	allowed := targets(typ)
	if local, ok := strings.CutPrefix(text, "#"); ok {
		w.local(ref, local, allowed)
		return
	}
	if m := relative.FindStringSubmatch(text); m != nil {
		w.target(ref, m[1], allowed)
		return
	}
	if i := strings.LastIndex(text, "://"); i > 0 || strings.HasPrefix(text, "urn:") || strings.Contains(text, "?") {
		return // absolute, urn or conditional: resolved, or not, where orders are read
	}
	w.fault("document-reference", ref, fmt.Sprintf("%.80q", text), "Type/id, an absolute address, urn:uuid: or #id", "a reference that is none of the forms of FHIR R4")
}

func (w *walker) target(ref element.Node, name string, allowed []string) {
	k := r4()[name]
	switch {
	case k == nil || k.kind != "resource":
		w.fault("document-reference", ref, fmt.Sprintf("%.60q", name), "a resource type of FHIR R4", "a reference to a type that R4 does not have")
	case len(allowed) > 0 && !slices.Contains(allowed, name):
		w.fault("document-reference", ref, name, "a reference to "+strings.Join(allowed, " or "), "a reference to a type that the element does not allow")
	}
}

func (w *walker) local(ref element.Node, id string, allowed []string) {
	outer := w.container()
	if id == "" {
		return
	}
	for _, c := range outer.Get("contained").Each() {
		if c.Get("id").Text() == id {
			w.target(ref, c.Get("resourceType").Text(), allowed)
			return
		}
	}
	w.fault("document-reference", ref, fmt.Sprintf("%.60q", "#"+id), "the id of a contained resource", "a local reference to something that is not contained")
}

// container is the resource whose contained ones a local reference names:
// the innermost that is not itself contained.
func (w *walker) container() element.Node {
	for i := len(w.resource) - 1; i >= 0; i-- {
		if p := w.resource[i].Parent(); p.Name() != "contained" && w.resource[i].Name() != "contained" {
			return w.resource[i]
		}
	}
	return element.Node{}
}

func targets(typ string) []string {
	_, list, ok := strings.Cut(typ, "(")
	if !ok {
		return nil
	}
	return strings.Split(strings.TrimSuffix(list, ")"), "|")
}
