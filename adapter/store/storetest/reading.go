package storetest

import (
	"context"
	"crypto/sha256"
	"encoding/base64"
	"fmt"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/store"
)

func history(t *testing.T, h Harness) {
	s, ctx := h.New(t, store.Options{}), t.Context()
	const versions = 23
	for v := int64(1); v <= versions; v++ {
		// The clock goes back: versions order events, not the clock.
		require.NoError(t, s.Commit(ctx, small("Task", "t", v, clock.Add(-time.Duration(v)*time.Minute))))
	}
	for _, limit := range []int{1, 5, versions - 1, versions, 1000} {
		want, page := int64(versions), adapter.Page{Limit: limit}
		for pages := 0; ; pages++ {
			got, err := s.History(ctx, "Task", "t", page)
			require.NoError(t, err)
			for _, r := range got.Resources {
				require.Equal(t, want, r.Version)
				require.Equal(t, fmt.Sprintf(`{"id":"t","v":%d}`, want), string(r.JSON))
				require.Equal(t, clock.Add(-time.Minute), r.Created)
				want--
			}
			if got.Next == "" {
				break
			}
			require.Len(t, got.Resources, limit)
			page.After = got.Next
		}
		require.Zero(t, want, "pages of %d", limit)
	}
}

// paging reads all pages while others insert: what was there at the start
// comes exactly once.
func paging(t *testing.T, h Harness) {
	s, ctx := h.New(t, store.Options{}), t.Context()
	insert := func(n int, name string) error {
		// Many share a creation time, an authored time and a status.
		e := small("Task", name, 1, clock.Add(time.Duration(n%7)*time.Second))
		day := clock.Add(time.Duration(n%11) * time.Hour)
		e.Resources[0].Values = []adapter.Value{{Name: "authored-on", Low: day, High: day.Add(time.Second)}, {Name: "status", Text: fmt.Sprint("s", n%5)}}
		if n%13 == 0 {
			e.Resources[0].Values = nil
		}
		return s.Commit(ctx, e)
	}
	present := map[string]bool{}
	for n := range 200 {
		name := fmt.Sprintf("t%03d", n*37%200)
		present[name] = true
		require.NoError(t, insert(n, name))
	}
	stop, done := make(chan struct{}), sync.WaitGroup{}
	var inserted int
	done.Add(1)
	go func() {
		defer done.Done()
		for n := 0; n < 800; n++ { // a reader cannot outrun everybody for ever
			select {
			case <-stop:
				return
			default:
			}
			inserted++
			if !assert.NoError(t, insert(n, fmt.Sprintf("t%03d-%d", n%200, n))) {
				return
			}
		}
	}()
	pages := 0
	for _, sort := range []adapter.Sort{{}, {Descending: true}, {Name: "_id"}, {Name: "_id", Descending: true}, {Name: "_lastUpdated"}, {Name: "_lastUpdated", Descending: true},
		{Name: "authored-on", ByTime: true}, {Name: "authored-on", ByTime: true, Descending: true}, {Name: "status"}, {Name: "status", Descending: true}} {
		for _, limit := range []int{7, 50} {
			seen, page := map[string]int{}, adapter.Page{Limit: limit}
			for {
				got, err := s.Search(ctx, adapter.Query{Type: "Task", Sort: sort}, page)
				require.NoError(t, err)
				for _, r := range got.Resources {
					seen[r.ID]++
				}
				pages++
				if got.Next == "" {
					break
				}
				require.Len(t, got.Resources, limit)
				page.After = got.Next
			}
			for name, n := range seen {
				require.Equal(t, 1, n, "%s repeated, %+v", name, sort)
			}
			for name := range present {
				require.Equal(t, 1, seen[name], "%s skipped, %+v", name, sort)
			}
		}
	}
	close(stop)
	done.Wait()
	t.Logf("%d pages read while %d were inserted: none repeated, none skipped", pages, inserted)
}

