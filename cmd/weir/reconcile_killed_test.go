//go:build unix

package main

import (
	"bytes"
	"fmt"
	"maps"
	"math/rand/v2"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The whole program is killed, and frozen longer than its work waits for it,
// at random moments of a night; whoever goes on gives the answer of a night
// that nothing disturbed, and leaves the same record. Of an export nothing is
// left out: who did what when for the queue is in tables of its own that are
// no part of it, and all clocks in it are that of the night. Only when two do
// the night at once may each note for itself that it passed patients over.

// aside is how long a job may take here, and rescueTime how old an attempt
// becomes until its worker is taken for dead.
const (
	aside      = 1600 * time.Millisecond
	rescueTime = aside + aside/4
	patience   = 2 * time.Minute
)

func TestReconcileKilled(t *testing.T) {
	kills := number("WEIR_RECONCILE_KILLS", 1) // from 5 on also freezes, which take long
	for name, kind := range nightStores() {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			first, second := undisturbed(t, kind)
			t.Run("kills", func(t *testing.T) {
				t.Parallel()
				killings(t, kills, first, second)
			})
			t.Run("freezes", func(t *testing.T) {
				t.Parallel()
				freezings(t, kills/5, second)
			})
		})
	}
}

// killings kills so many processes: up to three in one night, then one ends
// it. Every fourth night is the first, of an empty store.
func killings(t *testing.T, kills int, first, second *evening) {
	chance := rand.New(rand.NewPCG(7, 23))
	first, second = first.alone(), second.alone()
	killed, late, nights, told := 0, 0, 0, 0
	when := map[string]int{}
	night := func(t *testing.T) {
		e := second
		if nights%4 == 3 {
			e = first
		}
		at := e.fresh(t)
		said, ended := false, false
		for i := range min(1+chance.IntN(3), kills-killed) {
			p := e.begin(t, at)
			if p.within(e.moment(chance)) { // it was too late
				e.demand(t, p, said, ended)
				said, ended = true, true
				if late++; i == 0 {
					e.sooner(p)
				}
				break
			}
			p.kill()
			killed++
			when[e.stage(t, at)]++
			// One that gave its whole answer may be killed before that is noted, or after.
			said = said || p.out.String() == e.want.out
		}
		if said {
			told++
		}
		p := e.begin(t, at)
		require.True(t, p.within(patience), "it does not come to its end: %s", p.words.String())
		e.demand(t, p, said, ended)
		e.whole(t, at, false)
	}
	for killed < kills && t.Run(fmt.Sprint("night ", nights), night) {
		nights++
	}
	t.Logf("%d kills in %d nights (%s), %d came too late; in %d nights somebody had the whole answer before; %s",
		killed, nights, counted(when), late, told, second.verdict(t))
}

// freezings freezes a process at a random moment, while another does the
// night, and lets it go on: after the other has ended, or while it is at it.
func freezings(t *testing.T, freezes int, e *evening) {
	chance := rand.New(rand.NewPCG(7, 29))
	e = e.alone()
	ends := map[string]int{}
	when := map[string]int{}
	frozen, late := 0, 0
	night := func(t *testing.T) {
		at := e.fresh(t)
		a := e.begin(t, at)
		if a.within(e.moment(chance)) {
			e.sooner(a)
			late++
			return
		}
		a.signal(syscall.SIGSTOP)
		stopped := time.Now()
		frozen++
		when[e.stage(t, at)]++
		b := e.begin(t, at)
		early := chance.IntN(3) == 0
		if early {
			time.Sleep(rescueTime + time.Duration(chance.IntN(2000))*time.Millisecond)
		} else if !b.within(rescueTime + 20*time.Second) {
			// It holds what the other needs: nobody can write until it goes on.
			ends["the other had to wait"]++
		}
		time.Sleep(time.Until(stopped.Add(rescueTime + 500*time.Millisecond)))
		a.signal(syscall.SIGCONT)
		for _, p := range []*nightProcess{a, b} {
			require.True(t, p.within(patience), "a process does not come to its end: %s", p.words.String())
		}
		said := false
		for name, p := range map[string]*nightProcess{"frozen": a, "other": b} {
			switch {
			case p.code() == exitAgain:
				ends[name+" told to try again"]++
				assert.NotEmpty(t, p.words.String())
				assert.True(t, strings.HasPrefix(e.want.out, p.out.String()) || strings.HasPrefix(e.again.out, p.out.String()), "what it said is no part of the answer: %s", p.out.String())
			default:
				ends[name+" gave the answer"]++
				e.demand(t, p, true, false)
				said = said || p.out.String() == e.want.out
			}
		}
		require.True(t, said || a.code() == exitAgain || b.code() == exitAgain, "nobody said what is new")
		// Whoever was told to try again does.
		c := e.begin(t, at)
		require.True(t, c.within(patience), "a process does not come to its end: %s", c.words.String())
		e.demand(t, c, said, a.code() == e.want.code || b.code() == e.want.code)
		e.whole(t, at, true)
	}
	for i := 0; frozen < freezes && t.Run(fmt.Sprint("night ", i), night); i++ {
	}
	t.Logf("%d freezes (%s), %d came too late; %s; %s", frozen, counted(when), late, counted(ends), e.verdict(t))
}

