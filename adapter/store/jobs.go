package store

import (
	"context"
	"encoding/json"
	"log/slog"

	"github.com/riverqueue/river/riverdriver"
	"github.com/riverqueue/river/rivermigrate"

	"weir.example/weir/adapter"
)

// The queue's own tables say who does which work when; the table work says
// what there is to be done and what is done. A job of the queue carries the
// id of its work and nothing else, so nothing of a patient is in it, and a
// copy or an erasure need not know of it. All statements of ours on the
// queue's tables are in this file; a test of the queue compares what they
// write with what the queue itself writes.

const (
	// JobKind is the kind of all our jobs.
	JobKind = "work"
	// JobAttempts is how often work is tried before it waits for a person.
	JobAttempts = 8
)

// JobArgs are the arguments of a job.
type JobArgs struct {
	ID string `json:"id"` // of the work
}

// Kind is JobKind.
func (JobArgs) Kind() string { return JobKind }

// job gives work to the queue.
func (s *statements) job(id string) {
	args, _ := json.Marshal(JobArgs{ID: id})
	s.add("job", 1, &adapter.Duplicate{Kind: "work"},
		"INSERT INTO river_job(kind,args,max_attempts) VALUES ('"+JobKind+"',jsonb(CAST($1 AS TEXT)),$2)", string(args), int64(JobAttempts))
}

// fence ends the attempt, and refuses when it does not run any more. It comes
// first, so that nothing else of the effect is done then; the row stays locked
// until the commit, so that nobody takes the work meanwhile.
func (s *statements) fence(f *adapter.Fence) {
	if f == nil {
		return
	}
	s.add("fence", 1, &adapter.Fenced{},
		"UPDATE river_job SET state='completed', finalized_at=CURRENT_TIMESTAMP WHERE id=$1 AND attempt=$2 AND state='running'", f.Job, int64(f.Attempt))
}

// Work reads one piece of background work, and whether it is done.
func (s *Store) Work(ctx context.Context, id string) (out adapter.Queued, done bool, err error) {
	err = s.one(ctx, "work", id, func(r Rows) error {
		var made, at int64
		if err := r.Scan(&out.ID, &out.Kind, &out.Patient, &made, &at, &out.Body); err != nil {
			return err
		}
		out.Made, done = instant(made), at != 0
		out.Body, err = open("work", id, out.Body)
		return err
	}, "SELECT id, kind, patient, made, done, body FROM work WHERE id = $1", id)
	return out, done, err
}

// WorkDone is whether a piece of work is done: Work without what it says, which
// is large.
func (s *Store) WorkDone(ctx context.Context, id string) (done bool, err error) {
	err = s.one(ctx, "work", id, func(r Rows) error {
		var at int64
		err := r.Scan(&at)
		done = at != 0
		return err
	}, "SELECT done FROM work WHERE id = $1", id)
	return done, err
}

// Requeue gives unfinished work to the queue that it does not know, as after
// a copy was read in, and says how much that was. Work that has failed for
// good stays as it is.
func (s *Store) Requeue(ctx context.Context) (int, error) {
	missing, err := unqueued(ctx, s.b.Query)
	if err != nil || len(missing) == 0 {
		return 0, err // the usual case writes nothing
	}
	err = s.write(ctx, []string{"requeue"}, func(tx Tx) error {
		if missing, err = unqueued(ctx, tx.Query); err != nil {
			return err
		}
		return tx.Run(ctx, missing)
	})
	return len(missing), err
}

// unqueued are the jobs that unfinished work lacks.
func unqueued(ctx context.Context, query func(context.Context, string, ...any) (Rows, error)) (missing statements, err error) {
	err = each(ctx, query, func(r Rows) error {
		var id string
		err := r.Scan(&id)
		missing.job(id)
		return err
	}, "SELECT id FROM work WHERE done = 0 AND id NOT IN (SELECT COALESCE(args ->> 'id', '') FROM river_job) ORDER BY made, id")
	return missing, err
}

// LookJobs counts the steps that the queue's tables need, and changes nothing.
func LookJobs[T any](ctx context.Context, driver riverdriver.Driver[T]) (int, error) {
	m, err := rivermigrate.New(driver, &rivermigrate.Config{Logger: slog.New(slog.DiscardHandler)})
	if err != nil {
		return 0, err
	}
	done, err := m.ExistingVersions(ctx)
	if err != nil {
		return 0, err
	}
	return max(0, len(m.AllVersions())-len(done)), nil // newer ones are refused when the store is opened
}

// BringJobs sets up the queue's tables, and with migrate brings older ones up
// to date. It refuses newer ones, and older ones without migrate.
func BringJobs[T any](ctx context.Context, driver riverdriver.Driver[T], migrate bool) error {
	m, err := rivermigrate.New(driver, &rivermigrate.Config{Logger: slog.New(slog.DiscardHandler)})
	if err != nil {
		return err
	}
	done, err := migrationsDone(ctx, driver.GetExecutor())
	if err != nil {
		return err
	}
	all := m.AllVersions()
	have, need := int64(0), int64(all[len(all)-1].Version)
	if len(done) > 0 {
		have = int64(done[len(done)-1].Version)
	}
	switch {
	case have > need:
		return &adapter.SchemaNewer{What: "queue", Have: have, Know: need}
	case have == need && len(done) == len(all):
		return nil
	case have > 0 && !migrate:
		return &adapter.SchemaOlder{Have: have, Need: need}
	}
	_, err = m.Migrate(ctx, rivermigrate.DirectionUp, nil)
	return err
}

// migrationsDone reads what was done, newer steps among it, from the table in
// either form that it has had: a set-up may have been cut off between them.
func migrationsDone(ctx context.Context, exec riverdriver.Executor) ([]*riverdriver.Migration, error) {
	const table = "river_migration"
	there, err := exec.TableExists(ctx, &riverdriver.TableExistsParams{Table: table})
	if err != nil || !there {
		return nil, err
	}
	lines, err := exec.ColumnExists(ctx, &riverdriver.ColumnExistsParams{Table: table, Column: "line"})
	switch {
	case err != nil:
		return nil, err
	case lines:
		return exec.MigrationGetByLine(ctx, &riverdriver.MigrationGetByLineParams{Line: riverdriver.MigrationLineMain})
	}
	return exec.MigrationGetAllAssumingMain(ctx, &riverdriver.MigrationGetAllAssumingMainParams{})
}
