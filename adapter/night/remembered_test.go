package night_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/night"
	"weir.example/weir/adapter/night/nightgen"
	"weir.example/weir/adapter/store"
	"weir.example/weir/adapter/store/postgres"
	"weir.example/weir/adapter/store/sqlite"
	"weir.example/weir/adapter/store/storetest"
)

// The nights of a hospital, with lines twice and in another order, lines that
// cannot be read, and changes, say and store the same whether what a night
// remembers of the last one is used, is lost, or is damaged.
func TestNightsWithAndWithoutMemory(t *testing.T) {
	h := nightgen.Hospital{Orders: 24, Seed: 5, Churn: 150, Noise: true, Broken: 3}
	var with, without, damaged = newSite(t), newSite(t), newSite(t)
	passed := 0
	for n, step := range []struct {
		night int
		at    time.Duration
	}{{0, 0}, {0, time.Minute}, {1, 0}, {1, 0}, {1, time.Minute}, {2, 0}} {
		path, now := folder(t, h, step.night), nightgen.Clock(step.night).Add(step.at)
		want, _, _ := without.counted(t, path, now, 1)
		got, _, over := with.counted(t, path, now, 1)
		passed += over
		assert.True(t, want == got, "night %d: %s", n, difference(want, got))
		got, _, _ = damaged.counted(t, path, now, 1)
		assert.True(t, want == got, "night %d, damaged: %s", n, difference(want, got))
		assert.True(t, stored(t, without) == stored(t, with), "night %d: %s", n, difference(stored(t, without), stored(t, with)))
		forget(t, without)
		spoil(t, damaged, n)
	}
	assert.Positive(t, passed)
}

// memoryRow is a part of what is remembered, in a copy of the record.
var memoryRow = regexp.MustCompile(`(?m)^\{"t":"feed_memory".*\n|^\{"end":.*\n`)

// stored is all that the record has, but for what is remembered of a feed.
func stored(t testing.TB, s site) string {
	return memoryRow.ReplaceAllString(exported(t, s.record.(adapter.Keeper)), "")
}

func forget(t testing.TB, s site) {
	require.NoError(t, s.record.Remember(context.Background(), []adapter.MemoryPart{{Kind: "head"}}, 0))
}

// spoil changes a part of what is remembered: each time another, in another way.
func spoil(t testing.TB, s site, n int) {
	kind := []string{"lines", "facts", "groups", "shared", "head"}[n%5]
	body, err := s.record.Remembered(context.Background(), kind, 0)
	require.NoError(t, err)
	require.NotEmpty(t, body, kind)
	if n%2 == 0 {
		body[len(body)/3] ^= 4
	} else {
		body = body[:len(body)/2]
	}
	require.NoError(t, s.record.Remember(context.Background(), []adapter.MemoryPart{{Kind: kind, Body: body}}, 0))
}

// Each patient of an unchanged night is passed over without being read, and
// the one of whom something changed is not.
func TestWhoIsReadAgain(t *testing.T) {
	s := newSite(t)
	lines := func(patient int, weight string) string {
		return fmt.Sprintf(`{"resourceType":"Observation","id":"o%d","status":"final","subject":{"reference":"Patient/p%d"},"code":{"text":"x"},"valueString":%q}`+"\n", patient, patient, weight)
	}
	files := map[string]string{}
	for n := range 20 {
		files["Patient.ndjson"] += fmt.Sprintf(`{"resourceType":"Patient","id":"p%d"}`+"\n", n)
		files["Observation.ndjson"] += lines(n, "a")
	}
	files["MedicationRequest.ndjson"] = ""
	now := nightgen.Clock(0)
	_, _, over := s.counted(t, written(t, files), now, 2)
	assert.Zero(t, over)
	_, _, over = s.counted(t, written(t, files), now.Add(time.Minute), 2)
	assert.Equal(t, 20, over)
	files["Observation.ndjson"] = strings.Replace(files["Observation.ndjson"], lines(7, "a"), lines(7, "b"), 1)
	_, _, over = s.counted(t, written(t, files), now.Add(2*time.Minute), 2)
	assert.Equal(t, 19, over)
}

