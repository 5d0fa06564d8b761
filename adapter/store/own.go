package store

import (
	"slices"
	"strings"

	"weir.example/weir/adapter"
)

// A resource that we made has its own id as an identifier, as a URI. There are
// a hundred of them to an order, and each would touch two pages of its own in
// the database, so that row is not kept: such an identifier is the id.

const (
	uris  = "urn:ietf:rfc:3986"
	asURI = "urn:uuid:"
)

// isOwn says that an identifier is the id of its own resource.
func isOwn(id string, i adapter.Identity) bool {
	return i.System == uris && !i.Once && i.Value == asURI+id
}

func hasOwn(r adapter.Resource) bool {
	return slices.ContainsFunc(r.Identifiers, func(i adapter.Identity) bool { return isOwn(r.ID, i) })
}

// ownID is the id that an identifier would be the URI of.
func ownID(system, value string) (string, bool) {
	id, ok := strings.CutPrefix(value, asURI)
	return id, ok && id != "" && system == uris
}
