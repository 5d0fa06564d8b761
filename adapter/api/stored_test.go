package api_test

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/api"
	"weir.example/weir/adapter/store"
	"weir.example/weir/adapter/store/sqlite"
	"weir.example/weir/adapter/store/storetest"
	"weir.example/weir/mapping/element"
)

// desk is a door over an empty store, with a clock that is set.
type desk struct {
	http.Handler
	store *sqlite.Store
	log   *lines
	now   atomic.Pointer[time.Time]
}

func openStore(t testing.TB, change ...func(*api.Server)) *desk {
	s, err := sqlite.Open(context.Background(), filepath.Join(t.TempDir(), "weir.db"), store.Options{Migrate: true})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, s.Close()) })
	d := &desk{store: s}
	d.at(time.Date(2026, 11, 10, 19, 20, 0, 0, time.UTC))
	d.Handler, d.log = open(t, append([]func(*api.Server){func(x *api.Server) {
		x.Store = s
		x.Now = func() time.Time { return *d.now.Load() }
	}}, change...)...)
	return d
}

func (d *desk) at(t time.Time) { d.now.Store(&t) }

// transaction makes one of a fixture's Bundle: Patient and orders by their
// identifier, the rest plainly.
func transaction(t testing.TB, name, method string) []byte {
	var doc map[string]any
	require.NoError(t, json.Unmarshal(load(t, name).Document, &doc))
	doc["type"] = "transaction"
	delete(doc, "timestamp")
	var entries []any
	seen := map[any]bool{}
	for _, e := range doc["entry"].([]any) {
		one := e.(map[string]any)
		r := one["resource"].(map[string]any)
		kind := r["resourceType"].(string)
		if kind == "MessageHeader" || seen[one["fullUrl"]] {
			continue
		}
		seen[one["fullUrl"]] = true
		request := map[string]any{"method": "POST", "url": kind}
		if ids, ok := r["identifier"].([]any); ok && (kind == "Patient" || kind == "MedicationRequest") {
			id := ids[0].(map[string]any)
			by := fmt.Sprintf("identifier=%s|%s", id["system"], id["value"])
			if method == "PUT" {
				request = map[string]any{"method": "PUT", "url": kind + "?" + by}
			} else {
				request["ifNoneExist"] = by
			}
		}
		delete(one, "search")
		one["request"] = request
		entries = append(entries, one)
	}
	doc["entry"] = entries
	data, err := json.Marshal(doc)
	require.NoError(t, err)
	return data
}

func (d *desk) count(t testing.TB, kind string) int {
	s, err := d.store.Search(context.Background(), adapter.Query{Type: kind}, adapter.Page{Limit: 1000})
	require.NoError(t, err)
	return len(s.Resources)
}

func (d *desk) orders(t testing.TB) []adapter.OrderLine {
	s, err := d.store.Orders(context.Background(), adapter.OrderFilter{}, adapter.Page{Limit: 1000})
	require.NoError(t, err)
	return s.Orders
}

func (d *desk) stored(t testing.TB, kind, id string) adapter.Resource {
	r, err := d.store.Get(context.Background(), kind, id)
	require.NoError(t, err)
	return r
}

func (d *desk) rows(t testing.TB) map[string]int64 {
	h, err := d.store.Check(context.Background())
	require.NoError(t, err)
	assert.Empty(t, h.Problems)
	return h.Rows
}

const s1 = "s1-cefazolin-elastomeric"

func TestATransactionIsTakenInOnce(t *testing.T) {
	d := openStore(t)
	body := transaction(t, s1, "POST")
	first := fhir(t, ask(t, d, "POST", "/fhir", body), "Bundle")
	assert.Equal(t, "transaction-response", first.Get("type").Text())
	for _, e := range first.Get("entry").Each() {
		assert.Equal(t, "201 Created", e.Get("response").Get("status").Text())
	}
	require.Len(t, d.orders(t), 1)
	assert.Equal(t, "intake", d.orders(t)[0].Stage)
	before := d.rows(t)
	d.at(d.now.Load().Add(time.Hour))
	again := fhir(t, ask(t, d, "POST", "/fhir", body), "Bundle")
	duplicates := 0
	for i, e := range again.Get("entry").Each() {
		assert.Equal(t, "200 OK", e.Get("response").Get("status").Text(), i)
		assert.Equal(t, first.Get("entry").At(i).Get("response").Get("location").Text(), e.Get("response").Get("location").Text())
		if e.Get("response").Get("outcome").Get("issue").At(0).Get("details").Get("coding").At(0).Get("code").Text() == "identity-duplicate-message" {
			duplicates++
		}
	}
	assert.Equal(t, 1, duplicates, "said in the answer")
	assert.Equal(t, before, d.rows(t), "and nothing is stored")
}