// moment is when a process is disturbed: mostly within the time that a calm
// night takes, from where the store is opened; else while it waits for work of
// one that is dead.
func (e *evening) moment(chance *rand.Rand) time.Duration {
	part := func(of time.Duration) time.Duration { return time.Duration(chance.Int64N(int64(of))) }
	if chance.IntN(5) == 0 {
		return e.takes/4 + part(e.takes+rescueTime)
	}
	return e.takes/4 + part(e.takes*4/5)
}

func (e *evening) verdict(t *testing.T) string {
	if t.Failed() {
		return "NOT as if nothing had been"
	}
	return fmt.Sprintf("answers and records equal: %d orders, 0 lost, 0 written twice", len(e.want.orders))
}

// alone is a night whose time may be changed.
func (e *evening) alone() *evening {
	own := *e
	return &own
}

// sooner takes what a process took that was to be disturbed and was not: the
// machine is less busy now, or there was less to do.
func (e *evening) sooner(p *nightProcess) { e.takes = min(e.takes, (e.takes+p.took)/2) }

// later takes that a process was disturbed before it had done anything.
func (e *evening) later() { e.takes += e.takes / 16 }

// demand compares an answer: it is that of the calm night. When another had
// given it whole before (said), nothing of it need be new any more, and when
// that one had ended (ended), nothing is.
func (e *evening) demand(t *testing.T, p *nightProcess, said, ended bool) {
	t.Helper()
	got := answerOf(p)
	want := e.want
	if said && (ended || got.out == e.again.out) {
		want = e.again
	}
	require.Equal(t, want.code, got.code, p.words.String())
	lost, twice := missing(want.orders, got.orders), missing(got.orders, want.orders)
	if want.out == got.out {
		return
	}
	if said { // it was to be one or the other
		t.Log("and from that of a night whose answer was given: ", difference(e.again.out, got.out))
	}
	require.Failf(t, "answers differ", "%d orders lost, %d twice or others; %s", lost, twice, difference(want.out, got.out))
}

// stage says how far the night is by what is written.
func (e *evening) stage(t *testing.T, at string) string {
	text, waits, err := e.kind.look(t, at)
	switch {
	case err != nil:
		return "before the store could be opened"
	case waits:
		return "while work was waiting"
	case bytes.Equal(text, e.before):
		e.later()
		return "before anything was written"
	case bytes.Equal(text, e.after):
		return "when all was written"
	}
	return "between"
}

// whole demands that the record is that of the calm night, row by row. Twice
// says that two did the night: each may have noted that it passed patients
// over, which is how often those rows are left out, and nothing else is.
func (e *evening) whole(t *testing.T, at string, twice bool) {
	t.Helper()
	got := exportOf(t, at)
	if bytes.Equal(e.after, got) {
		return
	}
	want, have := rowsOf(e.after), rowsOf(got)
	if twice {
		maps.DeleteFunc(have, func(row string, _ int) bool {
			return want[row] == 0 && strings.HasPrefix(row, `{"t":"audit"`) && strings.Contains(row, passedOver)
		})
		if maps.Equal(want, have) {
			t.Log("both noted whom they passed over")
			return
		}
	}
	assert.Failf(t, "records differ", "%d rows lost, %d twice or others; of tables %s; %s", missing(want, have), missing(have, want),
		tablesOf(want, have), difference(string(e.after), string(got)))
}

// passedOver is in the row that a run writes of itself.
const passedOver = `"","compared with the hospital's state",`

func difference(a, b string) string {
	x, y := strings.Split(a, "\n"), strings.Split(b, "\n")
	for i := range min(len(x), len(y)) {
		if x[i] != y[i] {
			return fmt.Sprintf("line %d:\n%.1000s\n%.1000s", i, x[i], y[i])
		}
	}
	return fmt.Sprint(len(x), " and ", len(y), " lines")
}
