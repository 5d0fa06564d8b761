// Package store is what the stores of all databases have in common: which
// statements an effect is, how it is read, searched, copied, checked and
// erased. A database brings a Backend and its schema. One text of SQL serves
// all; where they differ, the backend says so.
package store

import (
	"context"
	"sync/atomic"

	lru "github.com/hashicorp/golang-lru/v2"

	"weir.example/weir/adapter"
)

// Statement is one write. It fails with Fail when it breaks a constraint or
// does not change exactly Rows rows; Rows below zero takes any number.
type Statement struct {
	Name string // for tests and for errors: no data in it
	SQL  string // with $1, $2 and so on
	Args []any
	Rows int64
	Fail error
	// Gate keeps what follows from being sent before this has succeeded.
	Gate bool
}

// Rows are the rows of an answer. Errors are those of the port.
type Rows interface {
	Next() bool
	Scan(to ...any) error
	Err() error
	Close()
}

// Tx is a transaction that runs.
type Tx interface {
	// Run does all statements in order and ends at the first that fails.
	Run(ctx context.Context, statements []Statement) error
	Query(ctx context.Context, sql string, args ...any) (Rows, error)
}

type queryFunc = func(ctx context.Context, sql string, args ...any) (Rows, error)

// Backend is a database.
type Backend interface {
	// Write runs f in one durable transaction. Locks name what the
	// transaction decides on; two that share one never run at once. What the
	// database asks to be done again is done again, with f called anew.
	Write(ctx context.Context, locks []string, f func(Tx) error) error
	// Snapshot runs f over the state of one moment.
	Snapshot(ctx context.Context, f func(Tx) error) error
	// Query reads outside a transaction.
	Query(ctx context.Context, sql string, args ...any) (Rows, error)
	// Numbers gives so many numbers that no shelf and no run of places has had.
	// They grow, so that what is written together lies together.
	Numbers(ctx context.Context, tx Tx, count int) ([]int64, error)
	// Imported is told after shelves were written with numbers of another store.
	Imported(ctx context.Context, tx Tx) error
	// Verify has the database check its own files and references.
	Verify(ctx context.Context) ([]string, error)
	// Forget makes erased bytes unreadable as far as the database can.
	Forget(ctx context.Context) error
	// Schema is the version of the schema.
	Schema() int64
	Close() error
}

// Options are what every store is opened with.
type Options struct {
	// Key seals cursors: 32 secret bytes. Another key makes old cursors invalid.
	Key [32]byte
	// Migrate brings an older schema up to date; without it an older one is
	// refused. An empty database is always set up.
	Migrate bool
	// Fault is asked before every statement and before the commit; its error
	// ends the transaction. For tests.
	Fault func(step int, name string) error
}

// Store is a store over any backend.
type Store struct {
	b       Backend
	seal    sealer
	fault   func(int, string) error
	commits atomic.Int64              // that added resources
	lately  *lru.Cache[int64, *shelf] // shelves that were opened to be read, by number: never written to
	hints   *lru.Cache[uint64, int64] // the shelf that a place led to lately: it may be no longer
}

// mostLately is how many shelves are kept open: about a tenth of a megabyte each.
// mostHints is how many resources it is remembered of which shelf they are on.
const (
	mostLately = 64
	mostHints  = 1 << 13
)

var (
	_ adapter.Store  = (*Store)(nil)
	_ adapter.Keeper = (*Store)(nil)
)

// New is a store over a backend.
func New(b Backend, o Options) (*Store, error) {
	seal, err := newSealer(o.Key)
	if err != nil {
		return nil, err
	}
	lately, err := lru.New[int64, *shelf](mostLately)
	if err != nil {
		return nil, err
	}
	hints, err := lru.New[uint64, int64](mostHints)
	if err != nil {
		return nil, err
	}
	return &Store{b: b, seal: seal, fault: o.Fault, lately: lately, hints: hints}, nil
}

// Close lets the database go.
func (s *Store) Close() error { return s.b.Close() }

// write runs f in one transaction, through the fault hook when there is one.
func (s *Store) write(ctx context.Context, locks []string, f func(Tx) error) error {
	if s.fault == nil {
		return s.b.Write(ctx, locks, f)
	}
	return s.b.Write(ctx, locks, func(tx Tx) error {
		t := &faulty{Tx: tx, fault: s.fault}
		if err := f(t); err != nil {
			return err
		}
		return t.ask("commit")
	})
}

// faulty does one statement after the other and asks before each.
type faulty struct {
	Tx
	fault func(int, string) error
	step  int
}

func (t *faulty) ask(name string) error {
	t.step++
	return t.fault(t.step, name)
}

func (t *faulty) Run(ctx context.Context, statements []Statement) error {
	for i := range statements {
		if err := t.ask(statements[i].Name); err != nil {
			return err
		}
		if err := t.Tx.Run(ctx, statements[i:i+1]); err != nil {
			return err
		}
	}
	return nil
}
