package intake_test

import (
	"context"
	"encoding/json"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/intake"
	"weir.example/weir/adapter/store"
	"weir.example/weir/adapter/store/sqlite"
	"weir.example/weir/conformance/schema"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/r4/googlefhir"
	"weir.example/weir/mapping/worksheet"
	"weir.example/weir/testdata/orders"
)

// desk is a service over an empty store.
type desk struct {
	*intake.Service
	store *sqlite.Store
}

func open(t testing.TB) desk {
	s, err := sqlite.Open(context.Background(), filepath.Join(t.TempDir(), "weir.db"), store.Options{Migrate: true})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, s.Close()) })
	ref, err := adapter.Reference(policy.Default(), nil, nil)
	require.NoError(t, err)
	var n atomic.Int64
	return desk{&intake.Service{Store: s, Reference: ref, Judges: []schema.Judge{googlefhir.Judge}, Base: "http://127.0.0.1:8765/fhir",
		NewID: func() string { return fmt.Sprintf("id-%06d", n.Add(1)) }}, s}
}

// items are the entries of a Bundle, each as a create.
func items(t testing.TB, data []byte, way intake.Way) []intake.Item {
	doc, faults := element.Read(data, element.Limit{})
	require.Empty(t, faults)
	var out []intake.Item
	last := map[string]int{} // a document may hold several versions; the newest stands last in ours
	for i, e := range doc.Root().Get("entry").Each() {
		last[e.Get("fullUrl").Text()] = i
	}
	for i, e := range doc.Root().Get("entry").Each() {
		if e.Get("resource").Get("resourceType").Text() == "MessageHeader" || last[e.Get("fullUrl").Text()] != i {
			continue
		}
		out = append(out, intake.Item{Way: way, Resource: e.Get("resource"), FullURL: e.Get("fullUrl").Text(), At: fmt.Sprintf("Bundle.entry[%d].resource", i)})
	}
	return out
}

func (d desk) send(t testing.TB, f orders.Fixture) []intake.Done {
	done, err := d.Receive(context.Background(), call(f), items(t, f.Document, intake.Create))
	require.NoError(t, err, f.Name)
	return done
}

func call(f orders.Fixture) intake.Call {
	return intake.Call{Now: f.Now, Agent: "operator", Request: "r-1", Media: "application/fhir+json", Bytes: f.Document}
}

// lines is the worklist.
func (d desk) lines(t testing.TB) []adapter.OrderLine {
	s, err := d.store.Orders(context.Background(), adapter.OrderFilter{}, adapter.Page{Limit: 1000})
	require.NoError(t, err)
	return s.Orders
}

func (d desk) sheet(t testing.TB, key string) worksheet.Worksheet {
	list, err := d.store.Worksheets(context.Background(), key, 1)
	require.NoError(t, err)
	require.Len(t, list, 1)
	var w worksheet.Worksheet
	require.NoError(t, json.Unmarshal(list[0].JSON, &w))
	return w
}

func (d desk) healthy(t testing.TB) adapter.Health {
	h, err := d.store.Check(context.Background())
	require.NoError(t, err)
	assert.Empty(t, h.Problems)
	return h
}

func codes(w worksheet.Worksheet) []string {
	var out []string
	for _, f := range w.Findings {
		out = append(out, f.Gate+" "+f.Code+" "+f.Observed)
	}
	for _, n := range w.NotChecked {
		out = append(out, n.Gate+" not checked "+n.Code+" "+strings.Join(n.Missing, ","))
	}
	slices.Sort(out)
	return out
}

// What is stored is judged as the document itself is.
func TestAStoredOrderIsJudgedAsItsDocument(t *testing.T) {
	for _, f := range orders.All() {
		if f.Base != "" || f.Name == "s7-daptomycin-discharge" { // judged by two versions of one Encounter, of which a store has one
			continue
		}
		d := open(t)
		d.send(t, f)
		answer := adapter.Verify(f.Document, adapter.Request{Now: f.Now, Stage: "intake", Reference: d.Reference, Judges: d.Judges})
		require.Empty(t, answer.Faults)
		assert.Len(t, d.lines(t), len(answer.Worksheets), f.Name)
		for _, w := range answer.Worksheets {
			got := d.sheet(t, w.Order.Key)
			assert.Equal(t, codes(w), codes(got), f.Name)
			assert.Equal(t, w.Verdict, got.Verdict, f.Name)
			assert.Equal(t, w.Order, withoutPlace(got.Order, w.Order), f.Name)
			assert.Equal(t, w.Kit, got.Kit, f.Name)
			assert.Equal(t, text(t, w.Deliveries), text(t, got.Deliveries), f.Name)
		}
		d.healthy(t)
	}
}

func text(t *testing.T, v any) string {
	data, err := json.Marshal(v)
	require.NoError(t, err)
	return string(data)
}

func withoutPlace(got, want worksheet.Order) worksheet.Order {
	got.Expression, got.PatientRef = want.Expression, want.PatientRef
	return got
}

func load(t testing.TB, name string) orders.Fixture {
	f, err := orders.Load(name)
	require.NoError(t, err)
	return f
}

// An equal document sent again, later, changes nothing at all.
func TestSentAgainNothingHappens(t *testing.T) {
	for _, f := range orders.All() {
		if f.Base != "" {
			continue
		}
		d := open(t)
		d.send(t, f)
		before := d.healthy(t).Rows
		f.Now = f.Now.Add(time.Second)
		for _, done := range d.send(t, f) {
			assert.Equal(t, intake.Same, done.Outcome, "%s %s", f.Name, done.Resource.Type)
		}
		assert.Equal(t, before, d.healthy(t).Rows, f.Name)
	}
}