// order takes the stored order of a desk, as JSON to be changed.
func (d *desk) order(t testing.TB) (adapter.OrderLine, map[string]any) {
	lines := d.orders(t)
	require.Len(t, lines, 1)
	var out map[string]any
	require.NoError(t, json.Unmarshal(d.stored(t, "MedicationRequest", lines[0].Resource).JSON, &out))
	return lines[0], out
}

func encode(t testing.TB, v any) []byte {
	data, err := json.Marshal(v)
	require.NoError(t, err)
	return data
}

func dose(order map[string]any) map[string]any {
	return order["dosageInstruction"].([]any)[0].(map[string]any)["doseAndRate"].([]any)[0].(map[string]any)["doseQuantity"].(map[string]any)
}

// A changed dose that comes as a create never vanishes: what is stored stays,
// the answer says so, and one task is made, however often it is sent.
func TestAChangeSentAsACreateBecomesATask(t *testing.T) {
	d := openStore(t)
	ask(t, d, "POST", "/fhir", transaction(t, s1, "POST"))
	line, order := d.order(t)
	dose(order)["value"] = 1
	delete(order, "id")
	id := order["identifier"].([]any)[0].(map[string]any)
	condition := fmt.Sprintf("identifier=%s|%s", id["system"], id["value"])
	for range 3 {
		w := ask(t, d, "POST", "/fhir/MedicationRequest", encode(t, order), "If-None-Exist", condition)
		require.Equal(t, 200, w.Code, w.Body.String())
		issue := fhir(t, w, "OperationOutcome").Get("issue").At(0)
		assert.Equal(t, "change-not-applied", issue.Get("details").Get("coding").At(0).Get("code").Text())
		assert.Contains(t, w.Header().Get("Location"), "MedicationRequest/"+line.Resource+"/_history/1")
	}
	whole := fhir(t, ask(t, d, "POST", "/fhir/MedicationRequest", encode(t, order), "If-None-Exist", condition, "Prefer", "return=representation"), "MedicationRequest")
	assert.Equal(t, line.Resource, whole.Get("id").Text())
	assert.Equal(t, int64(1), d.stored(t, "MedicationRequest", line.Resource).Version)
	reviews := 0
	for _, x := range storetest.Tasks(t, d.store, line.Key) {
		if x.Code == "review-unapplied-change" {
			reviews++
		}
	}
	assert.Equal(t, 1, reviews)
	order["status"] = "stopped"
	ask(t, d, "POST", "/fhir/MedicationRequest", encode(t, order))
	assert.Equal(t, 2, strings.Count(fmt.Sprint(storetest.Tasks(t, d.store, line.Key)), "review-unapplied-change"), "another change is another task, without a condition too")
}

func statuses(t testing.TB, d *desk, kind string) map[string]int {
	s, err := d.store.Search(context.Background(), adapter.Query{Type: kind}, adapter.Page{Limit: 1000})
	require.NoError(t, err)
	out := map[string]int{}
	for _, r := range s.Resources {
		doc, _ := element.Read(r.JSON, element.Limit{})
		out[doc.Root().Get("status").Text()]++
	}
	return out
}

