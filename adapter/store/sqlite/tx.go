package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/ncruces/go-sqlite3"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/store"
)

type writing struct {
	b *backend
	t *sql.Tx
}

// ignoreDone leaves out that a transaction was over already: the database ends
// it by itself when its disk is full, and then knows of none.
func ignoreDone(err error) error {
	if errors.Is(err, sql.ErrTxDone) || errors.Is(err, sqlite3.ERROR) {
		return nil
	}
	return fault(err)
}

// prepared is a statement kept on the connection. There are few texts: the
// groups of rows are powers of two.
func (b *backend) prepared(ctx context.Context, text string) (*sql.Stmt, error) {
	if s := b.kept[text]; s != nil {
		return s, nil
	}
	s, err := b.conn.PrepareContext(ctx, numbered(text))
	if err != nil {
		return nil, err
	}
	b.kept[text] = s
	return s, nil
}

// numbered gives parameters their number: in SQLite $1 is only a name.
func numbered(text string) string { return strings.ReplaceAll(text, "$", "?") }

func (w *writing) Run(ctx context.Context, statements []store.Statement) error {
	for _, s := range statements {
		if err := ctx.Err(); err != nil {
			return fault(err)
		}
		ctx := context.WithoutCancel(ctx)
		p, err := w.b.prepared(ctx, s.SQL)
		if err != nil {
			return fault(err)
		}
		// On the connection that the transaction is on; through the
		// transaction it would be prepared anew each time.
		r, err := p.ExecContext(ctx, s.Args...)
		if errors.Is(err, sqlite3.CONSTRAINT) {
			return refusal(s, err)
		}
		if err != nil {
			return fault(err)
		}
		if n, err := r.RowsAffected(); s.Rows >= 0 && (err != nil || n != s.Rows) {
			return refusal(s, err)
		}
	}
	return nil
}

// refusal is what a statement says when it fails. A broken reference is the
// caller's fault whatever the statement.
func refusal(s store.Statement, err error) error {
	if errors.Is(err, sqlite3.CONSTRAINT_FOREIGNKEY) {
		return &adapter.Invalid{What: s.Name + " refers to what is not stored"}
	}
	if s.Fail == nil {
		return &adapter.Invalid{What: s.Name + " breaks a constraint"}
	}
	return s.Fail
}

func (w *writing) Query(ctx context.Context, text string, args ...any) (store.Rows, error) {
	r, err := w.t.QueryContext(ctx, numbered(text), args...)
	if err != nil {
		return nil, fault(err)
	}
	return rows{r}, nil
}

// Snapshot reads the state of one moment; others write on.
func (b *backend) Snapshot(ctx context.Context, f func(store.Tx) error) error {
	t, err := b.reader.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return b.ended(err)
	}
	defer func() { _ = t.Rollback() }()
	return f(&writing{b, t})
}

// Query reads the newest state.
func (b *backend) Query(ctx context.Context, text string, args ...any) (store.Rows, error) {
	r, err := b.reader.QueryContext(ctx, numbered(text), args...)
	if err != nil {
		return nil, b.ended(err)
	}
	return rows{r}, nil
}

// ended says of a store that was closed that it is.
func (b *backend) ended(err error) error {
	if b.shut.Load() {
		return &adapter.Unavailable{Code: "the store is closed"}
	}
	return fault(err)
}

type rows struct{ r *sql.Rows }

func (r rows) Next() bool           { return r.r.Next() }
func (r rows) Scan(to ...any) error { return fault(r.r.Scan(to...)) }
func (r rows) Err() error           { return fault(r.r.Err()) }
func (r rows) Close()               { _ = r.r.Close() }

// Verify asks SQLite whether its file and references are whole.
func (b *backend) Verify(ctx context.Context) ([]string, error) {
	var out []string
	for _, pragma := range []string{"integrity_check", "foreign_key_check"} {
		r, err := b.reader.QueryContext(ctx, "PRAGMA "+pragma)
		if err != nil {
			return nil, fault(err)
		}
		n, ok := 0, false
		for r.Next() {
			if n++; pragma == "integrity_check" && n == 1 {
				var first string
				if err := r.Scan(&first); err != nil {
					return nil, errors.Join(fault(err), r.Close())
				}
				ok = first == "ok"
			}
		}
		if err := errors.Join(r.Err(), r.Close()); err != nil {
			return nil, fault(err)
		}
		if n > 0 && !ok {
			out = append(out, fmt.Sprintf("%s of the database names %d faults", pragma, n))
		}
	}
	return out, nil
}

// Forget writes the log into the file and empties it. Erased bytes are
// overwritten where they were (secure_delete). It waits five seconds for
// readers that keep the log.
func (b *backend) Forget(ctx context.Context) error {
	for range 50 {
		busy, err := b.empty(ctx)
		if err != nil || !busy {
			return err
		}
		select {
		case <-ctx.Done():
			return fault(ctx.Err())
		case <-time.After(100 * time.Millisecond):
		}
	}
	return &adapter.Lingering{}
}

func (b *backend) empty(ctx context.Context) (bool, error) {
	if err := b.use(ctx); err != nil {
		return false, err
	}
	defer func() { b.turn <- struct{}{} }()
	var busy, log, done int64
	err := b.conn.QueryRowContext(context.WithoutCancel(ctx), "PRAGMA wal_checkpoint(TRUNCATE)").Scan(&busy, &log, &done)
	return busy != 0, fault(err)
}

// Numbers are those after the largest there ever was: there is one writer.
func (b *backend) Numbers(ctx context.Context, _ store.Tx, count int) ([]int64, error) {
	p, err := b.prepared(ctx, "SELECT COALESCE(MAX(seq), 0) FROM sqlite_sequence WHERE name IN ('shelf', 'resource_run')")
	if err != nil {
		return nil, fault(err)
	}
	var last int64
	if err := p.QueryRowContext(context.WithoutCancel(ctx)).Scan(&last); err != nil {
		return nil, fault(err)
	}
	out := make([]int64, count)
	for i := range out {
		last++
		out[i] = last
	}
	return out, nil
}

// Imported has nothing to do.
func (b *backend) Imported(context.Context, store.Tx) error { return nil }
