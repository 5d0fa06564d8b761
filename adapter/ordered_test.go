package adapter_test

import (
	"context"
	"errors"
	"io"
	"math/rand/v2"
	"runtime"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
)

func counting(n int) (next func() (int, error), given *atomic.Int64) {
	given = &atomic.Int64{}
	return func() (int, error) {
		i := int(given.Add(1)) - 1
		if i >= n {
			return 0, io.EOF
		}
		return i, nil
	}, given
}

func noSize(int) int { return 0 }

// Whatever the time each takes, the answers come in the order of the
// documents, each once.
func TestOrderIsKeptUnderDelays(t *testing.T) {
	for _, workers := range []int{1, 2, 7} {
		next, _ := counting(300)
		random := rand.New(rand.NewPCG(3, uint64(workers)))
		delays := make([]time.Duration, 300)
		for i := range delays {
			delays[i] = time.Duration(random.IntN(700)) * time.Microsecond
		}
		var got []int
		require.NoError(t, adapter.Ordered(context.Background(), workers, next, noSize, func(i int) int { time.Sleep(delays[i]); return i }, func(i int) error {
			got = append(got, i)
			return nil
		}))
		require.Len(t, got, 300)
		for i, g := range got {
			require.Equal(t, i, g)
		}
	}
}

// One slow document holds those behind it back, but no more of them than two
// a worker are taken from the stream meanwhile.
func TestOneSlowDocumentDoesNotLetTheOthersPileUp(t *testing.T) {
	const workers = 4
	next, given := counting(10_000)
	release := make(chan struct{})
	var most int64
	go func() {
		for before := int64(-1); before != given.Load(); time.Sleep(30 * time.Millisecond) {
			before = given.Load()
		}
		most = given.Load()
		close(release)
	}()
	emitted := 0
	require.NoError(t, adapter.Ordered(context.Background(), workers, next, noSize, func(i int) int {
		if i == 0 {
			<-release
		}
		return i
	}, func(int) error { emitted++; return nil }))
	assert.Equal(t, 10_000, emitted)
	assert.LessOrEqual(t, most, int64(2*workers+1), "taken while the first was judged")
	assert.Greater(t, most, int64(workers))
}

// Large documents are bounded by their bytes, and one larger than the bound
// still gets through.
func TestBytesInFlightAreBounded(t *testing.T) {
	next, _ := counting(40)
	size := func(i int) int {
		if i == 20 {
			return 200 << 20
		}
		return 20 << 20
	}
	var now, most atomic.Int64
	require.NoError(t, adapter.Ordered(context.Background(), 8, next, size, func(i int) int {
		if n := now.Add(int64(size(i))); i != 20 {
			for m := most.Load(); n > m && !most.CompareAndSwap(m, n); m = most.Load() {
			}
		}
		time.Sleep(time.Millisecond)
		now.Add(-int64(size(i)))
		return i
	}, func(int) error { return nil }))
	assert.LessOrEqual(t, most.Load(), int64(64<<20))
}

func TestTheFirstErrorEndsIt(t *testing.T) {
	broken := errors.New("broken")
	before := runtime.NumGoroutine()
	next, _ := counting(1000)
	emitted := 0
	err := adapter.Ordered(context.Background(), 4, next, noSize, func(i int) int { return i }, func(i int) error {
		if i == 10 {
			return broken
		}
		emitted++
		return nil
	})
	assert.ErrorIs(t, err, broken)
	assert.Equal(t, 10, emitted)

	n := 0
	emitted = 0
	err = adapter.Ordered(context.Background(), 4, func() (int, error) {
		if n++; n > 25 {
			return 0, broken
		}
		return n, nil
	}, noSize, func(i int) int { return i }, func(int) error { emitted++; return nil })
	assert.ErrorIs(t, err, broken)
	assert.Equal(t, 25, emitted, "what was read before the stream broke is answered")
	for range 1000 {
		if runtime.NumGoroutine() <= before {
			return
		}
		time.Sleep(time.Millisecond)
	}
	t.Errorf("%d goroutines, %d before: something is left running", runtime.NumGoroutine(), before)
}

// Interrupted, nothing more is written, also while the next document is
// waited for.
func TestInterruption(t *testing.T) {
	ctx, stop := context.WithCancel(context.Background())
	next, _ := counting(1000)
	emitted := 0
	err := adapter.Ordered(ctx, 4, next, noSize, func(i int) int { return i }, func(int) error {
		if emitted++; emitted == 17 {
			stop()
		}
		return nil
	})
	assert.ErrorIs(t, err, context.Canceled)
	assert.Equal(t, 17, emitted)

	ctx, stop = context.WithCancel(context.Background())
	forever := make(chan struct{})
	defer close(forever)
	time.AfterFunc(10*time.Millisecond, stop)
	err = adapter.Ordered(ctx, 2, func() (int, error) { <-forever; return 0, io.EOF }, noSize, func(i int) int { return i }, func(int) error { return nil })
	assert.ErrorIs(t, err, context.Canceled)
}
