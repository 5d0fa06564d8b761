package storetest_test

import (
	"context"
	"errors"
	"fmt"
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

// both opens a store of each kind.
func both(b *testing.B) []named {
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
	post, err := postgres.Open(ctx, server.Fresh(b)+" pool_max_conns=16", store.Options{})
	require.NoError(b, err)
	b.Cleanup(func() { require.NoError(b, post.Close()) })
	return []named{{"sqlite", lite}, {"postgres", post}}
}

type named struct {
	name  string
	store storetest.Opened
}

var clock = time.Date(2026, 11, 10, 19, 20, 0, 0, time.UTC)

// BenchmarkCommit writes whole orders (storetest.Order, about 25 KB) into
// both stores in turns, by one writer and by 16, for two seconds each. The
// last line of each compares the two.
func BenchmarkCommit(b *testing.B) {
	stores := both(b)
	var next atomic.Int64
	for _, writers := range []int{1, 16} {
		const rounds = 3
		took := map[string][]time.Duration{}
		for range rounds {
			for _, c := range stores {
				took[c.name] = append(took[c.name], commits(b, c.store, writers, &next)...)
			}
		}
		for _, c := range stores {
			t := took[c.name]
			slices.Sort(t)
			b.Logf("%-8s %2d writers: %5d commits/s, p50 %s, p99 %s", c.name, writers, len(t)/2/rounds,
				t[len(t)/2].Round(10*time.Microsecond), t[len(t)*99/100].Round(10*time.Microsecond))
		}
		b.Logf("%d writers: SQLite to PostgreSQL %.2f", writers, float64(len(took["sqlite"]))/float64(len(took["postgres"])))
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
				e := storetest.Order(n, clock.Add(time.Duration(n)*time.Second))
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
	return all
}

// BenchmarkRead asks both stores, with 2,000 orders in each, what a door and
// a page ask.
func BenchmarkRead(b *testing.B) {
	ctx := context.Background()
	equal := func(name, text string, few bool) adapter.Criterion {
		return adapter.Criterion{Name: name, Few: few, Any: []adapter.Match{{Op: adapter.OpEqual, Text: text}}}
	}
	newest := adapter.Sort{Name: "authored-on", ByTime: true, Descending: true}
	patient, status := equal("patient", "Patient/patient-001500", true), equal("status", "requested", false)
	questions := []struct {
		name string
		ask  adapter.Query
	}{
		{"all", adapter.Query{Type: "Task"}},
		{"newest", adapter.Query{Type: "Task", Sort: adapter.Sort{Name: "_lastUpdated", Descending: true}}},
		{"patient", adapter.Query{Type: "Task", All: []adapter.Criterion{patient}}},
		{"patient-status-sorted", adapter.Query{Type: "Task", Sort: newest, All: []adapter.Criterion{patient, status}}},
		{"status", adapter.Query{Type: "Task", All: []adapter.Criterion{status}}},
		{"status-sorted", adapter.Query{Type: "Task", Sort: newest, All: []adapter.Criterion{status}}},
		{"since", adapter.Query{Type: "Task", All: []adapter.Criterion{{Name: "authored-on", Any: []adapter.Match{{Op: adapter.OpNotBelow, Low: clock, High: clock.Add(time.Second)}}}}}},
		{"identifier", adapter.Query{Type: "Task", All: []adapter.Criterion{equal("identifier", "task-001500-1", false)}}},
		{"provenance", adapter.Query{Type: "Provenance", All: []adapter.Criterion{equal("target", "MedicationRequest/request-001500", true)}}},
	}
	for _, c := range both(b) {
		for n := range 2000 {
			require.NoError(b, c.store.Commit(ctx, storetest.Order(n, clock.Add(time.Duration(n)*time.Second))))
		}
		for _, q := range questions {
			b.Run(c.name+"/"+q.name, func(b *testing.B) {
				for b.Loop() {
					_, err := c.store.Search(ctx, q.ask, adapter.Page{Limit: 50})
					require.NoError(b, err)
				}
			})
		}
		b.Run(c.name+"/worklist", func(b *testing.B) {
			for b.Loop() {
				_, err := c.store.Orders(ctx, adapter.OrderFilter{State: "active"}, adapter.Page{Limit: 50})
				require.NoError(b, err)
			}
		})
		b.Run(c.name+"/erase", func(b *testing.B) {
			for n := range b.N {
				p := storetest.Order(n, clock).Cases[0].Patient
				_, err := c.store.Erase(ctx, adapter.Erasure{Patient: p, Before: clock.Add(24 * time.Hour),
					Audit: adapter.AuditRow{ID: fmt.Sprint("erase", b.N, n), At: clock, Action: "D", Agent: "retention", Patient: p}})
				var gone *adapter.NotFound // by a shorter run
				require.True(b, err == nil || errors.As(err, &gone), "%v", err)
			}
		})
	}
}
