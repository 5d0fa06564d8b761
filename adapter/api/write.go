package api

import (
	"errors"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"github.com/go-chi/chi/v5"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/intake"
	"weir.example/weir/conformance/schema"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/r4"
)

// Operator is who acts as long as there is no sign-in.
const Operator = "local-operator"

// writeRoutes serves create, update, transactions and messages.
func (d *door) writeRoutes(r chi.Router) {
	d.intake = &intake.Service{Store: d.Store, Reference: d.Reference, Judges: d.Judges, NewID: d.NewID, Base: d.Public + "/fhir"}
	r.Post("/", d.bundle)
	r.Post("/$process-message", d.message)
	for _, kind := range r4.InputTypes() {
		r.Post("/"+kind, d.create(kind))
		r.Put("/"+kind, d.feed(kind))
		r.Put("/"+kind+"/{id}", d.update(kind))
	}
}

// taken reads a body, waits for its turn, and judges it as R4. It waits only
// with the whole body in hand: who sends slowly keeps nobody from their turn.
// Unless nil, release must be called in the end.
func (d *door) taken(w http.ResponseWriter, r *http.Request, known ...string) (doc *element.Document, data []byte, release func()) {
	if x := acceptable(r, known...); x != nil {
		d.refuse(w, r, *x)
		return nil, nil, nil
	}
	data, release = d.whole(w, r)
	if release == nil {
		return nil, nil, nil
	}
	if doc = d.parsed(w, r, data); doc == nil {
		release()
		return nil, nil, nil
	}
	return doc, data, release
}

// whole is a body that has its turn. Nil: it was refused.
func (d *door) whole(w http.ResponseWriter, r *http.Request) ([]byte, func()) {
	data, x := d.body(w, r)
	if x == nil && d.bytes.Add(int64(len(data))) > mostBodies*d.Limits.Body {
		d.bytes.Add(-int64(len(data)))
		x = new(busy())
	}
	if x != nil {
		d.refuse(w, r, *x)
		return nil, nil
	}
	if !d.turn(r.Context()) {
		d.bytes.Add(-int64(len(data)))
		d.refuse(w, r, busy())
		return nil, nil
	}
	return data, sync.OnceFunc(func() {
		d.bytes.Add(-int64(len(data)))
		d.done()
	})
}

// mostBodies is how many bodies of the greatest length may be held at one
// time by those judged and those that wait.
const mostBodies = 8

func (d *door) parsed(w http.ResponseWriter, r *http.Request, data []byte) *element.Document {
	doc, faults := element.Read(data, element.Limit{})
	if len(faults) == 0 {
		faults = schema.Check(doc, d.Judges...)
		if root := doc.Root(); root.Get("resourceType").Text() == "Bundle" && root.Get("type").Text() == "batch" {
			faults = slices.DeleteFunc(faults, func(f finding.Finding) bool { return inEntry.MatchString(f.Place.Expression) })
		}
	}
	if len(faults) > 0 {
		d.send(w, r, http.StatusBadRequest, r4.WriteFaults(faults, requestID(r)))
		return nil
	}
	return doc
}

// inEntry is a place in a resource of a batch, which is that entry's fault.
var inEntry = regexp.MustCompile(`^Bundle\.entry\[\d+\]\.resource\b`)

// sent is a resource that is sent by itself.
func (d *door) sent(kind string, known []string, make func(r *http.Request, n element.Node) (intake.Item, *refusal)) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		doc, data, release := d.taken(w, r, known...)
		if release == nil {
			return
		}
		defer release()
		n := doc.Root()
		if n.Get("resourceType").Text() != kind {
			d.refuse(w, r, refusal{status: http.StatusBadRequest, issue: "invalid", code: "type-differs", what: "the resource is of another type than the address", todo: "Client: send it to the address of its type.", at: "resourceType"})
			return
		}
		item, x := make(r, n)
		if x != nil {
			d.refuse(w, r, *x)
			return
		}
		item.Resource, item.At = n, kind
		done, err := d.intake.Receive(r.Context(), d.call(r, data), []intake.Item{item})
		if err != nil {
			d.refuse(w, r, d.why(err))
			return
		}
		d.answerOne(w, r, done[0])
	}
}

func (d *door) call(r *http.Request, data []byte) intake.Call {
	return intake.Call{Now: d.Now(), Agent: Operator, Request: requestID(r), Media: r.Header.Get("Content-Type"), Bytes: data}
}

func (d *door) create(kind string) http.HandlerFunc {
	return d.sent(kind, nil, func(r *http.Request, _ element.Node) (intake.Item, *refusal) {
		item := intake.Item{Way: intake.Create}
		if condition := r.Header.Values("If-None-Exist"); len(condition) > 0 {
			by, x := identity(strings.Join(condition, "&"), "If-None-Exist")
			if x != nil {
				return item, x
			}
			item.Once = &by
		}
		return item, nil
	})
}

func (d *door) feed(kind string) http.HandlerFunc {
	return d.sent(kind, []string{"identifier"}, func(r *http.Request, _ element.Node) (intake.Item, *refusal) {
		query := r.URL.Query()
		query.Del("_format")
		query.Del("_pretty")
		by, x := identity(query.Encode(), "identifier")
		return intake.Item{Way: intake.Feed, Where: &by}, x
	})
}

