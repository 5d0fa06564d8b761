package night

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/testdata/orders"
)

// plainLines are the resources of every scenario and variant, one a line.
func plainLines(t testing.TB) [][]byte {
	var out [][]byte
	for _, f := range orders.All() {
		func() {
			defer func() { _ = recover() }() // a variant that is no JSON
			for _, r := range f.Resources("k-") {
				out = append(out, r.Line)
			}
		}()
	}
	require.Greater(t, len(out), 1000)
	return out
}

// agree asserts that what the scan takes is what the strict reader takes.
func agree(t testing.TB, line []byte) bool {
	var s scanner
	var have, want facts
	if !s.scan(line, &have) {
		return false
	}
	faults := strict(line, 1, &want)
	if !assert.Empty(t, faults, "%q", line) {
		return true
	}
	sorted := func(k []key) []key { k = slices.Clone(k); slices.Sort(k); return slices.Compact(k) }
	assert.Equal(t, string(want.kind), string(have.kind), "%q", line)
	assert.Equal(t, string(want.id), string(have.id), "%q", line)
	assert.Equal(t, string(want.updated), string(have.updated), "%q", line)
	assert.Equal(t, want.owned, have.owned, "%q", line)
	assert.Equal(t, string(want.owner), string(have.owner), "%q", line)
	assert.Equal(t, sorted(want.ties), sorted(have.ties), "%q", line)
	assert.Equal(t, sorted(want.points), sorted(have.points), "%q", line)
	assert.Equal(t, sorted(want.carries), sorted(have.carries), "%q", line)
	assert.Equal(t, want.name, have.name, "%q", line)
	return true
}

// Of what a hospital sends only the few resources whose owner is not one
// plain reference are left to the strict reader.
func TestTheScanTakesWhatTheStrictReaderTakes(t *testing.T) {
	plain, all := 0, 0
	for _, line := range plainLines(t) {
		if all++; agree(t, line) {
			plain++
		}
	}
	t.Logf("%d of %d lines are plain", plain, all)
	assert.Greater(t, plain*10, all*9, "the scan is there to spare the strict reader")
}

func FuzzScan(f *testing.F) {
	for i, line := range plainLines(f) {
		if i%7 == 0 {
			f.Add(line)
		}
	}
	for _, s := range []string{`{"resourceType":"Observation","id":"o","subject":{"reference":"Patient/p/_history/2","identifier":{"system":"s","value":"v"}},"identifier":{"value":"w"}}`,
		`{"resourceType":"Observation","id":"o","subject":{"reference":"#p"},"patient":{"reference":"Group/1"},"x":[1.5,-2,0.0,true]}`,
		`{"resourceType":"Observation","id":"o","subject":{"display":" A B "},"note":[{"text":"a\n\"b\""}],"meta":{"lastUpdated":"2026-01-01T00:00:00Z"}}`,
		`{"resourceType":"Patient","id":"p","identifier":[{"system":"|a","value":"b"},{"value":"c"},{"system":"d","value":"e"}],"name":[{"use":"old","family":"X"},{"family":"Ünal","given":["Öz"]}]}`,
		`{"resourceType":"Task","id":"o","for":{"reference":"https://h/Patient/p"},"_x":{"id":"1"},"x":null,"y":{},"z":[[1]],"x":1}`} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, line []byte) { agree(t, line) })
}

func BenchmarkScan(b *testing.B) {
	lines := plainLines(b)
	var s scanner
	var f facts
	total := 0
	for _, l := range lines {
		total += len(l)
	}
	b.Run("plain", func(b *testing.B) {
		b.SetBytes(int64(total / len(lines)))
		b.ReportAllocs()
		for i := 0; b.Loop(); i++ {
			s.scan(lines[i%len(lines)], &f)
		}
	})
	b.Run("strict", func(b *testing.B) {
		b.SetBytes(int64(total / len(lines)))
		for i := 0; b.Loop(); i++ {
			strict(lines[i%len(lines)], 1, &f)
		}
	})
}
