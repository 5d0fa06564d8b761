package night_test

import (
	"context"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter/night"
	"weir.example/weir/adapter/night/nightgen"
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

// Until the instant at which an order is to be looked at again, the clock
// alone changes nothing that is kept of it.
func TestNothingChangesBeforeTheWatch(t *testing.T) {
	type course struct {
		name, path string
		now        time.Time
	}
	at := func(text string) time.Time {
		out, err := time.Parse(time.RFC3339, text)
		require.NoError(t, err)
		return out
	}
	courses := []course{{"generated", folder(t, nightgen.Hospital{Orders: 12, Seed: 5}, 0), nightgen.Clock(0)}}
	for _, d := range []struct{ folder, name, now string }{
		{"s1-cefazolin-elastomeric", "s1-cefazolin-elastomeric", "2026-11-10T14:20:00-05:00"},
		{"s2-vancomycin-kidneys", "s2-vancomycin-kidneys", "2027-02-10T10:10:00-06:00"},
		{"s2-vancomycin-kidneys", "s2-vancomycin-kidneys-changed", "2027-02-16T16:10:00-06:00"},
		{"s3-fluorouracil-46h", "s3-fluorouracil-46h", ""},
		{"s4-ceftriaxone-child", "s4-ceftriaxone-child", ""},
		{"s5-nutrition-cycle", "s5-nutrition-cycle", ""},
		{"s6-hydration-gravity", "s6-hydration-gravity", ""},
		{"s7-daptomycin-discharge", "s7-daptomycin-discharge", "2026-12-20T18:45:00-08:00"},
	} {
		if d.now == "" {
			d.now = clockOf(t, d.folder)
		}
		courses = append(courses, course{d.name, asFolder(t, document(t, d.folder, d.name)), at(d.now)})
	}
	steps := 12
	if testing.Short() || os.Getenv("WEIR_NIGHT_LONG") == "" {
		steps = 4
	}
	looks, orders := 0, 0
	var waited time.Duration
	for _, c := range courses {
		t.Run(c.name, func(t *testing.T) {
			s := newSite(t)
			for _, g := range groups(t, c.path) {
				now := c.now
				for range steps {
					e, states, err := s.worker.CompareAt(t.Context(), now, g)
					require.NoError(t, err)
					if len(states) == 0 {
						break
					}
					if len(e.Audit) > 0 {
						require.NoError(t, s.record.Commit(t.Context(), e))
					}
					watch := states[0].Watch
					for _, x := range states {
						if x.Watch.Before(watch) {
							watch = x.Watch
						}
					}
					orders++
					waited += watch.Sub(now)
					for _, u := range []time.Time{now, now.Add(time.Minute), now.Add(watch.Sub(now) / 3), now.Add(watch.Sub(now) * 2 / 3), watch.Add(-time.Microsecond)} {
						if !u.Before(watch) {
							continue
						}
						looks++
						e, later, err := s.worker.CompareAt(t.Context(), u, g)
						require.NoError(t, err)
						if len(e.Worksheets)+len(e.Resources)+len(e.Cases) > 0 {
							t.Errorf("%s at %s, seen at %s, to be seen at %s: %d worksheets, %d resources", g.Key, u, now, watch, len(e.Worksheets), len(e.Resources))
							for i := range later {
								t.Log(c.name, findingsOf(states[i]), "\n", findingsOf(later[i]), "\n", tasksOf(states[i]), "\n", tasksOf(later[i]))
							}
							if len(e.Worksheets) > 0 {
								t.Logf("%q", moved(sheetOf(t, s, states[0].Order.Key), pretty(e.Worksheets[0].JSON)))
							}
							t.FailNow()
						}
					}
					now = watch
				}
			}
		})
	}
	t.Log(looks, "looks,", orders, "waits, mean wait", (waited / time.Duration(max(orders, 1))).Round(time.Minute))
}
