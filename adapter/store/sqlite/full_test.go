package sqlite

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/store"
	"weir.example/weir/adapter/store/storetest"
)

// A database that may not grow refuses with nothing stored of what it
// refuses, keeps what it acknowledged, and works on when there is room again.
func TestFullDatabase(t *testing.T) {
	s, err := Open(t.Context(), filepath.Join(t.TempDir(), "weir.db"), store.Options{})
	require.NoError(t, err)
	defer func() { require.NoError(t, s.Close()) }()
	pages := func(sql string) (n int) {
		require.NoError(t, s.b.use(t.Context()))
		defer func() { s.b.turn <- struct{}{} }()
		require.NoError(t, s.b.conn.QueryRowContext(t.Context(), sql).Scan(&n))
		return n
	}
	next, refused := 0, 0
	acknowledged := map[int]bool{}
	for range 20 {
		room := pages("PRAGMA page_count") + 25
		pages(fmt.Sprint("PRAGMA max_page_count = ", room))
		var mu sync.Mutex
		var wait sync.WaitGroup
		for w := range 16 {
			wait.Go(func() {
				err := s.Commit(context.Background(), storetest.Order(next+w, clock))
				mu.Lock()
				defer mu.Unlock()
				acknowledged[next+w] = err == nil
				var off *adapter.Unavailable
				if err != nil && assert.True(t, errors.As(err, &off), "%v", err) {
					assert.Contains(t, off.Code, "full")
					refused++
				}
			})
		}
		wait.Wait()
		next += 16
	}
	pages("PRAGMA max_page_count = 1000000")
	held := 0
	for n, yes := range acknowledged {
		_, err := s.Get(t.Context(), "Patient", storetest.Order(n, clock).Cases[0].Patient)
		var missing *adapter.NotFound
		if yes {
			held++
			require.NoError(t, err, "acknowledged and lost")
			continue
		}
		require.ErrorAs(t, err, &missing, "refused and stored")
		require.NoError(t, s.Commit(t.Context(), storetest.Order(n, clock)), "there is room again")
	}
	h, err := s.Check(t.Context())
	require.NoError(t, err)
	assert.Empty(t, h.Problems)
	assert.Equal(t, int64(next), h.Rows["audit"])
	assert.Positive(t, held)
	assert.Positive(t, refused)
	t.Logf("%d orders into a database without room: %d acknowledged and kept, %d refused and not stored", next, held, refused)
}
