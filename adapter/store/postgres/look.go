package postgres

import (
	"context"
	"errors"
	"io/fs"

	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/jackc/pgx/v5/stdlib"
	"github.com/pressly/goose/v3"
	"github.com/riverqueue/river/riverdriver/riverpgxv5"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/store"
)

// Look says how far the schema of the database at address is, without
// changing it.
func Look(ctx context.Context, address string) (store.Status, error) {
	config, err := pgxpool.ParseConfig(address)
	if err != nil {
		return store.Status{}, &adapter.Invalid{What: "the address of the database cannot be read"}
	}
	pool, err := pgxpool.NewWithConfig(ctx, config)
	if err != nil {
		return store.Status{}, fault(err)
	}
	defer pool.Close()
	b := &backend{pool: pool}
	made, err := b.ours(ctx)
	if err != nil {
		return store.Status{}, err
	}
	files, err := fs.Sub(migrations, "migrations")
	if err != nil {
		return store.Status{}, err
	}
	db := stdlib.OpenDBFromPool(pool)
	status, err := store.Look(ctx, db, goose.DialectPostgres, files, made, former)
	if err := errors.Join(err, db.Close()); err != nil {
		return status, fault(err)
	}
	status.Queue, err = store.LookJobs(ctx, riverpgxv5.New(pool))
	return status, fault(err)
}

// ours refuses a database of another program, and says whether a store is in
// it.
func (b *backend) ours(ctx context.Context) (made bool, err error) {
	var others bool
	err = b.pool.QueryRow(ctx, `SELECT to_regclass('goose_db_version') IS NOT NULL,
		EXISTS (SELECT 1 FROM pg_class c WHERE c.relnamespace = current_schema()::regnamespace AND c.relkind = 'r' AND c.relname <> 'goose_db_version')`).Scan(&made, &others)
	if err != nil {
		return false, fault(err)
	}
	if others && !made {
		return false, &adapter.Foreign{What: "the database belongs to another program"}
	}
	return made, nil
}

// Facts are the version and the settings on which durability rests.
func (s *Store) Facts(ctx context.Context) ([][2]string, error) {
	var out [][2]string
	for _, name := range []string{"server_version", "fsync", "full_page_writes", "synchronous_commit", "server_encoding"} {
		var is string
		if err := s.b.pool.QueryRow(ctx, "SELECT current_setting($1)", name).Scan(&is); err != nil {
			return nil, fault(err)
		}
		out = append(out, [2]string{name, is})
	}
	return out, nil
}
