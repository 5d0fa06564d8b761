// Package index says what a stored resource is found by: its business
// identifiers and the values of its search parameters
// (https://hl7.org/fhir/R4/search.html). It is a table over element paths; it
// knows no store and no HTTP. What a question is compared with is made by the
// same functions: Fold, Phone, Short and Span.
package index

import (
	"iter"
	"slices"
	"strings"

	"weir.example/weir/adapter"
	"weir.example/weir/mapping/element"
)

// Referred is the name of the values that say which resources that belong to
// no patient a resource refers to, as Type/id: what uses a Medication can so
// be found again when it changes. It is no search parameter.
const Referred = "_ref"

// exact is the suffix of the values of a string parameter as they were sent.
const exact = ":exact"

// Exact is the name of the values that :exact is compared with.
func Exact(name string) string { return name + exact }

// Of gives the identifiers of a resource and the values it is found by. A
// resource of a type without a row in the table has its identifiers. What is
// there but has no value to be found by, such as a code in words only, has an
// empty text: it is not missing.
func Of(n element.Node) ([]adapter.Identity, []adapter.Value) {
	var ids []adapter.Identity
	rows := table().rows[n.Get("resourceType").Text()]
	if len(rows) == 0 {
		ids = identities(n.Get("identifier").All())
	}
	values := make([]adapter.Value, 0, 11) // most have about nine
	for i := range rows {
		r := &rows[i]
		if r.Name == "identifier" {
			ids = identities(r.find(n))
			continue
		}
		for found := range r.find(n) {
			values = r.values(values, found)
		}
	}
	return ids, distinct(referred(values, n))
}

func identities(list iter.Seq[element.Node]) []adapter.Identity {
	var out []adapter.Identity
	for n := range list {
		if v := n.Get("value").Text(); v != "" {
			if id := Identity(n.Get("system").Text(), v); !slices.Contains(out, id) {
				out = append(out, id)
			}
		}
	}
	return out
}

// Identity is an identifier as it is kept: see Short.
func Identity(system, value string) adapter.Identity {
	return adapter.Identity{System: Short(system), Value: Short(value)}
}

// referred walks the whole resource: any element may hold a reference.
func referred(out []adapter.Value, n element.Node) []adapter.Value {
	for m := range n.Within() {
		if m.Kind() != element.String || m.Name() != "reference" {
			continue
		}
		if to := Reference(m.Text()); slices.Contains(table().nobodys, typeOf(to)) {
			out = append(out, adapter.Value{Name: Referred, Text: Short(to)})
		}
	}
	return out
}

// Reference is a literal reference without the version it may name.
func Reference(text string) string {
	before, _, _ := strings.Cut(text, "/_history/")
	return before
}

// typeOf is the type in Type/id, "" for any other form.
func typeOf(reference string) string {
	kind, id, ok := strings.Cut(reference, "/")
	if !ok || id == "" || strings.ContainsAny(id, "/:") || strings.Contains(kind, ":") {
		return ""
	}
	return kind
}

// distinct keeps the first of equal values, in place.
func distinct(list []adapter.Value) []adapter.Value {
	if len(list) <= few {
		out := list[:0]
		for _, v := range list {
			if !slices.Contains(out, v) {
				out = append(out, v)
			}
		}
		return out
	}
	seen := make(map[adapter.Value]bool, len(list))
	return slices.DeleteFunc(list, func(v adapter.Value) bool {
		had := seen[v]
		seen[v] = true
		return had
	})
}

// few is the number of values up to which comparing all pairs is cheaper than
// a map.
const few = 40