// Both databases keep what a night remembers, and give the patients of one
// stretch in their order.
func TestWhatARecordRemembers(t *testing.T) {
	for name, open := range records() {
		t.Run(name, func(t *testing.T) {
			s, ctx := open(t), t.Context()
			now := nightgen.Clock(0)
			body, err := s.Remembered(ctx, "lines", 3)
			require.NoError(t, err)
			assert.Nil(t, body)
			large := bytes.Repeat([]byte{0, 1, 255}, 1<<20)
			require.NoError(t, s.Remember(ctx, []adapter.MemoryPart{{Kind: "lines", Number: 3, Body: []byte("a")}, {Kind: "lines", Number: 4, Body: large}, {Kind: "head", Body: []byte("b")}}, 0))
			require.NoError(t, s.Remember(ctx, []adapter.MemoryPart{{Kind: "lines", Number: 3, Body: []byte("c")}, {Kind: "head"}, {Kind: "facts", Number: 4, Body: []byte{}}}, 0))
			for part, want := range map[string][]byte{"lines 3": []byte("c"), "lines 4": large, "head 0": nil} {
				kind, number := "", 0
				_, _ = fmt.Sscan(part, &kind, &number)
				body, err := s.Remembered(ctx, kind, number)
				require.NoError(t, err)
				assert.True(t, bytes.Equal(want, body), part)
			}
			require.NoError(t, s.Remember(ctx, nil, 4))
			body, err = s.Remembered(ctx, "lines", 4)
			require.NoError(t, err)
			assert.Nil(t, body)

			e := adapter.Effect{At: now, Audit: []adapter.AuditRow{{ID: "a", At: now, Action: "E", Outcome: "0", Agent: "test"}}}
			for i, place := range []int64{7, 0, 5, math.MaxInt64 - 1, 9, 5} {
				e.Feeds = append(e.Feeds, adapter.FeedLine{Key: fmt.Sprint("k", i), Patient: fmt.Sprint("p", i), Place: place, Night: "n", Report: []byte("r")})
			}
			e.Cases = []adapter.StoredCase{{Patient: "p0", Version: 1, Schema: adapter.CaseSchema, Updated: now, JSON: []byte("{}")}}
			require.NoError(t, s.Commit(ctx, e))
			stretch := func(from, to int64) (out []int64) {
				require.NoError(t, s.FeedRange(ctx, from, to, func(f adapter.FeedLine) error {
					out = append(out, f.Place)
					assert.Equal(t, map[int64]int64{7: 1}[f.Place], f.Now)
					assert.Equal(t, "r", string(f.Report))
					return nil
				}))
				return out
			}
			assert.Equal(t, []int64{5, 5, 7, 9, math.MaxInt64 - 1}, stretch(1, math.MaxInt64))
			assert.Equal(t, []int64{5, 5, 7}, stretch(5, 9))
			assert.Empty(t, stretch(10, 11))
			have, err := s.FeedLines(ctx, []string{"k4"})
			require.NoError(t, err)
			assert.Equal(t, int64(9), have["k4"].Place)
			stop := errors.New("enough")
			assert.ErrorIs(t, s.FeedRange(ctx, 1, 10, func(adapter.FeedLine) error { return stop }), stop)
		})
	}
}

// records opens an empty record in each database.
func records() map[string]func(t testing.TB) night.Record {
	return map[string]func(t testing.TB) night.Record{
		"sqlite": func(t testing.TB) night.Record {
			s, err := sqlite.Open(context.Background(), filepath.Join(t.TempDir(), "weir.db"), store.Options{Migrate: true})
			require.NoError(t, err)
			t.Cleanup(func() { require.NoError(t, s.Close()) })
			return s
		},
		"postgres": func(t testing.TB) night.Record {
			server, err := storetest.StartServer()
			if errors.Is(err, storetest.ErrNoServer) && !storetest.Required() {
				t.Skip(err)
			}
			require.NoError(t, err)
			t.Cleanup(func() { require.NoError(t, server.Close()) })
			s, err := postgres.Open(context.Background(), server.Fresh(t), store.Options{Migrate: true})
			require.NoError(t, err)
			t.Cleanup(func() { require.NoError(t, s.Close()) })
			return s
		},
	}
}
