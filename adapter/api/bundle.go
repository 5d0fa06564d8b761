package api

import (
	"bytes"
	"context"
	"fmt"
	"net/http"
	"strconv"
	"strings"

	"github.com/go-chi/chi/v5"

	"weir.example/weir/adapter/intake"
	"weir.example/weir/mapping/element"
)

// entry is what one entry of a Bundle asks for.
type entry struct {
	method, url, ifNoneExist, ifMatch string
	fullURL                           string
	resource                          element.Node
	at                                string
	item                              intake.Item
	write                             bool
}

// bundle carries out a transaction, all or nothing, or a batch, each entry
// for itself (https://hl7.org/fhir/R4/http.html#transaction).
func (d *door) bundle(w http.ResponseWriter, r *http.Request) {
	doc, data, release := d.taken(w, r)
	if release == nil {
		return
	}
	defer release()
	root := doc.Root()
	kind := root.Get("type").Text()
	if root.Get("resourceType").Text() != "Bundle" || kind != "transaction" && kind != "batch" {
		d.refuse(w, r, refusal{status: http.StatusBadRequest, issue: "not-supported", code: "bundle-type", what: "only a Bundle of type transaction or batch is carried out here",
			todo: "Client: send an order document to $verify, a message to $process-message, or make it a transaction.", at: "Bundle.type"})
		return
	}
	entries, x := readEntries(root)
	if x != nil {
		d.refuse(w, r, *x)
		return
	}
	if kind == "batch" {
		release() // each entry takes its own turn
		d.batch(w, r, entries)
		return
	}
	d.transaction(w, r, entries, data)
}

// readEntries refuses a Bundle with an entry that says not what to do, or
// that does one thing twice.
func readEntries(root element.Node) ([]*entry, *refusal) {
	var out []*entry
	seen := map[string]bool{}
	for i, n := range root.Get("entry").Each() {
		at := fmt.Sprintf("Bundle.entry[%d]", i)
		q := n.Get("request")
		e := &entry{method: q.Get("method").Text(), url: q.Get("url").Text(), ifNoneExist: q.Get("ifNoneExist").Text(), ifMatch: q.Get("ifMatch").Text(),
			fullURL: n.Get("fullUrl").Text(), resource: n.Get("resource"), at: at}
		if !q.Exists() || e.method == "" || e.url == "" {
			return nil, &refusal{status: http.StatusBadRequest, issue: "required", code: "entry-malformed", what: "the entry does not say what is to be done with it", todo: "Client: send request.method and request.url.", at: at}
		}
		for _, key := range []string{e.fullURL, e.method + " " + e.url} {
			if key == "" || key == "POST "+e.url || e.method == http.MethodGet && key != e.fullURL {
				continue
			}
			if seen[key] {
				return nil, &refusal{status: http.StatusBadRequest, issue: "duplicate", code: "entry-twice", what: "the Bundle holds one address twice", todo: "Client: send each once.", at: at}
			}
			seen[key] = true
		}
		out = append(out, e)
	}
	return out, nil
}

