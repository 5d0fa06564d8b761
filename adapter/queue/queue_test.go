package queue

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver"
	"github.com/riverqueue/river/riverdriver/riverpgxv5"
	"github.com/riverqueue/river/riverdriver/riversqlite"
	"github.com/riverqueue/river/rivertype"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/store"
	"weir.example/weir/adapter/store/postgres"
	"weir.example/weir/adapter/store/sqlite"
)

// events keeps what a queue tells.
type events struct {
	mu   sync.Mutex
	list []Event
}

func (e *events) add(x Event) {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.list = append(e.list, x)
}

func (e *events) count(o Outcome) (n int) {
	e.mu.Lock()
	defer e.mu.Unlock()
	for _, x := range e.list {
		if x.Outcome == o {
			n++
		}
	}
	return n
}

// Work exists with the effect that made it needed, or not at all.
func TestWorkIsAskedForInTheEffect(t *testing.T) {
	both(t, func(t *testing.T, address string) {
		s := begin(t, address)
		q := begun(t, s, quick())
		ctx := t.Context()
		require.NoError(t, s.Commit(ctx, asked("one", tasks(0, 5, 0, 0)...)))
		var duplicate *adapter.Duplicate
		require.ErrorAs(t, s.Commit(ctx, asked("two", append(tasks(5, 5, 0, 0), task{N: 4})...)), &duplicate, "the same work again")
		require.Error(t, s.Commit(ctx, asked("one", tasks(5, 5, 0, 0)...)), "the effect breaks after its work")
		counts, err := q.Counts(ctx)
		require.NoError(t, err)
		assert.Equal(t, Counts{Waiting: 5}, counts)
		left, err := s.Unfinished(ctx, 100)
		require.NoError(t, err)
		require.Len(t, left, 5)
		isDone := func(id string) bool {
			done, err := q.record.WorkDone(ctx, id)
			require.NoError(t, err)
			_, also, err := q.record.Work(ctx, id)
			require.NoError(t, err)
			assert.Equal(t, also, done)
			return done
		}
		assert.False(t, isDone(workID(3, 0)))
		var none *adapter.NotFound
		_, err = q.record.WorkDone(ctx, "another")
		require.ErrorAs(t, err, &none)

		running(t, q, 3, plain)
		finish(t, s, 10*time.Second)
		assert.True(t, isDone(workID(3, 0)))
		assert.Len(t, audited(t, s, "done-"), 5)
		counts, err = q.Counts(ctx)
		require.NoError(t, err)
		assert.Equal(t, Counts{}, counts)
		// What follows from work is asked for with its outcome.
		require.NoError(t, s.Commit(ctx, asked("three", tasks(10, 4, 3, 0)...)))
		finish(t, s, 10*time.Second)
		assert.Len(t, audited(t, s, "done-"), 5+4*4)
	})
}

