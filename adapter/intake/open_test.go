package intake_test

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/intake"
)

// Each look is in the audit rows; the case notes the first only.
func TestALookIsOnRecord(t *testing.T) {
	d := open(t)
	f := load(t, "s1-cefazolin-elastomeric")
	d.send(t, f)
	o := d.lines(t)[0]
	before, err := d.store.Case(context.Background(), o.Patient)
	require.NoError(t, err)
	for n := range 3 {
		require.NoError(t, d.Open(context.Background(), intake.Call{Now: f.Now.Add(time.Duration(n) * time.Minute), Agent: "local-operator"}, o))
	}
	after, err := d.store.Case(context.Background(), o.Patient)
	require.NoError(t, err)
	assert.Equal(t, before.Version+1, after.Version)
	rows, err := d.store.Audit(context.Background(), adapter.AuditFilter{Action: "R"}, adapter.Page{Limit: 10})
	require.NoError(t, err)
	assert.Len(t, rows.Rows, 3)
	d.healthy(t)
}
