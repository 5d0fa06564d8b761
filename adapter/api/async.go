package api

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"
	"strconv"
	"sync"
	"time"

	"github.com/go-chi/chi/v5"

	"weir.example/weir/adapter"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/r4"
)

// Many documents at once, one a line, are judged behind the request, by the
// asynchronous pattern of Bulk Data
// (https://hl7.org/fhir/R4/async.html): 202 with an address to ask at, 202
// with the progress, then the names of the results. Results are kept in
// memory, for a while, and are gone when the program stops: nothing of them
// is stored, and the client has its documents.

const (
	mostRuns  = 16               // of all clients
	runsKept  = 30 * time.Minute // after the last line is judged
	askAgain  = 2 * time.Second
	mediaLine = "application/fhir+ndjson"
)

// run is one request that is carried out behind it.
type run struct {
	mu     sync.Mutex
	begun  time.Time
	ended  time.Time // zero while it runs
	lines  int
	failed int
	out    bytes.Buffer // answers, line for line
	faults bytes.Buffer // an OperationOutcome for each line that failed
	stop   context.CancelFunc
}

type runs struct {
	mu  sync.Mutex
	all map[string]*run
}

func (d *door) asyncRoutes(r chi.Router) {
	d.runs = &runs{all: map[string]*run{}}
	r.Get("/verify-run/{id}", d.runState)
	r.Delete("/verify-run/{id}", d.runCancel)
	r.Get("/verify-run/{id}/output", d.runText(func(x *run) *bytes.Buffer { return &x.out }))
	r.Get("/verify-run/{id}/error", d.runText(func(x *run) *bytes.Buffer { return &x.faults }))
}

// wantsLines reports whether the body is NDJSON.
func wantsLines(r *http.Request) bool {
	kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
	return err == nil && (kind == mediaLine || kind == "application/ndjson" || kind == "application/x-ndjson")
}

// verifyLines begins a run.
func (d *door) verifyLines(w http.ResponseWriter, r *http.Request) {
	if !prefers(r, "respond-async") {
		d.refuse(w, r, refusal{status: http.StatusUnsupportedMediaType, issue: "not-supported", code: "media-not-read", what: "lines are judged behind the request only", todo: "Client: send Prefer: respond-async with NDJSON, or one document as application/fhir+json.", at: "Prefer"})
		return
	}
	data, x := d.unpacked(w, r)
	if x != nil {
		d.refuse(w, r, *x)
		return
	}
	ctx, stop := context.WithCancel(context.WithoutCancel(r.Context()))
	one := &run{begun: d.Now(), stop: stop}
	id := d.NewID()
	if !d.runs.add(id, one, d.Now()) {
		stop()
		d.refuse(w, r, refusal{status: http.StatusTooManyRequests, issue: "throttled", code: "server-busy", what: "too many runs are kept", todo: "Client: fetch and delete results, or come again after the time in Retry-After.", again: time.Minute})
		return
	}
	request := adapter.Request{Now: d.Now(), Stage: finding.Release, Reference: d.Reference, Judges: d.Judges}
	go d.carryOut(ctx, one, data, request)
	w.Header().Set("Content-Location", d.Public+"/fhir/verify-run/"+id)
	w.Header().Set("Content-Length", "0")
	w.WriteHeader(http.StatusAccepted)
}

// add takes a run in when there is room, forgetting what is over long since.
func (x *runs) add(id string, one *run, now time.Time) bool {
	x.mu.Lock()
	defer x.mu.Unlock()
	for other, r := range x.all {
		if r.over(now.Add(-runsKept)) {
			delete(x.all, other)
		}
	}
	if len(x.all) >= mostRuns {
		return false
	}
	x.all[id] = one
	return true
}

func (x *run) over(before time.Time) bool {
	x.mu.Lock()
	defer x.mu.Unlock()
	return !x.ended.IsZero() && x.ended.Before(before)
}