// The placer's update: a new version is judged, what no longer follows is
// cancelled; an older one is refused, kept and not applied; a stop ends the
// request to fulfil.
func TestThePlacersFeed(t *testing.T) {
	d := openStore(t)
	require.Equal(t, 200, ask(t, d, "POST", "/fhir", transaction(t, s1, "PUT")).Code)
	line, order := d.order(t)
	id := order["identifier"].([]any)[0].(map[string]any)
	address := fmt.Sprintf("/fhir/MedicationRequest?identifier=%s%%7C%s", id["system"], id["value"])
	dispenses := statuses(t, d, "MedicationDispense")
	send := func(status int) *httptest.ResponseRecorder {
		t.Helper()
		d.at(d.now.Load().Add(time.Minute))
		w := ask(t, d, "PUT", address, encode(t, order))
		require.Equal(t, status, w.Code, w.Body.String())
		return w
	}
	order["meta"] = map[string]any{"versionId": "2", "lastUpdated": "2026-11-10T18:00:00-05:00"}
	dose(order)["value"] = 1
	assert.Equal(t, `W/"2"`, send(200).Header().Get("ETag"))
	now := statuses(t, d, "MedicationDispense")
	total := 0
	for _, n := range dispenses {
		total += n
	}
	assert.Equal(t, total, now["cancelled"], "the older version's dispenses: %v", now)
	assert.NotZero(t, statuses(t, d, "DetectedIssue")["cancelled"])
	after, _ := d.order(t)
	assert.Equal(t, int64(2), after.Number)
	assert.NotEqual(t, line.Version, after.Version)

	order["meta"] = map[string]any{"versionId": "1", "lastUpdated": "2026-11-10T09:00:00-05:00"}
	dose(order)["value"] = 2
	w := send(409)
	assert.Equal(t, "nightly-older-message", fhir(t, w, "OperationOutcome").Get("issue").At(0).Get("details").Get("coding").At(0).Get("code").Text())
	assert.Equal(t, int64(2), d.stored(t, "MedicationRequest", line.Resource).Version)

	order["meta"] = map[string]any{"versionId": "3", "lastUpdated": "2026-11-10T19:00:00-05:00"}
	dose(order)["value"] = 1
	order["status"] = "stopped"
	send(200)
	stopped, _ := d.order(t)
	assert.Equal(t, "stopped", stopped.State)
	for _, x := range storetest.Tasks(t, d.store, line.Key) {
		if x.Code == "fulfill" {
			assert.Equal(t, "cancelled", x.Status)
		}
	}
	list, err := d.store.Worksheets(context.Background(), line.Key, 1)
	require.NoError(t, err)
	assert.Contains(t, string(list[0].JSON), "nightly-stopped")
	d.rows(t)
}

func TestAnUpdateNamesWhatItReplaces(t *testing.T) {
	d := openStore(t)
	ask(t, d, "POST", "/fhir", transaction(t, s1, "POST"))
	line, order := d.order(t)
	order["note"] = []any{map[string]any{"text": "seen"}}
	address := "/fhir/MedicationRequest/" + line.Resource
	for header, want := range map[string]int{"": 428, `"1"`: 400, "W/1": 400, `W/"0"`: 400, `W/"2"`: 412, `W/"99999999999999999999"`: 400} {
		args := []string{"If-Match", header}
		if header == "" {
			args = nil
		}
		assert.Equal(t, want, ask(t, d, "PUT", address, encode(t, order), args...).Code, header)
	}
	w := ask(t, d, "PUT", address, encode(t, order), "If-Match", `W/"1"`)
	require.Equal(t, 200, w.Code, w.Body.String())
	assert.Equal(t, `W/"2"`, w.Header().Get("ETag"))
	assert.Equal(t, 412, ask(t, d, "PUT", address, encode(t, order), "If-Match", `W/"1"`).Code)
	order["id"] = "nobody"
	assert.Equal(t, 405, ask(t, d, "PUT", "/fhir/MedicationRequest/nobody", encode(t, order), "If-Match", `W/"1"`).Code)
	assert.Equal(t, 400, ask(t, d, "PUT", address, encode(t, order), "If-Match", `W/"2"`).Code, "id of address and resource differ")
}

// A batch answers each entry for itself; a bad one never sinks the rest.
func TestABatchAnswersEachEntry(t *testing.T) {
	d := openStore(t)
	patient := `{"resourceType":"Patient","identifier":[{"system":"urn:oid:1.2.3","value":"%s"}],"name":[{"family":"Lindqvist","given":["Ada"]}],"birthDate":"1980-01-02"}`
	entry := func(method, url, resource string) string {
		if resource != "" {
			resource = `"resource":` + resource + `,`
		}
		return `{` + resource + `"request":{"method":"` + method + `","url":"` + url + `"}}`
	}
	body := `{"resourceType":"Bundle","type":"batch","entry":[` + strings.Join([]string{
		entry("POST", "Patient", fmt.Sprintf(patient, "a")),
		entry("POST", "Patient", `{"resourceType":"Patient","birthDate":"no date"}`),
		entry("PUT", "Patient?identifier=urn:oid:1.2.3|b", fmt.Sprintf(patient, "b")),
		entry("POST", "Observation", fmt.Sprintf(patient, "c")),
		entry("DELETE", "Patient/x", "")}, ",") + `]}`
	answer := fhir(t, ask(t, d, "POST", "/fhir", []byte(body)), "Bundle")
	var got []string
	for _, e := range answer.Get("entry").Each() {
		got = append(got, e.Get("response").Get("status").Text()[:3])
	}
	assert.Equal(t, []string{"201", "400", "201", "400", "405"}, got)
	assert.Contains(t, string(answer.Get("entry").At(1).Raw()), "Bundle.entry[1]")
	assert.Equal(t, 2, d.count(t, "Patient"))
}

