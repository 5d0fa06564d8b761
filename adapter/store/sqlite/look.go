package sqlite

import (
	"context"
	"errors"
	"os"
	"path/filepath"

	"github.com/ncruces/go-sqlite3/driver"
	"github.com/pressly/goose/v3"
	"github.com/riverqueue/river/riverdriver/riversqlite"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/store"
)

// Look says how far the schema of the file at path is, without changing it
// and without making one. A file that is not there is an error of fs.
func Look(ctx context.Context, path string) (_ store.Status, err error) {
	info, err := os.Stat(path)
	if err != nil {
		return store.Status{}, err
	}
	if !info.Mode().IsRegular() {
		return store.Status{}, &adapter.Foreign{What: "it is no plain file"}
	}
	if path, err = filepath.Abs(path); err != nil {
		return store.Status{}, err
	}
	db, err := driver.Open(source(path))
	if err != nil {
		return store.Status{}, fault(err)
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	made, err := ours(ctx, db)
	if err != nil {
		return store.Status{}, err
	}
	status, err := store.Look(ctx, db, goose.DialectSQLite3, steps, made, former)
	if err != nil {
		return status, fault(err)
	}
	status.Queue, err = store.LookJobs(ctx, riversqlite.New(db))
	return status, fault(err)
}

// Facts are the version and the settings on which durability rests, as they
// are on the connection that writes.
func (s *Store) Facts(ctx context.Context) ([][2]string, error) {
	if err := s.b.use(ctx); err != nil {
		return nil, err
	}
	defer func() { s.b.turn <- struct{}{} }()
	var out [][2]string
	for _, f := range [][2]string{{"SQLite", "SELECT sqlite_version()"}, {"journal_mode", "PRAGMA journal_mode"}, {"foreign_keys", "PRAGMA foreign_keys"},
		{"synchronous", "SELECT CASE synchronous WHEN 2 THEN 'full' WHEN 3 THEN 'extra' ELSE 'too weak: ' || synchronous END FROM pragma_synchronous"}} {
		var is string
		if err := s.b.conn.QueryRowContext(ctx, f[1]).Scan(&is); err != nil {
			return nil, fault(err)
		}
		out = append(out, [2]string{f[0], is})
	}
	return out, nil
}
