package storetest

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/store"
)

// roundTrip writes an order and its second version and reads everything.
func roundTrip(t *testing.T, h Harness) {
	s, ctx := h.New(t, store.Options{}), t.Context()
	first, second := Order(1, clock), Again(1, 2, clock.Add(time.Hour))
	require.NoError(t, s.Commit(ctx, first))
	messages, err := s.Unsent(ctx, 10)
	require.NoError(t, err)
	assert.Equal(t, first.Outbox, messages)
	work, err := s.Unfinished(ctx, 10)
	require.NoError(t, err)
	assert.Equal(t, first.Queue, work)

	require.NoError(t, s.Commit(ctx, second))
	for i, r := range second.Resources {
		got, err := s.Get(ctx, r.Type, r.ID)
		require.NoError(t, err)
		want := r
		want.Created, want.Identifiers, want.Values = clock, nil, nil
		assert.Equal(t, want, got)
		old, err := s.Version(ctx, r.Type, r.ID, 1)
		require.NoError(t, err)
		assert.Equal(t, first.Resources[i].JSON, old.JSON)
		assert.Equal(t, clock, old.Updated)
		found, err := s.ByIdentifier(ctx, r.Type, r.Identifiers[0])
		require.NoError(t, err)
		assert.Equal(t, []adapter.Resource{want}, found)
	}
	for _, e := range []adapter.Effect{first, second} {
		doc, err := s.Document(ctx, e.Received[0].ID)
		require.NoError(t, err)
		assert.Equal(t, e.Received[0], doc)
	}
	c, err := s.Case(ctx, second.Cases[0].Patient)
	require.NoError(t, err)
	assert.Equal(t, second.Cases[0], c)
	key := second.Orders[0].Key
	line, err := s.Order(ctx, key)
	require.NoError(t, err)
	assert.Equal(t, second.Orders[0].OrderLine, line)
	versions, err := s.OrderVersions(ctx, key)
	require.NoError(t, err)
	require.Len(t, versions, 2)
	assert.Equal(t, adapter.OrderVersion{Number: 2, Version: second.Orders[0].Version, Source: second.Received[0].ID, Sent: second.Orders[0].Sent, At: second.At}, versions[1])
	sheets, err := s.Worksheets(ctx, key, 10)
	require.NoError(t, err)
	assert.Equal(t, []adapter.StoredSheet{second.Worksheets[0], first.Worksheets[0]}, sheets)
	tasks, err := s.Search(ctx, ofOrder(line.Resource), adapter.Page{Limit: 10})
	require.NoError(t, err)
	require.Len(t, tasks.Resources, 4)
	for i, r := range tasks.Resources {
		assert.Equal(t, fmt.Sprint(id("task", 1), "-", i), r.ID)
		assert.Equal(t, int64(2), r.Version)
	}
	messages, err = s.Unsent(ctx, 10)
	require.NoError(t, err)
	assert.Empty(t, messages)
	work, err = s.Unfinished(ctx, 10)
	require.NoError(t, err)
	assert.Empty(t, work)
	reply, err := s.Reply(ctx, second.Replies[0].Key)
	require.NoError(t, err)
	assert.Equal(t, second.Replies[0], reply)
	rows, err := s.Audit(ctx, adapter.AuditFilter{Patient: c.Patient}, adapter.Page{Limit: 10})
	require.NoError(t, err)
	assert.Equal(t, []adapter.AuditRow{second.Audit[0], first.Audit[0]}, rows.Rows)

	for _, err := range []error{
		func() error { _, err := s.Get(ctx, "Patient", "none"); return err }(),
		func() error { _, err := s.Version(ctx, "Patient", id("patient", 1), 3); return err }(),
		func() error { _, err := s.History(ctx, "Task", id("patient", 1), adapter.Page{Limit: 1}); return err }(),
		func() error { _, err := s.Document(ctx, "none"); return err }(),
		func() error { _, err := s.Case(ctx, "none"); return err }(),
		func() error { _, err := s.Order(ctx, "none"); return err }(),
		func() error { _, err := s.OrderVersions(ctx, "none"); return err }(),
		func() error { _, err := s.Reply(ctx, "none"); return err }(),
	} {
		var missing *adapter.NotFound
		assert.ErrorAs(t, err, &missing)
	}
	whole(t, s)
}

