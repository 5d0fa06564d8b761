package sqlite

import (
	"context"
	"errors"
	"slices"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/store"
)

// mostTogether is how many transactions share one commit. While one commit
// waits for the disk others gather; together they cost one wait, and the
// pages they share are written once.
const mostTogether = 32

// large is how many things a transaction may decide on to be done together
// with others. One that decides on more is done alone: without a savepoint
// SQLite need not keep every page as it was before.
const large = 200

// request is one transaction that waits to be done.
type request struct {
	ctx  context.Context
	size int
	f    func(store.Tx) error
	done chan error // holds one
}

// Write runs f in one transaction on the one connection that writes. Locks
// are not needed: nobody else writes meanwhile. Whoever gets the connection
// does all that wait, each in a savepoint of its own, so that each is whole or
// not at all; they are told after the commit. A context that ends breaks off
// between two statements; the connection must outlive it.
func (b *backend) Write(ctx context.Context, locks []string, f func(store.Tx) error) error {
	if err := ctx.Err(); err != nil {
		return fault(err)
	}
	r := &request{ctx, len(locks), f, make(chan error, 1)}
	if slices.Contains(locks, store.Alone) {
		r.size = large + 1
	}
	b.mu.Lock()
	b.waiting = append(b.waiting, r)
	b.mu.Unlock()
	for {
		select {
		case err := <-r.done:
			return err
		case <-ctx.Done():
			if b.withdraw(r) {
				return fault(ctx.Err())
			}
			return <-r.done
		case <-b.turn:
			b.serve(b.take())
			b.turn <- struct{}{}
		}
	}
}

// withdraw takes a request back that nobody has begun.
func (b *backend) withdraw(r *request) bool {
	b.mu.Lock()
	defer b.mu.Unlock()
	i := slices.Index(b.waiting, r)
	if i >= 0 {
		b.waiting = slices.Delete(b.waiting, i, i+1)
	}
	return i >= 0
}

// take takes those that wait the longest: a large one alone, else those
// before the next large one.
func (b *backend) take() []*request {
	b.mu.Lock()
	defer b.mu.Unlock()
	n := min(mostTogether, len(b.waiting))
	if i := slices.IndexFunc(b.waiting[:n], func(r *request) bool { return r.size > large }); i >= 0 {
		n = max(i, 1)
	}
	out := slices.Clone(b.waiting[:n])
	b.waiting = slices.Delete(b.waiting, 0, n)
	return out
}

// serve does requests in one transaction and tells each what came of it.
func (b *backend) serve(list []*request) {
	if len(list) == 0 {
		return
	}
	results, err := b.together(list)
	for i, r := range list {
		if err != nil {
			// Nobody is told of what others of the group did: it may not be stored.
			r.done <- err
			continue
		}
		r.done <- results[i]
	}
}

// together gives the result of each request, or the one fault of all.
func (b *backend) together(list []*request) ([]error, error) {
	if b.conn == nil {
		return nil, &adapter.Unavailable{Code: "the store is closed"}
	}
	t, err := b.conn.BeginTx(context.Background(), nil)
	if err != nil {
		return nil, fault(err)
	}
	w := &writing{b, t}
	results, good := make([]error, len(list)), 0
	do := w.apart
	if len(list) == 1 {
		do = w.alone
	}
	for i, r := range list {
		if results[i], err = do(r); err != nil {
			return nil, errors.Join(err, ignoreDone(t.Rollback()))
		}
		if results[i] == nil {
			good++
		}
	}
	if good == 0 {
		return results, ignoreDone(t.Rollback())
	}
	if err := fault(t.Commit()); err != nil {
		var u *adapter.Unavailable
		if errors.As(err, &u) {
			// The log may hold the whole transaction although its last sync failed.
			u.Unknown = true
		}
		return nil, err
	}
	return results, nil
}

// alone does the one request of a transaction, which is rolled back as a
// whole when it fails.
func (w *writing) alone(r *request) (error, error) {
	if err := r.ctx.Err(); err != nil {
		return fault(err), nil
	}
	err := r.f(w)
	if err == nil {
		err = r.ctx.Err()
	}
	return fault(err), nil
}

// apart does one request in a savepoint. The second error is a fault of the
// whole transaction.
func (w *writing) apart(r *request) (error, error) {
	if err := r.ctx.Err(); err != nil {
		return fault(err), nil
	}
	if err := w.say("SAVEPOINT effect"); err != nil {
		return nil, err
	}
	err := r.f(w)
	if err == nil {
		err = r.ctx.Err()
	}
	if err != nil {
		if back := w.say("ROLLBACK TO effect"); back != nil {
			// The database has rolled back everything: a full disk, for one.
			return nil, fault(err)
		}
	}
	return fault(err), w.say("RELEASE effect")
}

func (w *writing) say(text string) error {
	p, err := w.b.prepared(context.Background(), text)
	if err != nil {
		return fault(err)
	}
	_, err = p.ExecContext(context.Background())
	return fault(err)
}
