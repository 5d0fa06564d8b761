package worklist_test

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/httptest"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/index"
	"weir.example/weir/adapter/store"
	"weir.example/weir/adapter/store/sqlite"
	"weir.example/weir/adapter/worklist"
	"weir.example/weir/conformance"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/worksheet"
	"weir.example/weir/testdata/orders"
)

// pharmacy is the name on the pages of all tests.
const pharmacy = "Lanternlight Home Infusion"

func reference(t testing.TB) policy.Reference {
	p, err := policy.Load(nil)
	require.NoError(t, err)
	ref, err := adapter.Reference(p, nil, nil)
	require.NoError(t, err)
	return ref
}

func opened(t testing.TB) *sqlite.Store {
	s, err := sqlite.Open(context.Background(), t.TempDir()+"/weir.db", store.Options{Migrate: true})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, s.Close()) })
	return s
}

// kept is one order of the store, as a test knows it.
type kept struct {
	Fixture orders.Fixture
	Sheet   worksheet.Worksheet
	Line    adapter.OrderLine
	Path    string
}

// said is what a task of the record says.
type said struct{ ID, Code, Role, Status, Due, Description string }

// made is a task that was made for an order.
func (k kept) made(x said) adapter.Resource {
	coding := func(system, code string) map[string]any {
		return map[string]any{"coding": []any{map[string]any{"system": "https://weir.example/fhir/CodeSystem/" + system, "code": code}}}
	}
	body := map[string]any{"resourceType": "Task", "id": x.ID, "status": x.Status, "code": coding("task", x.Code), "description": x.Description,
		"focus": map[string]any{"reference": "MedicationRequest/" + k.Line.Resource}, "performerType": []any{coding("role", x.Role)}}
	if x.Due != "" {
		body["restriction"] = map[string]any{"period": map[string]any{"end": x.Due}}
	}
	text, _ := json.Marshal(body)
	r := adapter.Resource{Type: "Task", ID: x.ID, Version: 1, Updated: k.Line.Updated, Patient: k.Line.Patient, Order: k.Line.Key, JSON: text}
	r.Identifiers, r.Values = index.Of(element.ReadAgain(text, 1).Root())
	return r
}

var inSet = regexp.MustCompile(`^MedicationRequest\.where\(id='([^']+)'\)`)

// judged makes the effects that an intake would: the resources under ids of
// ours, the answers, the lines and the tasks.
func judged(t testing.TB, ref policy.Reference, f orders.Fixture, prefix string) (adapter.Effect, []kept) {
	list := f.Resources(prefix)
	set := conformance.Set{Document: hash(string(f.Document)), Reference: ref, Now: f.Now, Stage: finding.Stage(f.Stage)}
	e := adapter.Effect{At: f.Now, Audit: []adapter.AuditRow{{ID: prefix + "audit", At: f.Now, Action: "C", Outcome: "0", Agent: "local-operator"}}}
	patient := ""
	type stored struct {
		adapter.Resource
		name string
	}
	var all []stored
	for _, r := range list {
		var head struct{ ID string }
		require.NoError(t, json.Unmarshal(r.Line, &head))
		one := stored{adapter.Resource{Type: r.Type, ID: head.ID, Version: 1, Updated: f.Now, Source: prefix + "document", JSON: r.Line}, fmt.Sprintf("%s.where(id='%s')", r.Type, head.ID)}
		if slices.ContainsFunc(all, func(s stored) bool { return s.name == one.name }) {
			continue // of two versions the store holds one
		}
		if r.Type == "Patient" && patient == "" {
			patient = head.ID
		}
		all = append(all, one)
	}
	slices.SortFunc(all, func(a, b stored) int { return strings.Compare(a.name, b.name) })
	for _, r := range all {
		r.Patient = patient
		if !slices.Contains([]string{"MessageHeader", "OperationOutcome"}, r.Type) {
			e.Resources = append(e.Resources, r.Resource)
		}
		set.Resources, set.Names = append(set.Resources, r.JSON), append(set.Names, r.name)
	}
	var out []kept
	for i, w := range conformance.JudgeSet(set) {
		text, err := json.Marshal(w)
		require.NoError(t, err)
		m := inSet.FindStringSubmatch(w.Order.Expression)
		require.NotNil(t, m, w.Order.Expression)
		key := prefix + w.Order.Key
		k := kept{Fixture: f, Sheet: w, Path: "/orders/" + m[1], Line: adapter.OrderLine{Key: key, Number: 1, Version: hash(key), Patient: patient, Resource: m[1], Drug: w.Order.Drug, State: "active",
			Verdict: w.Verdict, Stage: w.Stage, Weight: int64(adapter.Gate(w).Weight()), Updated: f.Now}}
		for j, x := range w.Tasks {
			due, _ := time.Parse(time.RFC3339, x.Due)
			status := "requested"
			if x.Prepares && w.Verdict != "ready" {
				status = "draft"
			}
			if k.Line.Due.IsZero() {
				k.Line.Due = due
			}
			e.Resources = append(e.Resources, k.made(said{fmt.Sprintf("%stask-%d-%d", prefix, i, j), x.Code, x.Role, status, x.Due, x.Title}))
		}
		e.Resources = append(e.Resources, k.made(said{fmt.Sprintf("%stask-%d", prefix, i), "fulfill", "pharmacist", "requested", "", "Fulfil the order"}))
		e.Orders = append(e.Orders, adapter.OrderWrite{Change: adapter.OrderNew, OrderLine: k.Line})
		e.Worksheets = append(e.Worksheets, adapter.StoredSheet{ID: fmt.Sprintf("%ssheet-%d", prefix, i), Key: key, Number: 1, Patient: patient, Stage: w.Stage, Verdict: w.Verdict, Made: f.Now, JSON: text})
		out = append(out, k)
	}
	return e, out
}

func hash(text string) string {
	sum := sha256.Sum256([]byte(text))
	return hex.EncodeToString(sum[:])
}

// scenarios are the base cases, and variants that show what they do not: a
// timetable of the lumens, doses at odds with the limits, ranges, a ready order.
func scenarios(t testing.TB) []orders.Fixture {
	var out []orders.Fixture
	for _, f := range orders.All() {
		if f.Base == "" {
			out = append(out, f)
		}
	}
	for _, name := range []string{"s1-fixed", "s2-ceftriaxone-together", "s2-milrinone-one-lumen", "s1-interval-range", "s3-tip-unknown", "s1-zone-unknown", "s1-weight-in-pounds", "s7-dose-tenfold", "s5-made-right"} {
		f, err := orders.Load(name)
		require.NoError(t, err)
		out = append(out, f)
	}
	return out
}

// seeded is a store with the fixtures, each under ids of its own.
func seeded(t testing.TB, list []orders.Fixture) (*sqlite.Store, []kept) {
	s, ref := opened(t), reference(t)
	var out []kept
	for i, f := range list {
		e, k := judged(t, ref, f, fmt.Sprintf("w%d-", i+1))
		require.NoError(t, s.Commit(context.Background(), e), f.Name)
		out = append(out, k...)
	}
	return s, out
}

var clock = time.Date(2026, 11, 10, 19, 30, 0, 0, time.UTC)

func pages(s adapter.Store) worklist.Pages {
	zone, _ := time.LoadLocation("America/New_York")
	return worklist.Pages{Store: s, Now: func() time.Time { return clock }, Name: pharmacy, Zone: zone}
}

func get(t testing.TB, h http.Handler, path string) *httptest.ResponseRecorder {
	w := httptest.NewRecorder()
	h.ServeHTTP(w, httptest.NewRequest("GET", path, nil))
	return w
}
