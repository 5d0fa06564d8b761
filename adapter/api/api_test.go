package api_test

import (
	"bytes"
	"compress/gzip"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/api"
	"weir.example/weir/conformance/schema"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/r4"
	"weir.example/weir/mapping/r4/googlefhir"
	"weir.example/weir/testdata/orders"
)

const verify = "/fhir/MedicationRequest/$verify"

// open is a door over invented orders, with its log.
func open(t testing.TB, change ...func(*api.Server)) (http.Handler, *lines) {
	ref, err := adapter.Reference(policy.Default(), nil, nil)
	require.NoError(t, err)
	log := &lines{}
	var n atomic.Int32
	s := api.Server{Reference: ref, Judges: []schema.Judge{googlefhir.Judge}, Now: func() time.Time { return time.Date(2026, 11, 10, 19, 20, 0, 0, time.UTC) },
		NewID: func() string { return fmt.Sprintf("made-%d", n.Add(1)) }, Public: "http://127.0.0.1:8765", Version: "0.0.0", Log: slog.New(slog.NewJSONHandler(log, nil))}
	for _, f := range change {
		f(&s)
	}
	return s.Handler(), log
}

// lines is a log that several requests write.
type lines struct {
	mu sync.Mutex
	bytes.Buffer
}

func (l *lines) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.Buffer.Write(p)
}