func (d *door) update(kind string) http.HandlerFunc {
	return d.sent(kind, nil, func(r *http.Request, n element.Node) (intake.Item, *refusal) {
		id := chi.URLParam(r, "id")
		if n.Get("id").Text() != id {
			return intake.Item{}, &refusal{status: http.StatusBadRequest, issue: "invalid", code: "id-differs", what: "the id of address and resource differ", todo: "Client: send the id of the address in the resource.", at: kind + ".id"}
		}
		version, x := replaced(r.Header.Get("If-Match"), "If-Match")
		return intake.Item{Way: intake.Update, ID: id, Version: version}, x
	})
}

var weak = regexp.MustCompile(`^W/"([1-9][0-9]{0,17})"$`)

// replaced is the version of an If-Match header. 0: it is not said, which is
// refused once it is known that there is something to replace.
func replaced(header, at string) (int64, *refusal) {
	if header == "" {
		return 0, nil
	}
	m := weak.FindStringSubmatch(header)
	if m == nil {
		return 0, &refusal{status: http.StatusBadRequest, issue: "value", code: "parameter-malformed", what: "the version to be replaced cannot be read", todo: `Client: send the ETag as it was given: W/"3".`, at: at}
	}
	version, _ := strconv.ParseInt(m[1], 10, 64)
	return version, nil
}

// identity reads a condition.
func identity(query, at string) (adapter.Identity, *refusal) {
	values, err := url.ParseQuery(query)
	by, ok := intake.ParseIdentity(values)
	if err != nil || !ok {
		return by, &refusal{status: http.StatusBadRequest, issue: "not-supported", code: "condition-malformed", what: "the condition is not identifier=system|value", todo: "Client: ask by one identifier with its system.", at: at}
	}
	return by, nil
}

// answerOne answers create and update as the client prefers: the resource as
// it is stored, nothing, or an OperationOutcome. A change that was not
// applied is always said, unless the resource is asked for.
func (d *door) answerOne(w http.ResponseWriter, r *http.Request, done intake.Done) {
	status := http.StatusOK
	h := w.Header()
	place := d.Public + "/fhir/" + placeOf(done.Resource)
	h.Set("ETag", etag(done.Resource.Version))
	h.Set("Last-Modified", done.Resource.Updated.UTC().Format(http.TimeFormat))
	if done.Outcome == intake.Created {
		status = http.StatusCreated
		h.Set("Location", place)
	} else {
		h.Set("Content-Location", place)
	}
	wish := preferences(r)
	notice := d.notice(done)
	switch {
	case slices.Contains(wish, "return=operationoutcome"), done.Outcome == intake.Unapplied && !slices.Contains(wish, "return=representation"):
		h.Set("Location", place)
		d.send(w, r, status, element.EncodeLine(element.Edit(notice, element.F("id", element.Str(requestID(r))))))
	case slices.Contains(wish, "return=minimal"):
		h.Set("Content-Length", "0")
		w.WriteHeader(status)
	default:
		d.shown(w, r, status, stamp(done.Resource))
	}
}

func placeOf(r adapter.Resource) string {
	return r.Type + "/" + r.ID + "/_history/" + strconv.FormatInt(r.Version, 10)
}

// notice is what is to be said of an item, as an OperationOutcome.
func (d *door) notice(done intake.Done) element.Value {
	switch {
	case done.Outcome == intake.Unapplied:
		return r4.WriteNotice(r4.Refusal{Severity: "warning", Issue: "business-rule", Code: "change-not-applied", What: "what is stored under the identifier has other content and stays as it is; nothing of the change was applied",
			Todo: "Client: a person looks at it with Task/" + done.Task + "; to change what is stored, update it.", At: done.Resource.Type})
	case done.Again:
		return r4.WriteNotice(r4.Refusal{Severity: "information", Issue: "duplicate", Of: "finding", Code: "identity-duplicate-message", What: "the order is stored with this content already; nothing was done again",
			Todo: "Nobody has to act.", At: done.Resource.Type})
	}
	return r4.WriteNotice(r4.Refusal{Severity: "information", Issue: "informational", Code: "done", What: "it is stored", Todo: "Nobody has to act; what was found stands in DetectedIssue."})
}

// why says why nothing was taken in.
func (d *door) why(err error) refusal {
	var refused *intake.Refused
	if errors.As(err, &refused) {
		x := refusals[refused.Reason]
		x.at = refused.At
		return x
	}
	var away *adapter.Unavailable
	if errors.As(err, &away) {
		return refusal{status: http.StatusServiceUnavailable, issue: "no-store", code: "store-unavailable", what: "the store cannot write now; what was sent counts as not taken in", todo: "Client: send it again after the time in Retry-After; an order is taken in once.", again: 5 * time.Second}
	}
	d.Log.Error("not stored", "why", err.Error())
	return refusal{status: http.StatusInternalServerError, issue: "exception", code: "program-failed", what: "the program failed; nothing was kept", todo: "Client: send it again once; then tell who runs the server the request's id."}
}

func busy() refusal {
	return refusal{status: http.StatusServiceUnavailable, issue: "throttled", code: "server-busy", what: "too many documents are being judged", todo: "Client: send it again after the time in Retry-After.", again: 5 * time.Second}
}