// prepare says what the entry of a transaction asks of the intake.
func (e *entry) prepare() *refusal {
	wrong := func(what string) *refusal {
		return &refusal{status: http.StatusBadRequest, issue: "invalid", code: "entry-malformed", what: what, todo: "Client: send POST to a type, PUT to a resource or by identifier, or GET.", at: e.at + ".request"}
	}
	path, query, conditional := strings.Cut(strings.TrimPrefix(e.url, "/"), "?")
	kind, id, byID := strings.Cut(path, "/")
	if e.method == http.MethodGet {
		return nil
	}
	e.write = true
	if e.resource.Get("resourceType").Text() != kind {
		return &refusal{status: http.StatusBadRequest, issue: "invalid", code: "type-differs", what: "the resource is of another type than the address", todo: "Client: name the type of the resource.", at: e.at + ".request.url"}
	}
	e.item = intake.Item{Resource: e.resource, FullURL: e.fullURL, At: e.at + ".resource"}
	switch {
	case e.method == http.MethodPost && !byID && !conditional:
		e.item.Way = intake.Create
		if e.ifNoneExist != "" {
			by, x := identity(e.ifNoneExist, e.at+".request.ifNoneExist")
			e.item.Once = &by
			return x
		}
	case e.method == http.MethodPut && conditional && !byID:
		by, x := identity(query, e.at+".request.url")
		e.item.Way, e.item.Where = intake.Feed, &by
		return x
	case e.method == http.MethodPut && byID && !conditional && !strings.Contains(id, "/"):
		if e.resource.Get("id").Text() != id {
			return &refusal{status: http.StatusBadRequest, issue: "invalid", code: "id-differs", what: "the id of address and resource differ", todo: "Client: send the id of the address in the resource.", at: e.at + ".resource.id"}
		}
		n, x := replaced(e.ifMatch, e.at+".request.ifMatch")
		e.item.Way, e.item.ID, e.item.Version = intake.Update, id, n
		return x
	default:
		return wrong("the entry asks for what is not done here")
	}
	return nil
}

func (d *door) transaction(w http.ResponseWriter, r *http.Request, entries []*entry, data []byte) {
	var items []intake.Item
	for _, e := range entries {
		if x := e.prepare(); x != nil {
			d.refuse(w, r, *x)
			return
		}
		if e.write {
			items = append(items, e.item)
		}
	}
	var done []intake.Done
	if len(items) > 0 {
		var err error
		if done, err = d.intake.Receive(r.Context(), d.call(r, data), items); err != nil {
			d.refuse(w, r, d.why(err))
			return
		}
	}
	whole, said := prefers(r, "return=representation"), prefers(r, "return=operationoutcome")
	var answers []element.Value
	for _, e := range entries {
		if !e.write {
			answers = append(answers, d.within(r, e))
			continue
		}
		answers = append(answers, d.answerEntry(done[0], whole, said))
		done = done[1:]
	}
	d.resource(w, r, answerBundle("transaction-response", answers))
}

// answerEntry is what became of one entry: with the resource as it is stored,
// or with a word about it, as the client prefers or has to know.
func (d *door) answerEntry(done intake.Done, whole, said bool) element.Value {
	status := "200 OK"
	if done.Outcome == intake.Created {
		status = "201 Created"
	}
	x := done.Resource
	out := element.Obj(element.F("fullUrl", element.Str(d.Public+"/fhir/"+x.Type+"/"+x.ID)))
	if whole || done.Outcome == intake.Unapplied || done.Outcome == intake.Same {
		out = out.With(element.F("resource", stamp(x)))
	}
	response := element.Obj(element.F("status", element.Str(status)), element.F("location", element.Str(placeOf(x))), element.F("etag", element.Str(etag(x.Version))),
		element.F("lastModified", element.Str(instant(x.Updated))))
	if said || done.Outcome == intake.Unapplied || done.Again {
		response = response.With(element.F("outcome", d.notice(done)))
	}
	return out.With(element.F("response", response))
}

func answerBundle(kind string, entries []element.Value) element.Value {
	return element.Obj(element.F("resourceType", element.Str("Bundle")), element.F("type", element.Str(kind)), element.F("entry", element.List(entries...)))
}

// batch carries out each entry as a request of its own.
func (d *door) batch(w http.ResponseWriter, r *http.Request, entries []*entry) {
	var answers []element.Value
	for _, e := range entries {
		answers = append(answers, d.within(r, e))
	}
	d.resource(w, r, answerBundle("batch-response", answers))
}