func ask(t testing.TB, h http.Handler, method, address string, body []byte, header ...string) *httptest.ResponseRecorder {
	t.Helper()
	r := httptest.NewRequest(method, address, bytes.NewReader(body))
	if body != nil {
		r.Header.Set("Content-Type", "application/fhir+json")
	}
	for i := 0; i+1 < len(header); i += 2 {
		r.Header.Set(header[i], header[i+1])
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

// fhir is the answer read by our strict reader and judged as R4.
func fhir(t testing.TB, w *httptest.ResponseRecorder, kind string) element.Node {
	t.Helper()
	assert.Equal(t, "application/fhir+json; charset=utf-8; fhirVersion=4.0", w.Header().Get("Content-Type"))
	doc, faults := element.Read(w.Body.Bytes(), element.Limit{})
	require.Empty(t, faults, w.Body.String())
	assert.Empty(t, schema.Check(doc, googlefhir.Judge))
	require.Equal(t, kind, doc.Root().Get("resourceType").Text(), w.Body.String())
	return doc.Root()
}

func load(t testing.TB, name string) orders.Fixture {
	f, err := orders.Load(name)
	require.NoError(t, err)
	return f
}

func parameters(t testing.TB, order []byte, more ...string) []byte {
	list := []string{`{"name":"order","resource":` + string(order) + `}`}
	return []byte(`{"resourceType":"Parameters","parameter":[` + strings.Join(append(list, more...), ",") + `]}`)
}

// What the door answers is what verify answers, to the byte, whatever is
// found.
func TestVerifyAnswersAsTheProgramDoes(t *testing.T) {
	h, _ := open(t)
	ref, err := adapter.Reference(policy.Default(), nil, nil)
	require.NoError(t, err)
	for _, f := range orders.All() {
		if f.Base != "" {
			continue
		}
		f.Document = bytes.TrimSpace(f.Document) // the same bytes, and with them the same hash, inside Parameters
		want := r4.WriteBundlesLine(adapter.Verify(f.Document, adapter.Request{Now: f.Now, Stage: "release", Reference: ref, Judges: []schema.Judge{googlefhir.Judge}}).Worksheets)
		w := ask(t, h, http.MethodPost, verify, parameters(t, f.Document, `{"name":"now","valueInstant":"`+f.Now.Format(time.RFC3339)+`"}`))
		require.Equal(t, http.StatusOK, w.Code, f.Name)
		assert.True(t, string(want) == w.Body.String(), f.Name)
		fhir(t, w, "Bundle")
	}
}

func TestABareBundleIsJudgedAtTheServersClock(t *testing.T) {
	h, _ := open(t)
	root := fhir(t, ask(t, h, http.MethodPost, verify, load(t, "s1-cefazolin-elastomeric").Document), "Bundle")
	assert.Equal(t, "2026-11-10T14:20:00-05:00", root.Get("timestamp").Text(), "in the patient's own time")
	pretty := ask(t, h, http.MethodPost, verify+"?_pretty=true&_format=json", load(t, "s1-cefazolin-elastomeric").Document)
	assert.Contains(t, pretty.Body.String(), "\n  \"")
}

func TestAnOwnPolicyCounts(t *testing.T) {
	h, _ := open(t)
	f := load(t, "s1-cefazolin-elastomeric")
	site, err := json.Marshal("gates: {device-family: block}\ndevice: {tolerance: 0.2}\n")
	require.NoError(t, err)
	w := ask(t, h, http.MethodPost, verify, parameters(t, f.Document, `{"name":"policy","valueString":`+string(site)+`}`))
	assert.NotEqual(t, ask(t, h, http.MethodPost, verify, parameters(t, f.Document)).Body.String(), w.Body.String())
	fhir(t, w, "Bundle")
}

// Every refusal is an OperationOutcome with a code of ours, and repeats
// nothing of the request.
func TestRefusals(t *testing.T) {
	h, _ := open(t, func(s *api.Server) { s.Limits.Body = 200_000 })
	good := load(t, "s1-cefazolin-elastomeric").Document
	var packed bytes.Buffer
	z := gzip.NewWriter(&packed)
	_, err := z.Write(bytes.Repeat([]byte(" "), 300_000))
	require.NoError(t, err)
	require.NoError(t, z.Close())
	const secret = "Secretname-Q7"
	for name, c := range map[string]struct {
		method, address string
		body            []byte
		header          []string
		status          int
		code            string
	}{
		"no JSON":                       {"POST", verify, []byte(`{"resourceType":"Bundle","x":"` + secret), nil, 400, "document-json"},
		"a value that is none":          {"POST", verify, []byte(`{"resourceType":"Bundle","type":"` + secret + `"}`), nil, 400, "document-value"},
		"an unknown element":            {"POST", verify, []byte(`{"resourceType":"Bundle","type":"collection","family":"` + secret + `"}`), nil, 400, "document-structure"},
		"a resource that holds none":    {"POST", verify, []byte(`{"resourceType":"Patient","name":[{"family":"` + secret + `"}]}`), nil, 422, "document-unsupported"},
		"a Bundle without an order":     {"POST", verify, []byte(`{"resourceType":"Bundle","type":"collection"}`), nil, 422, "document-unsupported"},
		"another type":                  {"POST", verify, good, []string{"Content-Type", "application/fhir+xml"}, 415, "media-not-read"},
		"no type":                       {"POST", verify, good, []string{"Content-Type", ""}, 415, "media-not-read"},
		"another charset":               {"POST", verify, good, []string{"Content-Type", "application/fhir+json; charset=latin1"}, 415, "media-not-read"},
		"another FHIR version":          {"POST", verify, good, []string{"Content-Type", "application/fhir+json; fhirVersion=5.0"}, 415, "media-not-read"},
		"another coding":                {"POST", verify, good, []string{"Content-Encoding", "br"}, 415, "media-not-read"},
		"gzip that is none":             {"POST", verify, good, []string{"Content-Encoding", "gzip"}, 400, "body-unreadable"},
		"too long":                      {"POST", verify, bytes.Repeat([]byte(" "), 200_001), nil, 413, "body-too-long"},
		"too long when unpacked":        {"POST", verify, packed.Bytes(), []string{"Content-Encoding", "gzip"}, 413, "body-too-long"},
		"another Accept":                {"POST", verify, good, []string{"Accept", "application/xml"}, 406, "format-not-served"},
		"another _format":               {"POST", verify + "?_format=xml", good, nil, 406, "format-not-served"},
		"an unknown parameter":          {"POST", verify + "?" + secret + "=1", good, nil, 400, "parameter-unknown"},
		"a query that is none":          {"POST", verify + "?a=%zz", good, nil, 400, "parameter-malformed"},
		"_pretty that is none":          {"GET", "/fhir/metadata?_pretty=" + secret, nil, nil, 400, "parameter-malformed"},
		"Parameters without an order":   {"POST", verify, []byte(`{"resourceType":"Parameters"}`), nil, 400, "parameter-malformed"},
		"Parameters with two":           {"POST", verify, parameters(t, []byte(`{"resourceType":"Bundle"}`), `{"name":"order","resource":{"resourceType":"Bundle"}}`), nil, 400, "parameter-malformed"},
		"a clock that is none":          {"POST", verify, parameters(t, good, `{"name":"now","valueInstant":"`+secret+`"}`), nil, 400, "parameter-malformed"},
		"a policy that is none":         {"POST", verify, parameters(t, good, `{"name":"policy","valueString":"`+secret+`: 1"}`), nil, 400, "parameter-malformed"},
		"a parameter of another name":   {"POST", verify, parameters(t, good, `{"name":"`+secret+`","valueString":"x"}`), nil, 400, "parameter-malformed"},
		"GET of an operation":           {"GET", verify, nil, nil, 405, "method-not-allowed"},
		"DELETE of metadata":            {"DELETE", "/fhir/metadata", nil, nil, 405, "method-not-allowed"},
		"nothing there":                 {"GET", "/fhir/Patient/" + secret, nil, nil, 404, "address-unknown"},
		"outside the base":              {"GET", "/" + secret, nil, nil, 404, "address-unknown"},
		"a definition that is not ours": {"GET", "/fhir/ValueSet/" + secret, nil, nil, 404, "resource-unknown"},
	} {
		t.Run(name, func(t *testing.T) {
			w := ask(t, h, c.method, c.address, c.body, c.header...)
			assert.Equal(t, c.status, w.Code, w.Body.String())
			issue := fhir(t, w, "OperationOutcome").Get("issue").At(0)
			assert.Equal(t, c.code, issue.Get("details").Get("coding").At(0).Get("code").Text())
			assert.NotEmpty(t, issue.Get("diagnostics").Text())
			assert.NotContains(t, w.Body.String(), secret)
			assert.NotContains(t, fmt.Sprint(w.Header()), secret)
			if c.status == 405 {
				assert.NotEmpty(t, w.Header().Get("Allow"))
			}
		})
	}
}

func TestLenientIgnoresWhatItDoesNotKnow(t *testing.T) {
	h, _ := open(t)
	assert.Equal(t, 200, ask(t, h, "GET", "/fhir/metadata?x=1", nil, "Prefer", "return=minimal, handling=lenient").Code)
	assert.Equal(t, 400, ask(t, h, "GET", "/fhir/metadata?x=1", nil).Code)
}

func TestWhatIsAcceptable(t *testing.T) {
	h, _ := open(t)
	for accept, want := range map[string]int{"": 200, "*/*": 200, "application/*;q=0.1": 200, "text/html, application/json": 200, "application/fhir+json; fhirVersion=4.0": 200, "application/fhir+json;fhirVersion=3.0": 406,
		"application/fhir+json;q=0": 406, "text/html": 406, "garbage": 406} {
		assert.Equal(t, want, ask(t, h, "GET", "/fhir/metadata", nil, "Accept", accept).Code, accept)
	}
	assert.Equal(t, 200, ask(t, h, "GET", "/fhir/metadata?_format=application/fhir%2Bjson", nil, "Accept", "text/html").Code, "_format wins")
	assert.Equal(t, 200, ask(t, h, "GET", "/fhir/metadata?_format=application/fhir+json", nil).Code, "a plus that was not escaped")
}

func TestTheIdOfARequestIsKeptOrGiven(t *testing.T) {
	h, log := open(t)
	w := ask(t, h, "GET", "/fhir/nothing", nil, "X-Request-Id", "abc-123")
	assert.Equal(t, "abc-123", w.Header().Get("X-Request-Id"))
	assert.Equal(t, "abc-123", fhir(t, w, "OperationOutcome").Get("id").Text())
	for _, bad := range []string{"", "a b", "x\"y", strings.Repeat("a", 65)} {
		assert.True(t, strings.HasPrefix(ask(t, h, "GET", "/fhir/metadata", nil, "X-Request-Id", bad).Header().Get("X-Request-Id"), "made-"), bad)
	}
	assert.Contains(t, log.String(), `"id":"abc-123"`)
}

// A walk over what the CapabilityStatement says: each operation and each read
// and search of it works, at its published definition.
func TestMetadataSaysWhatWorks(t *testing.T) {
	h, _ := open(t)
	root := fhir(t, ask(t, h, "GET", "/fhir/metadata", nil), "CapabilityStatement")
	assert.Equal(t, "http://127.0.0.1:8765/fhir", root.Get("implementation").Get("url").Text())
	walked := 0
	for _, resource := range root.Get("rest").At(0).Get("resource").Each() {
		kind := resource.Get("type").Text()
		for _, op := range resource.Get("operation").Each() {
			url := op.Get("definition").Text()
			found := fhir(t, ask(t, h, "GET", "/fhir/OperationDefinition?url="+url, nil), "Bundle")
			require.Equal(t, "1", found.Get("total").Literal())
			last := url[strings.LastIndex(url, "/")+1:]
			fhir(t, ask(t, h, "GET", "/fhir/OperationDefinition/"+last, nil), "OperationDefinition")
			assert.Equal(t, 200, ask(t, h, "POST", "/fhir/"+kind+"/$"+op.Get("name").Text(), load(t, "s1-cefazolin-elastomeric").Document).Code)
			walked++
		}
		for _, i := range resource.Get("interaction").Each() {
			all := fhir(t, ask(t, h, "GET", "/fhir/"+kind, nil), "Bundle")
			first := all.Get("entry").At(0).Get("resource").Get("id").Text()
			switch i.Get("code").Text() {
			case "read":
				fhir(t, ask(t, h, "GET", "/fhir/"+kind+"/"+first, nil), kind)
			case "search-type":
				assert.NotEqual(t, "0", all.Get("total").Literal(), kind)
			default:
				t.Errorf("%s %s is not walked", kind, i.Get("code").Text())
			}
			walked++
		}
	}
	assert.Equal(t, 13, walked)
}

func TestHeadAnswersAsGet(t *testing.T) {
	h, _ := open(t)
	get, head := ask(t, h, "GET", "/fhir/metadata", nil), ask(t, h, "HEAD", "/fhir/metadata", nil)
	assert.Equal(t, get.Code, head.Code)
	assert.Equal(t, get.Header().Get("Content-Length"), head.Header().Get("Content-Length"))
	assert.Empty(t, head.Body.Bytes())
}

// When more arrive than are judged at once, the rest wait, and are then told
// to come again: nothing is judged half.
func TestABusyServerSaysSo(t *testing.T) {
	gate := make(chan struct{})
	h, _ := open(t, func(s *api.Server) {
		s.Limits = api.Limits{AtOnce: 1, Waiting: 20 * time.Millisecond}
		s.Judges = []schema.Judge{func(d *element.Document) []finding.Finding { <-gate; return nil }}
	})
	order := load(t, "s1-cefazolin-elastomeric").Document
	var done sync.WaitGroup
	var busy, fine atomic.Int32
	for range 6 {
		done.Add(1)
		go func() {
			defer done.Done()
			switch w := ask(t, h, "POST", verify, order); w.Code {
			case http.StatusServiceUnavailable:
				assert.Equal(t, "5", w.Header().Get("Retry-After"))
				if busy.Add(1) == 5 {
					close(gate)
				}
			case http.StatusOK:
				fine.Add(1)
			}
		}()
	}
	done.Wait()
	assert.Equal(t, int32(5), busy.Load())
	assert.Equal(t, int32(1), fine.Load())
}

func TestAFailureOfTheProgramIsAnswered(t *testing.T) {
	h, log := open(t, func(s *api.Server) {
		s.Judges = []schema.Judge{func(*element.Document) []finding.Finding { panic("Secretname-Q7") }}
	})
	w := ask(t, h, "POST", verify, load(t, "s1-cefazolin-elastomeric").Document)
	assert.Equal(t, http.StatusInternalServerError, w.Code)
	fhir(t, w, "OperationOutcome")
	assert.NotContains(t, log.String()+w.Body.String(), "Secretname-Q7")
	assert.Contains(t, log.String(), "the program failed")
}

// Names, numbers and words of the patient stand in no log line, metric or
// header, whatever is asked.
func TestNothingOfAPatientReachesLogOrMetrics(t *testing.T) {
	metrics := api.NewMetrics()
	h, log := open(t, func(s *api.Server) { s.Metrics = metrics })
	f := load(t, "s1-cefazolin-elastomeric")
	canaries := []string{"Okonkwo", "Amara", "MG-004417", "1979-08-22", "Juniper", "555-0117", "88213007", "Canary-Z9"}
	ask(t, h, "POST", verify, f.Document)
	ask(t, h, "POST", verify+"?family=Canary-Z9", f.Document)
	ask(t, h, "GET", "/fhir/Patient?family=Canary-Z9&birthdate=1979-08-22", nil)
	ask(t, h, "GET", "/fhir/Patient/Canary-Z9", nil)
	ask(t, h, "CANARY-Z9", "/Canary-Z9", nil)
	ask(t, h, "POST", verify, bytes.Replace(f.Document, []byte(`"active"`), []byte(`"Canary-Z9"`), 1), "X-Request-Id", "Canary Z9")
	ready := &atomic.Bool{}
	page := ask(t, metrics.Inner(ready), "GET", "/metrics", nil).Body.String()
	require.Contains(t, page, "weir_http_requests_total")
	for _, c := range canaries {
		assert.NotContains(t, log.String(), c)
		assert.NotContains(t, page, c)
	}
}

func TestTheInnerPortSaysWhetherItTakesRequests(t *testing.T) {
	ready := &atomic.Bool{}
	h := api.NewMetrics().Inner(ready)
	assert.Equal(t, 503, ask(t, h, "GET", "/readyz", nil).Code)
	ready.Store(true)
	assert.Equal(t, 200, ask(t, h, "GET", "/readyz", nil).Code)
	assert.Equal(t, 200, ask(t, h, "GET", "/livez", nil).Code)
}

func FuzzVerify(f *testing.F) {
	h, _ := open(f)
	f.Add(load(f, "s1-cefazolin-elastomeric").Document, "application/fhir+json", "")
	f.Add([]byte(`{"resourceType":"Parameters"}`), "application/json", "_format=json")
	f.Fuzz(func(t *testing.T, body []byte, kind, query string) {
		r := httptest.NewRequest("POST", verify, bytes.NewReader(body))
		r.URL.RawQuery = query
		r.Header["Content-Type"] = []string{kind}
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		require.NotEqual(t, 500, w.Code)
		data, err := io.ReadAll(w.Body)
		require.NoError(t, err)
		doc, faults := element.Read(data, element.Limit{Nodes: 1 << 24, Bytes: 1 << 28})
		require.Empty(t, faults)
		require.Contains(t, []string{"Bundle", "OperationOutcome"}, doc.Root().Get("resourceType").Text())
	})
}
