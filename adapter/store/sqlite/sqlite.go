// Package sqlite keeps the record in one SQLite file: WAL, synchronous FULL,
// one connection that writes, and as many that read as there are processors.
// A commit is on the disk when it returns.
package sqlite

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"

	"github.com/ncruces/go-sqlite3"
	"github.com/ncruces/go-sqlite3/driver"
	"github.com/pressly/goose/v3"
	"github.com/riverqueue/river/riverdriver/riversqlite"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/store"
)

//go:embed migrations/*.sql
var migrations embed.FS

// steps are the files of migrations; a test puts others in their place.
var steps = func() fs.FS {
	files, err := fs.Sub(migrations, "migrations")
	if err != nil {
		panic(err) // the name is a constant
	}
	return files
}()

// former is the step that a program does.
var former = store.Former(numbered, "")

// applicationID marks our files: "Weir". See the first migration.
const applicationID = 0x57656972

// oldest is the first SQLite whose WAL reset cannot lose a transaction
// (sqlite.org/changes.html, 3.51.3).
const oldest = 3051003

// seldom says after how many pages of the log they are written into the file:
// 64 MB. A page that was written many times is written there once. It holds
// for one connection, so every one that writes needs it: one that wrote a row
// of its own, at the usual 1,000 pages, had the log of all others written out.
const seldom = "wal_autocheckpoint(16000)"

// Store is a store in one file.
type Store struct {
	*store.Store
	b *backend
}

type backend struct {
	path   string
	writer *sql.DB
	reader *sql.DB
	schema int64

	shut    atomic.Bool
	mu      sync.Mutex
	waiting []*request // guarded by mu

	turn chan struct{} // holds one: whoever took it may use conn
	conn *sql.Conn
	kept map[string]*sql.Stmt // prepared on conn
}

// Open opens the store in the file at path, and makes it when there is none.
// The file can be read by its owner only.
func Open(ctx context.Context, path string, o store.Options) (*Store, error) {
	path, err := filepath.Abs(path)
	if err != nil {
		return nil, err
	}
	f, err := os.OpenFile(path, os.O_CREATE|os.O_RDWR, 0o600)
	if err != nil {
		return nil, err
	}
	if err := f.Close(); err != nil {
		return nil, err
	}
	b := &backend{path: path, turn: make(chan struct{}, 1), kept: map[string]*sql.Stmt{}}
	b.turn <- struct{}{}
	// Two programs never set up or migrate one file at the same time.
	free, err := alone(ctx, path+".opening")
	if err != nil {
		return nil, err
	}
	err = b.open(ctx, o.Migrate)
	free()
	if err != nil {
		return nil, errors.Join(err, b.Close())
	}
	s, err := store.New(b, o)
	if err != nil {
		return nil, errors.Join(err, b.Close())
	}
	return &Store{s, b}, nil
}

// source is the data source name. Order matters: the timeout comes first.
func source(path string, pragmas ...string) string {
	q := url.Values{"_txlock": {"immediate"}, "_pragma": append([]string{"busy_timeout(10000)"}, pragmas...)}
	return "file:" + (&url.URL{Path: filepath.ToSlash(path)}).EscapedPath() + "?" + q.Encode()
}

func (b *backend) open(ctx context.Context, migrate bool) error {
	var err error
	b.writer, err = driver.Open(source(b.path, "foreign_keys(1)", "journal_mode(wal)", "synchronous(full)", "secure_delete(1)", "trusted_schema(0)", "cache_size(-49152)", seldom, "temp_store(2)"))
	if err != nil {
		return fault(err)
	}
	b.writer.SetMaxOpenConns(1)
	if _, err := ours(ctx, b.writer); err != nil {
		return err
	}
	migrate = migrate || store.Unused(ctx, b.writer)
	if b.schema, err = store.Bring(ctx, b.writer, goose.DialectSQLite3, steps, migrate, former); err != nil {
		return err
	}
	if err := store.BringJobs(ctx, riversqlite.New(b.writer), migrate); err != nil {
		return err
	}
	if b.conn, err = b.writer.Conn(ctx); err != nil {
		return fault(err)
	}
	for _, c := range [][2]string{{"journal_mode", "wal"}, {"synchronous", "2"}, {"foreign_keys", "1"}} {
		var is string
		if err := b.conn.QueryRowContext(ctx, "PRAGMA "+c[0]).Scan(&is); err != nil {
			return fault(err)
		}
		if is != c[1] {
			return &adapter.Unsafe{Setting: c[0], Value: is, Need: c[1]}
		}
	}
	// SQLite makes these two new with every start, with the rights that the
	// process gives to any file; nothing of the record is in them yet.
	for _, name := range []string{b.path + "-wal", b.path + "-shm"} {
		if err := os.Chmod(name, 0o600); err != nil {
			return err
		}
	}
	b.reader, err = driver.Open(source(b.path, "query_only(1)", "trusted_schema(0)", "cache_size(-16384)"))
	if err != nil {
		return fault(err)
	}
	readers := max(4, runtime.GOMAXPROCS(0))
	b.reader.SetMaxOpenConns(readers)
	b.reader.SetMaxIdleConns(readers)
	return nil
}

