package store

import (
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

func hasOwn(r adapter.Resource) int64 {
	for _, i := range r.Identifiers {
		if isOwn(r.ID, i) {
			return 1
		}
	}
	return 0
}

// ownID is the id that an identifier would be the URI of.
func ownID(system, value string) (string, bool) {
	id, ok := strings.CutPrefix(value, asURI)
	return id, ok && id != "" && system == uris
}

// ofOwn adds the resources whose own id the matches name.
func ofOwn(q *text, list []adapter.Match) {
	for _, m := range list {
		switch {
		case m.Op == adapter.OpPresent, m.Op == adapter.OpInSystem && m.System != nil && *m.System == uris:
			q.add(" OR r.own = 1")
		case m.Op == adapter.OpEqual && (m.System == nil || *m.System == uris):
			if id, ok := ownID(uris, m.Text); ok {
				q.add(" OR r.id = ", q.arg(id), " AND r.own = 1")
			}
		}
	}
}
