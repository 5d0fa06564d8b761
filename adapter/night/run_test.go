package night_test

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/intake"
	"weir.example/weir/adapter/night"
	"weir.example/weir/adapter/night/nightgen"
	"weir.example/weir/adapter/queue"
	"weir.example/weir/adapter/store"
	"weir.example/weir/adapter/store/sqlite"
	"weir.example/weir/conformance/schema"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/r4/googlefhir"
)

// site is the record of one pharmacy and what its nights run with.
type site struct {
	record   night.Record
	worker   night.Worker
	queue    *queue.Queue
	freeze   func(queue.Job) // nil: no worker hangs
	progress func(night.Progress)
}

func newSite(t testing.TB) site {
	s, err := sqlite.Open(context.Background(), filepath.Join(t.TempDir(), "weir.db"), store.Options{Migrate: true})
	require.NoError(t, err)
	q, err := queue.Open(context.Background(), s, queue.Options{})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, q.Close()); require.NoError(t, s.Close()) })
	return site{record: s, worker: newWorker(t, s), queue: q}
}

func newWorker(t testing.TB, s adapter.Store) night.Worker {
	ref, err := adapter.Reference(policy.Default(), nil, nil)
	require.NoError(t, err)
	return night.Worker{Intake: intake.Service{Store: s, Reference: ref, Judges: []schema.Judge{googlefhir.Judge}, Base: "http://127.0.0.1:8765/fhir"}, Accepted: night.NewAccepted()}
}

// folder writes one night of a hospital.
func folder(t testing.TB, h nightgen.Hospital, n int) string {
	path := t.TempDir()
	_, err := h.Write(n, nightgen.Layout{Parts: 2}, func(name string) (io.WriteCloser, error) { return os.Create(filepath.Join(path, name)) })
	require.NoError(t, err)
	return path
}

// run runs a night and gives its lines by order key, and its last line.
func (s site) run(t testing.TB, path string, now time.Time, workers int) (map[string]said, night.Summary, string) {
	text, summary, _ := s.counted(t, path, now, workers)
	return read(t, text), summary, text
}

// counted runs a night and says how many patients were passed over.
func (s site) counted(t testing.TB, path string, now time.Time, workers int) (string, night.Summary, int) {
	passed := 0
	root, err := os.OpenRoot(path)
	require.NoError(t, err)
	defer root.Close()
	temporary, err := os.OpenRoot(t.TempDir())
	require.NoError(t, err)
	defer temporary.Close()
	f, err := night.OpenAgain(context.Background(), root.FS(), temporary, workers, s.record)
	require.NoError(t, err)
	defer func() { require.NoError(t, f.Close()) }()
	working, stop := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() {
		done <- s.queue.Run(working, workers, func(ctx context.Context, j queue.Job) (adapter.Effect, error) {
			if s.freeze != nil {
				s.freeze(j)
			}
			return s.worker.Handle(context.WithoutCancel(ctx), j)
		})
	}()
	var out bytes.Buffer
	summary, err := night.Run{Record: s.record, Queue: s.queue, Worker: s.worker, Now: now, Address: "https://feed.example/fhir/",
		Progress: func(p night.Progress) {
			if passed = p.Unchanged; s.progress != nil {
				s.progress(p)
			}
		}}.Do(context.Background(), f, &out)
	stop()
	require.NoError(t, <-done)
	require.NoError(t, err)
	return out.String(), summary, passed
}

type said struct {
	Order    struct{ Key string }
	State    string
	Verdict  string
	Findings []struct {
		Code string
		New  bool
	}
	Tasks []struct{ Code string }
}

func (x said) codes(fresh bool) []string {
	var out []string
	for _, f := range x.Findings {
		if strings.HasPrefix(f.Code, "nightly-") && (f.New || !fresh) && !slices.Contains(out, f.Code) {
			out = append(out, f.Code)
		}
	}
	return out
}

func read(t testing.TB, text string) map[string]said {
	out := map[string]said{}
	for l := range strings.Lines(text) {
		var x said
		if strings.HasPrefix(l, `{"order":`) {
			require.NoError(t, json.Unmarshal([]byte(l), &x))
			out[x.Order.Key] = x
		}
	}
	return out
}

// Nights of an invented hospital, with all that can happen: what happened is
// found, with nothing else.
func TestNightsOfAHospital(t *testing.T) {
	orders, nights, seeds := 24, 3, []uint64{7}
	if os.Getenv("WEIR_NIGHT_LONG") != "" {
		orders, nights, seeds = 60, 4, []uint64{7, 8, 9}
	}
	tried, missed, invented := map[nightgen.Kind]int{}, map[string]int{}, map[string]int{}
	for _, seed := range seeds {
		nightsOf(t, nightgen.Hospital{Orders: orders, Seed: seed, Churn: 300, Noise: true}, nights, tried, missed, invented)
	}
	assert.Empty(t, missed)
	assert.Empty(t, invented)
	t.Log(tried)
}

// nightsOf runs some nights of one hospital and counts by kind.
func nightsOf(t *testing.T, h nightgen.Hospital, nights int, tried map[nightgen.Kind]int, missed, invented map[string]int) {
	s := newSite(t)
	for n := range nights {
		lines, _, _ := s.run(t, folder(t, h, n), nightgen.Clock(n), 2)
		for truth := range h.Truth(n) {
			tried[truth.Kind]++
			x, there := lines[truth.Key]
			if !assert.True(t, there, "night %d: %s of %s is not there", n, truth.Kind, truth.Key) {
				continue
			}
			fresh := x.codes(true)
			if n > 0 && x.State != truth.State {
				missed[string(truth.Kind)+" state "+x.State+" not "+truth.State]++
			}
			for _, code := range truth.Codes {
				if !slices.Contains(fresh, code) {
					t.Logf("night %d %s %s state %s: all %v", n, truth.Kind, truth.Key, x.State, x.codes(false))
					missed[string(truth.Kind)+" "+code]++
				}
			}
			if len(truth.OneOf) > 0 && !slices.ContainsFunc(truth.OneOf, func(c string) bool { return slices.Contains(fresh, c) }) {
				missed[string(truth.Kind)+" one of "+strings.Join(truth.OneOf, " ")]++
			}
			for _, code := range fresh {
				if n > 0 && code != "nightly-task-overdue" /* nobody here closes a task */ && !slices.Contains(truth.Codes, code) && !slices.Contains(truth.OneOf, code) && !slices.Contains(truth.May, code) {
					invented[string(truth.Kind)+" "+code]++
				}
			}
		}
	}
}

// The same folder at the same clock changes nothing and says nothing new; an
// unchanged one later is passed over.
func TestTheSameNightAgain(t *testing.T) {
	h := nightgen.Hospital{Orders: 30, Seed: 3}
	s := newSite(t)
	path := folder(t, h, 0)
	first, _, _ := s.run(t, path, nightgen.Clock(0), 2)
	require.Len(t, first, 30)
	_, summary, text := s.run(t, path, nightgen.Clock(0), 2)
	assert.Equal(t, 30, summary.Orders.Unchanged)
	assert.NotContains(t, text, `"new":true`)
	_, summary, text = s.run(t, path, nightgen.Clock(0).Add(time.Minute), 1)
	assert.Equal(t, 30, summary.Orders.Unchanged)
	assert.NotContains(t, text, `"new":true`)
}
