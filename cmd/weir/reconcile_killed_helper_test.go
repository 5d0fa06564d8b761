//go:build unix

package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter/night/nightgen"
	"weir.example/weir/adapter/settings"
)

// number is one from the environment, for longer runs.
func number(name string, usual int) int {
	if n, err := strconv.Atoi(os.Getenv(name)); err == nil && n > 0 {
		return n
	}
	return usual
}

// nightStore is a kind of store: an empty one, one that is as another is, and
// a look at one that somebody may have open, or had when he was killed: its
// export, and whether work waits.
type nightStore struct {
	empty func(t *testing.T) string
	copy  func(t *testing.T, of string) string
	look  func(t *testing.T, at string) (export []byte, waits bool, err error)
}

func nightStores() map[string]nightStore {
	return map[string]nightStore{
		"SQLite": {
			empty: func(t *testing.T) string { return "sqlite:" + filepath.Join(t.TempDir(), "weir.db") },
			copy:  copyOfFile,
			// In a copy, so that what was left is left for the next run.
			look: func(t *testing.T, at string) ([]byte, bool, error) { return lookAt(t, copyOfFile(t, at)) },
		},
		"PostgreSQL": {empty: freshPostgres, copy: copyOfDatabase, look: lookAt},
	}
}

// copyOfFile copies the file of a store, and its log.
func copyOfFile(t *testing.T, of string) string {
	from := strings.TrimPrefix(of, "sqlite:")
	to := filepath.Join(t.TempDir(), "weir.db")
	for _, end := range []string{"", "-wal"} {
		data, err := os.ReadFile(from + end)
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(to+end, data, 0o600))
	}
	return "sqlite:" + to
}

var copies atomic.Int64

// copyOfDatabase has the server copy a database that nobody has open.
func copyOfDatabase(t *testing.T, of string) string {
	server, err := postgresServer()
	require.NoError(t, err)
	u, err := url.Parse(of)
	require.NoError(t, err)
	name := fmt.Sprint("copy", copies.Add(1))
	for try := 0; ; try++ { // who had it open is gone, but the server may not know it yet
		if err = server.Do("CREATE DATABASE " + name + " TEMPLATE " + strings.TrimPrefix(u.Path, "/")); err == nil || try == 50 {
			break
		}
		time.Sleep(100 * time.Millisecond)
	}
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, server.Do("DROP DATABASE "+name+" WITH (FORCE)")) })
	return asURL(server.Address(name))
}

func lookAt(t *testing.T, at string) (export []byte, waits bool, err error) {
	s, err := openStore(t.Context(), settings.Settings{Store: at}, opening{})
	if err != nil {
		return nil, false, err
	}
	defer func() { require.NoError(t, s.Close()) }()
	list, err := s.Unfinished(t.Context(), 1)
	require.NoError(t, err)
	var out bytes.Buffer
	require.NoError(t, s.Export(t.Context(), &out))
	return out.Bytes(), len(list) > 0, nil
}

// exportOf reads a store that nobody has open: everything fits, and no work
// is left.
func exportOf(t *testing.T, at string) []byte {
	s, err := openStore(t.Context(), settings.Settings{Store: at}, opening{})
	require.NoError(t, err)
	health, err := s.Check(t.Context())
	require.NoError(t, err)
	require.Empty(t, health.Problems)
	require.NoError(t, s.Close())
	text, waits, err := lookAt(t, at)
	require.NoError(t, err)
	require.False(t, waits, "work is left")
	return text
}

// nightAnswer is what a run gave.
type nightAnswer struct {
	out    string
	code   int
	orders map[string]int // by key, how often
}

// evening is a night and the record before it, and what comes of it when
// nothing disturbs it.
type evening struct {
	kind          nightStore
	folder, now   string
	from          string // the store as it is before
	want, again   nightAnswer
	before, after []byte
	takes         time.Duration // from the start of the program to its end
}