// createOnce has 64 senders create what may exist once, at the same moment.
func createOnce(t *testing.T, h Harness) {
	s, ctx := h.New(t, store.Options{}), t.Context()
	rounds, refused := setting("WEIR_STORE_ROUNDS", 100), atomic.Int64{}
	for round := range rounds {
		var made atomic.Int64
		together(64, func(sender int) {
			e := small("MedicationRequest", fmt.Sprintf("r%d-s%d", round, sender), 1, clock)
			e.Resources[0].Identifiers = []adapter.Identity{{System: "urn:placer", Value: fmt.Sprint(round), Once: true}}
			var twice *adapter.Duplicate
			switch err := s.Commit(ctx, e); {
			case err == nil:
				made.Add(1)
			case errors.As(err, &twice):
				assert.Equal(t, "identifier", twice.Kind)
				assert.Equal(t, "MedicationRequest", twice.Type)
				refused.Add(1)
			default:
				assert.NoError(t, err)
			}
		})
		require.Equal(t, int64(1), made.Load(), "round %d", round)
		found, err := s.ByIdentifier(ctx, "MedicationRequest", adapter.Identity{System: "urn:placer", Value: fmt.Sprint(round)})
		require.NoError(t, err)
		require.Len(t, found, 1)
	}
	n := whole(t, s)
	assert.Equal(t, int64(rounds), n["resource"])
	assert.Equal(t, int64(rounds), n["audit"], "one audit row for each effect, none for what was refused")
	t.Logf("%d rounds of 64 parallel conditional creates: %d created, %d refused", rounds, n["resource"], refused.Load())

	// Not once: a second may come, and then the one that must be alone is refused.
	plain := small("MedicationRequest", "plain", 1, clock)
	plain.Resources[0].Identifiers = []adapter.Identity{{System: "urn:placer", Value: "0"}}
	require.NoError(t, s.Commit(ctx, plain))
	plain.Resources[0].ID, plain.Resources[0].Identifiers[0].Value, plain.Audit[0].ID = "plain-2", "held", "plain-2"
	require.NoError(t, s.Commit(ctx, plain))
	late := small("MedicationRequest", "late", 1, clock)
	late.Resources[0].Identifiers = []adapter.Identity{{System: "urn:placer", Value: "held", Once: true}}
	var twice *adapter.Duplicate
	require.ErrorAs(t, s.Commit(ctx, late), &twice, "another resource has it, though not as the only one")
	alone := small("MedicationRequest", "alone", 1, clock)
	alone.Resources[0].Identifiers = []adapter.Identity{{System: "urn:other", Value: "1", Once: true}}
	require.NoError(t, s.Commit(ctx, alone))
	// The same system and value of another type is another thing.
	other := small("Task", "alone", 1, clock)
	other.Resources[0].Identifiers = alone.Resources[0].Identifiers
	require.NoError(t, s.Commit(ctx, other))
	// Its own identifier does not stand in a resource's way.
	alone.Resources[0].Version, alone.Audit[0].ID = 2, "alone-2"
	require.NoError(t, s.Commit(ctx, alone))
}

// many creates more than any block of numbers holds, none of it a patient's.
func many(t *testing.T, h Harness) {
	s, ctx := h.New(t, store.Options{}), t.Context()
	const n = 2100
	e := small("Medication", "m0", 1, clock)
	for i := 1; i < n; i++ {
		e.Resources = append(e.Resources, small("Medication", fmt.Sprint("m", i), 1, clock).Resources[0])
	}
	require.NoError(t, s.Commit(ctx, e))
	require.NoError(t, s.Commit(ctx, Order(1, clock)))
	assert.Equal(t, int64(n+10), whole(t, s)["resource"])
	found, err := s.Count(ctx, adapter.Query{Type: "Medication"})
	require.NoError(t, err)
	assert.Equal(t, int64(n), found)
}