// A transaction is all or nothing.
func TestATransactionWithAFaultLeavesNothing(t *testing.T) {
	for name, change := range map[string]func(string) string{
		"an order without a patient": func(s string) string { return strings.Replace(s, "pat-004417", "pat-other", 1) },
		"a reference to none": func(s string) string {
			return strings.Replace(s, `"method":"POST"`, `"method":"PATCH"`, 1)
		},
		"another type": func(s string) string { return strings.Replace(s, `"type":"transaction"`, `"type":"collection"`, 1) },
	} {
		d := openStore(t)
		w := ask(t, d, "POST", "/fhir", []byte(change(string(transaction(t, s1, "POST")))))
		assert.GreaterOrEqual(t, w.Code, 400, name)
		assert.Less(t, w.Code, 500, name)
		fhir(t, w, "OperationOutcome")
		assert.Zero(t, d.rows(t)["resource"], name)
	}
}

func message(t testing.TB, name string) []byte {
	f := load(t, name)
	return f.Document
}

// The same message gets the same answer; another under its id is refused.
func TestAMessageIsAnsweredOnce(t *testing.T) {
	d := openStore(t)
	d.at(load(t, "s2-vancomycin-kidneys").Now)
	body := message(t, "s2-vancomycin-kidneys")
	first := ask(t, d, "POST", "/fhir/$process-message", body)
	require.Equal(t, 200, first.Code, first.Body.String())
	root := fhir(t, first, "Bundle")
	header := root.Get("entry").At(0).Get("resource")
	assert.Equal(t, "ok", header.Get("response").Get("code").Text())
	assert.NotZero(t, d.count(t, "Task"))
	before := d.rows(t)
	d.at(d.now.Load().Add(time.Hour))
	assert.Equal(t, first.Body.String(), ask(t, d, "POST", "/fhir/$process-message", body).Body.String())
	assert.Equal(t, before, d.rows(t))
	var again any
	require.NoError(t, json.Unmarshal(body, &again))
	assert.Equal(t, first.Body.String(), ask(t, d, "POST", "/fhir/$process-message", encode(t, again)).Body.String(), "written in another way")
	other := strings.Replace(string(body), "vancomycin", "Vancomycin", 1)
	w := ask(t, d, "POST", "/fhir/$process-message", []byte(other))
	assert.Equal(t, 409, w.Code)
	assert.Equal(t, 400, ask(t, d, "POST", "/fhir/$process-message?async=true", body).Code)
	assert.Equal(t, 400, ask(t, d, "POST", "/fhir/$process-message?response-url=https://elsewhere.example/x", body).Code)
	assert.Equal(t, 400, ask(t, d, "POST", "/fhir/$process-message", load(t, s1).Document).Code)
}

// Sixty-four clients create one order at once: it is there once, and all of
// them get it.
func TestManyClientsCreateOneOrder(t *testing.T) {
	d := openStore(t, func(s *api.Server) { s.Limits = api.Limits{AtOnce: 64, Waiting: time.Minute} })
	body := transaction(t, s1, "POST")
	var created, found atomic.Int32
	var wait sync.WaitGroup
	for range 64 {
		wait.Go(func() {
			w := ask(t, d, "POST", "/fhir", body)
			if assert.Equal(t, 200, w.Code, w.Body.String()) {
				created.Add(int32(strings.Count(w.Body.String(), `"location":"MedicationRequest/`) * strings.Count(w.Body.String(), "201 Created") / max(1, strings.Count(w.Body.String(), "201 Created"))))
				found.Add(1)
			}
		})
	}
	wait.Wait()
	assert.Len(t, d.orders(t), 1)
	assert.Equal(t, 1, d.count(t, "Patient"))
	assert.Equal(t, 1, d.count(t, "MedicationRequest"))
	d.rows(t)
}
