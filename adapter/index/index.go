// Package index says what a stored resource is found by: its business
// identifiers and the values of its search parameters. It is a table over
// element paths; it knows no store and no HTTP.
package index

import (
	"weir.example/weir/adapter"
	"weir.example/weir/mapping/element"
)

// Of gives the identifiers of a resource and the values it is found by.
func Of(n element.Node) ([]adapter.Identity, []adapter.Value) {
	var ids []adapter.Identity
	for _, id := range n.Get("identifier").Each() {
		if v := id.Get("value").Text(); v != "" {
			ids = append(ids, adapter.Identity{System: id.Get("system").Text(), Value: v})
		}
	}
	return ids, nil
}