// orderOnce has 64 senders bring one order at the same moment.
func orderOnce(t *testing.T, h Harness) {
	s, ctx := h.New(t, store.Options{}), t.Context()
	rounds := setting("WEIR_STORE_ROUNDS", 100) / 10
	for round := range rounds {
		var made atomic.Int64
		together(64, func(sender int) {
			e := adapter.Effect{At: clock, Audit: []adapter.AuditRow{audit(fmt.Sprintf("%d-%d", round, sender), "", clock)},
				Orders: []adapter.OrderWrite{{Change: adapter.OrderNew, OrderLine: adapter.OrderLine{Key: fmt.Sprint(round), Number: 1, Version: digest("a"), Updated: clock}}}}
			var late *adapter.Conflict
			switch err := s.Commit(ctx, e); {
			case err == nil:
				made.Add(1)
			default:
				assert.ErrorAs(t, err, &late)
			}
		})
		require.Equal(t, int64(1), made.Load(), "round %d", round)
	}
	whole(t, s)
}

// together runs f for many at once and waits for all.
func together(n int, f func(int)) {
	var start, end sync.WaitGroup
	start.Add(1)
	for i := range n {
		end.Add(1)
		go func() {
			defer end.Done()
			start.Wait()
			f(i)
		}()
	}
	start.Done()
	end.Wait()
}

// locking has 16 writers raise one resource and one case: no raise is lost.
func locking(t *testing.T, h Harness) {
	s, ctx := h.New(t, store.Options{}), t.Context()
	e := small("Task", "t", 1, clock)
	e.Cases = []adapter.StoredCase{{Patient: "p", Version: 1, Schema: 1, Updated: clock, JSON: []byte("1")}}
	require.NoError(t, s.Commit(ctx, e))
	const writers, each = 16, 20
	var conflicts atomic.Int64
	together(writers, func(w int) {
		for done := 0; done < each; {
			now, err := s.Get(ctx, "Task", "t")
			if !assert.NoError(t, err) {
				return
			}
			e := small("Task", "t", now.Version+1, clock)
			e.Audit[0].ID = fmt.Sprintf("a-%d-%d", w, done)
			e.Cases = []adapter.StoredCase{{Patient: "p", Version: now.Version + 1, Schema: 1, Updated: clock, JSON: fmt.Appendf(nil, "%d", now.Version+1)}}
			var late *adapter.Conflict
			switch err := s.Commit(ctx, e); {
			case err == nil:
				done++
			case errors.As(err, &late):
				conflicts.Add(1)
			default:
				assert.NoError(t, err)
				return
			}
		}
	})
	now, err := s.Get(ctx, "Task", "t")
	require.NoError(t, err)
	assert.Equal(t, int64(writers*each+1), now.Version)
	c, err := s.Case(ctx, "p")
	require.NoError(t, err)
	assert.Equal(t, now.Version, c.Version)
	t.Logf("%d writers raised one resource %d times, %d conflicts told", writers, writers*each, conflicts.Load())
	for _, wrong := range []int64{1, now.Version, now.Version + 2} {
		var late *adapter.Conflict
		e := small("Task", "t", wrong, clock)
		e.Audit[0].ID = fmt.Sprint("wrong-", wrong)
		require.ErrorAs(t, s.Commit(ctx, e), &late)
		assert.Equal(t, wrong-1, late.Expected)
	}
	assert.Equal(t, int64(writers*each+1), whole(t, s)["audit"])
}

