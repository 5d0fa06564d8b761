package queue

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/store"
	"weir.example/weir/adapter/store/postgres"
	"weir.example/weir/adapter/store/sqlite"
	"weir.example/weir/adapter/store/storetest"
)

// opened is a store of either kind.
type opened interface {
	adapter.Store
	adapter.Keeper
	Record
}

func openStore(ctx context.Context, address string) (opened, error) {
	return openWith(ctx, address, store.Options{})
}

func openWith(ctx context.Context, address string, o store.Options) (opened, error) {
	if strings.HasPrefix(address, "host=") {
		return postgres.Open(ctx, address, o)
	}
	return sqlite.Open(ctx, address, o)
}

var server *storetest.Server

func TestMain(m *testing.M) { os.Exit(run(m)) }

func run(m *testing.M) int {
	if os.Getenv(childAddress) != "" {
		return child()
	}
	var err error
	switch server, err = storetest.StartServer(); {
	case errors.Is(err, storetest.ErrNoServer) && !storetest.Required():
		fmt.Fprintln(os.Stderr, err, "- its tests are skipped")
	case err != nil:
		fmt.Fprintln(os.Stderr, err)
		return 1
	default:
		defer func() { _ = server.Close() }()
	}
	return m.Run()
}

// both runs a test on both databases, at the same time: most of it is waiting.
func both(t *testing.T, test func(t *testing.T, address string)) {
	t.Run("SQLite", func(t *testing.T) {
		t.Parallel()
		test(t, filepath.Join(t.TempDir(), "weir.db"))
	})
	t.Run("PostgreSQL", func(t *testing.T) {
		t.Parallel()
		if server == nil {
			t.Skip("no PostgreSQL")
		}
		test(t, server.Fresh(t))
	})
}

// begin opens a fresh store.
func begin(t testing.TB, address string) opened {
	s, err := openStore(t.Context(), address)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, s.Close()) })
	return s
}

// quick are options for tests. WEIR_QUEUE_RESCUE sets the rescue time, in seconds.
func quick() Options {
	rescue := time.Duration(setting("WEIR_QUEUE_RESCUE", 3)) * time.Second
	return Options{Timeout: rescue * 2 / 3, Rescue: rescue, Backoff: 20 * time.Millisecond, Longest: 200 * time.Millisecond, Poll: 20 * time.Millisecond}
}

func begun(t testing.TB, s opened, o Options) *Queue {
	q, err := Open(t.Context(), s, o)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, q.Close()) })
	return q
}

// running runs a queue; the function stops it.
func running(t testing.TB, q *Queue, workers int, h Handler) func() {
	ctx, cancel := context.WithCancel(context.WithoutCancel(t.Context()))
	done := make(chan error, 1)
	go func() { done <- q.Run(ctx, workers, h) }()
	stop := sync.OnceFunc(func() {
		cancel()
		assert.NoError(t, <-done)
	})
	t.Cleanup(stop)
	return stop
}

// clock is the clock of all tests.
var clock = time.Date(2026, 11, 10, 19, 20, 0, 0, time.UTC)

// task is what the jobs of the tests are about.
type task struct {
	N     int           `json:"n"`
	After int           `json:"after"` // jobs that follow from it, one after the other
	Takes time.Duration `json:"takes"`
}

func workID(n, after int) string { return fmt.Sprintf("work-%06d-%d", n, after) }

func queued(k task) adapter.Queued {
	body, _ := json.Marshal(k)
	return adapter.Queued{ID: workID(k.N, k.After), Kind: "count", Made: clock.Add(time.Duration(k.N) * time.Second), Body: body}
}

func auditRow(id string) adapter.AuditRow {
	return adapter.AuditRow{ID: id, At: clock, Action: "E", Outcome: "0", Agent: "night"}
}

// asked is the effect that asks for jobs.
func asked(name string, tasks ...task) adapter.Effect {
	e := adapter.Effect{At: clock, Audit: []adapter.AuditRow{auditRow("asked-" + name)}}
	for _, k := range tasks {
		e.Queue = append(e.Queue, queued(k))
	}
	return e
}

func tasks(from, n, after int, takes time.Duration) []task {
	var out []task
	for i := range n {
		out = append(out, task{from + i, after, takes})
	}
	return out
}

// outcome is made from the job alone, but for mark, which tells attempts apart.
func outcome(ctx context.Context, j Job, mark string) (adapter.Effect, error) {
	var k task
	if err := json.Unmarshal(j.Args, &k); err != nil {
		return adapter.Effect{}, err
	}
	select {
	case <-ctx.Done():
		return adapter.Effect{}, ctx.Err()
	case <-time.After(k.Takes):
	}
	at := j.Made.Add(time.Hour)
	e := adapter.Effect{At: at, Audit: []adapter.AuditRow{auditRow("done-" + j.ID + mark)}}
	e.Resources = []adapter.Resource{{Type: "Basic", ID: fmt.Sprintf("n%d-%d", k.N, k.After), Version: 1, Updated: at, JSON: j.Args}}
	if mark != "" {
		e.Resources = nil // so that nothing but the queue stops a second time
	}
	if k.After > 0 {
		k.After--
		e.Queue = []adapter.Queued{queued(k)}
	}
	return e, nil
}

