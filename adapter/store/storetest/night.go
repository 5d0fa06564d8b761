package storetest

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/store"
)

// nights: what the night keeps of patients is read as it was written, says
// whether the case has changed since, and who was not seen.
func nights(t *testing.T, h Harness) {
	s, ctx := h.New(t, store.Options{}), t.Context()
	f, ok := any(s).(adapter.Feeds)
	require.True(t, ok)
	var keys []string
	for n := range 130 {
		e := Order(n, clock)
		key := fmt.Sprintf("Patient/p%d", n)
		e.Feeds = []adapter.FeedLine{{Key: key, Patient: id("patient", n), Sum: sha256.Sum256([]byte{byte(n)}), Basis: sha256.Sum256([]byte("basis")),
			Watch: clock.Add(time.Duration(n) * time.Minute), At: 1, Night: "n1", Orders: int64(n), Report: []byte(fmt.Sprintf(`{"n":%d}`, n))}}
		if n == 0 {
			e.Feeds[0].Watch = time.Time{}
		}
		require.NoError(t, s.Commit(ctx, e))
		keys = append(keys, key)
	}
	got, err := f.FeedLines(ctx, append(keys, "Patient/nobody"))
	require.NoError(t, err)
	require.Len(t, got, 130)
	want := adapter.FeedLine{Key: "Patient/p7", Patient: id("patient", 7), Sum: sha256.Sum256([]byte{7}), Basis: sha256.Sum256([]byte("basis")), Watch: clock.Add(7 * time.Minute),
		At: 1, Now: 1, Night: "n1", Orders: 7, Report: []byte(`{"n":7}`)}
	assert.Equal(t, want, got["Patient/p7"])
	assert.True(t, got["Patient/p0"].Watch.IsZero())

	active, err := f.Active(ctx)
	require.NoError(t, err)
	assert.Equal(t, int64(130), active)
	row := func(name string) []adapter.AuditRow { return []adapter.AuditRow{audit(name, "", clock)} }
	require.NoError(t, s.Commit(ctx, adapter.Effect{At: clock, Seen: adapter.Seen{Night: "n2", Keys: keys[:120]}, Audit: row("seen")}))
	var conflict *adapter.Conflict
	err = s.Commit(ctx, adapter.Effect{At: clock, Seen: adapter.Seen{Night: "n2", Keys: []string{keys[121], "Patient/nobody"}}, Audit: row("seen nobody")})
	assert.ErrorAs(t, err, &conflict)
	var missing []string
	for after := ""; ; after = missing[len(missing)-1] {
		page, err := f.NotSeen(ctx, "n2", after, 3)
		require.NoError(t, err)
		if missing = append(missing, page...); len(page) == 0 {
			break
		}
	}
	assert.Equal(t, []string{id("patient", 120), id("patient", 121), id("patient", 122), id("patient", 123), id("patient", 124), id("patient", 125), id("patient", 126), id("patient", 127),
		id("patient", 128), id("patient", 129)}, missing)

	require.NoError(t, s.Commit(ctx, adapter.Effect{At: clock, Cases: []adapter.StoredCase{{Patient: id("patient", 5), Version: 2, Schema: adapter.CaseSchema, Updated: clock, JSON: []byte("{}")}}, Audit: row("case")}))
	got, err = f.FeedLines(ctx, keys[5:6])
	require.NoError(t, err)
	assert.Equal(t, int64(1), got[keys[5]].At)
	assert.Equal(t, int64(2), got[keys[5]].Now, "the case has changed since")

	gone := id("patient", 9)
	_, err = s.Erase(context.WithoutCancel(ctx), adapter.Erasure{Patient: gone, Before: clock.Add(time.Hour), Audit: adapter.AuditRow{ID: "erased", At: clock, Action: "D", Outcome: "0", Agent: "retention", Patient: gone}})
	if lingering := (*adapter.Lingering)(nil); !errors.As(err, &lingering) {
		require.NoError(t, err)
	}
	got, err = f.FeedLines(ctx, keys[9:10])
	require.NoError(t, err)
	assert.Empty(t, got)
	whole(t, s)
}