// orderChanges follows one order through its contents.
func orderChanges(t *testing.T, h Harness) {
	s, ctx := h.New(t, store.Options{}), t.Context()
	n := 0
	write := func(change adapter.OrderChange, number int64, content, verdict string) error {
		n++
		return s.Commit(ctx, adapter.Effect{At: clock, Audit: []adapter.AuditRow{audit(fmt.Sprint(n), "", clock)},
			Orders: []adapter.OrderWrite{{Change: change, OrderLine: adapter.OrderLine{Key: "k", Number: number, Version: digest(content), Verdict: verdict, Updated: clock}}}})
	}
	var late *adapter.Conflict
	var twice *adapter.Duplicate
	require.ErrorAs(t, write(adapter.OrderNew, 2, "a", "hold"), &late, "a second version of nothing")
	require.ErrorAs(t, write(adapter.OrderJudged, 1, "a", "hold"), &late)
	require.NoError(t, write(adapter.OrderNew, 1, "a", "hold"))
	require.ErrorAs(t, write(adapter.OrderNew, 1, "b", "hold"), &late)
	require.ErrorAs(t, write(adapter.OrderNew, 2, "a", "hold"), &twice, "the same content is not new")
	require.NoError(t, write(adapter.OrderNew, 2, "b", "block"))
	require.ErrorAs(t, write(adapter.OrderJudged, 1, "a", "ready"), &late, "a judgement of an older version")
	require.NoError(t, write(adapter.OrderJudged, 2, "b", "ready"))
	require.NoError(t, write(adapter.OrderAgain, 3, "a", "hold"), "back to the first content")
	require.NoError(t, write(adapter.OrderAgain, 4, "b", "hold"))
	require.NoError(t, write(adapter.OrderAgain, 5, "a", "hold"), "and once more")
	versions, err := s.OrderVersions(ctx, "k")
	require.NoError(t, err)
	require.Len(t, versions, 5)
	for i, v := range versions {
		assert.Equal(t, int64(i+1), v.Number)
		assert.Equal(t, digest(string("ababa"[i])), v.Version)
		assert.Equal(t, i > 1, v.Again)
	}
	line, err := s.Order(ctx, "k")
	require.NoError(t, err)
	assert.Equal(t, int64(5), line.Number)
	whole(t, s)
}

// allOrNothing breaks off at every step of three kinds of transaction.
func allOrNothing(t *testing.T, h Harness) {
	ctx := context.WithoutCancel(t.Context())
	var fail, steps int
	end := func() {}
	s := h.New(t, store.Options{Fault: func(step int, _ string) error {
		if steps = step; step == -fail {
			end()
		}
		if step == fail {
			return &adapter.Unavailable{Code: "a fault of the test"}
		}
		return nil
	}})
	broken := 0
	try := func(name string, f func() error) {
		before := exported(t, s)
		for fail = 1; ; fail++ {
			steps = 0
			err := f()
			if steps < fail {
				require.NoError(t, err)
				break
			}
			var off *adapter.Unavailable
			require.ErrorAs(t, err, &off, "%s, step %d", name, fail)
			require.Equal(t, before, exported(t, s), "%s, step %d: something remains", name, fail)
			broken++
		}
		fail = 0
		require.NotEqual(t, before, exported(t, s))
	}
	try("create", func() error { return s.Commit(ctx, Order(1, clock)) })
	try("replace", func() error { return s.Commit(ctx, Again(1, 2, clock.Add(time.Hour))) })
	try("erase", func() error {
		row := audit("erased", id("patient", 1), clock)
		row.Private = nil
		_, err := s.Erase(ctx, adapter.Erasure{Patient: id("patient", 1), Before: clock.Add(24 * time.Hour), Audit: row})
		return err
	})
	// A caller that goes away, at each step.
	before := exported(t, s)
	for fail = -1; ; fail-- {
		going, cancel := context.WithCancel(ctx)
		end, steps = cancel, 0
		err := s.Commit(going, Order(5, clock))
		cancel()
		if steps < -fail {
			require.NoError(t, err)
			break
		}
		require.ErrorIs(t, err, context.Canceled, "step %d", -fail)
		require.Equal(t, before, exported(t, s), "step %d: something remains", -fail)
		broken++
	}
	fail = 0
	// Refused by the database at the very end, and a context that has ended.
	require.NoError(t, s.Commit(ctx, Order(2, clock)))
	before = exported(t, s)
	last := Order(3, clock)
	last.Audit = append(last.Audit, audit(id("audit", 2), "", clock))
	var twice *adapter.Duplicate
	require.ErrorAs(t, s.Commit(ctx, last), &twice)
	assert.Equal(t, "audit", twice.Kind)
	over, cancel := context.WithCancel(ctx)
	cancel()
	require.ErrorIs(t, s.Commit(over, Order(3, clock)), context.Canceled)
	require.Equal(t, before, exported(t, s))
	require.NoError(t, s.Commit(ctx, Order(3, clock)), "the store works on")
	whole(t, s)
	t.Logf("%d transactions broken off, one at each step: nothing remained of any", broken)
}

