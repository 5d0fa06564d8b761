package api

import (
	"context"
	"encoding/json"
	"net/http"
	"slices"
	"strings"

	"weir.example/weir/adapter"
	"weir.example/weir/mapping/element"
)

// match is a resource that was found, with its content for what it includes.
type match struct {
	ref  string // Type/id
	body element.Value
}

// search answers GET [type]? and POST [type]/_search with a searchset, page
// by page (https://hl7.org/fhir/R4/http.html#search).
func (d *door) search(kind string) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		d.answer(w, r, kind, func(ctx context.Context, q question, p adapter.Page) ([]match, string, *refusal) {
			query, x := d.withPatients(ctx, q)
			if x != nil {
				return nil, "", x
			}
			slice, err := d.Store.Search(ctx, query, p)
			if err != nil {
				return nil, "", failed(err)
			}
			var out []match
			for _, one := range slice.Resources {
				out = append(out, match{kind + "/" + one.ID, stamp(one)})
			}
			return out, slice.Next, nil
		})
	}
}

// page is a question that goes on, as it stands in a next link: sealed, so
// that the address says nothing of a patient, and whole, so that nothing else
// need stand beside it. The store's own cursor holds for its question only.
type page struct {
	Query string `json:"q"`
	After string `json:"c"`
}

// answer reads a question, has it asked, and sends the page of answers. The
// link self says what was understood, as FHIR demands, in the body; only next
// is an address to be called, and it holds no value of the question.
func (d *door) answer(w http.ResponseWriter, r *http.Request, kind string, find func(context.Context, question, adapter.Page) ([]match, string, *refusal)) {
	list, r, x := d.asksFor(w, r)
	if x != nil {
		d.refuse(w, r, *x)
		return
	}
	base := d.Public + "/fhir/" + kind
	lenient := slices.Contains(preferences(r), "handling=lenient")
	var at page
	self := ""
	if slices.ContainsFunc(list, func(p pair) bool { return p.name == "_cursor" }) {
		if list, at, x = d.goOn(kind, list); x != nil {
			d.refuse(w, r, *x)
			return
		}
		self = base + "?_cursor=" + d.seal(kind, at)
	}
	q, x := ask(d.Public+"/fhir/", kind, list, lenient)
	if x != nil {
		d.refuse(w, r, *x)
		return
	}
	if self == "" {
		self = strings.TrimSuffix(base+"?"+encode(q.kept), "?")
	}
	ctx, cancel := context.WithTimeout(r.Context(), d.Limits.Took)
	defer cancel()
	if q.count == 0 {
		d.howMany(ctx, w, r, self, q)
		return
	}
	found, after, x := find(ctx, q, adapter.Page{Limit: q.count, After: at.After})
	if x != nil {
		d.refuse(w, r, *x)
		return
	}
	b := bundle{kind: "searchset", self: self, counted: after == "" && at.After == "", total: len(found)}
	if after != "" {
		if b.next = base + "?_cursor=" + d.seal(kind, page{encode(q.kept), after}); len(b.next) > mostAddress {
			d.refuse(w, r, *tooCostly("the question is too long to be asked page by page"))
			return
		}
	}
	extra, x := d.included(ctx, q, found)
	if x != nil {
		d.refuse(w, r, *x)
		return
	}
	for i, m := range append(found, extra...) {
		if m.body.Empty() {
			d.refuse(w, r, *damaged())
			return
		}
		mode := "match"
		if i >= len(found) {
			mode = "include"
		}
		b.entries = append(b.entries, element.Obj(element.F("fullUrl", element.Str(d.Public+"/fhir/"+m.ref)), element.F("resource", m.body),
			element.F("search", element.Obj(element.F("mode", element.Str(mode))))))
	}
	d.resource(w, r, b.value())
}

// howMany answers with the number of matches alone.
func (d *door) howMany(ctx context.Context, w http.ResponseWriter, r *http.Request, self string, q question) {
	query, x := d.withPatients(ctx, q)
	if x != nil {
		d.refuse(w, r, *x)
		return
	}
	n, err := d.Store.Count(ctx, query)
	if err != nil {
		d.refuse(w, r, *failed(err))
		return
	}
	d.resource(w, r, bundle{kind: "searchset", self: self, counted: true, total: int(n)}.value())
}

func (d *door) seal(kind string, p page) string {
	text, _ := json.Marshal(p) // two strings
	return d.Store.Seal("search "+kind, text)
}

// goOn opens the cursor of a next link. Nothing may stand beside it: the
// question is inside.
func (d *door) goOn(kind string, list []pair) ([]pair, page, *refusal) {
	var p page
	if len(list) != 1 {
		return nil, p, malformed("_cursor", "something stands beside the cursor", "Client: take the next link as it is.")
	}
	text, err := d.Store.Unseal("search "+kind, list[0].value)
	if err != nil {
		return nil, p, failed(err)
	}
	if err := json.Unmarshal(text, &p); err != nil {
		return nil, p, failed(&adapter.BadCursor{})
	}
	list, x := pairs(p.Query)
	return list, p, x
}

// withPatients looks up the patients that are named by their identifiers. When
// there are none, nothing is found.
func (d *door) withPatients(ctx context.Context, q question) (adapter.Query, *refusal) {
	query := q.query
	for _, named := range q.named {
		c := adapter.Criterion{Name: named.Name, Few: true}
		slice, err := d.Store.Search(ctx, adapter.Query{Type: "Patient", All: []adapter.Criterion{{Name: "identifier", Few: true, Any: named.Any}}}, adapter.Page{Limit: mostChoices})
		if err != nil {
			return query, failed(err)
		}
		if slice.Next != "" {
			return query, tooCostly("more patients have the identifier than are compared")
		}
		for _, one := range slice.Resources {
			c.Any = append(c.Any, adapter.Match{Op: adapter.OpEqual, Text: "Patient/" + one.ID})
		}
		if q.kind == "Provenance" {
			ofPatient(&c)
		}
		if c.Any == nil {
			c = adapter.Criterion{Name: "_id", Any: []adapter.Match{{Op: adapter.OpEqual}}} // no resource has it
		}
		query.All = append(query.All[:len(query.All):len(query.All)], c)
	}
	return query, nil
}