// lists are the worklist and the audit rows.
func lists(t *testing.T, h Harness) {
	s, ctx := h.New(t, store.Options{}), t.Context()
	for n := range 30 {
		e := Order(n, clock.Add(time.Duration(n/3)*time.Second))
		if n%4 == 0 {
			e.Orders[0].Due = time.Time{}
		}
		if n%2 == 0 {
			e.Orders[0].Verdict = "block"
		}
		require.NoError(t, s.Commit(ctx, e))
	}
	all := func(f adapter.OrderFilter, limit int) []adapter.OrderLine {
		var out []adapter.OrderLine
		page := adapter.Page{Limit: limit}
		for {
			got, err := s.Orders(ctx, f, page)
			require.NoError(t, err)
			out = append(out, got.Orders...)
			if page.After = got.Next; page.After == "" {
				return out
			}
		}
	}
	lines := all(adapter.OrderFilter{}, 4)
	require.Len(t, lines, 30)
	for i := 1; i < len(lines); i++ {
		a, b := lines[i-1], lines[i]
		require.GreaterOrEqual(t, a.Weight, b.Weight)
		if a.Weight == b.Weight && !b.Due.IsZero() {
			require.False(t, a.Due.IsZero(), "an order without a due time comes last")
			require.True(t, a.Due.Before(b.Due))
		}
	}
	assert.Equal(t, lines, all(adapter.OrderFilter{}, 1000))
	assert.Len(t, all(adapter.OrderFilter{Verdict: "block"}, 2), 15)
	assert.Len(t, all(adapter.OrderFilter{Patient: id("patient", 7), State: "active"}, 2), 1)
	edge := lines[0].Due
	for _, l := range all(adapter.OrderFilter{DueBefore: edge}, 3) {
		assert.True(t, l.Due.Before(edge) && !l.Due.IsZero())
	}

	audits := func(f adapter.AuditFilter, limit int) (out []adapter.AuditRow) {
		page := adapter.Page{Limit: limit}
		for {
			got, err := s.Audit(ctx, f, page)
			require.NoError(t, err)
			out = append(out, got.Rows...)
			if page.After = got.Next; page.After == "" {
				return out
			}
		}
	}
	rows := audits(adapter.AuditFilter{}, 4)
	require.Len(t, rows, 30)
	assert.Equal(t, rows[3:4], audits(adapter.AuditFilter{ID: rows[3].ID}, 4))
	for i := 1; i < len(rows); i++ {
		require.False(t, rows[i].At.After(rows[i-1].At))
	}
	assert.Equal(t, rows, audits(adapter.AuditFilter{Action: "C", Outcome: "0", Agent: "local-operator", Entity: "MedicationRequest/x", Request: "r-1"}, 1000))
	assert.Len(t, audits(adapter.AuditFilter{From: clock.Add(time.Second), Until: clock.Add(3 * time.Second)}, 2), 6, "from is included, until is not")
	assert.Empty(t, audits(adapter.AuditFilter{Outcome: "8"}, 2))

	// Several things in one row: each is found, and nothing that only looks like one.
	many := small("Task", "one", 1, clock.Add(time.Hour))
	many.Resources[0].Patient, many.Audit[0].Patient, many.Audit[0].Entity = "p", "p", "Task/one"
	many.Audit[0].Also = []string{"Task/three", "Observation/gone", "Task/one-more"}
	three := small("Task", "three", 1, clock.Add(time.Hour))
	three.Resources[0].Patient = "p"
	many.Resources = append(many.Resources, three.Resources...)
	require.NoError(t, s.Commit(ctx, many))
	for entity, n := range map[string]int{"Task/one": 1, "Task/three": 1, "Observation/gone": 1, "Task/one-more": 1, "Task/one-": 0, "ask/three": 0, "Task/thre": 0} {
		assert.Len(t, audits(adapter.AuditFilter{Entity: entity}, 2), n, entity)
	}
	assert.Equal(t, many.Audit, audits(adapter.AuditFilter{Entity: "Task/three"}, 2))
}