// within carries out an entry as a request to the same routes. A refusal
// names the entry as the place of the fault.
func (d *door) within(r *http.Request, e *entry) element.Value {
	var body []byte
	if e.resource.Exists() {
		body = e.resource.Raw()
	}
	ctx := context.WithValue(r.Context(), chi.RouteCtxKey, nil) // routed anew
	inner, err := http.NewRequestWithContext(ctx, e.method, "/fhir/"+strings.TrimPrefix(e.url, "/"), bytes.NewReader(body))
	if err != nil || strings.HasPrefix(strings.TrimPrefix(e.url, "/"), "$") || strings.TrimPrefix(e.url, "/") == "" {
		return entryStatus(http.StatusBadRequest, d.outcome(r, refusal{issue: "invalid", code: "entry-malformed", what: "the entry asks for what is not done in a batch",
			todo: "Client: send POST to a type, PUT to a resource or by identifier, or GET.", at: e.at + ".request.url"}))
	}
	inner.Header.Set("X-Request-Id", requestID(r))
	for _, p := range r.Header.Values("Prefer") {
		inner.Header.Add("Prefer", p)
	}
	if body != nil {
		inner.Header.Set("Content-Type", "application/fhir+json")
	}
	if e.ifNoneExist != "" {
		inner.Header.Set("If-None-Exist", e.ifNoneExist)
	}
	if e.ifMatch != "" {
		inner.Header.Set("If-Match", e.ifMatch)
	}
	answer := &kept{head: http.Header{}, status: http.StatusOK}
	d.routes.(http.Handler).ServeHTTP(answer, inner)
	out := element.Value{}
	if doc, faults := element.Read(answer.body.Bytes(), element.Limit{}); len(faults) == 0 && doc.Root().Exists() {
		out = element.RawNode(doc.Root())
		if doc.Root().Get("resourceType").Text() == "OperationOutcome" {
			out = e.pointed(doc.Root())
			return entryStatus(answer.status, out, headers(answer.head)...)
		}
	}
	v := entryStatus(answer.status, element.Value{}, headers(answer.head)...)
	if !out.Empty() {
		v = element.Obj(element.F("resource", out)).With(element.F("response", response(answer.status, element.Value{}, headers(answer.head)...)))
	}
	return v
}

// pointed is an outcome of the entry whose places are those of the Bundle.
func (e *entry) pointed(outcome element.Node) element.Value {
	kind := e.resource.Get("resourceType").Text()
	var issues []element.Value
	for _, i := range outcome.Get("issue").Each() {
		places := []string{}
		for _, x := range i.Get("expression").Each() {
			text := x.Text()
			switch rest, inside := strings.CutPrefix(text, kind); {
			case kind != "" && inside && (rest == "" || rest[0] == '.' || rest[0] == '['):
				places = append(places, e.at+".resource"+rest)
			case text == "If-Match":
				places = append(places, e.at+".request.ifMatch")
			case text == "If-None-Exist":
				places = append(places, e.at+".request.ifNoneExist")
			case text == "resourceType":
				places = append(places, e.at+".resource")
			default:
				places = append(places, e.at+".request.url")
			}
		}
		if len(places) == 0 {
			places = append(places, e.at)
		}
		issues = append(issues, element.Edit(element.RawNode(i), element.F("expression", element.Strs(places...))))
	}
	return element.Edit(element.RawNode(outcome), element.F("issue", element.List(issues...)))
}

// kept is the answer to one entry.
type kept struct {
	head   http.Header
	status int
	body   bytes.Buffer
}

func (k *kept) Header() http.Header         { return k.head }
func (k *kept) WriteHeader(status int)      { k.status = status }
func (k *kept) Write(b []byte) (int, error) { return k.body.Write(b) }

func headers(h http.Header) []element.Field {
	location := h.Get("Location")
	if location == "" {
		location = h.Get("Content-Location")
	}
	return []element.Field{element.F("location", element.Str(location)), element.F("etag", element.Str(h.Get("ETag")))}
}

func entryStatus(code int, outcome element.Value, more ...element.Field) element.Value {
	return element.Obj(element.F("response", response(code, outcome, more...)))
}

func response(code int, outcome element.Value, more ...element.Field) element.Value {
	fields := append([]element.Field{element.F("status", element.Str(strconv.Itoa(code)+" "+http.StatusText(code)))}, more...)
	return element.Obj(append(fields, element.F("outcome", outcome))...)
}
