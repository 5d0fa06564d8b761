package storetest_test

import (
	"context"
	"errors"
	"slices"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/store"
	"weir.example/weir/adapter/store/postgres"
	"weir.example/weir/adapter/store/sqlite"
	"weir.example/weir/adapter/store/storetest"
)

// BenchmarkCommit writes whole orders (storetest.Order, about 25 KB) into
// both stores in turns, by one writer and by 16, for two seconds each. The
// last line of each compares the two.
func BenchmarkCommit(b *testing.B) {
	server, err := storetest.StartServer()
	if errors.Is(err, storetest.ErrNoServer) {
		b.Skip(err)
	}
	require.NoError(b, err)
	b.Cleanup(func() { require.NoError(b, server.Close()) })
	ctx := context.Background()
	lite, err := sqlite.Open(ctx, b.TempDir()+"/weir.db", store.Options{})
	require.NoError(b, err)
	b.Cleanup(func() { require.NoError(b, lite.Close()) })
	address := server.Fresh(b)
	post, err := postgres.Open(ctx, address+" pool_max_conns=16", store.Options{})
	require.NoError(b, err)
	b.Cleanup(func() { require.NoError(b, post.Close()) })

	var next atomic.Int64
	for _, writers := range []int{1, 16} {
		rate := map[string]float64{}
		for range 3 {
			for _, c := range []struct {
				name  string
				store adapter.Store
			}{{"sqlite", lite}, {"postgres", post}} {
				took := commits(b, c.store, writers, &next)
				r := float64(len(took)) / 2
				rate[c.name] += r
				b.Logf("%-8s %2d writers: %5.0f commits/s, p50 %s, p99 %s", c.name, writers, r,
					took[len(took)/2].Round(10*time.Microsecond), took[len(took)*99/100].Round(10*time.Microsecond))
			}
		}
		b.Logf("%d writers: SQLite %.0f, PostgreSQL %.0f commits/s, ratio %.2f", writers, rate["sqlite"]/3, rate["postgres"]/3, rate["sqlite"]/rate["postgres"])
	}
	b.ReportMetric(0, "ns/op")
}

func commits(b *testing.B, s adapter.Store, writers int, next *atomic.Int64) []time.Duration {
	var all []time.Duration
	var mu sync.Mutex
	var wait sync.WaitGroup
	end := time.Now().Add(2 * time.Second)
	for range writers {
		wait.Go(func() {
			var took []time.Duration
			for time.Now().Before(end) {
				n := int(next.Add(1))
				e := storetest.Order(n, time.Date(2026, 11, 10, 19, 20, n, 0, time.UTC))
				start := time.Now()
				if err := s.Commit(context.Background(), e); err != nil {
					b.Error(err)
					return
				}
				took = append(took, time.Since(start))
			}
			mu.Lock()
			all = append(all, took...)
			mu.Unlock()
		})
	}
	wait.Wait()
	slices.Sort(all)
	return all
}
