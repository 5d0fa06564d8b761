// Package queue does background work: what an effect put into Effect.Queue,
// once, by as many workers in as many processes as there are. The queue is
// River, in tables beside the record, on both databases.
//
// Work may be begun more than once, since a worker can be killed or frozen. It
// is done once: what a worker hands back is written together with the end of
// its attempt, and only while it is the attempt that runs. A worker that was
// taken for dead and comes back is refused with adapter.Fenced.
package queue

import (
	"context"
	"crypto/rand"
	"database/sql"
	"log/slog"
	"time"

	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver"
	"github.com/riverqueue/river/riverdriver/riverpgxv5"
	"github.com/riverqueue/river/riverdriver/riversqlite"
	"github.com/riverqueue/river/rivertype"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/store"
	"weir.example/weir/adapter/store/postgres"
	"weir.example/weir/adapter/store/sqlite"
)

// Options say how work is done. Zero fields have the default that is named.
type Options struct {
	// Timeout is how long a handler may take until its context ends: 2 minutes.
	Timeout time.Duration
	// Rescue is how old an attempt becomes before its worker is taken for dead
	// and the work given to another: 5 minutes. It is longer than Timeout.
	Rescue time.Duration
	// Backoff is the wait before the second attempt, 1 second. It doubles with
	// each further one, up to Longest, 5 minutes. After store.JobAttempts
	// attempts the work waits for a person: see Failed.
	Backoff, Longest time.Duration
	// Poll is how often a worker without work asks for some: 100 ms.
	Poll time.Duration
	// Observe is told of every attempt, for metrics; it must not block.
	Observe func(Event)
	// Logger is where the queue's own faults go; nil for nowhere.
	Logger *slog.Logger
}

// Outcome is how an attempt ended.
type Outcome string

const (
	Done    Outcome = "done"    // written
	Failed  Outcome = "failed"  // is tried again, or has failed for good
	Refused Outcome = "refused" // the work was given to another worker meanwhile
	Gone    Outcome = "gone"    // there was nothing to do: done before, or erased
	Rescued Outcome = "rescued" // taken from a worker that seems dead
)

// Event is the end of one attempt. Nothing of a patient is in it.
type Event struct {
	Outcome Outcome
	ID      string // of the work
	Kind    string // of the work; "" when rescued
	Job     int64
	Attempt int
	Last    bool // no further attempt follows by itself
	Took    time.Duration
	Err     error
}

// Record is what the queue needs of a store.
type Record interface {
	Commit(ctx context.Context, e adapter.Effect) error
	Work(ctx context.Context, id string) (work adapter.Queued, done bool, err error)
	WorkDone(ctx context.Context, id string) (bool, error)
	Requeue(ctx context.Context) (int, error)
}

// client is a River client over either database.
type client interface {
	Start(ctx context.Context) error
	Stop(ctx context.Context) error
	JobList(ctx context.Context, params *river.JobListParams) (*river.JobListResult, error)
	JobRetry(ctx context.Context, id int64) (*rivertype.JobRow, error)
}

// Queue is the queue of one store.
type Queue struct {
	record Record
	o      Options
	exec   riverdriver.Executor
	client func(*river.Config) (client, error)
	own    *sql.DB // the connection to the file, nil for a server
	now    func(ctx context.Context) (time.Time, error)
	lists  client // works nothing
}

// Open opens the queue of a *sqlite.Store or a *postgres.Store, and takes up
// unfinished work that the queue does not know, as after a copy was read in.
func Open(ctx context.Context, s Record, o Options) (*Queue, error) {
	o = o.defaults()
	if o.Rescue <= o.Timeout {
		return nil, &adapter.Invalid{What: "work would be given to another worker before its time is over: the rescue time must be longer than the timeout"}
	}
	q := &Queue{record: s, o: o, now: func(context.Context) (time.Time, error) { return time.Now(), nil }}
	switch s := s.(type) {
	case *sqlite.Store:
		db, err := s.Jobs()
		if err != nil {
			return nil, err
		}
		q.own = db
		over(q, riversqlite.New(db))
	case *postgres.Store:
		over(q, riverpgxv5.New(s.Pool()))
		// The clock that says when an attempt began; ours may differ.
		q.now = func(ctx context.Context) (now time.Time, err error) {
			err = s.Pool().QueryRow(ctx, "SELECT now()").Scan(&now)
			return now, err
		}
	default:
		return nil, &adapter.Invalid{What: "a queue over a store of an unknown kind"}
	}
	var err error
	if q.lists, err = q.client(&river.Config{Logger: o.Logger}); err == nil {
		_, err = s.Requeue(ctx)
	}
	if err != nil {
		_ = q.Close()
		return nil, err
	}
	return q, nil
}

func (o Options) defaults() Options {
	for _, d := range []struct {
		to    *time.Duration
		usual time.Duration
	}{
		{&o.Timeout, 2 * time.Minute}, {&o.Rescue, 5 * time.Minute}, {&o.Backoff, time.Second},
		{&o.Longest, 5 * time.Minute}, {&o.Poll, 100 * time.Millisecond},
	} {
		if *d.to <= 0 {
			*d.to = d.usual
		}
	}
	if o.Observe == nil {
		o.Observe = func(Event) {}
	}
	if o.Logger == nil {
		o.Logger = slog.New(slog.DiscardHandler)
	}
	return o
}

func over[T any](q *Queue, d riverdriver.Driver[T]) {
	q.exec = d.GetExecutor()
	q.client = func(c *river.Config) (client, error) { return river.NewClient[T](fencing[T]{d}, c) }
}

// Close lets the queue go. The store stays open.
func (q *Queue) Close() error {
	if q.own == nil {
		return nil
	}
	return q.own.Close()
}

// backoff is the wait before the next attempt.
type backoff struct{ first, longest time.Duration }

// NextRetry is when work is tried again that has failed.
func (b backoff) NextRetry(job *rivertype.JobRow) time.Time {
	wait := b.first
	for range job.Attempt - 1 {
		wait = min(2*wait, b.longest)
	}
	return time.Now().Add(min(wait, b.longest))
}

// config is the River client that works.
func (q *Queue) config(workers int, w *worker) *river.Config {
	c := &river.Config{
		ID:                          "weir-" + rand.Text(),
		Logger:                      q.o.Logger,
		Workers:                     river.NewWorkers(),
		Queues:                      map[string]river.QueueConfig{river.QueueDefault: {MaxWorkers: workers}},
		FetchPollInterval:           q.o.Poll,
		FetchCooldown:               min(q.o.Poll, 5*time.Millisecond),
		PollOnly:                    true, // notices would need a connection more, and save no more than Poll
		JobTimeout:                  q.o.Timeout,
		MaxAttempts:                 store.JobAttempts,
		RescueStuckJobsAfter:        q.o.Rescue + 24*time.Hour, // see rescue: ours comes first
		RetryPolicy:                 backoff{q.o.Backoff, q.o.Longest},
		CompletedJobRetentionPeriod: time.Hour,
		DiscardedJobRetentionPeriod: -1, // until a person has seen it
	}
	river.AddWorker(c.Workers, w)
	return c
}