func (d *door) carryOut(ctx context.Context, one *run, data []byte, request adapter.Request) {
	jobs := adapter.LineJobs(bytes.NewReader(data), adapter.Row{}, request)
	for ctx.Err() == nil {
		job, err := jobs()
		if errors.Is(err, io.EOF) || err != nil {
			break
		}
		if !d.turn(ctx) { // it gives way to those who wait for an answer
			continue
		}
		row := job.Do()
		d.done()
		one.mu.Lock()
		one.lines++
		if len(row.Faults) > 0 {
			one.failed++
			line := r4.WriteFaults(row.Faults, fmt.Sprintf("line-%d", row.Line))
			one.faults.Write(line)
			one.out.Write(line)
		} else {
			one.out.Write(r4.WriteBundlesLine(row.Worksheets))
		}
		one.mu.Unlock()
	}
	one.mu.Lock()
	one.ended = d.Now()
	one.mu.Unlock()
}

func (d *door) find(w http.ResponseWriter, r *http.Request) *run {
	d.runs.mu.Lock()
	one := d.runs.all[chi.URLParam(r, "id")]
	d.runs.mu.Unlock()
	if one == nil {
		d.refuse(w, r, refusal{status: http.StatusNotFound, issue: "not-found", code: "resource-unknown", what: "there is no such run, or it is gone", todo: "Client: send the documents again."})
	}
	return one
}

// runState says how far a run is, or where its results are.
func (d *door) runState(w http.ResponseWriter, r *http.Request) {
	one := d.find(w, r)
	if one == nil {
		return
	}
	one.mu.Lock()
	defer one.mu.Unlock()
	if one.ended.IsZero() {
		w.Header().Set("X-Progress", strconv.Itoa(one.lines)+" lines judged")
		w.Header().Set("Retry-After", strconv.Itoa(int(askAgain/time.Second)))
		w.Header().Set("Content-Length", "0")
		w.WriteHeader(http.StatusAccepted)
		return
	}
	address := d.Public + r.URL.Path
	file := func(name, kind string, n int) element.Value {
		if n == 0 {
			return element.Value{}
		}
		return element.Obj(element.F("type", element.Str(kind)), element.F("url", element.Str(address+"/"+name)), element.F("count", element.Int(n)))
	}
	body := element.EncodeLine(element.Obj(
		element.F("transactionTime", element.Str(one.begun.Format(time.RFC3339))),
		element.F("request", element.Str(d.Public+"/fhir/MedicationRequest/$verify")),
		element.F("requiresAccessToken", element.Boolean(false)),
		element.F("output", element.Always(element.List(file("output", "Bundle", one.lines)))),
		element.F("error", element.Always(element.List(file("error", "OperationOutcome", one.failed))))))
	w.Header().Set("Content-Type", "application/json")
	w.Header().Set("Content-Length", strconv.Itoa(len(body)))
	_, _ = w.Write(body) // the client has gone: nothing is left to say
}

func (d *door) runCancel(w http.ResponseWriter, r *http.Request) {
	one := d.find(w, r)
	if one == nil {
		return
	}
	one.stop()
	d.runs.mu.Lock()
	delete(d.runs.all, chi.URLParam(r, "id"))
	d.runs.mu.Unlock()
	w.Header().Set("Content-Length", "0")
	w.WriteHeader(http.StatusAccepted)
}

func (d *door) runText(of func(*run) *bytes.Buffer) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		one := d.find(w, r)
		if one == nil {
			return
		}
		one.mu.Lock()
		defer one.mu.Unlock()
		if one.ended.IsZero() {
			d.refuse(w, r, refusal{status: http.StatusNotFound, issue: "not-found", code: "resource-unknown", what: "the run has not ended", todo: "Client: ask for its state."})
			return
		}
		w.Header().Set("Content-Type", mediaLine)
		w.Header().Set("Content-Length", strconv.Itoa(of(one).Len()))
		_, _ = w.Write(of(one).Bytes()) // the client has gone: nothing is left to say
	}
}
