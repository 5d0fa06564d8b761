package postgres

import (
	"context"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"slices"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/store"
)

// tries is how often a transaction is done that the server asks to be done
// again (40001 serialization failure, 40P01 deadlock).
const tries = 10

// mostLocks keeps a large transaction from filling the server's lock table;
// above it the transaction runs alone.
const mostLocks = 64

// Write runs f in one transaction. Decisions are safe under read committed:
// each takes its locks before it reads, and versions are compared by the
// statement that changes them.
func (b *backend) Write(ctx context.Context, locks []string, f func(store.Tx) error) error {
	for try := 1; ; try++ {
		err := b.write(ctx, locks, f)
		var p *pgconn.PgError
		again := errors.As(err, &p) && (p.Code == "40001" || p.Code == "40P01")
		if !again || try == tries {
			return fault(err)
		}
		select {
		case <-ctx.Done():
			return fault(ctx.Err())
		case <-time.After(time.Duration(try*try) * 2 * time.Millisecond):
		}
	}
}

func (b *backend) write(ctx context.Context, locks []string, f func(store.Tx) error) error {
	t, err := b.pool.BeginTx(ctx, pgx.TxOptions{IsoLevel: pgx.ReadCommitted})
	if err != nil {
		return err
	}
	w := &writing{t: t, locks: lockKeys(locks)}
	if err := f(w); err != nil {
		// The context may have ended; the rollback must not.
		back, cancel := context.WithTimeout(context.WithoutCancel(ctx), 5*time.Second)
		defer cancel()
		_ = t.Rollback(back) // a broken connection is thrown away by the pool
		return err
	}
	if err := t.Commit(ctx); err != nil {
		var p *pgconn.PgError
		if errors.As(err, &p) && len(p.Code) == 5 && (p.Code[:2] == "40" || p.Code[:2] == "23") {
			return err // told by the server: nothing was stored
		}
		err = fault(err)
		var u *adapter.Unavailable
		if errors.As(err, &u) {
			u.Unknown = true
		}
		return err
	}
	return nil
}

// lockKeys are the names as numbers for advisory locks, in an order that is
// the same for all. Number 0 stands for the whole store.
func lockKeys(names []string) []int64 {
	var out []int64
	for _, n := range names {
		sum := sha256.Sum256([]byte(n))
		k := int64(binary.BigEndian.Uint64(sum[:8]))
		if k == 0 {
			k = 1
		}
		out = append(out, k)
	}
	slices.Sort(out)
	return slices.Compact(out)
}

type writing struct {
	t      pgx.Tx
	locks  []int64
	locked bool
}

// lock queues the locks of the transaction before its first statement.
func (w *writing) lock(batch *pgx.Batch) {
	if w.locked {
		return
	}
	w.locked = true
	if len(w.locks) > mostLocks {
		batch.Queue("SELECT pg_advisory_xact_lock(0)")
		return
	}
	batch.Queue("SELECT pg_advisory_xact_lock_shared(0)")
	if len(w.locks) > 0 {
		batch.Queue("SELECT pg_advisory_xact_lock(k) FROM unnest($1::bigint[]) AS k", w.locks)
	}
}

// Run sends all statements up to a gate at once and reads the answers in order.
func (w *writing) Run(ctx context.Context, statements []store.Statement) error {
	for len(statements) > 0 {
		n := 1 + slices.IndexFunc(statements, func(s store.Statement) bool { return s.Gate })
		if n == 0 {
			n = len(statements)
		}
		if err := w.send(ctx, statements[:n]); err != nil {
			return err
		}
		statements = statements[n:]
	}
	return nil
}

func (w *writing) send(ctx context.Context, statements []store.Statement) error {
	var batch pgx.Batch
	w.lock(&batch)
	before := batch.Len()
	for _, s := range statements {
		batch.Queue(s.SQL, s.Args...)
	}
	r := w.t.SendBatch(ctx, &batch)
	err := answers(r, before, statements)
	if closed := r.Close(); err == nil {
		err = closed
	}
	return err
}

