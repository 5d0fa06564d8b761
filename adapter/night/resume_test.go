package night_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/night"
	"weir.example/weir/adapter/night/nightgen"
	"weir.example/weir/adapter/queue"
)

func exported(t testing.TB, s adapter.Keeper) string {
	var out bytes.Buffer
	require.NoError(t, s.Export(context.Background(), &out))
	return out.String()
}

// One night with churn over a loaded store gives the same bytes with 1, 2, 4
// and 8 workers, and when it is cut off again and again: the answer of the run
// that ends says everything that is new.
func TestWorkersAndInterruptions(t *testing.T) {
	h := nightgen.Hospital{Orders: 60, Seed: 11, Churn: 200, Noise: true}
	counts := []int{1, 4}
	if os.Getenv("WEIR_NIGHT_LONG") != "" {
		h.Orders, counts = 110, []int{1, 8, 2, 4}
	}
	first, second := folder(t, h, 0), folder(t, h, 1)
	var stores, answers [2]string
	for _, workers := range counts {
		s := newSite(t)
		cuts := 0
		for n, path := range []string{first, second} {
			text, ended := "", false
			if workers == 2 || workers == 4 {
				for i := 1; !ended; i += 2 {
					text, ended = s.cut(t, path, nightgen.Clock(n), workers, i)
					if !ended {
						cuts++
					}
				}
			} else {
				_, _, text = s.run(t, path, nightgen.Clock(n), workers)
			}
			got := exported(t, s.record.(adapter.Keeper))
			if stores[n] == "" {
				stores[n], answers[n] = got, text
			}
			if answers[n] != text {
				t.Error(workers, n, "answers differ: ", difference(answers[n], text))
			}
			if stores[n] != got {
				t.Error(workers, n, "stores differ: ", difference(stores[n], got))
			}
		}
		t.Log(workers, "workers, cut off", cuts, "times")
		// The same once more: nothing is new, nothing is written.
		_, summary, text := s.run(t, second, nightgen.Clock(1), workers)
		assert.NotContains(t, text, `"new":true`)
		assert.Zero(t, summary.Orders.New+summary.Orders.Changed)
		assert.True(t, stores[1] == exported(t, s.record.(adapter.Keeper)), "the store changed")
	}
}

func difference(a, b string) string {
	x, y := strings.Split(a, "\n"), strings.Split(b, "\n")
	for i := range min(len(x), len(y)) {
		if x[i] != y[i] {
			return fmt.Sprintf("line %d:\n%.1500s\n%.1500s", i, x[i], y[i])
		}
	}
	return fmt.Sprint(len(x), " and ", len(y), " lines")
}

// cut runs a night until so many steps of it are done, then ends the run and
// its workers, unless it comes to its end before.
func (s site) cut(t testing.TB, path string, now time.Time, workers, steps int) (text string, ended bool) {
	root, err := os.OpenRoot(path)
	require.NoError(t, err)
	defer root.Close()
	temporary, err := os.OpenRoot(t.TempDir())
	require.NoError(t, err)
	defer temporary.Close()
	ctx, stop := context.WithCancel(context.Background())
	defer stop()
	f, err := night.OpenAgain(ctx, root.FS(), temporary, workers, s.record)
	require.NoError(t, err)
	defer func() { require.NoError(t, f.Close()) }()
	done := make(chan error, 1)
	go func() {
		done <- s.queue.Run(ctx, workers, func(c context.Context, j queue.Job) (adapter.Effect, error) {
			if ctx.Err() != nil {
				return adapter.Effect{}, errors.New("cut off")
			}
			return s.worker.Handle(c, j)
		})
	}()
	var out bytes.Buffer
	_, err = night.Run{Record: s.record, Queue: s.queue, Worker: s.worker, Now: now, Address: "https://feed.example/fhir/",
		Progress: func(p night.Progress) {
			if steps--; steps == 0 {
				stop()
			}
		}}.Do(ctx, f, &out)
	stop()
	require.NoError(t, <-done)
	return out.String(), err == nil
}

// Another folder at the same clock is another night: what it says counts.
func TestAnotherFolderAtTheSameClock(t *testing.T) {
	h := nightgen.Hospital{Orders: 12, Seed: 4, Churn: 1000, Kinds: []nightgen.Kind{nightgen.Stopped, nightgen.Lost}}
	s := newSite(t)
	at := nightgen.Clock(1)
	s.run(t, folder(t, h, 0), at, 2)
	lines, summary, _ := s.run(t, folder(t, h, 1), at, 2)
	for truth := range h.Truth(1) {
		if truth.Kind == nightgen.Stopped || truth.Kind == nightgen.Lost {
			assert.Equal(t, truth.State, lines[truth.Key].State)
			assert.Contains(t, lines[truth.Key].codes(true), truth.Codes[0])
		}
	}
	assert.NotZero(t, summary.Orders.Absent)
	assert.NotZero(t, summary.Orders.Changed)
}

