package api

import (
	"net/http"
	"strconv"
	"strings"
	"time"

	"github.com/go-chi/chi/v5"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/r4"
)

// refusal is why a request is not answered: an issue type of R4, a code of
// our code system request, what is wrong and what to do. It holds nothing of
// the request but names of its own.
type refusal struct {
	status     int
	issue      string // https://hl7.org/fhir/R4/valueset-issue-type.html
	code       string // cs:request
	what, todo string
	at         string // element or parameter, by its name
	of         string // code system of code when it is not request
	again      time.Duration
}

// refuse answers with an OperationOutcome that carries the request's id.
func (d *door) refuse(w http.ResponseWriter, r *http.Request, x refusal) {
	if x.status == http.StatusMethodNotAllowed && w.Header().Get("Allow") == "" {
		w.Header().Set("Allow", "GET, HEAD") // of an id that no resource has: it can be asked for
	}
	if x.again > 0 {
		w.Header().Set("Retry-After", strconv.Itoa(int(x.again/time.Second)))
	}
	body := r4.WriteRefusal(r4.Refusal{Issue: x.issue, Code: x.code, What: x.what, Todo: x.todo, At: x.at, Of: x.of, Request: requestID(r)})
	d.send(w, r, x.status, body)
}

const mediaFHIR = "application/fhir+json; charset=utf-8; fhirVersion=4.0"

// send writes a body that is FHIR. HEAD has the head of GET.
func (d *door) send(w http.ResponseWriter, r *http.Request, status int, body []byte) {
	w.Header().Set("Content-Type", mediaFHIR)
	w.Header().Set("Content-Length", strconv.Itoa(len(body)))
	w.WriteHeader(status)
	if r.Method != http.MethodHead {
		_, _ = w.Write(body) // the client has gone: nothing is left to say
	}
}

// resource sends a resource, indented or in one line as the request asks.
func (d *door) resource(w http.ResponseWriter, r *http.Request, body element.Value) {
	d.shown(w, r, http.StatusOK, body)
}

func (d *door) shown(w http.ResponseWriter, r *http.Request, status int, body element.Value) {
	if r.URL.Query().Get("_pretty") == "true" {
		d.send(w, r, status, element.Encode(body))
		return
	}
	d.send(w, r, status, element.EncodeLine(body))
}

func (d *door) unknown(w http.ResponseWriter, r *http.Request) {
	d.refuse(w, r, refusal{status: http.StatusNotFound, issue: "not-found", code: "address-unknown", what: "nothing is served at this address",
		todo: "Client: read what is served at /fhir/metadata."})
}

// Elsewhere refuses who calls the server by a name that is not its own.
func (s Server) Elsewhere() http.Handler {
	d := &door{Server: s}
	return d.identify(secure(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		d.refuse(w, r, refusal{status: http.StatusMisdirectedRequest, issue: "security", code: "host-unknown", what: "this server does not go by that name",
			todo: "Who runs the server: set its public address. Client: call it by that."})
	})))
}

// otherMethod answers 405 with Allow, which HTTP demands beside it.
func (d *door) otherMethod(w http.ResponseWriter, r *http.Request) {
	var allowed []string
	for _, m := range []string{http.MethodGet, http.MethodHead, http.MethodPost, http.MethodPut} {
		if d.routes.Match(chi.NewRouteContext(), m, r.URL.Path) {
			allowed = append(allowed, m)
		}
	}
	d.allow(w, r, allowed...)
}

// allow refuses the method and names those that are answered.
func (d *door) allow(w http.ResponseWriter, r *http.Request, methods ...string) {
	w.Header().Set("Allow", strings.Join(methods, ", "))
	d.refuse(w, r, refusal{status: http.StatusMethodNotAllowed, issue: "not-supported", code: "method-not-allowed", what: "this address does not answer that method",
		todo: "Client: use a method of the header Allow."})
}