func answers(r pgx.BatchResults, before int, statements []store.Statement) error {
	for range before {
		if _, err := r.Exec(); err != nil {
			return err
		}
	}
	for _, s := range statements {
		tag, err := r.Exec()
		var p *pgconn.PgError
		switch {
		case errors.As(err, &p) && p.Code == "23503":
			return &adapter.Invalid{What: s.Name + " refers to what is not stored"}
		case errors.As(err, &p) && len(p.Code) == 5 && p.Code[:2] == "23",
			err == nil && s.Rows >= 0 && tag.RowsAffected() != s.Rows:
			if s.Fail == nil {
				return &adapter.Invalid{What: s.Name + " breaks a constraint"}
			}
			return s.Fail
		case err != nil:
			return err
		}
	}
	return nil
}

func (w *writing) Query(ctx context.Context, text string, args ...any) (store.Rows, error) {
	var batch pgx.Batch
	if w.lock(&batch); batch.Len() > 0 {
		if err := w.t.SendBatch(ctx, &batch).Close(); err != nil {
			return nil, err
		}
	}
	r, err := w.t.Query(ctx, text, args...)
	if err != nil {
		return nil, err
	}
	return rows{r}, nil
}

// block is how many numbers one draw gives: see the sequence.
const block = 1000

// Numbers are drawn in blocks, outside of the transaction: nobody waits for
// another's commit, and numbers that are not used are lost.
func (b *backend) Numbers(ctx context.Context, tx store.Tx, count int) ([]int64, error) {
	out := b.drawn(make([]int64, 0, count), count)
	for len(out) < count {
		// On the connection of the transaction, and with nothing locked here:
		// another connection, or a lock, may be had by who waits for this.
		first, err := number(ctx, tx, "SELECT nextval('shelf_number')")
		if err != nil {
			return nil, err
		}
		for first, last := first, first+block; first < last; first++ {
			if len(out) == count {
				b.spare(first, last)
				break
			}
			out = append(out, first)
		}
	}
	return out, nil
}

// drawn gives numbers that were drawn before.
func (b *backend) drawn(out []int64, count int) []int64 {
	b.mu.Lock()
	defer b.mu.Unlock()
	for ; b.next < b.last && len(out) < count; b.next++ {
		out = append(out, b.next)
	}
	return out
}

// spare keeps the rest of a block; what another has kept meanwhile is lost.
func (b *backend) spare(next, last int64) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.next, b.last = next, last
}

// number reads one number.
func number(ctx context.Context, tx store.Tx, text string) (n int64, err error) {
	r, err := tx.Query(ctx, text)
	if err != nil {
		return 0, err
	}
	defer r.Close()
	for r.Next() {
		if err := r.Scan(&n); err != nil {
			return 0, err
		}
	}
	return n, r.Err()
}

// Imported lets numbers begin after those of another store.
func (b *backend) Imported(ctx context.Context, tx store.Tx) error {
	if _, err := number(ctx, tx, "SELECT setval('shelf_number', (SELECT COALESCE(MAX(n), 0) + 1 FROM shelf))"); err != nil {
		return err
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	b.next, b.last = 0, 0
	return nil
}

// Snapshot reads the state of one moment; others write on.
func (b *backend) Snapshot(ctx context.Context, f func(store.Tx) error) error {
	t, err := b.pool.BeginTx(ctx, pgx.TxOptions{IsoLevel: pgx.RepeatableRead, AccessMode: pgx.ReadOnly})
	if err != nil {
		return fault(err)
	}
	defer func() { _ = t.Rollback(context.WithoutCancel(ctx)) }()
	return f(&writing{t: t, locked: true})
}

// Query reads the newest state.
func (b *backend) Query(ctx context.Context, text string, args ...any) (store.Rows, error) {
	r, err := b.pool.Query(ctx, text, args...)
	if err != nil {
		return nil, fault(err)
	}
	return rows{r}, nil
}

type rows struct{ r pgx.Rows }

func (r rows) Next() bool           { return r.r.Next() }
func (r rows) Scan(to ...any) error { return fault(r.r.Scan(to...)) }
func (r rows) Err() error           { return fault(r.r.Err()) }
func (r rows) Close()               { r.r.Close() }
