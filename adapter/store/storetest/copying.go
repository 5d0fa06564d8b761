package storetest

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/store"
)

// writing commits orders until stop is called, which says how many there are.
func writing(tb testing.TB, s adapter.Store, from int) (stop func() int) {
	end, done := make(chan struct{}), sync.WaitGroup{}
	n := from
	done.Add(1)
	go func() {
		defer done.Done()
		for {
			select {
			case <-end:
				return
			default:
			}
			if !assert.NoError(tb, s.Commit(context.WithoutCancel(tb.Context()), Order(n, clock.Add(time.Duration(n)*time.Second)))) {
				return
			}
			n++
		}
	}()
	return func() int {
		close(end)
		done.Wait()
		return n
	}
}

// copies are taken while others write, read into an empty store, and equal.
func copies(t *testing.T, h Harness) {
	s, ctx := h.New(t, store.Options{}), t.Context()
	const before = 20
	for n := range before {
		require.NoError(t, s.Commit(ctx, Order(n, clock.Add(time.Duration(n)*time.Second))))
	}
	require.NoError(t, s.Commit(ctx, Again(3, 2, clock.Add(time.Hour))))
	stop := writing(t, s, before)
	var texts [][]byte
	for range 3 {
		time.Sleep(20 * time.Millisecond)
		texts = append(texts, exported(t, s))
	}
	written := stop()
	for _, text := range append(texts, exported(t, s)) {
		to := h.New(t, store.Options{})
		require.NoError(t, to.Import(ctx, bytes.NewReader(text)))
		require.Equal(t, text, exported(t, to))
		n := whole(t, to)
		require.Equal(t, n["audit"]-1, n["order_head"], "whole effects only")
		require.Equal(t, 10*n["order_head"], n["resource"])
		require.GreaterOrEqual(t, n["order_head"], int64(before))
		var invalid *adapter.Invalid
		require.ErrorAs(t, to.Import(ctx, bytes.NewReader(text)), &invalid, "never into a store that holds something")
		require.NoError(t, to.Commit(ctx, Order(100000, clock)), "and it goes on")
	}
	t.Logf("%d copies taken while %d orders were written, read back and equal", len(texts), written-before)
}

// brokenCopies are refused and leave nothing.
func brokenCopies(t *testing.T, h Harness) {
	s, ctx := h.New(t, store.Options{}), t.Context()
	require.NoError(t, s.Commit(ctx, Order(1, clock)))
	text := exported(t, s)
	lines := strings.SplitAfter(strings.TrimSuffix(string(text), "\n"), "\n")
	to := h.New(t, store.Options{})
	empty := exported(t, to)
	bad := map[string]string{
		"nothing": "", "other text": "{}\n", "newer": strings.Replace(string(text), `"schema":`, `"schema":9`, 1),
		"other version": strings.Replace(string(text), `"version":1,"schema"`, `"version":2,"schema"`, 1),
		"more":          string(text) + "\n", "changed": strings.Replace(string(text), "cefazolin", "cefazoline", 1),
		"a wrong kind":  strings.Replace(string(text), `"cefazolin"`, `7`, 1),
		"other columns": strings.Replace(string(text), `"cefazolin",`, ``, 1),
	}
	for i := range lines {
		bad[fmt.Sprint("without line ", i+1)] = strings.Join(lines[:i], "") + strings.Join(lines[i+1:], "")
		bad[fmt.Sprint("cut in line ", i+1)] = strings.Join(lines[:i], "") + lines[i][:len(lines[i])/2]
	}
	var head struct{ Schema int64 }
	require.NoError(t, json.Unmarshal([]byte(lines[0]), &head))
	schema := func(n int64) string { return fmt.Sprintf(`"schema":%d`, n) }
	older := strings.Replace(string(text), schema(head.Schema), schema(head.Schema-1), 1)
	var old *adapter.SchemaOlder
	require.ErrorAs(t, to.Import(ctx, strings.NewReader(older)), &old)
	require.Equal(t, adapter.SchemaOlder{Have: head.Schema - 1, Need: head.Schema, Copy: true}, *old)
	require.Contains(t, old.Error(), "the program that made it")
	bad["older"] = older
	for i, l := range lines {
		if strings.HasPrefix(l, `{"t":"outbox"`) {
			bad["a row of an older schema"] = strings.Join(lines[:i], "") + `{"t":"task","r":["p","k","i","c","r","requested",1,1]}` + "\n" + strings.Join(lines[i:], "")
		}
	}
	require.Contains(t, bad, "a row of an older schema")
	for name, b := range bad {
		require.Error(t, to.Import(ctx, strings.NewReader(b)), name)
		require.Equal(t, empty, exported(t, to), name)
	}
	require.NoError(t, to.Import(ctx, bytes.NewReader(text)))
	t.Logf("%d broken copies refused, nothing of any stored", len(bad))
}

// Between copies a store of one kind into one of another and back.
func Between(t *testing.T, a, b Harness) {
	ctx := t.Context()
	first := a.New(t, store.Options{})
	for n := range 10 {
		require.NoError(t, first.Commit(ctx, Order(n, clock.Add(time.Duration(n)*time.Second))))
		require.NoError(t, first.Commit(ctx, Again(n, 2, clock.Add(time.Hour))))
	}
	odd := small("Task", "odd", 1, clock)
	for _, text := range []string{"", "a", "Z", "z", "é", "e\u0301", "\u00ff", "\ue000", "\U0001F600", "\\x41", "'", " a", "A "} {
		odd.Resources[0].Identifiers = append(odd.Resources[0].Identifiers, adapter.Identity{System: text, Value: "v" + text})
	}
	require.NoError(t, first.Commit(ctx, odd))
	text := exported(t, first)
	second, third := b.New(t, store.Options{}), a.New(t, store.Options{})
	require.NoError(t, second.Import(ctx, bytes.NewReader(text)))
	back := exported(t, second)
	require.Equal(t, text, back)
	require.NoError(t, third.Import(ctx, bytes.NewReader(back)))
	require.Equal(t, text, exported(t, third))
	require.Equal(t, whole(t, first), whole(t, third))
}