// The fence lets one attempt end once, while it runs.
func TestFence(t *testing.T) {
	both(t, func(t *testing.T, address string) {
		s := begin(t, address)
		q := begun(t, s, quick())
		ctx := t.Context()
		require.NoError(t, s.Commit(ctx, asked("one", tasks(0, 1, 0, 0)...)))
		take := func() *adapter.Fence {
			got, err := q.exec.JobGetAvailable(ctx, &riverdriver.JobGetAvailableParams{ClientID: "x", MaxAttemptedBy: 10, MaxToLock: 1, Queue: river.QueueDefault})
			require.NoError(t, err)
			require.Len(t, got.Jobs, 1)
			return &adapter.Fence{Job: got.Jobs[0].ID, Attempt: got.Jobs[0].Attempt}
		}
		effect := func(f *adapter.Fence, id string) adapter.Effect {
			return adapter.Effect{At: clock, Fence: f, Finished: []string{workID(0, 0)}, Audit: []adapter.AuditRow{auditRow(id)}}
		}
		var fenced *adapter.Fenced
		first := take()
		assert.Equal(t, 1, first.Attempt)
		require.ErrorAs(t, s.Commit(ctx, effect(&adapter.Fence{Job: first.Job, Attempt: 2}, "a")), &fenced, "an attempt that was not begun")
		require.ErrorAs(t, s.Commit(ctx, effect(&adapter.Fence{Job: first.Job + 1, Attempt: 1}, "a")), &fenced, "a job that is not there")
		require.NoError(t, q.rescue(ctx), "too young to be rescued")
		before := exported(t, s)
		q.o.Rescue = -time.Second
		require.NoError(t, q.rescue(ctx))
		require.ErrorAs(t, s.Commit(ctx, effect(first, "a")), &fenced, "rescued, not yet begun anew")
		second := take()
		assert.Equal(t, adapter.Fence{Job: first.Job, Attempt: 2}, *second)
		require.ErrorAs(t, s.Commit(ctx, effect(first, "a")), &fenced, "rescued and begun anew")
		assert.Equal(t, before, exported(t, s), "nothing of what was refused is stored")
		// A failure that comes late leaves the running attempt alone.
		late, err := json.Marshal(map[string]any{"at": time.Now(), "attempt": 1, "error": "late"})
		require.NoError(t, err)
		end := func(data []byte) {
			now := time.Now()
			_, err := ending{q.exec}.JobSetStateIfRunningMany(ctx, &riverdriver.JobSetStateIfRunningManyParams{ID: []int64{first.Job}, Attempt: []*int{nil}, ErrData: [][]byte{data},
				FinalizedAt: []*time.Time{nil}, MetadataDoMerge: []bool{false}, MetadataUpdates: [][]byte{nil}, ScheduledAt: []*time.Time{&now}, State: []rivertype.JobState{rivertype.JobStateAvailable}})
			require.NoError(t, err)
		}
		end(late)
		require.NoError(t, s.Commit(ctx, effect(second, "b")))
		require.ErrorAs(t, s.Commit(ctx, effect(second, "c")), &fenced, "twice")
		end(bytes.Replace(late, []byte(`"attempt":1`), []byte(`"attempt":2`), 1))
		row, err := q.exec.JobGetByID(ctx, &riverdriver.JobGetByIDParams{ID: first.Job})
		require.NoError(t, err)
		assert.Equal(t, rivertype.JobStateCompleted, row.State)
		assert.NotNil(t, row.FinalizedAt)
		assert.WithinDuration(t, time.Now(), *row.FinalizedAt, 2*time.Second)
		for _, f := range []adapter.Fence{{Job: 0, Attempt: 1}, {Job: 1}} {
			var invalid *adapter.Invalid
			require.ErrorAs(t, s.Commit(ctx, effect(&f, "d")), &invalid)
		}
	})
}

// What we write into the queue's tables is what the queue writes.
func TestJobsAreAsTheQueueMakesThem(t *testing.T) {
	both(t, func(t *testing.T, address string) {
		s := begin(t, address)
		q := begun(t, s, quick())
		ctx := t.Context()
		require.NoError(t, s.Commit(ctx, asked("one", tasks(0, 1, 0, 0)...)))
		opts := &river.InsertOpts{MaxAttempts: store.JobAttempts}
		args := store.JobArgs{ID: workID(0, 0)}
		switch s := s.(type) {
		case *sqlite.Store:
			c, err := river.NewClient(riversqlite.New(q.own), &river.Config{})
			require.NoError(t, err)
			_, err = c.Insert(ctx, args, opts)
			require.NoError(t, err)
		case *postgres.Store:
			c, err := river.NewClient(riverpgxv5.New(s.Pool()), &river.Config{})
			require.NoError(t, err)
			_, err = c.Insert(ctx, args, opts)
			require.NoError(t, err)
		}
		rows, err := q.exec.JobGetByKindMany(ctx, &riverdriver.JobGetByKindManyParams{Kind: []string{store.JobKind}})
		require.NoError(t, err)
		require.Len(t, rows, 2)
		ours, theirs := *rows[0], *rows[1]
		assert.WithinDuration(t, time.Now(), ours.CreatedAt, 3*time.Second)
		assert.WithinDuration(t, time.Now(), ours.ScheduledAt, 3*time.Second)
		ours.ID, ours.CreatedAt, ours.ScheduledAt = theirs.ID, theirs.CreatedAt, theirs.ScheduledAt
		assert.JSONEq(t, string(theirs.EncodedArgs), string(ours.EncodedArgs))
		ours.EncodedArgs = theirs.EncodedArgs
		assert.Regexp(t, `^\{("river:unique_nonce": ?"[0-9a-f]+")?\}$`, string(theirs.Metadata), "at most how the queue finds a row after an insert")
		assert.Equal(t, "{}", string(ours.Metadata))
		ours.Metadata = theirs.Metadata
		assert.Equal(t, theirs, ours)
	})
}

