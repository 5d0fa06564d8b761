package r4

import (
	"bytes"
	"strings"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/order"
)

// target is what a Reference leads to inside the document.
type target struct {
	*resource
	disagree bool // several differing versions, and nothing says which
	stale    bool // the version asked for is not the one in the document
}

// resolve follows a Reference inside the document only: contained `#id`,
// absolute, relative to the service base of the referring entry's fullUrl,
// by Type/id among entries without a fullUrl, and logical by identifier
// (https://hl7.org/fhir/R4/bundle.html#references). A relative reference in
// an entry whose fullUrl is a urn does not resolve.
func (r *reader) resolve(ref element.Node, from *resource) target {
	literal := ref.Get("reference").Text()
	if literal != "" {
		if t := r.resolveLiteral(literal, from); t.resource != nil {
			return t
		}
	}
	if key := identifierKey(ref.Get("identifier")); key != "" {
		kind := ref.Get("type").Text()
		var found []*resource
		for _, s := range r.byIdentifier[key] {
			if kind == "" || s.kind == kind {
				found = append(found, s)
			}
		}
		if len(found) == 1 {
			return target{resource: found[0]}
		}
	}
	return target{}
}

func (r *reader) resolveLiteral(literal string, from *resource) target {
	outer := from.outer()
	if id, found := strings.CutPrefix(literal, "#"); found {
		if id == "" {
			return target{resource: outer}
		}
		for _, c := range r.contained[outer] {
			if c.id == id {
				return target{resource: c}
			}
		}
		return target{}
	}
	plain, version, _ := strings.Cut(literal, "/_history/")
	switch {
	case strings.HasPrefix(plain, "urn:") || strings.Contains(plain, "://"):
		return choose(r.byURL[plain], version)
	case outer.base != "":
		return choose(r.byURL[outer.base+plain], version)
	case outer.url == "":
		return choose(r.byTypeAndID[plain], version)
	}
	return target{}
}

// choose takes the version asked for, else the newest.
func choose(list []*resource, version string) target {
	if version != "" {
		for _, s := range list {
			if s.version == version {
				return target{resource: s}
			}
		}
	}
	if len(list) == 0 {
		return target{}
	}
	best := target{resource: list[0], stale: version != ""}
	for _, s := range list[1:] {
		switch c := s.updated.Time.Compare(best.updated.Time); {
		case c > 0:
			best.resource, best.disagree = s, false
		case c == 0 && !bytes.Equal(element.Canonical(s.node, "meta"), element.Canonical(best.node, "meta")):
			best.disagree = true
			if compareResources(s, best.resource) < 0 {
				best.resource = s
			}
		}
	}
	return best
}

// address is the absolute form of a literal reference, or the literal.
func (r *reader) address(ref element.Node, from *resource) string {
	literal := ref.Get("reference").Text()
	if literal == "" || literal[0] == '#' || strings.HasPrefix(literal, "urn:") || strings.Contains(literal, "://") {
		return literal
	}
	return from.outer().base + literal
}

// reference is how an output points at what a Reference names: by the
// fullUrl of the resource, or as the sender wrote it when that is absolute.
func (r *reader) reference(ref element.Node, from *resource) order.Reference {
	t := r.resolve(ref, from)
	out := order.Reference{Type: ref.Get("type").Text(), Display: ref.Get("display").Text()}
	if t.resource != nil {
		out = t.reference()
		if d := ref.Get("display").Text(); d != "" {
			out.Display = d
		}
		return out
	}
	if a := r.address(ref, from); strings.HasPrefix(a, "urn:") || strings.Contains(a, "://") {
		out.URL = a
	}
	if out.Type == "" {
		out.Type = typeIn(ref.Get("reference").Text())
	}
	out.Identifier = identifier(ref.Get("identifier"))
	return out
}

// reference points at the resource itself: its fullUrl when that is absolute
// or urn:uuid, and its identifier.
func (s *resource) reference() order.Reference {
	out := order.Reference{Type: s.kind, Identifier: bestIdentifier(s.node)}
	if isWeb(s.url) || strings.HasPrefix(s.url, "urn:") {
		out.URL = s.url
	}
	return out
}

// typeIn is the resource type in "…/Type/id", "" when there is none.
func typeIn(literal string) string {
	literal, _, _ = strings.Cut(literal, "/_history/")
	parts := strings.Split(literal, "/")
	if len(parts) < 2 {
		return ""
	}
	if t := parts[len(parts)-2]; t != "" && t[0] >= 'A' && t[0] <= 'Z' {
		return t
	}
	return ""
}

// name of a resource in orders, for matching: its fullUrl, else Type/id,
// else its identifier, else where it stands. An order without a fullUrl, as in
// a folder, is named by where it stands: behind reading it is known by that.
func (s *resource) name() string {
	switch {
	case s.url != "":
		return s.url
	case s.kind == "MedicationRequest" && s.host == nil:
		return s.node.Expression()
	case s.host != nil:
		return s.host.name() + "#" + s.id
	case s.id != "":
		return s.kind + "/" + s.id
	}
	if id := bestIdentifier(s.node); id.Value != "" {
		return id.System + "|" + id.Value
	}
	return s.node.Expression()
}