// cursors are refused when forged, and for another question.
func cursors(t *testing.T, h Harness) {
	s, ctx := h.New(t, store.Options{Key: [32]byte{1}}), t.Context()
	for n := range 3 {
		require.NoError(t, s.Commit(ctx, Order(n, clock)))
	}
	q := adapter.Query{Type: "Patient", Sort: adapter.Sort{Name: "family"}}
	first, err := s.Search(ctx, q, adapter.Page{Limit: 1})
	require.NoError(t, err)
	require.NotEmpty(t, first.Next)
	raw, err := base64.RawURLEncoding.DecodeString(first.Next)
	require.NoError(t, err)
	assert.NotContains(t, string(raw), "family", "a sort value may be a name and stands in an address")
	same, err := s.Search(ctx, q, adapter.Page{Limit: 1})
	require.NoError(t, err)
	assert.Equal(t, first.Next, same.Next)
	second, err := s.Search(ctx, q, adapter.Page{Limit: 1, After: first.Next})
	require.NoError(t, err)
	assert.NotEqual(t, first.Resources[0].ID, second.Resources[0].ID)
	forged := []string{"x", "!!", first.Next + "A", first.Next[1:], first.Next + "=", "AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA"}
	for i := range raw {
		bad := append([]byte{}, raw...)
		bad[i] ^= 1
		forged = append(forged, base64.RawURLEncoding.EncodeToString(bad))
	}
	var refused *adapter.BadCursor
	for _, c := range forged {
		_, err := s.Search(ctx, q, adapter.Page{Limit: 1, After: c})
		assert.ErrorAs(t, err, &refused)
	}
	for _, other := range []adapter.Query{{Type: "Task", Sort: q.Sort}, {Type: "Patient"}, {Type: "Patient", Sort: adapter.Sort{Name: "family", Descending: true}},
		{Type: "Patient", Sort: q.Sort, All: []adapter.Criterion{{Name: "_id", Any: []adapter.Match{{Op: adapter.OpEqual, Text: "x"}}}}}} {
		_, err := s.Search(ctx, other, adapter.Page{Limit: 1, After: first.Next})
		assert.ErrorAs(t, err, &refused)
	}
	_, err = s.History(ctx, "Patient", id("patient", 0), adapter.Page{Limit: 1, After: first.Next})
	assert.ErrorAs(t, err, &refused)
	_, err = s.Orders(ctx, adapter.OrderFilter{}, adapter.Page{Limit: 1, After: first.Next})
	assert.ErrorAs(t, err, &refused)
	_, err = s.Audit(ctx, adapter.AuditFilter{}, adapter.Page{Limit: 1, After: first.Next})
	assert.ErrorAs(t, err, &refused)
	var invalid *adapter.Invalid
	for _, limit := range []int{-1, 0, 1001} {
		_, err = s.Search(ctx, q, adapter.Page{Limit: limit})
		assert.ErrorAs(t, err, &invalid)
	}
	t.Logf("%d forged cursors refused", len(forged))

	sealed := s.Seal("search", []byte("family=Miller"))
	back, err := s.Unseal("search", sealed)
	require.NoError(t, err)
	assert.Equal(t, "family=Miller", string(back))
	assert.NotContains(t, sealed, "Miller")
	for _, c := range []string{"", sealed[1:], sealed[:len(sealed)-1], "A" + sealed[1:], first.Next, "é"} {
		_, err = s.Unseal("search", c)
		assert.ErrorAs(t, err, &refused)
	}
	_, err = s.Unseal("history", sealed)
	assert.ErrorAs(t, err, &refused)
}

// octets come back byte for byte.
func octets(t *testing.T, h Harness) {
	s, ctx := h.New(t, store.Options{}), t.Context()
	every := make([]byte, 256)
	for i := range every {
		every[i] = byte(i)
	}
	large := filler(1, 5<<20)
	for n, data := range [][]byte{{}, {0}, every, []byte("1.50\r\n\xff\xfe"), large} {
		e := small("Task", fmt.Sprint(n), 1, clock)
		e.Received = []adapter.Received{{ID: fmt.Sprint(n), SHA256: sha256.Sum256(data), At: clock, Bytes: data}}
		if len(data) > 0 {
			e.Resources[0].JSON = data
		}
		require.NoError(t, s.Commit(ctx, e))
		got, err := s.Document(ctx, fmt.Sprint(n))
		require.NoError(t, err)
		assert.Equal(t, string(data), string(got.Bytes))
		assert.Equal(t, sha256.Sum256(data), got.SHA256)
		r, err := s.Get(ctx, "Task", fmt.Sprint(n))
		require.NoError(t, err)
		assert.Equal(t, string(e.Resources[0].JSON), string(r.JSON))
	}
	whole(t, s)
}