// What fails is tried again, at last waits for a person, and is seen.
func TestFailures(t *testing.T) {
	both(t, func(t *testing.T, address string) {
		s := begin(t, address)
		var seen events
		o := quick()
		o.Observe = seen.add
		q := begun(t, s, o)
		ctx := t.Context()
		require.NoError(t, s.Commit(ctx, asked("one", tasks(0, 4, 0, 0)...)))
		var broken atomic.Bool
		broken.Store(true)
		running(t, q, 4, func(ctx context.Context, j Job) (adapter.Effect, error) {
			switch {
			case j.ID == workID(0, 0) && broken.Load():
				return adapter.Effect{}, errors.New("the table is not there")
			case j.ID == workID(1, 0) && broken.Load():
				panic("secret of a patient")
			case j.ID == workID(2, 0) && broken.Load():
				return adapter.Effect{At: clock}, nil // without an audit row
			}
			return plain(ctx, j)
		})
		require.Eventually(t, func() bool {
			c, err := q.Counts(ctx)
			return err == nil && c == Counts{Failed: 3}
		}, 60*time.Second, 20*time.Millisecond)
		failed, err := q.Failed(ctx, 10)
		require.NoError(t, err)
		require.Len(t, failed, 3)
		for i, reason := range []string{"the table is not there", "a panic (string) in weir.example/weir/adapter/queue.TestFailures", "store: an effect without an audit row"} {
			f := failed[i]
			assert.Equal(t, workID(i, 0), f.ID)
			assert.Equal(t, store.JobAttempts, f.Attempts)
			assert.Contains(t, f.Reason, reason)
			assert.NotContains(t, f.Reason, "secret")
			assert.False(t, f.At.IsZero())
		}
		assert.Equal(t, 3*store.JobAttempts, seen.count(Failed))
		last := 0
		for _, e := range seen.list {
			if e.Last {
				last++
			}
		}
		assert.Equal(t, 3, last)
		left, err := s.Unfinished(ctx, 10)
		require.NoError(t, err)
		assert.Len(t, left, 3, "they are not done")
		// Opening the queue again does not try for ever what fails.
		n, err := s.Requeue(ctx)
		require.NoError(t, err)
		assert.Zero(t, n)
		broken.Store(false)
		var missing *adapter.NotFound
		require.ErrorAs(t, q.Again(ctx, 1<<40), &missing)
		for _, f := range failed {
			require.NoError(t, q.Again(ctx, f.Job))
		}
		finish(t, s, 20*time.Second)
		require.ErrorAs(t, q.Again(ctx, failed[0].Job), &missing, "what is done is not done again")
		assert.Len(t, audited(t, s, "done-"), 4)
	})
}

// Stopping begins nothing more and lets finish what runs.
func TestStop(t *testing.T) {
	both(t, func(t *testing.T, address string) {
		s := begin(t, address)
		q := begun(t, s, quick())
		require.NoError(t, s.Commit(t.Context(), asked("one", tasks(0, 20, 0, 500*time.Millisecond)...)))
		started := make(chan struct{}, 20)
		stop := running(t, q, 2, func(ctx context.Context, j Job) (adapter.Effect, error) {
			started <- struct{}{}
			return plain(ctx, j)
		})
		<-started
		<-started
		stop()
		assert.Len(t, audited(t, s, "done-"), 2)
		c, err := q.Counts(t.Context())
		require.NoError(t, err)
		assert.Equal(t, Counts{Waiting: 18}, c)
	})
}

