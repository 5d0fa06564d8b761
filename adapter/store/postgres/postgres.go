// Package postgres keeps the record in PostgreSQL 14 or later. A commit waits
// for the disk; settings with which an acknowledged order could be lost are
// refused.
package postgres

import (
	"context"
	"embed"
	"errors"
	"io/fs"
	"sync"

	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/jackc/pgx/v5/stdlib"
	"github.com/pressly/goose/v3"
	"github.com/pressly/goose/v3/lock"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/store"
)

//go:embed migrations/*.sql
var migrations embed.FS

// former is the step that a program does.
var former = store.Former(func(text string) string { return text }, "SELECT setval('shelf_number', (SELECT COALESCE(MAX(n), 0) + 1 FROM shelf))")

// Store is a store in one database.
type Store struct {
	*store.Store
	b *backend
}

type backend struct {
	pool   *pgxpool.Pool
	schema int64

	mu         sync.Mutex
	next, last int64 // numbers of shelves that were drawn and not given; guarded by mu
}

// Open opens the store in the database at address, a postgres:// address or a
// list of settings, and sets up an empty one. Several programs may have it
// open at once.
func Open(ctx context.Context, address string, o store.Options) (*Store, error) {
	config, err := pgxpool.ParseConfig(address)
	if err != nil {
		return nil, &adapter.Invalid{What: "the address of the database cannot be read"} // it may hold a password
	}
	config.ConnConfig.RuntimeParams["application_name"] = "weir"
	config.ConnConfig.RuntimeParams["synchronous_commit"] = "on"
	config.ConnConfig.RuntimeParams["default_transaction_isolation"] = "read committed"
	// A program that is frozen or cut off inside a transaction keeps its locks no longer.
	config.ConnConfig.RuntimeParams["idle_in_transaction_session_timeout"] = "60s"
	config.MaxConns = max(config.MaxConns, 2) // one may wait for another: see bringJobs
	pool, err := pgxpool.NewWithConfig(ctx, config)
	if err != nil {
		return nil, fault(err)
	}
	b := &backend{pool: pool}
	if err := b.open(ctx, o.Migrate); err != nil {
		pool.Close()
		return nil, err
	}
	s, err := store.New(b, o)
	if err != nil {
		pool.Close()
		return nil, err
	}
	return &Store{s, b}, nil
}

func (b *backend) open(ctx context.Context, migrate bool) error {
	for _, c := range [][2]string{{"fsync", "on"}, {"full_page_writes", "on"}, {"synchronous_commit", "on"}, {"server_encoding", "UTF8"}, {"transaction_read_only", "off"}} {
		var is string
		if err := b.pool.QueryRow(ctx, "SELECT current_setting($1)", c[0]).Scan(&is); err != nil {
			return fault(err)
		}
		if is != c[1] {
			return &adapter.Unsafe{Setting: c[0], Value: is, Need: c[1]}
		}
	}
	if _, err := b.ours(ctx); err != nil {
		return err
	}
	files, err := fs.Sub(migrations, "migrations")
	if err != nil {
		return err
	}
	locker, err := lock.NewPostgresSessionLocker(lock.WithLockTimeout(1, 300)) // asks every second
	if err != nil {
		return err
	}
	db := stdlib.OpenDBFromPool(b.pool)
	migrate = migrate || store.Unused(ctx, db)
	b.schema, err = store.Bring(ctx, db, goose.DialectPostgres, files, migrate, goose.WithSessionLocker(locker), former)
	if err := errors.Join(err, db.Close()); err != nil {
		return err
	}
	return b.bringJobs(ctx, migrate)
}

// Schema is the version of the schema.
func (b *backend) Schema() int64 { return b.schema }

// Close waits for what is running.
func (b *backend) Close() error {
	b.pool.Close()
	return nil
}

// Verify has nothing to add: references are checked by every write, pages by
// the server's own checksums where they are on.
func (b *backend) Verify(context.Context) ([]string, error) { return nil, nil }

// Forget leaves it to the server: erased rows are overwritten after its next
// VACUUM, and stay in the log archive as long as that is kept.
func (b *backend) Forget(context.Context) error { return nil }

// fault puts an error of the database into the port's words. Its text is not
// kept, as it may hold a value; what is ours or a context's stays.
func fault(err error) error {
	var p *pgconn.PgError
	var connect *pgconn.ConnectError
	switch {
	case err == nil:
		return nil
	case errors.Is(err, context.Canceled):
		return &adapter.Unavailable{Code: "interrupted", Cause: context.Canceled}
	case errors.Is(err, context.DeadlineExceeded):
		return &adapter.Unavailable{Code: "interrupted", Cause: context.DeadlineExceeded}
	case errors.As(err, &p):
		return &adapter.Unavailable{Code: "SQLSTATE " + p.Code}
	case errors.As(err, &connect):
		return &adapter.Unavailable{Code: "the database cannot be reached"}
	case ours(err):
		return err
	}
	return &adapter.Unavailable{Code: "the connection to the database broke"}
}

// ours says that an error is one of the port already.
func ours(err error) bool {
	for _, target := range []any{new(*adapter.Conflict), new(*adapter.Duplicate), new(*adapter.Fenced), new(*adapter.NotFound), new(*adapter.Invalid), new(*adapter.Damaged),
		new(*adapter.Unavailable), new(*adapter.Lingering), new(*adapter.SchemaNewer), new(*adapter.SchemaOlder), new(*adapter.Retained), new(*adapter.Foreign), new(*adapter.Unsafe), new(*store.Again)} {
		if errors.As(err, target) {
			return true
		}
	}
	return false
}