// refusals are effects that break a rule of the port.
func refusals(t *testing.T, h Harness) {
	s, ctx := h.New(t, store.Options{}), t.Context()
	before := exported(t, s)
	for name, spoil := range map[string]func(*adapter.Effect){
		"no audit row":             func(e *adapter.Effect) { e.Audit = nil },
		"several of nobody":        func(e *adapter.Effect) { e.Audit[0].Patient, e.Audit[0].Also = "", []string{"Task/x"} },
		"two in one":               func(e *adapter.Effect) { e.Audit[0].Also = []string{"Task/x\nTask/y"} },
		"no action":                func(e *adapter.Effect) { e.Audit[0].Action = "" },
		"no clock":                 func(e *adapter.Effect) { e.At = time.Time{} },
		"no id":                    func(e *adapter.Effect) { e.Resources[0].ID = "" },
		"no content":               func(e *adapter.Effect) { e.Resources[0].JSON = nil },
		"version 0":                func(e *adapter.Effect) { e.Resources[0].Version = 0 },
		"wrong hash":               func(e *adapter.Effect) { e.Received[0].Bytes = append(e.Received[0].Bytes, ' ') },
		"twice":                    func(e *adapter.Effect) { e.Resources = append(e.Resources, e.Resources[0]) },
		"NUL":                      func(e *adapter.Effect) { e.Resources[0].Identifiers[0].Value = "a\x00b" },
		"not UTF-8":                func(e *adapter.Effect) { e.Orders[0].Drug = "\xff" },
		"half a span":              func(e *adapter.Effect) { e.Resources[0].Values[0].Low = clock },
		"worksheet without order":  func(e *adapter.Effect) { e.Worksheets[0].Key = "other" },
		"no kind of order change":  func(e *adapter.Effect) { e.Orders[0].Change = "" },
		"case without a schema":    func(e *adapter.Effect) { e.Cases[0].Schema = 0 },
		"back to what never was":   func(e *adapter.Effect) { e.Orders[0].Change = adapter.OrderAgain },
		"identifier without value": func(e *adapter.Effect) { e.Resources[0].Identifiers[0].Value = "" },
	} {
		e := Order(1, clock)
		spoil(&e)
		var invalid *adapter.Invalid
		assert.ErrorAs(t, s.Commit(ctx, e), &invalid, name)
	}
	unknown := Order(1, clock)
	unknown.Sent = []string{"none"}
	var late *adapter.Conflict
	assert.ErrorAs(t, s.Commit(ctx, unknown), &late)
	assert.Equal(t, before, exported(t, s))
	e := Order(1, clock)
	require.NoError(t, s.Commit(ctx, e))
	sent := adapter.Effect{At: clock, Sent: []string{id("message", 1)}, Audit: []adapter.AuditRow{audit("s", "", clock)}}
	require.NoError(t, s.Commit(ctx, sent))
	sent.Audit[0].ID = "s2"
	assert.ErrorAs(t, s.Commit(ctx, sent), &late, "a message is sent once")
}