// undisturbed runs two nights of a hospital in peace.
func undisturbed(t *testing.T, kind nightStore) (first, second *evening) {
	h := nightgen.Hospital{Orders: 48, Seed: 31, Churn: 400, Noise: true, Broken: 3, Kinds: nightgen.Kinds()}
	for range 14 { // so many that the feed has shrunk, which counts orders as they were before the night
		h.Kinds = append(h.Kinds, nightgen.Lost)
	}
	folder := t.TempDir()
	from := kind.empty(t)
	made, err := openStore(t.Context(), settings.Settings{Store: from}, opening{make: true})
	require.NoError(t, err)
	require.NoError(t, made.Close())
	before := exportOf(t, from)
	all := [2]*evening{}
	for n := range all {
		e := &evening{kind: kind, folder: filepath.Join(folder, strconv.Itoa(n)), now: nightgen.Clock(n).Format(time.RFC3339), from: from, before: before}
		all[n] = e
		writeNight(t, h, n, e.folder)
		at := e.fresh(t)
		p := e.begin(t, at)
		require.True(t, p.within(patience), p.words.String())
		e.want, e.takes, e.after = answerOf(p), p.took, exportOf(t, at)
		require.Equal(t, exitFound, e.want.code, p.words.String())
		if n == 0 {
			from, before = kind.copy(t, at), e.after
		}
		p = e.begin(t, at)
		require.True(t, p.within(patience), p.words.String())
		e.again = answerOf(p)
		require.NotContains(t, e.again.out, `"new":true`)
		require.True(t, bytes.Equal(e.after, exportOf(t, at)), "the same night again writes nothing")
	}
	for _, word := range []string{`"state":"new"`, `"state":"changed"`, `"state":"absent"`, `"state":"unchanged"`, `"new":true`, `{"file":`, `nightly-feed-silent`} {
		require.Contains(t, all[1].want.out, word, "the night is too calm")
	}
	t.Logf("%d orders, %d rows of the record; the nights take %s and %s", len(all[1].want.orders), len(rowsOf(all[1].after)), all[0].takes.Round(time.Millisecond), all[1].takes.Round(time.Millisecond))
	return all[0], all[1]
}

// fresh is a store as it is before the night.
func (e *evening) fresh(t *testing.T) string { return e.kind.copy(t, e.from) }

// nightProcess is a program that does a night.
type nightProcess struct {
	run        *exec.Cmd
	out, words bytes.Buffer // to be read when it has ended
	began      time.Time
	took       time.Duration
	over       chan struct{}
}

// begin starts a program on a store.
func (e *evening) begin(t *testing.T, at string) *nightProcess {
	p := &nightProcess{over: make(chan struct{}), began: time.Now()}
	p.run = child(t, "weir", "reconcile", "--store", at, "--now", e.now, "--output", "ndjson", "--workers", "3", e.folder)
	p.run.Env = append(p.run.Env, ofJobs+"="+aside.String(), "TMPDIR="+t.TempDir())
	p.run.Stdout, p.run.Stderr = &p.out, &p.words
	require.NoError(t, p.run.Start())
	go func() {
		defer close(p.over)
		_ = p.run.Wait() // its state says how it ended
		p.took = time.Since(p.began)
	}()
	t.Cleanup(p.kill)
	return p
}

// within waits for its end, and reports whether that came in time.
func (p *nightProcess) within(d time.Duration) bool {
	select {
	case <-p.over:
		return true
	case <-time.After(d):
		return false
	}
}

func (p *nightProcess) signal(s os.Signal) { _ = p.run.Process.Signal(s) }

// kill ends it without warning.
func (p *nightProcess) kill() {
	p.signal(syscall.SIGKILL)
	<-p.over
}

// code is its exit code, -1 when it was killed.
func (p *nightProcess) code() int { return p.run.ProcessState.ExitCode() }

func answerOf(p *nightProcess) nightAnswer {
	a := nightAnswer{out: p.out.String(), code: p.code(), orders: map[string]int{}}
	for l := range strings.Lines(a.out) {
		var line struct{ Order struct{ Key string } }
		if json.Unmarshal([]byte(l), &line) == nil && line.Order.Key != "" {
			a.orders[line.Order.Key]++
		}
	}
	return a
}

// rowsOf are the rows of an export, without its first and its last line.
func rowsOf(export []byte) map[string]int {
	out := map[string]int{}
	for l := range strings.Lines(string(export)) {
		if strings.HasPrefix(l, `{"t":`) {
			out[l]++
		}
	}
	return out
}

// missing counts what is in a and not in b, as often.
func missing(a, b map[string]int) (n int) {
	for k := range a {
		n += max(0, a[k]-b[k])
	}
	return n
}

// tablesOf says in which tables two sets of rows differ.
func tablesOf(a, b map[string]int) string {
	out := map[string]int{}
	for _, x := range [][2]map[string]int{{a, b}, {b, a}} {
		for k := range x[0] {
			if x[0][k] > x[1][k] {
				out[strings.SplitN(k, `"`, 5)[3]]++
			}
		}
	}
	return counted(out)
}

func counted(m map[string]int) string {
	var out []string
	for _, k := range slices.Sorted(maps.Keys(m)) {
		out = append(out, fmt.Sprint(m[k], " ", k))
	}
	return strings.Join(out, ", ")
}
