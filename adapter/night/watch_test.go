package night_test

import (
	"context"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter/intake"
	"weir.example/weir/adapter/night"
)

func groups(t testing.TB, path string) []night.Group {
	root, err := os.OpenRoot(path)
	require.NoError(t, err)
	defer root.Close()
	temporary, err := os.OpenRoot(t.TempDir())
	require.NoError(t, err)
	defer temporary.Close()
	f, err := night.Open(context.Background(), root.FS(), temporary, 1)
	require.NoError(t, err)
	var out []night.Group
	for g, err := range f.Groups(context.Background()) {
		require.NoError(t, err)
		out = append(out, g)
	}
	require.NoError(t, f.Close())
	return out
}

// kept compares a patient at a clock, keeps what came of it, and gives what
// became of each order.
func (s site) kept(t *testing.T, now time.Time, g night.Group) []intake.State {
	e, states, err := s.worker.CompareAt(t.Context(), now, g)
	require.NoError(t, err)
	if len(states) > 0 && len(e.Audit) > 0 {
		require.NoError(t, s.record.Commit(t.Context(), e))
	}
	return states
}

// Until the instant at which an order is to be looked at again, the clock
// alone changes nothing that is kept of it.
func TestNothingChangesBeforeTheWatch(t *testing.T) {
	steps, many := 12, 40
	if testing.Short() || os.Getenv("WEIR_NIGHT_LONG") == "" {
		steps, many = 4, 4
	}
	looks, orders, at1 := 0, 0, 0
	var waited time.Duration
	for _, c := range courses(t, 12) {
		t.Run(c.name, func(t *testing.T) {
			s := newSite(t)
			for _, g := range groups(t, c.path) {
				now := c.now
				for range steps {
					states := s.kept(t, now, g)
					if len(states) == 0 {
						break
					}
					watch := states[0].Watch
					for _, x := range states {
						if x.Watch.Before(watch) {
							watch = x.Watch
						}
					}
					orders++
					waited += watch.Sub(now)
					list := []time.Time{now, now.Add(time.Minute), watch.Add(-time.Microsecond)}
					for i := range many {
						list = append(list, now.Add(watch.Sub(now)*time.Duration(i+1)/time.Duration(many+1)))
					}
					for _, u := range list {
						if !u.Before(watch) || u.Before(now) {
							continue
						}
						looks++
						e, later, err := s.worker.CompareAt(t.Context(), u, g)
						require.NoError(t, err)
						same := len(states) == len(later)
						for i := range later {
							same = same && assert.ObjectsAreEqual(states[i].NotChecked, later[i].NotChecked) && assert.ObjectsAreEqual(findingsOf(states[i]), findingsOf(later[i]))
						}
						if len(e.Worksheets)+len(e.Resources)+len(e.Cases) > 0 || !same {
							t.Errorf("%s at %s, seen at %s, to be seen at %s: %d worksheets, %d resources", g.Key, u, now, watch, len(e.Worksheets), len(e.Resources))
							for i := range later {
								t.Log(c.name, findingsOf(states[i]), "\n", findingsOf(later[i]), "\n", tasksOf(states[i]), "\n", tasksOf(later[i]))
							}
							for _, r := range e.Resources {
								have, err := s.record.Get(t.Context(), r.Type, r.ID)
								if err == nil {
									t.Logf("%s %s: %q", r.Type, r.ID, moved(pretty(have.JSON), pretty(r.JSON)))
								}
							}
							if len(e.Worksheets) > 0 {
								t.Logf("%q", moved(sheetOf(t, s, states[0].Order.Key), pretty(e.Worksheets[0].JSON)))
							}
							t.FailNow()
						}
					}
					before := now
					if now = watch; !watch.After(before) { // it is looked at each time
						at1++
						now = now.Add(5 * time.Hour)
					}
				}
			}
		})
	}
	t.Log(looks, "looks,", orders, "waits,", at1, "of them none, mean wait", (waited / time.Duration(max(orders, 1))).Round(time.Minute))
}
