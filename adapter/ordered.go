package adapter

import (
	"context"
	"errors"
	"io"
	"sync"
)

// mostInFlight bounds the bytes of documents that are being judged or wait to
// be written, whatever their number. One document larger than that is let
// through alone.
const mostInFlight = 64 << 20

// waiting is how many documents a worker may be ahead by: one slow document
// holds back the writing of those behind it, never more than this many.
const waiting = 2

// Ordered judges what next gives in parallel and hands the results to emit in
// the order they were given. It holds at most two documents for each worker
// and mostInFlight bytes (as size says), so memory does not grow with
// the number of documents. next ends with io.EOF. It returns the first error
// of next or emit, or the context's; emit is not called after that, and no
// work runs any more. Only a next that waits for its stream is not waited for.
func Ordered[T, R any](ctx context.Context, workers int, next func() (T, error), size func(T) int, work func(T) R, emit func(R) error) error {
	workers = max(workers, 1)
	type task struct {
		item T
		size int
		err  error
		done chan R
	}
	ctx, stop := context.WithCancel(ctx)
	tasks := make(chan *task)
	queue := make(chan *task, waiting*workers-1) // with the one being written: the window
	hold := newBudget(mostInFlight)
	var group sync.WaitGroup
	defer group.Wait()
	defer hold.close()
	defer stop()
	for range workers {
		group.Go(func() {
			for {
				select {
				case <-ctx.Done():
					return
				case t, open := <-tasks:
					if !open {
						return
					}
					t.done <- work(t.item)
				}
			}
		})
	}
	go func() {
		defer close(queue)
		defer close(tasks)
		for ctx.Err() == nil {
			item, err := next()
			t := &task{item: item, err: err, done: make(chan R, 1)}
			if err == nil {
				t.size = size(item)
				if !hold.take(t.size) {
					return
				}
			}
			select {
			case queue <- t:
			case <-ctx.Done():
				return
			}
			if err != nil {
				return
			}
			select {
			case tasks <- t:
			case <-ctx.Done():
				return
			}
		}
	}()
	for {
		select {
		case <-ctx.Done():
			return ctx.Err()
		case t, open := <-queue:
			switch {
			case ctx.Err() != nil:
				return ctx.Err()
			case !open || errors.Is(t.err, io.EOF):
				return nil
			case t.err != nil:
				return t.err
			}
			select {
			case <-ctx.Done():
				return ctx.Err()
			case r := <-t.done:
				if err := emit(r); err != nil {
					return err
				}
				hold.give(t.size)
			}
		}
	}
}

// budget is an amount that is taken and given back.
type budget struct {
	mu     sync.Mutex
	free   sync.Cond
	most   int
	taken  int
	closed bool
}

func newBudget(most int) *budget {
	b := &budget{most: most}
	b.free.L = &b.mu
	return b
}

// take waits until n is free, or nothing is taken; false when closed.
func (b *budget) take(n int) bool {
	b.mu.Lock()
	defer b.mu.Unlock()
	for !b.closed && b.taken > 0 && b.taken+n > b.most {
		b.free.Wait()
	}
	b.taken += n
	return !b.closed
}

func (b *budget) give(n int) {
	b.mu.Lock()
	b.taken -= n
	b.mu.Unlock()
	b.free.Signal()
}

func (b *budget) close() {
	b.mu.Lock()
	b.closed = true
	b.mu.Unlock()
	b.free.Broadcast()
}
