package night_test

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/intake"
	"weir.example/weir/adapter/night/nightgen"
)

// An order that nobody looked at is said each night until somebody does; what
// was done here between two nights is seen although the folder is the same.
func TestALookBetweenTwoNights(t *testing.T) {
	h := nightgen.Hospital{Orders: 4, Seed: 3}
	s := newSite(t)
	path := folder(t, h, 0)
	first, _, _ := s.run(t, path, nightgen.Clock(0), 1)
	orders, err := s.record.Orders(context.Background(), adapter.OrderFilter{}, adapter.Page{Limit: 10})
	require.NoError(t, err)
	looked := ""
	for _, o := range orders.Orders {
		if looked == "" {
			looked = o.Key
			s.close(t, []string{o.Key}, nightgen.Clock(0).Add(30*time.Second)) // a task that is done is no look, and hides none
			desk := s.worker.Intake
			desk.NewID = func() string { return "look" }
			require.NoError(t, desk.Open(context.Background(), intake.Call{Now: nightgen.Clock(0).Add(time.Minute), Agent: "local-operator"}, o))
		}
		assert.Contains(t, first[o.Key].codes(false), "nightly-unseen")
	}
	second, summary, _ := s.run(t, path, nightgen.Clock(0).Add(2*time.Minute), 1)
	assert.Equal(t, 4, summary.Orders.Unchanged)
	for key, x := range second {
		if key == looked {
			assert.NotContains(t, x.codes(false), "nightly-unseen")
			continue
		}
		assert.Contains(t, x.codes(false), "nightly-unseen")
	}
}
