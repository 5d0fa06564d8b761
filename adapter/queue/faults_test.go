package queue

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"strconv"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/store/storetest"
)

// setting is a number from the environment, for longer runs.
func setting(name string, usual int) int {
	if n, err := strconv.Atoi(os.Getenv(name)); err == nil && n > 0 {
		return n
	}
	return usual
}

// A killed worker's job is done by another, within the rescue time and one
// look for dead workers.
func TestKilledWorker(t *testing.T) {
	both(t, func(t *testing.T, address string) {
		s := begin(t, address)
		require.NoError(t, s.Commit(t.Context(), asked("one", tasks(0, 1, 0, time.Second)...)))
		a := spawn(t, address, 1, childMark+"=1")
		require.Eventually(t, func() bool { return a.count("begin") == 1 }, 20*time.Second, 10*time.Millisecond)
		began := time.Now()
		a.kill()
		b := spawn(t, address, 1, childMark+"=1")
		finish(t, s, quick().Rescue+20*time.Second)
		took := time.Since(began) - time.Second
		assert.Equal(t, 1, b.count("begin "+workID(0, 0)+" 2"))
		assert.Len(t, audited(t, s, "done-"), 1)
		assert.Less(t, took, quick().Rescue+15*time.Second)
		t.Logf("its job was begun again %s after it began, with a rescue time of %s", took.Round(10*time.Millisecond), quick().Rescue)
		b.end(t)
	})
}

// A worker that is frozen past the rescue time, and then goes on as if nothing
// had been, is refused: before the other has begun, while it is at work, and
// after it is done.
func TestFrozenWorker(t *testing.T) {
	both(t, func(t *testing.T, address string) {
		s := begin(t, address)
		for i, wake := range []string{"begin", "event done"} {
			takes := 1500 * time.Millisecond
			id := workID(i, 0)
			a := spawn(t, address, 1, childMark+"=1")
			require.NoError(t, s.Commit(t.Context(), asked(id, tasks(i, 1, 0, takes)...)))
			require.Eventually(t, func() bool { return a.count("begin "+id) == 1 }, 20*time.Second, 10*time.Millisecond)
			a.signal(syscall.SIGSTOP)
			b := spawn(t, address, 1, childMark+"=1")
			require.Eventually(t, func() bool { return b.count(wake) == 1 }, 20*time.Second, 10*time.Millisecond)
			a.signal(syscall.SIGCONT)
			require.Eventually(t, func() bool { return a.count("event refused "+id+" 1") == 1 }, 10*time.Second, 10*time.Millisecond, "woken at %q", wake)
			finish(t, s, 20*time.Second)
			require.Eventually(t, func() bool { return b.count("event done "+id+" 2") == 1 }, 10*time.Second, 10*time.Millisecond)
			assert.Equal(t, 0, a.count("begin "+id+" 3")+b.count("begin "+id+" 3"), "its failure ended nobody else's attempt")
			rows := audited(t, s, "done-"+id)
			assert.Len(t, rows, 1)
			assert.Contains(t, rows, fmt.Sprintf("|%d|2", b.run.Process.Pid))
			a.end(t)
			b.end(t)
		}
	})
}

// Whoever does the work, the record is the same, byte for byte, also when one
// is killed and one is frozen past the rescue time.
func TestWorkersAgree(t *testing.T) {
	both(t, func(t *testing.T, address string) {
		var first []byte
		for _, n := range []int{1, 2, 4, 8} {
			at := address
			if n > 1 {
				at = fresh(t, address, n)
			}
			s := begin(t, at)
			var all []*process
			for range n {
				all = append(all, spawn(t, at, 1))
			}
			require.NoError(t, s.Commit(t.Context(), asked("all", tasks(0, 60, 1, 20*time.Millisecond)...)))
			if n > 1 {
				for _, p := range all[:2] {
					require.Eventually(t, func() bool { return p.count("begin") > 2 }, 20*time.Second, time.Millisecond)
				}
				all[0].kill()
				all[1].signal(syscall.SIGSTOP)
				all[0] = spawn(t, at, 1)
				time.Sleep(quick().Rescue + time.Second)
				all[1].signal(syscall.SIGCONT)
			}
			finish(t, s, 60*time.Second)
			begun := 0
			for _, p := range all {
				p.end(t)
				begun += p.count("begin")
			}
			if n == 1 {
				assert.Equal(t, 120, begun, "nothing was begun twice")
			}
			text := exported(t, s)
			if first == nil {
				first = text
			}
			require.Equal(t, string(first), string(text), "%d workers", n)
			t.Logf("%d processes: %d bytes equal", n, len(text))
		}
	})
}

// fresh is another address of the same kind.
func fresh(t *testing.T, address string, n int) string {
	if server != nil && len(address) > 5 && address[:5] == "host=" {
		return server.Fresh(t)
	}
	return fmt.Sprint(address, n)
}