func erase(t *testing.T, h Harness) {
	s, ctx := h.New(t, store.Options{}), t.Context()
	patient, other := id("patient", 1), id("patient", 2)
	require.NoError(t, s.Commit(ctx, Order(1, clock)))
	require.NoError(t, s.Commit(ctx, Again(1, 2, clock.Add(time.Hour))))
	require.NoError(t, s.Commit(ctx, Order(2, clock)))
	both := small("Practitioner", "x", 1, clock)
	both.Received = []adapter.Received{{ID: "both", SHA256: sha256.Sum256(nil), At: clock, Patients: []string{patient, other, patient}}}
	both.Resources[0].Source = "both"
	require.NoError(t, s.Commit(ctx, both))

	ask := adapter.Erasure{Patient: patient, Before: clock.Add(time.Hour), Audit: audit("erasure", patient, clock)}
	ask.Audit.Private = nil
	var kept *adapter.Retained
	var invalid *adapter.Invalid
	before := exported(t, s)
	for _, spoil := range []func(*adapter.Erasure){
		func(e *adapter.Erasure) { e.Patient, e.Audit.Patient = "", "" }, func(e *adapter.Erasure) { e.Before = time.Time{} },
		func(e *adapter.Erasure) { e.Audit.Patient = other }, func(e *adapter.Erasure) { e.Audit.Private = []byte("x") }, func(e *adapter.Erasure) { e.Audit.Agent = "" },
	} {
		bad := ask
		spoil(&bad)
		_, err := s.Erase(ctx, bad)
		require.ErrorAs(t, err, &invalid)
	}
	_, err := s.Erase(ctx, ask)
	require.ErrorAs(t, err, &kept, "the newest entry is not older than the limit")
	require.Equal(t, before, exported(t, s))
	ask.Before = clock.Add(time.Hour + time.Microsecond)
	got, err := s.Erase(ctx, ask)
	require.NoError(t, err)
	assert.Equal(t, adapter.Erased{Documents: 2, Shared: 1, Resources: 10, Orders: 1, Worksheets: 2, Tasks: 4, Messages: 1}, got)

	var missing *adapter.NotFound
	_, err = s.Get(ctx, "Patient", patient)
	assert.ErrorAs(t, err, &missing)
	_, err = s.Document(ctx, id("document", 1))
	assert.ErrorAs(t, err, &missing)
	_, err = s.Case(ctx, patient)
	assert.ErrorAs(t, err, &missing)
	for typ, name := range map[string]string{"Patient": patient, "MedicationRequest": id("request", 1)} {
		found, err := s.ByIdentifier(ctx, typ, adapter.Identity{System: "urn:" + typ, Value: name})
		require.NoError(t, err)
		assert.Empty(t, found)
	}
	_, err = s.Document(ctx, "both")
	assert.NoError(t, err, "speaks of another patient too")
	_, err = s.Get(ctx, "Patient", other)
	assert.NoError(t, err)
	rows, err := s.Audit(ctx, adapter.AuditFilter{Patient: patient}, adapter.Page{Limit: 10})
	require.NoError(t, err)
	require.Len(t, rows.Rows, 3, "audit rows stay")
	for _, r := range rows.Rows {
		assert.Empty(t, r.Private)
	}
	rows, err = s.Audit(ctx, adapter.AuditFilter{Patient: other}, adapter.Page{Limit: 10})
	require.NoError(t, err)
	assert.NotEmpty(t, rows.Rows[0].Private)
	again := ask
	again.Audit.ID = "again"
	_, err = s.Erase(ctx, again)
	assert.ErrorAs(t, err, &missing)
	again.Patient, again.Audit.Patient, again.Audit.ID = other, other, "second"
	got, err = s.Erase(ctx, again)
	require.NoError(t, err)
	assert.Equal(t, int64(2), got.Documents, "the shared document goes with the last of its patients")
	n := whole(t, s)
	for _, table := range []string{"document", "document_patient", "identifier", "shelf_past", "patient_case", "order_head", "order_version", "worksheet", "outbox", "work", "reply"} {
		assert.Zero(t, n[table], table)
	}
	assert.Equal(t, int64(1), n["resource"], "the practitioner is nobody's record")
	assert.Equal(t, int64(1), n["shelf"])
	assert.Equal(t, int64(2), n["search_value"], "that it is there, and since when")
	assert.Equal(t, int64(6), n["audit"])
	for _, text := range []string{"urn:mrn", "cefazolin", "request-0000"} {
		assert.NotContains(t, string(exported(t, s)), text)
	}
}