func plain(ctx context.Context, j Job) (adapter.Effect, error) { return outcome(ctx, j, "") }

// finish waits until no work is left, and says how long that took.
func finish(t testing.TB, s adapter.Store, within time.Duration) time.Duration {
	start := time.Now()
	require.Eventually(t, func() bool {
		left, err := s.Unfinished(context.WithoutCancel(t.Context()), 1)
		return err == nil && len(left) == 0
	}, within, 10*time.Millisecond, "work is left")
	return time.Since(start)
}

func exported(t testing.TB, s adapter.Keeper) []byte {
	var out bytes.Buffer
	require.NoError(t, s.Export(context.WithoutCancel(t.Context()), &out))
	return out.Bytes()
}

// audited counts the audit rows that begin with a word.
func audited(t testing.TB, s adapter.Store, word string) map[string]int {
	out := map[string]int{}
	for p := (adapter.Page{Limit: 1000}); ; {
		slice, err := s.Audit(context.WithoutCancel(t.Context()), adapter.AuditFilter{}, p)
		require.NoError(t, err)
		for _, r := range slice.Rows {
			if rest, ok := strings.CutPrefix(r.ID, word); ok {
				out[rest]++
			}
		}
		if p.After = slice.Next; p.After == "" {
			return out
		}
	}
}

const (
	childAddress = "WEIR_QUEUE_CHILD"
	childWorkers = "WEIR_QUEUE_WORKERS"
	childMark    = "WEIR_QUEUE_MARK" // set: its audit rows tell attempts and processes apart
)

// child works until it is told to stop or killed, and tells what it does. It
// ends with whoever started it.
func child() int {
	go func() {
		_, _ = io.Copy(io.Discard, os.Stdin)
		os.Exit(3)
	}()
	ctx, stop := signal.NotifyContext(context.Background(), syscall.SIGTERM)
	defer stop()
	err := func() error {
		s, err := openStore(ctx, os.Getenv(childAddress))
		if err != nil {
			return err
		}
		o := quick()
		o.Observe = func(e Event) { fmt.Println("event", e.Outcome, e.ID, e.Attempt) }
		q, err := Open(ctx, s, o)
		if err != nil {
			return err
		}
		workers, _ := strconv.Atoi(os.Getenv(childWorkers))
		return errors.Join(q.Run(ctx, workers, func(ctx context.Context, j Job) (adapter.Effect, error) {
			fmt.Println("begin", j.ID, j.Attempt)
			mark := ""
			if os.Getenv(childMark) != "" {
				mark = fmt.Sprintf("|%d|%d", os.Getpid(), j.Attempt)
				ctx = context.WithoutCancel(ctx) // the worst of workers
			}
			return outcome(ctx, j, mark)
		}), q.Close(), s.Close())
	}()
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	return 0
}

// process is a child that runs.
type process struct {
	run   *exec.Cmd
	mu    sync.Mutex
	lines []string // guarded by mu
	over  chan struct{}
}

func spawn(t testing.TB, address string, workers int, more ...string) *process {
	p := &process{run: exec.Command(os.Args[0]), over: make(chan struct{})}
	p.run.Env = append(append(os.Environ(), childAddress+"="+address, fmt.Sprint(childWorkers, "=", workers)), more...)
	p.run.Stderr = os.Stderr
	_, err := p.run.StdinPipe()
	require.NoError(t, err)
	out, err := p.run.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, p.run.Start())
	go func() {
		defer close(p.over)
		for in := bufio.NewScanner(out); in.Scan(); {
			p.mu.Lock()
			p.lines = append(p.lines, in.Text())
			p.mu.Unlock()
		}
	}()
	t.Cleanup(p.kill)
	return p
}

// count is how many lines begin with a text.
func (p *process) count(text string) (n int) {
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, l := range p.lines {
		if strings.HasPrefix(l, text) {
			n++
		}
	}
	return n
}

func (p *process) signal(s os.Signal) { _ = p.run.Process.Signal(s) }

// kill ends the process without warning.
func (p *process) kill() {
	p.signal(syscall.SIGKILL)
	<-p.over
	_ = p.run.Wait()
}

// end asks the process to stop, and demands that it does so well.
func (p *process) end(t testing.TB) {
	p.signal(syscall.SIGTERM)
	<-p.over
	require.NoError(t, p.run.Wait())
}