// patiently commits an effect, again when somebody held the file too long.
func patiently(t *testing.T, s adapter.Store, e adapter.Effect) {
	for try := 0; ; try++ {
		err := s.Commit(t.Context(), e)
		var u *adapter.Unavailable
		if errors.As(err, &u) && !u.Unknown && try < 5 {
			continue
		}
		require.NoError(t, err)
		return
	}
}

// Workers are killed and frozen at random moments, and replaced; nothing but
// the queue stops work from being done twice.
func TestKillsAndFreezes(t *testing.T) {
	kills := setting("WEIR_QUEUE_KILLS", 8)
	const workers, batch = 4, 40
	both(t, func(t *testing.T, address string) {
		s := begin(t, address)
		chance := rand.New(rand.NewPCG(7, 11))
		var all, dead []*process
		for range workers {
			all = append(all, spawn(t, address, 2, childMark+"=1"))
		}
		asks, killed, freezes := 0, 0, 0
		frozen := map[*process]time.Time{} // until when
		start := time.Now()
		for killed < kills {
			if left, err := s.Unfinished(t.Context(), batch); err == nil && len(left) < batch {
				patiently(t, s, asked(fmt.Sprint(asks), tasks(asks*batch, batch, 1, time.Duration(chance.IntN(80))*time.Millisecond)...))
				asks++
			}
			time.Sleep(time.Duration(100+chance.IntN(400)) * time.Millisecond)
			i := chance.IntN(len(all))
			p := all[i]
			switch {
			case p.count("begin") == 0 || time.Now().Before(frozen[p]):
			case chance.IntN(4) == 0:
				// A frozen process may hold the file, so that nobody can write.
				p.signal(syscall.SIGSTOP)
				long := quick().Rescue + time.Duration(chance.IntN(3000))*time.Millisecond
				time.AfterFunc(long, func() { p.signal(syscall.SIGCONT) })
				frozen[p] = time.Now().Add(long)
				freezes++
			default:
				p.kill()
				killed++
				dead = append(dead, p)
				all[i] = spawn(t, address, 2, childMark+"=1")
			}
		}
		finish(t, s, 2*time.Minute)
		took := time.Since(start)
		begun, refused, failed := 0, 0, 0
		for _, p := range all {
			p.end(t)
		}
		for _, p := range append(dead, all...) {
			begun += p.count("begin")
			refused += p.count("event refused")
			failed += p.count("event failed")
		}
		done := map[string]int{}
		for id, n := range audited(t, s, "done-") {
			done[id[:len("work-000000-0")]] += n
		}
		jobs := asks * batch * 2
		lost, twice := 0, 0
		for n := range asks * batch {
			for after := range 2 {
				switch c := done[workID(n, after)]; {
				case c == 0:
					lost++
				case c > 1:
					twice++
				}
			}
		}
		assert.Zero(t, lost, "jobs were lost")
		assert.Zero(t, twice, "jobs were done twice")
		assert.Len(t, done, jobs)
		h, err := s.Check(t.Context())
		require.NoError(t, err)
		assert.Empty(t, h.Problems)
		t.Logf("%d kills and %d freezes in %s: %d jobs, %d attempts, %d refused, %d failed, %d lost, %d done twice",
			killed, freezes, took.Round(time.Second), jobs, begun, refused, failed, lost, twice)
	})
}

// A server that stops at once, as in a crash, loses no work and has none done
// twice; workers go on by themselves when it is back.
func TestServerStops(t *testing.T) {
	if server == nil {
		t.Skip("no PostgreSQL")
	}
	own, err := storetest.StartServer()
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, own.Close()) })
	s := begin(t, own.Address("postgres"))
	const jobs, stops = 300, 3
	require.NoError(t, s.Commit(t.Context(), asked("all", tasks(0, jobs, 0, 10*time.Millisecond)...)))
	var seen events
	o := quick()
	o.Observe = seen.add
	attempts := atomic.Int64{}
	running(t, begun(t, s, o), 2, func(ctx context.Context, j Job) (adapter.Effect, error) {
		return outcome(ctx, j, fmt.Sprint("|", attempts.Add(1)))
	})
	for i := range stops {
		require.Eventually(t, func() bool { return seen.count(Done) > i*50+20 }, 30*time.Second, 5*time.Millisecond)
		own.Stop()
		time.Sleep(300 * time.Millisecond)
		require.NoError(t, own.Start())
	}
	back := time.Now()
	finish(t, s, time.Minute)
	done := map[string]int{}
	for id, n := range audited(t, s, "done-") {
		done[id[:len("work-000000-0")]] += n
	}
	assert.Len(t, done, jobs)
	for id, n := range done {
		assert.Equal(t, 1, n, id)
	}
	t.Logf("%d stops, %d jobs, %d attempts, all done once, %s after the last start", stops, jobs, attempts.Load(), time.Since(back).Round(time.Millisecond))
}
