package api

import (
	"context"
	"log/slog"
	"net/http"
	"sync/atomic"
	"time"

	"github.com/go-chi/chi/v5"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/intake"
	"weir.example/weir/conformance/profile"
	"weir.example/weir/conformance/schema"
	"weir.example/weir/mapping/policy"
)

// Server answers FHIR requests. Now and NewID are given, never taken.
type Server struct {
	Store     adapter.Store // nil: nothing is kept, and nothing can be read
	Pages     http.Handler  // what people read, at every address but /fhir; nil: nothing
	Reference policy.Reference
	Judges    []schema.Judge
	Now       func() time.Time
	NewID     func() string // of a request that brings none
	Public    string        // the address as clients see it, without a slash at the end: http://127.0.0.1:8765
	Version   string
	Log       *slog.Logger
	Limits    Limits
	Metrics   *Metrics
}

// Limits bound what one request may ask for. The zero value is DefaultLimits.
type Limits struct {
	Body    int64         // bytes of a request's body, as sent and unpacked
	AtOnce  int           // documents judged at one time; the rest wait
	Queue   int           // how many may wait; the next is told at once to come again
	Waiting time.Duration // how long a request waits for its turn before it is told to come again
	Took    time.Duration // the longest one judgement may take
}

// DefaultLimits are those of a server on a small machine.
var DefaultLimits = Limits{Body: 50 << 20, AtOnce: 32, Queue: 256, Waiting: 5 * time.Second, Took: 30 * time.Second}

func (l Limits) or(d Limits) Limits {
	if l.Body == 0 {
		l.Body = d.Body
	}
	if l.AtOnce == 0 {
		l.AtOnce = d.AtOnce
	}
	if l.Queue == 0 {
		l.Queue = d.Queue
	}
	if l.Waiting == 0 {
		l.Waiting = d.Waiting
	}
	if l.Took == 0 {
		l.Took = d.Took
	}
	return l
}

// door is a Server at work.
type door struct {
	Server
	turns  chan struct{}
	queue  atomic.Int64
	bytes  atomic.Int64                // of bodies that are judged or wait
	own    map[string]profile.Resource // definitions of ours by type and id
	routes chi.Routes
	intake *intake.Service
	runs   *runs
}

// Handler serves the FHIR base under /fhir.
func (s Server) Handler() http.Handler {
	s.Limits = s.Limits.or(DefaultLimits)
	if s.Metrics == nil {
		s.Metrics = NewMetrics()
	}
	d := &door{Server: s, turns: make(chan struct{}, s.Limits.AtOnce), own: map[string]profile.Resource{}}
	for _, r := range profile.Resources(s.Version) {
		d.own[r.Kind+"/"+r.ID] = r
	}
	r := chi.NewRouter()
	d.routes = r
	r.Use(d.identify, d.account, d.recover, secure, d.bounded)
	r.NotFound(d.unknown)
	r.MethodNotAllowed(d.otherMethod)
	if d.Pages != nil {
		r.Mount("/", d.Pages)
	}
	r.Route("/fhir", func(r chi.Router) {
		r.Get("/metadata", d.metadata)
		r.Head("/metadata", d.metadata)
		r.HandleFunc("/MedicationRequest/$verify", func(w http.ResponseWriter, r *http.Request) { d.allow(w, r, http.MethodPost) })
		r.Post("/MedicationRequest/$verify", d.verify)
		d.asyncRoutes(r)
		if d.Store != nil {
			d.readRoutes(r)
			d.writeRoutes(r)
		}
		for _, kind := range definitions {
			r.Get("/"+kind+"/{id}", d.definition(kind))
			r.Head("/"+kind+"/{id}", d.definition(kind))
			r.Get("/"+kind, d.findDefinition(kind))
			r.Head("/"+kind, d.findDefinition(kind))
		}
	})
	return r
}

// definitions are the types of ours that are read at their addresses.
var definitions = []string{"CodeSystem", "MessageDefinition", "OperationDefinition", "SearchParameter", "StructureDefinition", "ValueSet"}

// turn waits for a free place among the documents judged at once. False: none
// came free in time.
func (d *door) turn(ctx context.Context) bool {
	select {
	case d.turns <- struct{}{}:
		return true
	default:
	}
	if d.queue.Add(1) > int64(d.Limits.Queue) {
		d.queue.Add(-1)
		return false
	}
	defer d.queue.Add(-1)
	wait, cancel := context.WithTimeout(ctx, d.Limits.Waiting)
	defer cancel()
	select {
	case d.turns <- struct{}{}:
		return true
	case <-wait.Done():
		return false
	}
}

func (d *door) done() { <-d.turns }
