package api

import (
	"context"
	"net/http"
	"strconv"

	"github.com/go-chi/chi/v5"

	"weir.example/weir/adapter"
	"weir.example/weir/mapping/element"
)

// Entries on a page of a search or a history, when the client does not say
// and at most.
const (
	usualCount = 50
	mostCount  = 500
)

// history answers with the versions of a resource, newest first
// (https://hl7.org/fhir/R4/http.html#history).
func (d *door) history(kind string) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if x := acceptable(r, "_count", "_cursor"); x != nil {
			d.refuse(w, r, *x)
			return
		}
		id, query := chi.URLParam(r, "id"), r.URL.Query()
		count, x := countOf(query["_count"], false)
		if x == nil && (len(query["_cursor"]) > 1 || query.Has("_cursor") && query.Get("_cursor") == "") {
			x = failed(&adapter.BadCursor{})
		}
		if x == nil && !resourceID.MatchString(id) {
			x = unknownResource()
		}
		if x != nil {
			d.refuse(w, r, *x)
			return
		}
		ctx, cancel := context.WithTimeout(r.Context(), d.Limits.Took)
		defer cancel()
		slice, err := d.Store.History(ctx, kind, id, adapter.Page{Limit: count, After: query.Get("_cursor")})
		if err != nil {
			d.refuse(w, r, *failed(err))
			return
		}
		address := d.Public + "/fhir/" + kind + "/" + id
		self := address + "/_history?_count=" + strconv.Itoa(count)
		b := bundle{kind: "history", self: self}
		if at := query.Get("_cursor"); at != "" {
			b.self += "&_cursor=" + at
		}
		if slice.Next != "" {
			b.next = self + "&_cursor=" + slice.Next
		}
		for _, one := range slice.Resources {
			body := stamp(one)
			if body.Empty() {
				d.refuse(w, r, *damaged())
				return
			}
			b.entries = append(b.entries, historyEntry(address, kind+"/"+id, kind, body, one.Version, instant(one.Updated)))
		}
		d.resource(w, r, b.value())
	}
}

// historyEntry is one version: the first one was made by a POST, the others
// by a PUT; nothing is ever deleted.
func historyEntry(address, path, kind string, body element.Value, version int64, updated string) element.Value {
	method, url, status := http.MethodPut, path, "200"
	if version == 1 {
		method, url, status = http.MethodPost, kind, "201"
	}
	return element.Obj(
		element.F("fullUrl", element.Str(address)),
		element.F("resource", body),
		element.F("request", element.Obj(element.F("method", element.Str(method)), element.F("url", element.Str(url)))),
		element.F("response", element.Obj(element.F("status", element.Str(status)), element.F("etag", element.Str(etag(version))), element.F("lastModified", element.Str(updated)))))
}

// countOf reads _count: 1 or more, and no more than mostCount are given. 0
// asks a search how many there are, and nothing else
// (https://hl7.org/fhir/R4/search.html#count).
func countOf(values []string, zero bool) (int, *refusal) {
	if len(values) == 0 {
		return usualCount, nil
	}
	if zero && len(values) == 1 && values[0] == "0" {
		return 0, nil
	}
	n := 0
	for _, digit := range values[0] {
		if digit < '0' || digit > '9' {
			n = 0
			break
		}
		n = min(n*10+int(digit-'0'), mostCount)
	}
	if n == 0 || len(values) > 1 {
		return 0, malformed("_count", "_count is no whole number of 1 or more", "Client: send one number; at most "+strconv.Itoa(mostCount)+" entries are given at a time.")
	}
	return n, nil
}

func malformed(at, what, todo string) *refusal {
	return &refusal{status: http.StatusBadRequest, issue: "value", code: "parameter-malformed", what: what, todo: todo, at: at}
}

// bundle is a list that is answered page by page.
type bundle struct {
	kind       string // searchset or history
	self, next string
	entries    []element.Value
	total      int
	counted    bool // the total is known
}

func (b bundle) value() element.Value {
	links := []element.Value{link("self", b.self)}
	if b.next != "" {
		links = append(links, link("next", b.next))
	}
	return element.Obj(
		element.F("resourceType", element.Str("Bundle")),
		element.F("type", element.Str(b.kind)),
		element.F("total", element.When(b.counted, element.Int(b.total))),
		element.F("link", element.List(links...)),
		element.F("entry", element.List(b.entries...)))
}

func link(relation, url string) element.Value {
	return element.Obj(element.F("relation", element.Str(relation)), element.F("url", element.Str(url)))
}
