// Package storetest is the one suite that every store must pass, the private
// PostgreSQL that it is run on, and a benchmark. It is for tests.
package storetest

import (
	"bytes"
	"context"
	"os"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/store"
)

// Opened is a store that is open.
type Opened interface {
	adapter.Store
	adapter.Keeper
}

// Harness opens stores of one kind.
type Harness struct {
	// Fresh makes an address of a store that does not exist yet.
	Fresh func(tb testing.TB) string
	// Open opens the store at an address.
	Open func(ctx context.Context, address string, o store.Options) (Opened, error)
	// Stop stops the server at once, as a crash would; nil when there is none.
	Stop func()
	// Settle waits until nobody writes any more who was killed, and starts
	// the server again when it was stopped; nil when there is none.
	Settle func(stopped bool) error
}

// New opens a fresh store that is closed with the test.
func (h Harness) New(tb testing.TB, o store.Options) Opened {
	s, _ := h.at(tb, h.Fresh(tb), o)
	return s
}

// at opens the store at an address; the function closes it early.
func (h Harness) at(tb testing.TB, address string, o store.Options) (Opened, func()) {
	s, err := h.Open(tb.Context(), address, o)
	require.NoError(tb, err)
	closed := false
	end := func() {
		if !closed {
			closed = true
			require.NoError(tb, s.Close())
		}
	}
	tb.Cleanup(end)
	return s, end
}

// Run runs the whole suite.
func Run(t *testing.T, h Harness) {
	for _, c := range []struct {
		name string
		test func(*testing.T, Harness)
	}{
		{"RoundTrip", roundTrip}, {"CreateOnce", createOnce}, {"Many", many}, {"OrderOnce", orderOnce}, {"Locking", locking}, {"OrderChanges", orderChanges},
		{"AllOrNothing", allOrNothing}, {"Refusals", refusals}, {"Places", places}, {"History", history}, {"Paging", paging}, {"Lists", lists}, {"Cursors", cursors},
		{"Search", search}, {"Bytes", octets}, {"Erase", erase}, {"Expired", expired}, {"SilentErrors", silentErrors},
		{"Night", nights}, {"Copy", copies}, {"BrokenCopies", brokenCopies}, {"Kill", kill},
	} {
		t.Run(c.name, func(t *testing.T) { c.test(t, h) })
	}
}

// setting is a number from the environment, for longer runs.
func setting(name string, usual int) int {
	if n, err := strconv.Atoi(os.Getenv(name)); err == nil && n > 0 {
		return n
	}
	return usual
}

// exported is a store as a copy: two stores with the same copy hold the same.
func exported(tb testing.TB, s adapter.Keeper) []byte {
	var out bytes.Buffer
	require.NoError(tb, s.Export(context.WithoutCancel(tb.Context()), &out))
	return out.Bytes()
}

// whole demands that everything in a store fits together.
func whole(tb testing.TB, s adapter.Keeper) map[string]int64 {
	h, err := s.Check(context.WithoutCancel(tb.Context()))
	require.NoError(tb, err)
	require.Empty(tb, h.Problems)
	return h.Rows
}

// clock is the clock of all tests.
var clock = time.Date(2026, 11, 10, 19, 20, 0, 0, time.UTC)
