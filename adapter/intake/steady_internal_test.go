package intake

import (
	"encoding/json"
	"maps"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestOnlyWhatWentOnWithTheClockIsTheSame(t *testing.T) {
	then, now := time.Date(2026, 11, 10, 9, 0, 0, 0, time.UTC), time.Date(2026, 11, 10, 12, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		name, was, is string
		same          bool
	}{
		{"nothing", `{"a":"x","b":[1,"2026-11-10T09:00:00Z"]}`, `{"a":"x","b":[1,"2026-11-10T09:00:00Z"]}`, true},
		{"as far as the clock", `{"a":["2026-11-10T09:00:00Z"]}`, `{"a":["2026-11-10T12:00:00Z"]}`, true},
		{"in another zone", `{"a":["2026-11-10T09:00:00Z"]}`, `{"a":["2026-11-10T07:00:00-05:00"]}`, true},
		{"a minute less", `{"a":["2026-11-10T09:00:00Z"]}`, `{"a":["2026-11-10T11:59:00Z"]}`, false},
		{"caught by the clock, and what hangs on it, before and behind", `{"a":"2026-11-11T10:00:00Z","b":"2026-11-10T10:00:00Z","c":"2026-11-10T22:00:00Z"}`, `{"a":"2026-11-11T12:00:00Z","b":"2026-11-10T12:00:00Z","c":"2026-11-11T00:00:00Z"}`, true},
		{"caught, and something else by other", `{"b":"2026-11-10T10:00:00Z","c":"2026-11-10T22:00:00Z"}`, `{"b":"2026-11-10T12:00:00Z","c":"2026-11-10T23:00:00Z"}`, false},
		{"another word", `{"a":"x"}`, `{"a":"y"}`, false},
		{"another name, an instant too", `{"2026-11-10T09:00:00Z":"x"}`, `{"2026-11-10T12:00:00Z":"x"}`, false},
		{"another number", `{"a":12}`, `{"a":13}`, false},
		{"a longer number", `{"a":1}`, `{"a":12}`, false},
		{"one more", `{"a":["x"]}`, `{"a":["x","y"]}`, false},
		{"one member more", `{"a":"x"}`, `{"a":"x","b":"y"}`, false},
		{"null", `{"a":null}`, `{"a":"x"}`, false},
		{"two ways to escape one text", `{"a":"\ufffd\"b\\","b":1}`, `{"a":"�\"b\\","b":1}`, true},
		{"a quote at the end", `{"a":"x\\","b":"2026-11-10T09:00:00Z"}`, `{"a":"x\\","b":"2026-11-10T12:00:00Z"}`, true},
	} {
		t.Run(c.name, func(t *testing.T) { assert.Equal(t, c.same, onlyMoved([]byte(c.was), []byte(c.is), then, now)) })
	}
}

// Byte by byte or as trees: the same texts differ.
func TestDifferingIsWhatTreesSay(t *testing.T) {
	var trees func(a, b any, list map[[2]string]bool) bool
	trees = func(a, b any, list map[[2]string]bool) bool {
		switch x := a.(type) {
		case map[string]any:
			y, ok := b.(map[string]any)
			if !ok || len(x) != len(y) {
				return false
			}
			for _, k := range slices.Sorted(maps.Keys(x)) {
				if other, there := y[k]; !there || !trees(x[k], other, list) {
					return false
				}
			}
			return true
		case []any:
			y, ok := b.([]any)
			if !ok || len(x) != len(y) {
				return false
			}
			for i := range x {
				if !trees(x[i], y[i], list) {
					return false
				}
			}
			return true
		case string:
			y, ok := b.(string)
			if ok && x != y {
				list[[2]string{x, y}] = true
			}
			return ok
		}
		return a == b
	}
	words := rapid.SampledFrom([]string{"a", "b", "", "\"", "\\", "ü\n", "2026-11-10T09:00:00Z", "x\\\""})
	var value func(depth int) *rapid.Generator[any]
	value = func(depth int) *rapid.Generator[any] {
		return rapid.Custom(func(t *rapid.T) any {
			switch kind := rapid.IntRange(0, 5).Draw(t, "kind"); {
			case kind == 0:
				return rapid.Float64Range(0, 20).Draw(t, "number")
			case kind == 1:
				return nil
			case kind < 4 && depth > 0:
				return rapid.MapOfN(words, value(depth-1), 0, 3).Draw(t, "object")
			case kind < 5 && depth > 0:
				return rapid.SliceOfN(value(depth-1), 0, 3).Draw(t, "list")
			}
			return words.Draw(t, "text")
		})
	}
	change := func(t *rapid.T, text []byte) any { // the same tree, but for some of its texts
		var v any
		require.NoError(t, json.Unmarshal(text, &v))
		var walk func(v any) any
		walk = func(v any) any {
			switch x := v.(type) {
			case map[string]any:
				for _, k := range slices.Sorted(maps.Keys(x)) {
					x[k] = walk(x[k])
				}
			case []any:
				for i := range x {
					x[i] = walk(x[i])
				}
			case string:
				if rapid.IntRange(0, 3).Draw(t, "changes") == 0 {
					return words.Draw(t, "instead")
				}
			}
			return v
		}
		return walk(v)
	}
	rapid.Check(t, func(t *rapid.T) {
		a := encode(value(4).Draw(t, "a"))
		b := encode(change(t, a))
		if rapid.IntRange(0, 4).Draw(t, "other") == 0 {
			b = encode(value(4).Draw(t, "b"))
		}
		var x, y any
		require.NoError(t, json.Unmarshal(a, &x))
		require.NoError(t, json.Unmarshal(b, &y))
		want := map[[2]string]bool{}
		same := trees(x, y, want)
		list, ok := differing(a, b)
		require.Equal(t, same, ok, "%s %s", a, b)
		got := map[[2]string]bool{}
		for _, p := range list {
			got[p] = true
		}
		if ok {
			require.Equal(t, want, got)
		}
	})
}
