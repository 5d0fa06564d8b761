package api

import (
	"context"
	"net/http"
	"regexp"
	"runtime/debug"
	"time"

	"github.com/go-chi/chi/v5"
)

type idKey struct{}

var idForm = regexp.MustCompile(`^[A-Za-z0-9-]{1,64}$`)

// identify keeps the request's id where it can stand in a log line, and gives
// one otherwise.
func (d *door) identify(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		id := r.Header.Get("X-Request-Id")
		if !idForm.MatchString(id) {
			id = d.NewID()
		}
		w.Header().Set("X-Request-Id", id)
		next.ServeHTTP(w, r.WithContext(context.WithValue(r.Context(), idKey{}, id)))
	})
}

func requestID(r *http.Request) string {
	id, _ := r.Context().Value(idKey{}).(string)
	return id
}

// bounded refuses a head that is longer than mostHead, and says so as FHIR;
// one of more than twice that is cut off before it gets here.
func (d *door) bounded(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		n := len(r.RequestURI)
		for name, values := range r.Header {
			for _, v := range values {
				n += len(name) + len(v) + 4
			}
		}
		if n > mostHead {
			d.refuse(w, r, refusal{status: http.StatusRequestHeaderFieldsTooLarge, issue: "too-long", code: "head-too-long", what: "the address and the headers are longer than is read",
				todo: "Client: send a search as POST to _search, and fewer headers."})
			return
		}
		next.ServeHTTP(w, r)
	})
}

const mostHead = 32 << 10

// watched remembers the status that was sent.
type watched struct {
	http.ResponseWriter
	status int
}

func (w *watched) WriteHeader(status int) {
	if w.status == 0 {
		w.status = status
	}
	w.ResponseWriter.WriteHeader(status)
}

// Unwrap lets http.ResponseController reach the connection.
func (w *watched) Unwrap() http.ResponseWriter { return w.ResponseWriter }

// account logs and counts each request by its route, never by its address:
// an address may hold patient data.
func (d *door) account(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		began := d.Now()
		seen := &watched{ResponseWriter: w}
		next.ServeHTTP(seen, r)
		route := chi.RouteContext(r.Context()).RoutePattern()
		if route == "" || seen.status == http.StatusNotFound && route == "/fhir/*" {
			route = "unknown"
		}
		took := d.Now().Sub(began)
		d.Metrics.observe(method(r.Method), route, seen.status, took)
		d.Log.Info("request", "id", requestID(r), "method", method(r.Method), "route", route, "status", seen.status, "took", took.Round(time.Microsecond).String())
	})
}

// method is a known method; what a client invents does not reach the log.
func method(m string) string {
	switch m {
	case http.MethodGet, http.MethodHead, http.MethodPost, http.MethodPut, http.MethodPatch, http.MethodDelete, http.MethodOptions:
		return m
	}
	return "other"
}

// recover answers 500 where the program failed; the log has the stack, which
// holds no values.
func (d *door) recover(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		defer func() {
			if p := recover(); p != nil {
				d.Log.Error("the program failed", "id", requestID(r), "stack", string(debug.Stack()))
				d.refuse(w, r, refusal{status: http.StatusInternalServerError, issue: "exception", code: "program-failed", what: "the program failed; nothing was judged and nothing was kept",
					todo: "Client: send it again once; then tell who runs the server the request's id."})
			}
		}()
		next.ServeHTTP(w, r)
	})
}

// secure sets what every answer has.
func secure(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Cache-Control", "no-store")
		h.Set("Content-Security-Policy", "default-src 'none'; frame-ancestors 'none'")
		h.Set("Referrer-Policy", "no-referrer")
		next.ServeHTTP(w, r)
	})
}
