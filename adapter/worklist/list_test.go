package worklist_test

import (
	"context"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/worklist"
	"weir.example/weir/testdata/orders"
)

// TestThePagesOfTheList: each order once, in the store's order, with limits
// that hold on every page.
func TestThePagesOfTheList(t *testing.T) {
	s, list := seeded(t, scenarios(t))
	p := pages(s)
	p.Rows = 3
	h := p.Handler()
	for _, from := range []string{"/", "/?verdict=block", "/?due=week", "/?state=active&verdict=block&due=passed"} {
		var got []string
		for path := from; path != ""; {
			one := open(t, h, path)
			path = ""
			for _, a := range one.find("a") {
				to, _ := attr(a, "href")
				if strings.HasPrefix(to, "/orders/") {
					got = append(got, to)
				}
				if textOf(a, nil) == "Next page" {
					path = to
				}
			}
		}
		var want []string
		filter := adapter.OrderFilter{}
		switch from {
		case "/?verdict=block":
			filter.Verdict = "block"
		case "/?due=week":
			filter.DueBefore = clock.Add(7 * 24 * time.Hour)
		case "/?state=active&verdict=block&due=passed":
			filter = adapter.OrderFilter{State: "active", Verdict: "block", DueBefore: clock}
		}
		all, err := s.Orders(context.Background(), filter, adapter.Page{Limit: 1000})
		require.NoError(t, err)
		for _, o := range all.Orders {
			want = append(want, "/orders/"+o.Resource)
		}
		assert.Equal(t, want, got, from)
		assert.NotEmpty(t, got, from)
	}
	assert.Len(t, list, 20)
	for _, path := range []string{"/?verdict=fine", "/?state=x", "/?due=soon", "/?due=day&until=x", "/?name=x", "/?verdict=hold&verdict=block", "/?after=forged"} {
		assert.Equal(t, http.StatusBadRequest, get(t, h, path).Code, path)
	}
}

// TestTheListSaysWhatIsWrongAndWhatIsNext for S3: a rate typed wrong.
func TestTheListSaysWhatIsWrongAndWhatIsNext(t *testing.T) {
	f, err := orders.Load("s3-fluorouracil-46h")
	require.NoError(t, err)
	s, _ := seeded(t, []orders.Fixture{f})
	p := open(t, pages(s).Handler(), "/")
	for _, text := range []string{"Block", "Tomasz Lindqvist-Mbeki", "born 14 Jan 1968", "number FT-118230", "fluorouracil", "The stated numbers cannot all be true", "and 7 more points", "Complete intake; accept or refuse the order",
		"pharmacist, Fri 30 Oct 2026 14:10 EDT passed more than 11 days ago"} {
		p.has(text)
	}
}

func TestAnEmptyRecordSaysWhatToDo(t *testing.T) {
	h := pages(opened(t)).Handler()
	p := open(t, h, "/")
	p.has("No orders yet")
	p.has("curl -sS -H 'Content-Type: application/fhir+json' --data-binary @order.json http://127.0.0.1:8765/fhir")
	open(t, h, "/?verdict=block").has("No order is like that")
	assert.Equal(t, http.StatusNotFound, get(t, h, "/orders/none").Code)
	assert.Equal(t, http.StatusNotFound, get(t, h, "/elsewhere").Code)
}

// TestWhatIsNotJudgedOrNotReadIsSaid: silence is never a pass.
func TestWhatIsNotJudgedOrNotReadIsSaid(t *testing.T) {
	f, err := orders.Load("s1-fixed")
	require.NoError(t, err)
	ref := reference(t)
	for name, change := range map[string]func(*adapter.Effect){
		"none":   func(e *adapter.Effect) { e.Worksheets = nil },
		"broken": func(e *adapter.Effect) { e.Worksheets[0].JSON = []byte(`{"verdict":7}`) },
	} {
		s := opened(t)
		e, k := judged(t, ref, f, "w-")
		change(&e)
		require.NoError(t, s.Commit(context.Background(), e))
		h := pages(s).Handler()
		p, order := open(t, h, "/"), get(t, h, k[0].Path)
		if name == "none" {
			p.has("Not judged yet: do not act on it")
			parsed(t, order.Body.String()).has("This order has not been judged yet. Do not act on it.")
			continue
		}
		p.has("The stored answer cannot be read")
		p.has("Not decided")
		assert.Equal(t, http.StatusInternalServerError, order.Code)
		assert.NotContains(t, order.Body.String(), "Ready")
	}
}

