package night_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"os"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter/intake"
	"weir.example/weir/adapter/night/nightgen"
	"weir.example/weir/adapter/store/storetest"
	"weir.example/weir/mapping/element"
)

// everything is all that is stored of some orders, but for which night saw
// them last.
func (s site) everything(t testing.TB, keys []string) map[string]string {
	out := map[string]string{}
	put := func(name string, v any) {
		text, err := json.MarshalIndent(v, "", " ")
		require.NoError(t, err)
		out[name] = string(text)
	}
	cases := map[string]bool{}
	for _, key := range keys {
		head, err := s.record.Order(t.Context(), key)
		require.NoError(t, err)
		put("order "+key, head)
		cases[head.Patient] = true
		sheets, err := s.record.Worksheets(t.Context(), key, 100)
		require.NoError(t, err)
		for i, x := range sheets {
			put(fmt.Sprintf("sheet %s %d", key, len(sheets)-i), map[string]any{"head": []any{x.Key, x.Number, x.Patient, x.Stage, x.Verdict, x.Made}, "text": json.RawMessage(x.JSON)})
		}
		put("tasks "+key, storetest.Tasks(t, s.record, key))
	}
	for patient := range cases {
		c, err := s.record.Case(t.Context(), patient)
		require.NoError(t, err)
		put("case "+patient, map[string]any{"version": c.Version, "updated": c.Updated, "text": json.RawMessage(c.JSON)})
		var f struct {
			Orders []struct {
				Outputs []struct {
					Type, ID string
					Version  int64
				}
			}
		}
		require.NoError(t, json.Unmarshal(c.JSON, &f))
		for _, o := range f.Orders {
			for _, x := range o.Outputs {
				r, err := s.record.Get(t.Context(), x.Type, x.ID)
				require.NoError(t, err)
				put(x.Type+" "+x.ID, map[string]any{"version": r.Version, "text": json.RawMessage(r.JSON), "values": r.Values, "identifiers": r.Identifiers})
			}
		}
	}
	return out
}

// What is said and stored of nights in which nothing changed but the clock is
// the same, byte for byte, when every resource is read and judged again.
func TestWhatDidNotChangeIsSaidAsIfJudged(t *testing.T) {
	list := []course{{"generated", folder(t, nightgen.Hospital{Orders: 6, Seed: 11}, 0), nightgen.Clock(0)}}
	if os.Getenv("WEIR_NIGHT_LONG") != "" {
		list = courses(t, 20)
		for seed := range uint64(3) {
			list = append(list, course{fmt.Sprint("generated ", seed), folder(t, nightgen.Hospital{Orders: 40, Seed: 20 + seed}, 0), nightgen.Clock(0).Add(time.Duration(seed) * 31 * time.Hour)})
		}
	}
	for _, c := range list {
		for _, steps := range [][]time.Duration{
			{20 * time.Minute, 35 * time.Minute, time.Hour, 90 * time.Minute, 3 * time.Hour, 6 * time.Hour, 24 * time.Hour, 25 * time.Hour, 48 * time.Hour, 168 * time.Hour, 169 * time.Hour},
			{16 * time.Minute, 31 * time.Minute, 7 * time.Hour, 8 * time.Hour, 9 * time.Hour, 33 * time.Hour, 57 * time.Hour, 58 * time.Hour},
		} {
			t.Run(c.name, func(t *testing.T) {
				reference, quick := newSite(t), newSite(t)
				reference.worker.ReadAgain()
				first, _, _ := reference.run(t, c.path, c.now, 1)
				quick.run(t, c.path, c.now, 1)
				judged, said := 0, 0
				quick.worker.Looked(func(list []intake.State) {
					for _, x := range list {
						if x.Passed {
							said++
						} else {
							judged++
						}
					}
				})
				keys := slices.Sorted(maps.Keys(first))
				for i, step := range steps {
					if i == 3 || i == 9 {
						reference.close(t, keys, c.now.Add(steps[i-1]))
						quick.close(t, keys, c.now.Add(steps[i-1]))
					}
					judged, said = 0, 0
					want, _, _ := reference.counted(t, c.path, c.now.Add(step), 1)
					have, _, passed := quick.counted(t, c.path, c.now.Add(step), 1)
					t.Logf("%s: %d passed over, %d said from what is kept, %d judged", step, passed, said, judged)
					if want != have {
						t.Fatalf("%s: %v", step, apart(want, have))
					}
					x, y := reference.everything(t, keys), quick.everything(t, keys)
					for _, name := range slices.Sorted(maps.Keys(x)) {
						if x[name] != y[name] {
							t.Errorf("%s: %s: %q", step, name, apart(x[name], y[name]))
						}
					}
					require.Len(t, y, len(x))
					if t.Failed() {
						t.FailNow()
					}
				}
			})
		}
	}
}

// close has somebody do the first open task of each order.
func (s site) close(t testing.TB, keys []string, now time.Time) {
	desk, n := s.worker.Intake, 0
	desk.NewID = func() string { n++; return fmt.Sprint("desk", now.Unix(), "-", n) }
	for _, key := range keys {
		tasks := storetest.Tasks(t, s.record, key)
		i := slices.IndexFunc(tasks, func(x storetest.Task) bool { return x.Status == "requested" && x.Code != "fulfill" })
		if i < 0 {
			continue
		}
		r, err := s.record.Get(t.Context(), "Task", tasks[i].ID)
		require.NoError(t, err)
		text := bytes.Replace(r.JSON, []byte(`"status":"requested"`), []byte(`"status":"completed"`), 1)
		doc, faults := element.Read(text, element.Limit{})
		require.Empty(t, faults)
		_, err = desk.Receive(t.Context(), intake.Call{Now: now, Agent: "local-operator", Bytes: text}, []intake.Item{{Way: intake.Update, ID: r.ID, Version: r.Version, Resource: doc.Root(), At: "Task"}})
		require.NoError(t, err)
	}
}

// apart shows where two texts begin to differ.
func apart(a, b string) string {
	i := 0
	for i < min(len(a), len(b)) && a[i] == b[i] {
		i++
	}
	cut := func(s string) string { return s[max(i-120, 0):min(i+200, len(s))] }
	return cut(a) + " → " + cut(b)
}
