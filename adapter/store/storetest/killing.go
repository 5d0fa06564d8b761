package storetest

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/store"
)

const (
	childAddress = "WEIR_STORE_CHILD"
	childFrom    = "WEIR_STORE_FROM"
	childWriters = 4
)

// Child says that this process was started to be killed.
func Child() bool { return os.Getenv(childAddress) != "" }

// Main runs the tests of a store's package, or, when it was started to be
// killed, writes orders until it is.
func Main(m *testing.M, open func(context.Context, string, store.Options) (Opened, error)) int {
	address := os.Getenv(childAddress)
	if address == "" {
		return m.Run()
	}
	s, err := open(context.Background(), address, store.Options{})
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	var from int
	_, _ = fmt.Sscan(os.Getenv(childFrom), &from)
	var said sync.Mutex
	together(childWriters, func(w int) {
		for n := from + w; ; n += childWriters {
			for v := 1; v <= 2; v++ {
				e := Order(n, clock)
				if v == 2 {
					e = Again(n, 2, clock)
				}
				if s.Commit(context.Background(), e) != nil {
					return // the server was stopped
				}
				// Told only after the store has said that it is durable.
				said.Lock()
				fmt.Printf("%d %d\n", n, v)
				said.Unlock()
			}
		}
	})
	return 0
}

// kill lets a process write, kills it without warning at a random moment,
// opens the store again and looks for what was acknowledged, and for halves.
func kill(t *testing.T, h Harness) {
	address := h.Fresh(t)
	kills := setting("WEIR_STORE_KILLS", 10)
	chance := rand.New(rand.NewPCG(7, 7))
	acknowledged, effects, servers := 0, 0, 0
	var slowest time.Duration
	from := 0
	for round := range kills {
		server := h.Stop != nil && round%2 == 1
		told := childUntilKilled(t, h, address, from, time.Duration(20+chance.IntN(400))*time.Millisecond, server)
		if server {
			servers++
		}
		start := time.Now()
		s, end := h.at(t, address, store.Options{})
		slowest = max(slowest, time.Since(start))
		next := from
		for n := range told {
			acknowledged += told[n]
			next = max(next, n+1)
		}
		// A writer may have begun one order that was never told.
		for n := from; n < next+2*childWriters; n++ {
			v := wholeEffect(t, s, n)
			require.GreaterOrEqual(t, v, told[n], "round %d: order %d was acknowledged and is lost", round, n)
			effects += v
		}
		from = next + 2*childWriters
		if round%10 == 9 || round == kills-1 {
			whole(t, s)
		}
		end()
	}
	require.Positive(t, acknowledged)
	t.Logf("%d kills (%d of them of the server), %d effects acknowledged, 0 lost, %d found, 0 halves, open again in at most %s",
		kills, servers, acknowledged, effects, slowest.Round(time.Millisecond))
}

// childUntilKilled gives the newest version of each order that the child was told is durable.
func childUntilKilled(t *testing.T, h Harness, address string, from int, after time.Duration, server bool) map[int]int {
	child := exec.Command(os.Args[0])
	child.Env = append(os.Environ(), childAddress+"="+address, fmt.Sprint(childFrom, "=", from))
	child.Stderr = os.Stderr
	out, err := child.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, child.Start())
	told := map[int]int{}
	lines := bufio.NewReader(out)
	var timer *time.Timer
	killed := make(chan struct{})
	for {
		var n, v int
		line, err := lines.ReadString('\n')
		if err != nil {
			require.True(t, errors.Is(err, io.EOF) || line == "", "%v", err)
			break
		}
		_, err = fmt.Sscanf(line, "%d %d\n", &n, &v)
		require.NoError(t, err)
		told[n] = v
		if timer == nil { // the time runs from its first commit
			timer = time.AfterFunc(after, func() {
				if server {
					h.Stop()
				}
				_ = child.Process.Kill()
				close(killed)
			})
		}
	}
	require.NotNil(t, timer, "the child wrote nothing")
	<-killed
	_ = child.Wait()
	if h.Settle != nil {
		require.NoError(t, h.Settle(server))
	}
	return told
}

// wholeEffect says how many of the two effects of order n are stored, and
// demands that every part of each is there, or none.
func wholeEffect(t *testing.T, s Opened, n int) int {
	ctx := context.WithoutCancel(t.Context())
	e := Order(n, clock)
	rows, err := s.Audit(ctx, adapter.AuditFilter{Patient: id("patient", n)}, adapter.Page{Limit: 10})
	require.NoError(t, err)
	v := len(rows.Rows)
	var missing *adapter.NotFound
	for _, r := range e.Resources {
		got, err := s.Get(ctx, r.Type, r.ID)
		if v == 0 {
			require.ErrorAs(t, err, &missing)
			continue
		}
		require.NoError(t, err)
		require.Equal(t, int64(v), got.Version, "order %d: half an effect", n)
	}
	for i, name := range []string{id("document", n), id("document", n) + "-2"} {
		doc, err := s.Document(ctx, name)
		if i >= v {
			require.ErrorAs(t, err, &missing)
			continue
		}
		require.NoError(t, err)
		require.Equal(t, e.Received[0].SHA256, doc.SHA256)
	}
	line, err := s.Order(ctx, e.Orders[0].Key)
	c, caseErr := s.Case(ctx, e.Cases[0].Patient)
	if v == 0 {
		require.ErrorAs(t, err, &missing)
		require.ErrorAs(t, caseErr, &missing)
		return 0
	}
	require.NoError(t, err)
	require.NoError(t, caseErr)
	require.Equal(t, []int64{int64(v), int64(v)}, []int64{line.Number, c.Version}, "order %d: half an effect", n)
	sheets, err := s.Worksheets(ctx, line.Key, 10)
	require.NoError(t, err)
	tasks, err := s.Count(ctx, ofOrder(line.Resource))
	require.NoError(t, err)
	require.Equal(t, []int{v, 4}, []int{len(sheets), int(tasks)}, "order %d: half an effect", n)
	return v
}