// A run that was cut off, and the next one at a later clock: what the first
// had found is said as new, and its work that waits sets nothing old over it.
func TestALaterRunAfterOneThatWasCutOff(t *testing.T) {
	h := nightgen.Hospital{Orders: 60, Seed: 11, Churn: 200}
	s := newSite(t)
	s.run(t, folder(t, h, 0), nightgen.Clock(0), 2)
	path := folder(t, h, 1)
	_, ended := s.cut(t, path, nightgen.Clock(1), 2, 4)
	require.False(t, ended)
	lines, _, _ := s.run(t, path, nightgen.Clock(1).Add(2*time.Minute), 2)
	for truth := range h.Truth(1) {
		assert.Equal(t, truth.State, lines[truth.Key].State, truth.Key)
		for _, code := range truth.Codes {
			assert.Contains(t, lines[truth.Key].codes(true), code, "%s %s", truth.Key, truth.Kind)
		}
	}
	left, err := s.record.Unfinished(context.Background(), 10)
	require.NoError(t, err)
	assert.Empty(t, left)
}

// write puts lines into a folder, a file for each type.
func written(t testing.TB, files map[string]string) string {
	path := t.TempDir()
	for name, text := range files {
		require.NoError(t, os.WriteFile(filepath.Join(path, name), []byte(text), 0o600))
	}
	return path
}

// How many orders were held before the night is what they were before it was
// cut off: what the night itself brought does not make a feed that has shrunk
// look whole.
func TestAShrunkenFeedStaysSoWhenTheNightIsCutOff(t *testing.T) {
	h := nightgen.Hospital{Orders: 40, Seed: 5, Churn: 500, Kinds: []nightgen.Kind{nightgen.Lost, nightgen.Stopped, nightgen.Duplicate}}
	first, second := folder(t, h, 0), folder(t, h, 1)
	feed := func(s night.Summary) string {
		require.NotEmpty(t, s.Findings)
		require.Equal(t, "nightly-feed-silent", s.Findings[0].Code)
		return s.Findings[0].Observed
	}
	calm := newSite(t)
	calm.run(t, first, nightgen.Clock(0), 2)
	_, want, _ := calm.run(t, second, nightgen.Clock(1), 2)
	held, err := calm.record.Active(t.Context())
	require.NoError(t, err)
	require.NotContains(t, feed(want), fmt.Sprintf(" of %d ", held), "the night changed how many are active")
	_, again, _ := calm.run(t, second, nightgen.Clock(1), 2)
	assert.Equal(t, feed(want), feed(again), "the same night again")
	for _, later := range []time.Duration{0, 2 * time.Minute} {
		s := newSite(t)
		s.run(t, first, nightgen.Clock(0), 2)
		_, ended := s.cut(t, second, nightgen.Clock(1), 2, 5)
		require.False(t, ended)
		_, got, _ := s.run(t, second, nightgen.Clock(1).Add(later), 2)
		assert.Equal(t, feed(want), feed(got), "%s later", later)
	}
}

// torn is a record that was written to while somebody looked: the first look at
// many lines finds some of them as they were before.
type torn struct {
	night.Record
	before map[string]adapter.FeedLine
	done   bool
}

func (r *torn) FeedLines(ctx context.Context, keys []string) (map[string]adapter.FeedLine, error) {
	have, err := r.Record.FeedLines(ctx, keys)
	if len(keys) < 20 || r.done {
		return have, err
	}
	r.done = true
	for i, k := range keys {
		if was, ok := r.before[k]; ok && i%3 == 0 {
			have[k] = was
		}
	}
	return have, err
}

// Lines are looked up some at a time, while workers write. A run that goes on
// sees one job half done then, and must not have the half done again: it would
// be judged against itself, and nothing of it would be new.
func TestAJobThatSeemsHalfDone(t *testing.T) {
	h := nightgen.Hospital{Orders: 30, Seed: 12, Churn: 600}
	s := newSite(t)
	second := folder(t, h, 1)
	s.run(t, folder(t, h, 0), nightgen.Clock(0), 2)
	looked := &lookedAt{Record: s.record}
	first := s
	first.record = looked
	first.run(t, second, nightgen.Clock(1), 2)
	want := exported(t, s.record.(adapter.Keeper))
	again := s
	again.record = &torn{Record: s.record, before: looked.first}
	_, summary, _ := again.run(t, second, nightgen.Clock(1), 2)
	assert.True(t, again.record.(*torn).done)
	assert.Zero(t, summary.Orders.Changed)
	got := exported(t, s.record.(adapter.Keeper))
	// That the second run passed some over is said, too.
	got, want = without(got, "compared with the hospital's state"), without(want, "compared with the hospital's state")
	assert.True(t, want == got, difference(want, got))
}

// lookedAt keeps what the first look found.
type lookedAt struct {
	night.Record
	first map[string]adapter.FeedLine
}

func (r *lookedAt) FeedLines(ctx context.Context, keys []string) (map[string]adapter.FeedLine, error) {
	have, err := r.Record.FeedLines(ctx, keys)
	if len(keys) >= 20 && r.first == nil {
		r.first = have
	}
	return have, err
}

// without leaves out the lines that hold a text, and the last, which counts
// all.
func without(export, text string) string {
	var out []string
	for l := range strings.Lines(export) {
		if !strings.Contains(l, text) && !strings.HasPrefix(l, `{"end":`) {
			out = append(out, l)
		}
	}
	return strings.Join(out, "")
}
