package r4

import (
	"bytes"
	"cmp"
	"slices"
	"strings"
	"time"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/order"
)

// resource is one resource of the document.
type resource struct {
	node    element.Node
	kind    string // resourceType
	id      string
	url     string // fullUrl, without a version; "" when it has none
	base    string // service base of an http(s) fullUrl, with the slash; "" for urn:uuid
	version string
	updated order.Instant
	host    *resource // what it is contained in
	used    bool      // something was read from it
	why     string    // why it was looked at and not used
}

// outer is the resource itself, or what it is contained in.
func (s *resource) outer() *resource {
	if s.host != nil {
		return s.host
	}
	return s
}

func newReader(d *element.Document, now time.Time) *reader {
	r := emptyReader(now)
	r.root = d.Root()
	if r.root.Get("resourceType").Text() == "Bundle" {
		for _, entry := range r.root.Get("entry").Each() {
			r.add(entry.Get("resource"), entry.Get("fullUrl").Text())
		}
	} else {
		r.add(r.root, "")
	}
	r.sort()
	return r
}

func emptyReader(now time.Time) *reader {
	return &reader{now: now, byURL: map[string][]*resource{}, byTypeAndID: map[string][]*resource{},
		byIdentifier: map[string][]*resource{}, contained: map[*resource][]*resource{},
		people: map[*resource]*person{}, elsewhere: map[string]*person{}}
}

// sort is called when all resources have been added.
func (r *reader) sort() {
	r.sorted = slices.Clone(r.all)
	slices.SortStableFunc(r.sorted, compareResources)
	r.unitePeople()
}

func (r *reader) add(n element.Node, fullURL string) {
	kind := n.Get("resourceType").Text()
	if n.Kind() != element.Object || kind == "" {
		return
	}
	s := newResource(n, kind)
	s.url, _, _ = strings.Cut(fullURL, "/_history/")
	if i := strings.LastIndex(s.url, "/"); i > 0 && isWeb(s.url) && strings.HasSuffix(s.url[:i], "/"+kind) {
		s.base = s.url[:i-len(kind)]
	}
	r.all = append(r.all, s)
	if s.url != "" {
		r.byURL[s.url] = append(r.byURL[s.url], s)
	} else if s.id != "" {
		r.byTypeAndID[kind+"/"+s.id] = append(r.byTypeAndID[kind+"/"+s.id], s)
	}
	for _, id := range n.Get("identifier").Each() {
		if key := identifierKey(id); key != "" {
			r.byIdentifier[key] = append(r.byIdentifier[key], s)
		}
	}
	for _, inner := range n.Get("contained").Each() {
		if t := inner.Get("resourceType").Text(); t != "" {
			c := newResource(inner, t)
			c.host = s
			r.contained[s] = append(r.contained[s], c)
		}
	}
}

func newResource(n element.Node, kind string) *resource {
	meta := n.Get("meta")
	return &resource{node: n, kind: kind, id: n.Get("id").Text(), version: meta.Get("versionId").Text(), updated: instant(meta, "lastUpdated")}
}

func isWeb(url string) bool {
	return strings.HasPrefix(url, "https://") || strings.HasPrefix(url, "http://")
}

func identifierKey(n element.Node) string {
	if v := n.Get("value").Text(); v != "" && n.Kind() == element.Object {
		return n.Get("system").Text() + "|" + v
	}
	return ""
}

// compareResources orders resources by what they are, never by where they
// stand, so that a Bundle in another order gives the same case.
func compareResources(a, b *resource) int {
	return cmp.Or(
		cmp.Compare(a.kind, b.kind),
		cmp.Compare(a.url, b.url),
		cmp.Compare(a.id, b.id),
		compareVersions(b, a),
		lazily(func() int { return bytes.Compare(element.Canonical(a.node), element.Canonical(b.node)) }, a, b))
}

func lazily(compare func() int, a, b *resource) int {
	if a == b || a.kind != b.kind || a.url != b.url || a.id != b.id {
		return 0
	}
	return compare()
}

// compareVersions is positive when a is the newer version.
func compareVersions(a, b *resource) int {
	if c := a.updated.Time.Compare(b.updated.Time); c != 0 {
		return c
	}
	return cmp.Or(cmp.Compare(len(a.version), len(b.version)), cmp.Compare(a.version, b.version))
}
