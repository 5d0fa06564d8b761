package storetest

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/store"
)

// placed is one new resource of an order of one of 20 patients.
func placed(n int) adapter.Effect {
	patient := id("patient", n%20)
	e := adapter.Effect{At: clock, Audit: []adapter.AuditRow{audit(fmt.Sprint("placed-", n), patient, clock)}}
	for _, typ := range []string{"Task", "DetectedIssue"} {
		e.Resources = append(e.Resources, adapter.Resource{Type: typ, ID: id("placed", n), Version: 1, Updated: clock, Patient: patient, Order: fmt.Sprint("order-", n), JSON: fmt.Appendf(nil, `{"n":%d}`, n)})
	}
	return e
}

// places are found while many write, also after they were merged, erased and
// copied. So many transactions reach the third tier of runs.
func places(t *testing.T, h Harness) {
	s, ctx := h.New(t, store.Options{}), t.Context()
	const writers, each = 4, 300
	var told [writers]atomic.Int64
	var reads atomic.Int64
	end := make(chan struct{})
	look := func(w, n int) error {
		r, err := s.Get(ctx, "Task", id("placed", w+n*writers))
		if err == nil && string(r.JSON) != fmt.Sprintf(`{"n":%d}`, w+n*writers) {
			err = fmt.Errorf("another resource: %s", r.JSON)
		}
		return err
	}
	var writing atomic.Int64
	writing.Store(writers)
	together(2*writers, func(w int) {
		if w < writers {
			for n := range each {
				assert.NoError(t, s.Commit(ctx, placed(w+n*writers)))
				told[w].Add(1)
			}
			if writing.Add(-1) == 0 {
				close(end)
			}
			return
		}
		chance := rand.New(rand.NewPCG(3, uint64(w)))
		for {
			select {
			case <-end:
				return
			default:
			}
			if n := told[w-writers].Load(); n > 0 {
				assert.NoError(t, look(w-writers, int(chance.Int64N(n))), "what was told is found")
				reads.Add(1)
			}
		}
	})
	all := func(s Opened, without string) {
		for n := range writers * each {
			for _, typ := range []string{"Task", "DetectedIssue"} {
				r, err := s.Get(ctx, typ, id("placed", n))
				if id("patient", n%20) == without {
					var missing *adapter.NotFound
					require.ErrorAs(t, err, &missing)
					continue
				}
				require.NoError(t, err)
				require.Equal(t, fmt.Sprintf(`{"n":%d}`, n), string(r.JSON))
			}
		}
		_, err := s.Get(ctx, "Task", id("placed", writers*each))
		var missing *adapter.NotFound
		require.ErrorAs(t, err, &missing)
	}
	all(s, "")
	require.Equal(t, int64(2*writers*each), whole(t, s)["resource"])

	again := placed(7)
	again.Audit[0].ID = "again"
	var there *adapter.Conflict
	require.ErrorAs(t, s.Commit(ctx, again), &there, "what is there is not made a second time")
	require.Equal(t, "DetectedIssue", there.Kind)
	for i := range again.Resources {
		again.Resources[i].Version, again.Resources[i].Order = 2, "" // who replaces need not say which order
	}
	require.NoError(t, s.Commit(ctx, again))

	gone := id("patient", 9)
	last := audit("erasure", gone, clock)
	last.Private = nil
	_, err := s.Erase(ctx, adapter.Erasure{Patient: gone, Before: clock.Add(time.Hour), Audit: last})
	require.NoError(t, err)
	all(s, gone)
	require.Equal(t, int64(2*writers*each*19/20), whole(t, s)["resource"])

	to := h.New(t, store.Options{})
	require.NoError(t, to.Import(ctx, bytes.NewReader(exported(t, s))))
	all(to, gone)
	require.NoError(t, to.Commit(ctx, placed(writers*each)))
	require.Equal(t, int64(2*writers*each*19/20+2), whole(t, to)["resource"])

	// Nothing but an id that was not taken at random can do this.
	twin := placed(0)
	twin.Audit[0].ID = "twin"
	for i := range twin.Resources {
		twin.Resources[i].Order = "another"
	}
	require.NoError(t, to.Commit(ctx, twin))
	health, err := to.Check(ctx)
	require.NoError(t, err)
	require.Equal(t, []string{"2 resources of one type and id with others"}, health.Problems)
	t.Logf("%d resources found by their ids while %d transactions wrote, all of them after", reads.Load(), writers*each)
}
