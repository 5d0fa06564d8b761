package schema

import (
	"strings"

	"weir.example/weir/mapping/element"
)

// reference judges one Reference
// (https://hl7.org/fhir/R4/references.html): its form, that `#id` is
// contained (ref-1), that the type it names exists, is the one `type` says
// and is allowed here. An absolute address is compared with the fullUrls of
// the Bundle; one that leads nowhere in the document is allowed.
func (w *walker) reference(v element.Node, c *child) {
	at := v.Get("reference")
	if at.Kind() != element.String {
		return
	}
	named, ok := w.target(at)
	if !ok || named == "" {
		return
	}
	switch stated := v.Get("type"); {
	case !w.table.isResource(named):
		w.refuse(at, "a reference to "+token(named), "a reference to a resource type of FHIR R4",
			"Sender: point the reference at a resource of FHIR R4.", "a reference to a type that R4 does not have")
	case len(c.targets) > 0 && !contains(c.targets, named):
		allowed := strings.Join(c.targets, " or ")
		w.refuse(at, "a reference to "+named, "a reference to "+allowed,
			"Sender: point the reference at the "+allowed+" meant.", "a reference to a resource type that may not stand here")
	case stated.Exists() && w.table.isResource(stated.Text()) && stated.Text() != named:
		w.refuse(stated, token(stated.Text()), "the type "+named+", at which the reference points",
			"Sender: say which of the two is meant.", "the type of a reference is not that of its target")
	}
}

func contains(list []string, s string) bool {
	for _, x := range list {
		if x == s {
			return true
		}
	}
	return false
}

func (w *walker) refuse(at element.Node, observed, expected, remedy, detail string) {
	w.add("document-reference", at.Place(), observed, expected, remedy, detail)
}

// target gives the resource type a reference names, "" when it names none
// that can be known here; false when the reference itself is at fault.
func (w *walker) target(at element.Node) (string, bool) {
	s := at.Text()
	if id, local := strings.CutPrefix(s, "#"); local {
		return w.local(at, id)
	}
	if name := w.address(s); name != "" {
		return name, true
	}
	if query := strings.IndexByte(s, '?'); query > 0 && !strings.Contains(s[:query], "/") {
		return s[:query], true // conditional: Patient?identifier=…
	}
	scheme, rest, absolute := strings.Cut(s, ":")
	switch {
	case !absolute || strings.Contains(scheme, "/"):
		return w.relative(at, s)
	case scheme == "urn" && strings.HasPrefix(rest, "uuid:"):
		return "", w.urn(at, "UUID", uuid.fault(strings.ToLower(s)))
	case scheme == "urn" && strings.HasPrefix(rest, "oid:"):
		return "", w.urn(at, "object identifier", oid.fault(s))
	case (scheme == "http" || scheme == "https") && strings.HasPrefix(rest, "//") && len(rest) > 2:
		return w.restful(rest), true
	}
	w.refuse(at, "a reference of another form", "Type/id, an address with http or https, urn:uuid:, urn:oid: or #id",
		"Sender: refer to the resource in one of these forms; nothing else is followed.", "a reference in none of the forms that are accepted")
	return "", false
}

func (w *walker) urn(at element.Node, what, expected string) bool {
	if expected != "" {
		w.refuse(at, "a urn that is no "+what, expected, "Sender: write "+expected+".", "a reference by a urn that is not well formed")
	}
	return expected == ""
}

// relative reads Type/id or Type/id/_history/version.
func (w *walker) relative(at element.Node, s string) (string, bool) {
	parts := strings.Split(s, "/")
	ok := len(parts) == 2 || len(parts) == 4 && parts[2] == "_history"
	for i, part := range parts {
		ok = ok && (i == 2 || id.fault(part) == "")
	}
	if !ok || !each(parts[0], letter) {
		w.refuse(at, "a reference of another form", "Type/id, an address with http or https, urn:uuid:, urn:oid: or #id",
			"Sender: refer to the resource in one of these forms.", "a reference in none of the forms that are accepted")
		return "", false
	}
	return parts[0], true
}

// restful gives the type in an address that ends in Type/id, when R4 has it.
func (w *walker) restful(rest string) string {
	rest, _, _ = strings.Cut(rest, "/_history/")
	parts := strings.Split(rest, "/")
	if n := len(parts); n >= 3 && w.table.isResource(parts[n-2]) && id.fault(parts[n-1]) == "" {
		return parts[n-2]
	}
	return ""
}

// entry refuses a fullUrl that names another type or id than the resource it
// belongs to (https://hl7.org/fhir/R4/bundle.html: the fullUrl shall not
// disagree with the id in the resource). A urn says nothing about either.
func (w *walker) entry(e element.Node) {
	url, r := e.Get("fullUrl"), e.Get("resource")
	scheme, rest, ok := strings.Cut(url.Text(), "://")
	if !ok || scheme != "http" && scheme != "https" || !r.Exists() {
		return
	}
	named := w.restful(rest)
	name, self := r.Get("resourceType").Text(), r.Get("id")
	switch {
	case named == "" || !w.table.isResource(name):
	case named != name:
		w.refuse(url, "an address of a "+named, "the address of the "+name+" in this entry",
			"Sender: give the entry the address of its own resource.", "the fullUrl of an entry names another resource type")
	case id.fault(self.Text()) == "" && !strings.HasSuffix(rest, "/"+self.Text()) && !strings.Contains(rest, "/_history/"):
		w.refuse(url, "an address with another id", "an address that ends in the id of the resource",
			"Sender: give the entry the address of its own resource.", "the fullUrl of an entry and the id of its resource disagree")
	}
}

// local finds the contained resource.
func (w *walker) local(at element.Node, name string) (string, bool) {
	inside := w.scope[len(w.scope)-1]
	container := w.container()
	from := ""
	if inside.contained {
		from = inside.node.Get("id").Text()
	}
	container.ties = append(container.ties, link{from, name, at})
	if name == "" {
		return container.name, true
	}
	if container.local == nil {
		container.local = map[string]element.Node{}
		for _, c := range container.node.Get("contained").Each() {
			container.local[c.Get("id").Text()] = c
		}
	}
	found, ok := container.local[name]
	if !ok {
		w.refuse(at, "a reference to "+token("#"+name), "the id of a resource contained in the same resource",
			"Sender: contain the resource, or refer to it by its address.", "invariant ref-1 of FHIR R4 is broken: a local reference to something that is not contained")
		return "", false
	}
	return found.Get("resourceType").Text(), true
}

// container is the resource whose contained ones a local reference names.
func (w *walker) container() *scope {
	for i := len(w.scope) - 1; i > 0; i-- {
		if !w.scope[i].contained {
			return w.scope[i]
		}
	}
	return w.scope[0]
}

// address gives the type of the resource with that fullUrl in the innermost
// Bundle, "" when there is none.
func (w *walker) address(url string) string {
	for i := len(w.scope) - 1; i >= 0; i-- {
		s := w.scope[i]
		if s.name != "Bundle" {
			continue
		}
		if s.addresses == nil {
			entries := s.node.Get("entry").Each()
			s.addresses = make(map[string]string, len(entries))
			for _, e := range entries {
				s.addresses[e.Get("fullUrl").Text()] = e.Get("resource").Get("resourceType").Text()
			}
		}
		unversioned, _, _ := strings.Cut(url, "/_history/")
		if name := s.addresses[unversioned]; w.table.isResource(name) {
			return name
		}
		return ""
	}
	return ""
}
