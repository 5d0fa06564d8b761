package queue

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
)

// ordersPerJob is the largest job.
const ordersPerJob = 200

func benchOrder(n int) adapter.OrderWrite {
	key := fmt.Sprintf("urn:placer|order-%07d", n)
	sum := sha256.Sum256([]byte(key))
	return adapter.OrderWrite{OrderLine: adapter.OrderLine{Key: key, Number: 1, Version: hex.EncodeToString(sum[:]), Patient: fmt.Sprintf("patient-%07d", n),
		Resource: "r", Drug: "cefazolin", State: "active", Verdict: "hold", Stage: "intake", Due: clock, Updated: clock}}
}

// night judges the orders of a job again: their lines in the worklist, and
// with changed also a worksheet of 6 KB and a task for each.
func night(_ context.Context, j Job) (adapter.Effect, error) {
	var k task
	if err := json.Unmarshal(j.Args, &k); err != nil {
		return adapter.Effect{}, err
	}
	e := adapter.Effect{At: clock.Add(time.Hour), Audit: []adapter.AuditRow{auditRow("done-" + j.ID)}}
	for i := range ordersPerJob {
		o := benchOrder(k.N*ordersPerJob + i)
		o.Change, o.Updated, o.Weight = adapter.OrderJudged, e.At, int64(i%3)
		e.Orders = append(e.Orders, o)
		if k.After > 0 {
			id := fmt.Sprint(j.ID, "-", i)
			e.Worksheets = append(e.Worksheets, adapter.StoredSheet{ID: id, Key: o.Key, Number: 1, Patient: o.Patient, Stage: "night", Verdict: "hold", Made: e.At, JSON: benchSheet})
			e.Resources = append(e.Resources, adapter.Resource{Type: "Task", ID: id, Version: 1, Updated: e.At, Patient: o.Patient, Order: o.Key, JSON: fmt.Appendf(nil, `{"resourceType":"Task","id":%q,"status":"requested"}`, id)})
		}
	}
	return e, nil
}

var benchSheet = func() []byte {
	var out []byte
	for i := 0; len(out) < 6000; i++ {
		sum := sha256.Sum256([]byte{byte(i)})
		out = fmt.Appendf(out, `{"name":"value-%d","is":"%x"},`, i, sum[:8])
	}
	return out
}()

// BenchmarkNight is jobs of 200 orders each: how many a second, and how long
// one takes from the commit that asks for it until it is done.
func BenchmarkNight(b *testing.B) {
	const jobs = 100
	for _, where := range []string{"sqlite", "postgres"} {
		for _, changed := range []int{0, 1} {
			for _, workers := range []int{1, 2, 4} {
				b.Run(fmt.Sprintf("%s/changed=%d/workers=%d", where, changed, workers), func(b *testing.B) {
					address := filepath.Join(b.TempDir(), "weir.db")
					if where == "postgres" {
						if server == nil {
							b.Skip("no PostgreSQL")
						}
						address = server.Fresh(b)
					}
					s := begin(b, address)
					for n := range jobs + 20 {
						e := adapter.Effect{At: clock, Audit: []adapter.AuditRow{auditRow(fmt.Sprint("orders-", n))}}
						for i := range ordersPerJob {
							o := benchOrder(n*ordersPerJob + i)
							o.Change = adapter.OrderNew
							e.Orders = append(e.Orders, o)
						}
						require.NoError(b, s.Commit(b.Context(), e))
					}
					var all []task
					for n := range jobs {
						all = append(all, task{N: n, After: changed})
					}
					require.NoError(b, s.Commit(b.Context(), asked("all", all...)))
					var mu sync.Mutex
					done := make(chan time.Time, jobs+20)
					q := begun(b, s, Options{Observe: func(e Event) {
						mu.Lock()
						defer mu.Unlock()
						require.Equal(b, Done, e.Outcome, "%v", e.Err)
						done <- time.Now()
					}})
					start := time.Now()
					stop := running(b, q, workers, night)
					var last time.Time
					for range jobs {
						last = <-done
					}
					b.ReportMetric(jobs/last.Sub(start).Seconds(), "jobs/s")
					b.ReportMetric(jobs*ordersPerJob/last.Sub(start).Seconds(), "orders/s")
					var took []time.Duration
					for n := range 20 {
						require.NoError(b, s.Commit(b.Context(), asked(fmt.Sprint(n), task{N: jobs + n, After: changed})))
						at := time.Now()
						took = append(took, (<-done).Sub(at))
					}
					slices.Sort(took)
					b.ReportMetric(float64(took[10].Microseconds())/1000, "ms-p50")
					b.ReportMetric(float64(took[18].Microseconds())/1000, "ms-p95")
					stop()
				})
			}
		}
	}
}
