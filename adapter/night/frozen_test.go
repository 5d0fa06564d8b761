package night_test

import (
	"context"
	"os"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/night/nightgen"
	"weir.example/weir/adapter/queue"
)

// Workers that hang past the rescue time and come back write nothing twice,
// on both databases, and the answer is that of an undisturbed night.
func TestFrozenWorkers(t *testing.T) {
	if os.Getenv("WEIR_NIGHT_LONG") == "" {
		t.Skip("WEIR_NIGHT_LONG is not set")
	}
	h := nightgen.Hospital{Orders: 60, Seed: 21, Churn: 200}
	first, second := folder(t, h, 0), folder(t, h, 1)
	calm := newSite(t)
	calm.run(t, first, nightgen.Clock(0), 2)
	_, _, want := calm.run(t, second, nightgen.Clock(1), 2)
	for name, open := range records() {
		t.Run(name, func(t *testing.T) {
			record := open(t)
			var refused, frozen atomic.Int64
			q, err := queue.Open(context.Background(), record, queue.Options{Timeout: 9 * time.Second, Rescue: 10 * time.Second, Observe: func(e queue.Event) {
				if e.Outcome == queue.Refused {
					refused.Add(1)
				}
			}})
			require.NoError(t, err)
			s := site{record: record, worker: newWorker(t, record), queue: q}
			s.freeze = func(j queue.Job) {
				if j.Attempt == 1 && frozen.Add(1) <= 3 {
					time.Sleep(13 * time.Second)
				}
			}
			s.run(t, first, nightgen.Clock(0), 4)
			_, _, got := s.run(t, second, nightgen.Clock(1), 4)
			require.NoError(t, q.Close())
			assert.True(t, want == got, difference(want, got))
			t.Log(min(frozen.Load(), 3), "frozen,", refused.Load(), "refused when they came back")
			if name == "sqlite" {
				want, got := exported(t, calm.record.(adapter.Keeper)), exported(t, record.(adapter.Keeper))
				assert.True(t, want == got, difference(want, got))
			}
		})
	}
}