func expired(t *testing.T, h Harness) {
	s, ctx := h.New(t, store.Options{}), t.Context()
	for n := range 5 {
		require.NoError(t, s.Commit(ctx, Order(n, clock.Add(time.Duration(n)*24*time.Hour))))
	}
	require.NoError(t, s.Commit(ctx, Again(0, 2, clock.Add(2*24*time.Hour))))
	before, keep := adapter.Retention{Days: 10}.Before(clock.Add(12 * 24 * time.Hour))
	require.True(t, keep)
	got, err := s.Expired(ctx, before, 10)
	require.NoError(t, err)
	assert.Equal(t, []string{id("patient", 1)}, got, "patient 0 has a newer entry, patient 2 is as old as the limit")
	got, err = s.Expired(ctx, before.Add(time.Microsecond), 2)
	require.NoError(t, err)
	assert.Equal(t, []string{id("patient", 0), id("patient", 1)}, got)
	_, keep = adapter.Retention{}.Before(clock)
	assert.False(t, keep)
}

// silentErrors: no text of an error holds what was sent.
func silentErrors(t *testing.T, h Harness) {
	s, ctx := h.New(t, store.Options{}), t.Context()
	const canary = "Zyxwvut"
	make := func(n int) adapter.Effect {
		e := Order(n, clock)
		e.Resources[0].Identifiers = []adapter.Identity{{System: "urn:" + canary, Value: canary, Once: true}}
		e.Orders[0].Key, e.Orders[0].Drug = canary, canary
		e.Worksheets[0].Key = canary
		return e
	}
	require.NoError(t, s.Commit(ctx, make(1)))
	over, cancel := context.WithCancel(ctx)
	cancel()
	var errs []error
	for n, spoil := range []func(*adapter.Effect){
		func(*adapter.Effect) {},
		func(e *adapter.Effect) { e.Resources[0].Identifiers = nil },
		func(e *adapter.Effect) { e.Worksheets[0].Key = canary + "2" },
		func(e *adapter.Effect) { e.Audit[0].Detail = canary + "\x00" },
		func(e *adapter.Effect) { e.Orders = nil },
		func(e *adapter.Effect) { e.Sent = []string{canary} },
	} {
		e := make(n + 2)
		spoil(&e)
		errs = append(errs, s.Commit(ctx, e))
	}
	_, err := s.Get(ctx, canary, canary)
	errs = append(errs, err, s.Commit(over, make(9)))
	_, err = s.Search(ctx, adapter.Query{Type: canary, All: []adapter.Criterion{{Name: canary, Any: []adapter.Match{{Op: "x", Text: canary}}}}}, adapter.Page{Limit: 1})
	errs = append(errs, err)
	_, err = s.Search(ctx, adapter.Query{Type: canary}, adapter.Page{Limit: 1, After: canary})
	errs = append(errs, err)
	for _, err := range errs {
		require.Error(t, err)
		assert.NotContains(t, fmt.Sprint(err), canary)
	}
}