// TestATaskOfTheRecordAlone: one that no worksheet asks for, such as a change
// that was not applied, is shown with its own words; a task that is done, as done.
func TestATaskOfTheRecordAlone(t *testing.T) {
	f, err := orders.Load("s1-cefazolin-elastomeric")
	require.NoError(t, err)
	s := opened(t)
	e, k := judged(t, reference(t), f, "w-")
	first := slices.IndexFunc(e.Resources, func(r adapter.Resource) bool { return r.ID == "w-task-0-0" })
	e.Resources[first] = k[0].made(said{"w-task-0-0", k[0].Sheet.Tasks[0].Code, k[0].Sheet.Tasks[0].Role, "completed", k[0].Sheet.Tasks[0].Due, ""})
	due := f.Now.Format(time.RFC3339)
	asked := k[0].made(said{"w-asked", "abort", "pharmacist", "requested", due, "The sender asks to abort the order"})
	asked.Source, asked.Order = "w-document", ""
	older := k[0].made(said{"w-change-2", "review-of-ours", "pharmacist", "requested", due, "Read the other change"})
	older.Order = "" // as in a store that was moved to shelves: it lies with what it is about
	e.Resources = append(e.Resources, asked, older, k[0].made(said{"w-change", "review-of-ours", "pharmacist", "requested", due, "Read the change that was not applied"}))
	require.NoError(t, s.Commit(context.Background(), e))
	p := open(t, pages(s).Handler(), k[0].Path)
	p.has("Read the change that was not applied")
	p.has("Read the other change")
	assert.NotContains(t, p.text, "The sender asks to abort the order", "it is the sender's")
	p.has("done when: every intake row present, or the refusal with its reason done")
	open(t, pages(s).Handler(), "/").has("Check the order and its numbers; call the prescriber about every hold")
}

// failing is a store that cannot be read.
type failing struct{ adapter.Store }

func (failing) Orders(context.Context, adapter.OrderFilter, adapter.Page) (adapter.OrderSlice, error) {
	return adapter.OrderSlice{}, &adapter.Unavailable{Code: "disk-secret"}
}

func TestARecordThatIsAwayIsSaid(t *testing.T) {
	w := get(t, worklist.Pages{Store: failing{}, Now: func() time.Time { return clock }}.Handler(), "/")
	assert.Equal(t, http.StatusServiceUnavailable, w.Code)
	assert.Equal(t, "5", w.Header().Get("Retry-After"))
	assert.NotContains(t, w.Body.String(), "disk-secret")
	assert.Contains(t, w.Body.String(), "cannot be read at the moment")
}

// TestAChangedOrderIsNotShownAsJudged: an answer of an older version never
// stands for the order as it is now.
func TestAChangedOrderIsNotShownAsJudged(t *testing.T) {
	f, err := orders.Load("s1-fixed")
	require.NoError(t, err)
	s := opened(t)
	e, k := judged(t, reference(t), f, "w-")
	require.Equal(t, "ready", k[0].Line.Verdict)
	require.NoError(t, s.Commit(context.Background(), e))
	next := adapter.OrderWrite{Change: adapter.OrderNew, OrderLine: k[0].Line}
	next.Number, next.Version = 2, hash("another")
	require.NoError(t, s.Commit(context.Background(), adapter.Effect{At: f.Now, Orders: []adapter.OrderWrite{next}, Audit: []adapter.AuditRow{{ID: "a2", At: f.Now, Action: "U", Agent: "local-operator"}}}))
	h := pages(s).Handler()
	list, order := open(t, h, "/"), open(t, h, k[0].Path)
	list.has("Changed since it was judged: do not act on it")
	order.has("The order has changed: it is now version 2, and the answer below is of version 1. Do not act on it.")
	for _, p := range []page{list, order} {
		p.has("Not decided")
	}
	assert.NotContains(t, order.text, "Nothing holds it")
}

// TestAnotherPatientsResourceIsNeverShown, whatever an order refers to.
func TestAnotherPatientsResourceIsNeverShown(t *testing.T) {
	f, err := orders.Load("s1-fixed")
	require.NoError(t, err)
	s := opened(t)
	e, k := judged(t, reference(t), f, "w-")
	e.Resources = append(e.Resources, adapter.Resource{Type: "Observation", ID: "foreign", Version: 1, Updated: f.Now, Patient: "another", JSON: []byte(`{"resourceType":"Observation","id":"foreign","note":[{"text":"secret of another"}]}`)})
	for i := range e.Resources {
		if r := &e.Resources[i]; r.Type == "MedicationRequest" {
			r.JSON = []byte(strings.Replace(string(r.JSON), `{`, `{"supportingInformation":[{"reference":"Observation/foreign"}],`, 1))
		}
	}
	require.NoError(t, s.Commit(context.Background(), e))
	p := open(t, pages(s).Handler(), k[0].Path)
	p.has("Observation/foreign is named by the order or by its answer and is not in the patient's record")
	assert.NotContains(t, p.raw, "secret of another")
}

// TestAStoppedOrderSaysSo.
func TestAStoppedOrderSaysSo(t *testing.T) {
	f, err := orders.Load("s1-fixed")
	require.NoError(t, err)
	s := opened(t)
	e, k := judged(t, reference(t), f, "w-")
	e.Orders[0].State = "stopped"
	require.NoError(t, s.Commit(context.Background(), e))
	h := pages(s).Handler()
	open(t, h, k[0].Path).has("The order is stopped: nothing more is made, sent or started for it without a call.")
	open(t, h, "/?state=stopped").has("Amara Okonkwo-Reyes")
	open(t, h, "/?state=active").has("No order is like that")
}
