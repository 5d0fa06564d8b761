package intake_test

import (
	"context"
	"encoding/json"
	"errors"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter/intake"
	"weir.example/weir/adapter/store/storetest"
	"weir.example/weir/mapping/element"
	"weir.example/weir/testdata/orders"
)

// change sends a task as it is stored, with some members changed.
func (d desk) change(t testing.TB, f orders.Fixture, id string, members map[string]any) (intake.Done, error) {
	r, err := d.store.Get(context.Background(), "Task", id)
	require.NoError(t, err)
	var v map[string]any
	require.NoError(t, json.Unmarshal(r.JSON, &v))
	for k, x := range members {
		v[k] = x
	}
	text, err := json.Marshal(v)
	require.NoError(t, err)
	doc, faults := element.Read(text, element.Limit{})
	require.Empty(t, faults)
	c := call(f)
	c.Bytes = text
	done, err := d.Receive(context.Background(), c, []intake.Item{{Way: intake.Update, ID: id, Version: r.Version, Resource: doc.Root(), At: "Task"}})
	if err != nil {
		return intake.Done{}, err
	}
	return done[0], nil
}

func refusedAs(t testing.TB, want intake.Reason, err error) {
	t.Helper()
	var refused *intake.Refused
	require.True(t, errors.As(err, &refused), "%v", err)
	assert.Equal(t, want, refused.Reason)
}

// tasks are those of the one order, by status; the parent is left out.
func (d desk) tasks(t testing.TB) map[string][]storetest.Task {
	out := map[string][]storetest.Task{}
	for _, l := range d.lines(t) {
		for _, x := range storetest.Tasks(t, d.store, l.Key) {
			if x.Code == "fulfill" {
				out["parent"] = append(out["parent"], x)
				continue
			}
			out[x.Status] = append(out[x.Status], x)
		}
	}
	return out
}

// Those who do the work say how far it is; nothing else of a task is theirs
// to change.
func TestHowFarATaskIs(t *testing.T) {
	d, f := open(t), load(t, "s1-cefazolin-elastomeric")
	d.send(t, f)
	had := d.tasks(t)
	require.NotEmpty(t, had["requested"])
	one := had["requested"][0]
	before := d.lines(t)[0]

	for name, members := range map[string]map[string]any{
		"what it is":      {"description": "Something else"},
		"until when":      {"restriction": map[string]any{"period": map[string]any{"end": "2036-11-10T20:00:00Z"}}},
		"an own status":   {"status": "draft"},
		"entered wrongly": {"status": "entered-in-error"},
		"whose it is":     {"for": map[string]any{"reference": "Patient/other"}},
	} {
		_, err := d.change(t, f, one.ID, members)
		require.Error(t, err, name)
	}
	_, err := d.change(t, f, had["parent"][0].ID, map[string]any{"status": "completed"})
	refusedAs(t, intake.Ours, err)

	f.Now = f.Now.Add(time.Minute)
	done, err := d.change(t, f, one.ID, map[string]any{"status": "in-progress", "owner": map[string]any{"display": "intake pharmacist"}})
	require.NoError(t, err)
	assert.Equal(t, int64(2), done.Resource.Version)
	assert.Equal(t, one.ID, d.tasks(t)["in-progress"][0].ID)
	assert.Equal(t, before.Due, d.lines(t)[0].Due, "it is still to be done")
	done, err = d.change(t, f, one.ID, nil)
	require.NoError(t, err)
	assert.Equal(t, intake.Same, done.Outcome)

	done, err = d.change(t, f, one.ID, map[string]any{"status": "completed", "note": []any{map[string]any{"text": "called, read back"}}})
	require.NoError(t, err)
	assert.Equal(t, int64(3), done.Resource.Version)
	assert.Contains(t, string(done.Resource.JSON), f.Now.UTC().Format(time.RFC3339), "the clock says when it was changed")
	completed := d.tasks(t)["completed"]
	require.Len(t, completed, 1)
	assert.Equal(t, one.Code, completed[0].Code)
	assert.Equal(t, one.Due, completed[0].Due)
	for _, to := range []string{"requested", "in-progress", "cancelled"} {
		_, err = d.change(t, f, one.ID, map[string]any{"status": to})
		refusedAs(t, intake.Closed, err)
	}

	// The order sent again, and judged anew, leaves it done.
	d.send(t, f)
	f.Now = f.Now.Add(3 * time.Hour)
	_, _, err = d.Compare(context.Background(), call(f), intake.Night{Patients: []intake.Tonight{{Items: items(t, f.Document, intake.Feed)}}})
	require.NoError(t, err)
	assert.Equal(t, completed, d.tasks(t)["completed"])
	d.healthy(t)
}

// What waits for an order on hold is not begun.
func TestADraftIsNotBegun(t *testing.T) {
	for _, f := range orders.All() {
		if f.Base != "" {
			continue
		}
		d := open(t)
		d.send(t, f)
		if drafts := d.tasks(t)["draft"]; len(drafts) > 0 {
			for _, to := range []string{"in-progress", "completed", "cancelled"} {
				_, err := d.change(t, f, drafts[0].ID, map[string]any{"status": to})
				refusedAs(t, intake.NotBegun, err)
			}
			return
		}
	}
	t.Fatal("no scenario has a draft")
}

// What is done is not overdue; what was begun, rejected or failed is.
func TestWhatIsDoneIsNotOverdue(t *testing.T) {
	for _, to := range []string{"", "in-progress", "rejected", "failed", "completed", "cancelled"} {
		d, f := open(t), load(t, "s1-cefazolin-elastomeric")
		d.send(t, f)
		if to != "" {
			for _, x := range d.tasks(t)["requested"] {
				_, err := d.change(t, f, x.ID, map[string]any{"status": to})
				require.NoError(t, err, to)
			}
		}
		l := d.lines(t)[0]
		assert.Equal(t, to == "completed" || to == "cancelled", l.Due.IsZero(), to)
		overdue := false
		f.Now = f.Now.Add(20 * 24 * time.Hour)
		_, states, err := d.Compare(context.Background(), call(f), intake.Night{Patients: []intake.Tonight{{Items: items(t, f.Document, intake.Feed)}}})
		require.NoError(t, err)
		for _, s := range states {
			for _, x := range s.Findings {
				overdue = overdue || x.Code == "nightly-task-overdue"
			}
		}
		assert.Equal(t, to != "completed" && to != "cancelled", overdue, to)
		d.healthy(t)
	}
}
