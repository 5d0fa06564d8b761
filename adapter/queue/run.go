package queue

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"strings"
	"time"

	"github.com/riverqueue/river"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/store"
)

// Job is one attempt at a piece of work.
type Job struct {
	ID      string // of the work: adapter.Queued
	Kind    string
	Patient string
	Made    time.Time
	Args    []byte // the body of the work
	Attempt int    // from 1
}

// Handler computes the outcome of a job, in less than a minute: whoever has
// more to do asks for more jobs, for no more than 200 orders each. What it hands back is written as a
// whole together with the end of the job, or not at all; it writes nothing
// itself. Its error has it tried again and is kept: nothing of a patient may
// be in it. An effect made from the job and the record alone, with ids made
// from them, is the same whoever computes it.
type Handler func(ctx context.Context, j Job) (adapter.Effect, error)

// commitTime is how long an outcome may take to be written.
const commitTime = 30 * time.Second

// Run works with so many workers until the context ends; then it begins
// nothing more, lets running jobs finish, and returns. A process may be killed
// at any moment: what it was at is done by another after the rescue time.
func (q *Queue) Run(ctx context.Context, workers int, handle Handler) error {
	c, err := q.client(q.config(workers, &worker{q: q, handle: handle}))
	if err != nil {
		return err
	}
	// Not ended by ctx, which would cut off running jobs.
	lasting := context.WithoutCancel(ctx)
	if err := c.Start(lasting); err != nil {
		return unavailable(err)
	}
	rescuing, end := context.WithCancel(ctx)
	defer end()
	rescued := make(chan struct{})
	go func() {
		defer close(rescued)
		q.rescues(rescuing)
	}()
	<-ctx.Done()
	<-rescued
	last, cancel := context.WithTimeout(lasting, q.o.Timeout+commitTime+10*time.Second)
	defer cancel()
	return unavailable(c.Stop(last))
}

type worker struct {
	river.WorkerDefaults[store.JobArgs]
	q      *Queue
	handle Handler
}

// Work does one attempt. Without an error the job is done for the queue too,
// so there is none only when the work is done, or gone.
func (w *worker) Work(ctx context.Context, j *river.Job[store.JobArgs]) error {
	start := time.Now()
	e := Event{ID: j.Args.ID, Job: j.ID, Attempt: j.Attempt, Last: j.Attempt >= j.MaxAttempts}
	e.Err = w.attempt(ctx, j, &e)
	var fenced *adapter.Fenced
	switch {
	case e.Outcome != "": // nothing to do
	case e.Err == nil:
		e.Outcome = Done
	case errors.As(e.Err, &fenced):
		e.Outcome = Refused
	default:
		e.Outcome = Failed
	}
	e.Last = e.Last && e.Outcome == Failed
	e.Took = time.Since(start)
	w.q.o.Observe(e)
	return e.Err
}

func (w *worker) attempt(ctx context.Context, j *river.Job[store.JobArgs], e *Event) error {
	work, done, err := w.q.record.Work(ctx, j.Args.ID)
	var missing *adapter.NotFound
	if done || errors.As(err, &missing) { // missing: the patient was erased
		e.Outcome = Gone
		return nil
	}
	if err != nil {
		return err
	}
	e.Kind = work.Kind
	effect, err := careful(ctx, w.handle, Job{ID: work.ID, Kind: work.Kind, Patient: work.Patient, Made: work.Made, Args: work.Body, Attempt: j.Attempt})
	if err != nil {
		return err
	}
	effect.Fence = &adapter.Fence{Job: j.ID, Attempt: j.Attempt}
	effect.Finished = append(effect.Finished[:len(effect.Finished):len(effect.Finished)], work.ID)
	// When the time is over but nobody has taken the work, the outcome is good.
	commit, cancel := context.WithTimeout(context.WithoutCancel(ctx), commitTime)
	defer cancel()
	return w.q.record.Commit(commit, effect)
}

// careful makes a panic an error. Of the value it keeps only the type, since
// the text may hold anything.
func careful(ctx context.Context, handle Handler, j Job) (out adapter.Effect, err error) {
	defer func() {
		if v := recover(); v != nil {
			err = fmt.Errorf("a panic (%T) in %s", v, where())
		}
	}()
	return handle(ctx, j)
}

// where is the function that panicked.
func where() string {
	pc := make([]uintptr, 16)
	frames := runtime.CallersFrames(pc[:runtime.Callers(2, pc)])
	for {
		f, more := frames.Next()
		if !strings.HasPrefix(f.Function, "runtime.") && !strings.Contains(f.Function, "queue.careful") {
			return fmt.Sprintf("%s:%d", f.Function, f.Line)
		}
		if !more {
			return "an unknown place"
		}
	}
}

// unavailable puts a fault of the queue's database into the port's words. Its
// text is not kept.
func unavailable(err error) error {
	if err == nil {
		return nil
	}
	u := &adapter.Unavailable{Code: "the queue cannot reach its tables"}
	for _, cause := range []error{context.Canceled, context.DeadlineExceeded} {
		if errors.Is(err, cause) {
			u.Code, u.Cause = "interrupted", cause
		}
	}
	return u
}
