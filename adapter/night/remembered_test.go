package night_test

import (
	"context"
	"fmt"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/night/nightgen"
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