// A copy brings work along; an erasure takes it away.
func TestCopiesAndErasures(t *testing.T) {
	both(t, func(t *testing.T, address string) {
		ctx := t.Context()
		from, err := openStore(ctx, t.TempDir()+"/from.db")
		require.NoError(t, err)
		e := asked("one", tasks(0, 3, 0, 0)...)
		e.Queue[1].Patient = "patient-1"
		e.Resources = []adapter.Resource{{Type: "Patient", ID: "patient-1", Version: 1, Updated: clock, Patient: "patient-1", JSON: []byte("{}")}}
		require.NoError(t, from.Commit(ctx, e))
		text := exported(t, from)
		require.NoError(t, from.Close())
		s := begin(t, address)
		require.NoError(t, s.Import(ctx, bytes.NewReader(text)))
		var seen events
		o := quick()
		o.Observe = seen.add
		q := begun(t, s, o)
		c, err := q.Counts(ctx)
		require.NoError(t, err)
		assert.Equal(t, Counts{Waiting: 3}, c, "unfinished work is taken up")
		row := auditRow("erased")
		row.Patient = "patient-1"
		_, err = s.Erase(ctx, adapter.Erasure{Patient: "patient-1", Before: clock.Add(240 * time.Hour), Audit: row})
		require.NoError(t, err)
		running(t, q, 2, plain)
		finish(t, s, 10*time.Second)
		require.Eventually(t, func() bool { c, err := q.Counts(ctx); return err == nil && c == Counts{} }, 10*time.Second, 10*time.Millisecond)
		assert.Len(t, audited(t, s, "done-"), 2)
		assert.Equal(t, 1, seen.count(Gone))
	})
}

func TestOptions(t *testing.T) {
	s := begin(t, t.TempDir()+"/weir.db")
	var invalid *adapter.Invalid
	for _, o := range []Options{{Timeout: time.Minute, Rescue: time.Minute}, {Rescue: 2 * time.Minute}, {Timeout: 5 * time.Minute}} {
		_, err := Open(t.Context(), s, o)
		assert.ErrorAs(t, err, &invalid)
	}
	_, err := Open(t.Context(), Record(nil), Options{})
	assert.ErrorAs(t, err, &invalid)
	o := Options{}.defaults()
	assert.Equal(t, []time.Duration{2 * time.Minute, 5 * time.Minute}, []time.Duration{o.Timeout, o.Rescue})
	for attempt, want := range map[int]time.Duration{1: time.Second, 2: 2 * time.Second, 8: 128 * time.Second, 9: 256 * time.Second, 10: 5 * time.Minute, 100: 5 * time.Minute} {
		got := time.Until(backoff{o.Backoff, o.Longest}.NextRetry(&rivertype.JobRow{Attempt: attempt}))
		assert.InDelta(t, want.Seconds(), got.Seconds(), 0.5, "%d", attempt)
	}
}

// The queue's tables are brought up to date as ours are.
func TestTables(t *testing.T) {
	both(t, func(t *testing.T, address string) {
		ctx := t.Context()
		s := begin(t, address)
		// A store that was written to: of another one a set-up is finished unasked.
		require.NoError(t, s.Commit(ctx, adapter.Effect{At: clock, Audit: []adapter.AuditRow{auditRow("written")}}))
		q := begun(t, s, quick())
		all, err := q.exec.MigrationGetByLine(ctx, &riverdriver.MigrationGetByLineParams{Line: "main"})
		require.NoError(t, err)
		require.NotEmpty(t, all)
		for i, m := range all {
			assert.Equal(t, i+1, m.Version, "no gap")
		}
		last := len(all)
		again := func(migrate bool) error {
			s, err := openWith(ctx, address, store.Options{Migrate: migrate})
			if err == nil {
				require.NoError(t, s.Close())
			}
			return err
		}
		require.NoError(t, again(false))
		require.NoError(t, q.exec.Exec(ctx, "INSERT INTO river_migration(line, version) VALUES ('main', 99)"))
		var newer *adapter.SchemaNewer
		require.ErrorAs(t, again(true), &newer)
		assert.Equal(t, adapter.SchemaNewer{What: "queue", Have: 99, Know: int64(last)}, *newer)
		require.NoError(t, q.exec.Exec(ctx, fmt.Sprint("DELETE FROM river_migration WHERE version IN (99, ", last, ")")))
		var older *adapter.SchemaOlder
		require.ErrorAs(t, again(false), &older)
		assert.Equal(t, adapter.SchemaOlder{Have: int64(last) - 1, Need: int64(last)}, *older)
		require.NoError(t, again(true))
		require.NoError(t, again(false))
	})
}