// ours refuses a file of another program and a SQLite with a known loss. It
// says whether a store is in the file.
func ours(ctx context.Context, db *sql.DB) (made bool, err error) {
	var version string
	if err := db.QueryRowContext(ctx, "SELECT sqlite_version()").Scan(&version); err != nil {
		return false, fault(err)
	}
	number := 0
	for _, part := range strings.Split(version, ".") {
		n, err := strconv.Atoi(part)
		if err != nil {
			return false, &adapter.Unsafe{Setting: "SQLite", Value: version, Need: "3.51.3 or later"}
		}
		number = number*1000 + n
	}
	if number < oldest {
		return false, &adapter.Unsafe{Setting: "SQLite", Value: version, Need: "3.51.3 or later"}
	}
	var id, tables int64
	if err := db.QueryRowContext(ctx, "PRAGMA application_id").Scan(&id); err != nil {
		return false, fault(err)
	}
	if err := db.QueryRowContext(ctx, "SELECT COUNT(*) FROM sqlite_schema WHERE name <> 'goose_db_version' AND name NOT LIKE 'sqlite_%'").Scan(&tables); err != nil {
		return false, fault(err)
	}
	if id != applicationID && (id != 0 || tables > 0) {
		return false, &adapter.Foreign{What: "the file belongs to another program"}
	}
	return id == applicationID, nil
}

// Schema is the version of the schema.
func (b *backend) Schema() int64 { return b.schema }

// use waits for the connection that writes.
func (b *backend) use(ctx context.Context) error {
	if err := ctx.Err(); err != nil {
		return fault(err)
	}
	select {
	case <-ctx.Done():
		return fault(ctx.Err())
	case <-b.turn:
	}
	if b.conn == nil {
		b.turn <- struct{}{}
		return &adapter.Unavailable{Code: "the store is closed"}
	}
	return nil
}

// Close writes the log into the file and lets it go.
func (b *backend) Close() error {
	var errs []error
	b.shut.Store(true)
	if b.reader != nil {
		errs = append(errs, b.reader.Close())
	}
	<-b.turn
	defer func() { b.turn <- struct{}{} }()
	for _, s := range b.kept {
		errs = append(errs, s.Close())
	}
	b.kept = map[string]*sql.Stmt{}
	if b.conn != nil {
		errs = append(errs, b.conn.Close())
		b.conn = nil
	}
	if b.writer != nil {
		errs = append(errs, b.writer.Close())
	}
	return errors.Join(errs...)
}

// fault puts an error of the database into the port's words. Its text is not
// kept, as it may hold a value; what is ours or a context's stays.
func fault(err error) error {
	var code sqlite3.ExtendedErrorCode
	var e *sqlite3.Error
	switch {
	case err == nil:
		return nil
	case errors.Is(err, context.DeadlineExceeded):
		return &adapter.Unavailable{Code: "interrupted", Cause: context.DeadlineExceeded}
	case errors.Is(err, context.Canceled), errors.Is(err, sqlite3.INTERRUPT):
		return &adapter.Unavailable{Code: "interrupted", Cause: context.Canceled}
	case errors.Is(err, sqlite3.NOTADB):
		return &adapter.Foreign{What: "the file is no SQLite database"}
	case errors.As(err, &e):
		return &adapter.Unavailable{Code: "SQLite " + e.ExtendedCode().Error()}
	case errors.As(err, &code):
		return &adapter.Unavailable{Code: "SQLite " + code.Error()}
	}
	return err
}
