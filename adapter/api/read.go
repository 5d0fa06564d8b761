package api

import (
	"context"
	"errors"
	"net/http"
	"regexp"
	"strconv"
	"strings"
	"time"

	"github.com/go-chi/chi/v5"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/index"
	"weir.example/weir/mapping/element"
)

// auditEvent is the one type that is no stored resource: it is made from the
// audit rows.
const auditEvent = "AuditEvent"

// readRoutes serves read, vread, history and search of what is stored, of
// every type that has search parameters.
func (d *door) readRoutes(r chi.Router) {
	get := func(pattern string, h http.HandlerFunc) {
		r.Get(pattern, h)
		r.Head(pattern, h)
	}
	for _, kind := range index.Types() {
		one, version, history, search := d.read(kind), d.version(kind), d.history(kind), d.search(kind)
		if kind == auditEvent {
			one, version, history, search = d.readAudit, d.versionAudit, d.historyAudit, d.searchAudit
		}
		get("/"+kind, search)
		r.Post("/"+kind+"/_search", search)
		get("/"+kind+"/_search", func(w http.ResponseWriter, r *http.Request) { d.allow(w, r, http.MethodPost) })
		get("/"+kind+"/{id}", one)
		get("/"+kind+"/{id}/_history", history)
		get("/"+kind+"/{id}/_history/{version}", version)
	}
}

// resourceID is the form of an id (https://hl7.org/fhir/R4/datatypes.html#id).
// typeForm is that of the name of a resource type.
var typeForm = regexp.MustCompile(`^[A-Z][A-Za-z]{1,63}$`)

var resourceID = regexp.MustCompile(`^[A-Za-z0-9.-]{1,64}$`)

func unknownResource() *refusal {
	return &refusal{status: http.StatusNotFound, issue: "not-found", code: "resource-unknown", what: "there is no such resource", todo: "Client: search for it by its identifier."}
}

// failed turns an error of the store into a refusal.
func failed(err error) *refusal {
	var missing *adapter.NotFound
	var cursor *adapter.BadCursor
	var gone *adapter.Unavailable
	switch {
	case errors.As(err, &missing):
		return unknownResource()
	case errors.As(err, &cursor):
		return &refusal{status: http.StatusBadRequest, issue: "value", code: "cursor-unknown", what: "the cursor was not made by this server for this search", todo: "Client: search again from the first page.", at: "_cursor"}
	case errors.As(err, &gone), errors.Is(err, context.DeadlineExceeded), errors.Is(err, context.Canceled):
		return &refusal{status: http.StatusServiceUnavailable, issue: "no-store", code: "store-unavailable", what: "the store does not answer now", todo: "Client: ask again after the time in Retry-After.", again: 5 * time.Second}
	}
	return &refusal{status: http.StatusInternalServerError, issue: "exception", code: "program-failed", what: "the program failed", todo: "Client: ask again once; then tell who runs the server the request's id."}
}

// damaged is what is stored and cannot be read as what it was.
func damaged() *refusal {
	return &refusal{status: http.StatusInternalServerError, issue: "exception", code: "resource-damaged", what: "what is stored can no longer be read whole", todo: "Who runs the server: check the store (weir doctor) and restore a copy."}
}

// stamp is a stored resource as it is served: as it is, with the version and
// the time that the store knows in its meta, whatever was sent there; other
// members of meta stay as sent. It is nothing when the content cannot be read
// whole, or is of another type or id than it is stored under.
func stamp(x adapter.Resource) element.Value {
	doc, faults := element.Read(x.JSON, element.Limit{})
	for _, f := range faults {
		if f.Code == "document-json" || f.Code == "document-limit" {
			return element.Value{}
		}
	}
	root := doc.Root()
	if root.Get("resourceType").Text() != x.Type || root.Get("id").Text() != x.ID {
		return element.Value{}
	}
	meta := element.Obj(element.F("versionId", element.Str(strconv.FormatInt(x.Version, 10))), element.F("lastUpdated", element.Str(instant(x.Updated))))
	for _, m := range root.Get("meta").Members() {
		switch m.Name() {
		case "versionId", "lastUpdated", "_versionId", "_lastUpdated":
		default:
			meta = meta.With(element.F(m.Name(), element.RawNode(m)))
		}
	}
	fields := []element.Field{element.F("resourceType", element.Str(x.Type)), element.F("id", element.Str(x.ID)), element.F("meta", meta)}
	for _, m := range root.Members() {
		switch m.Name() {
		case "resourceType", "id", "meta":
		default:
			fields = append(fields, element.F(m.Name(), element.RawNode(m)))
		}
	}
	return element.Obj(fields...)
}

// instant has the store's whole precision, so that who asks for what is newer
// than something seen misses nothing.
func instant(t time.Time) string { return t.UTC().Format("2006-01-02T15:04:05.000000Z") }

// etag is a version as HTTP carries it (https://hl7.org/fhir/R4/http.html#versioning).
func etag(version int64) string { return `W/"` + strconv.FormatInt(version, 10) + `"` }

// read answers with the current version of a resource.
func (d *door) read(kind string) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		d.one(w, r, func(ctx context.Context, id string) (adapter.Resource, error) { return d.Store.Get(ctx, kind, id) })
	}
}

// version answers with one version of a resource.
func (d *door) version(kind string) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		d.one(w, r, func(ctx context.Context, id string) (adapter.Resource, error) {
			version, ok := versionNumber(chi.URLParam(r, "version"))
			if !ok {
				return adapter.Resource{}, &adapter.NotFound{Kind: kind}
			}
			return d.Store.Version(ctx, kind, id, version)
		})
	}
}

// versionNumber reads a version as we write it, and no other form of it.
func versionNumber(text string) (int64, bool) {
	n, err := strconv.ParseInt(text, 10, 64)
	return n, err == nil && n > 0 && strconv.FormatInt(n, 10) == text
}

// one answers with the resource that load finds.
func (d *door) one(w http.ResponseWriter, r *http.Request, load func(context.Context, string) (adapter.Resource, error)) {
	if x := acceptable(r); x != nil {
		d.refuse(w, r, *x)
		return
	}
	id := chi.URLParam(r, "id")
	if !resourceID.MatchString(id) {
		d.refuse(w, r, *unknownResource())
		return
	}
	ctx, cancel := context.WithTimeout(r.Context(), d.Limits.Took)
	defer cancel()
	found, err := load(ctx, id)
	if err != nil {
		d.refuse(w, r, *failed(err))
		return
	}
	d.give(w, r, stamp(found), found.Version, found.Updated)
}

// give sends a version of a resource with its head, or 304 when the client
// has it. If-Modified-Since is not looked at: it counts in seconds, and two
// versions within one second would be one.
func (d *door) give(w http.ResponseWriter, r *http.Request, body element.Value, version int64, updated time.Time) {
	if body.Empty() {
		d.refuse(w, r, *damaged())
		return
	}
	w.Header().Set("ETag", etag(version))
	w.Header().Set("Last-Modified", updated.UTC().Format(http.TimeFormat))
	if has(r.Header.Values("If-None-Match"), etag(version)) {
		w.WriteHeader(http.StatusNotModified)
		return
	}
	d.resource(w, r, body)
}

// has compares weakly (RFC 9110, 8.8.3.2).
func has(lines []string, tag string) bool {
	for _, line := range lines {
		for _, one := range strings.Split(line, ",") {
			if one = strings.TrimSpace(one); one == "*" || strings.TrimPrefix(one, "W/") == strings.TrimPrefix(tag, "W/") {
				return true
			}
		}
	}
	return false
}
