package postgres

import (
	"context"

	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/riverqueue/river/riverdriver/riverpgxv5"

	"weir.example/weir/adapter/store"
)

// Pool is for the queue: its tables are in the same database.
func (s *Store) Pool() *pgxpool.Pool { return s.b.pool }

// bringJobs sets up the queue's tables, one program at a time: its migrations
// do not wait for each other by themselves.
func (b *backend) bringJobs(ctx context.Context, migrate bool) error {
	c, err := b.pool.Acquire(ctx)
	if err != nil {
		return fault(err)
	}
	defer c.Release()
	if _, err := c.Exec(ctx, "SELECT pg_advisory_lock($1)", lockKeys([]string{"queue schema"})[0]); err != nil {
		return fault(err)
	}
	err = store.BringJobs(ctx, riverpgxv5.New(b.pool), migrate)
	if _, left := c.Exec(context.WithoutCancel(ctx), "SELECT pg_advisory_unlock_all()"); err == nil {
		err = left
	}
	return fault(err)
}
