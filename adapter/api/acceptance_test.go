package api_test

import (
	"bytes"
	"compress/gzip"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/api"
)

// A changed Medication outside the order changes the order. However often it
// is sent, one task is made of it, and one Medication.
func TestAChangedMedicationIsReviewedOnce(t *testing.T) {
	d := openStore(t)
	first := transaction(t, s1, "POST")
	require.Equal(t, http.StatusOK, ask(t, d, "POST", "/fhir", first).Code)
	changed := bytes.Replace(first, []byte(`"amount":{"denominator":{"code":"{container}","system":"http://unitsofmeasure.org","unit":"container","value":1},"numerator":{"code":"mL","system":"http://unitsofmeasure.org","unit":"mL","value":100}}`),
		[]byte(`"amount":{"denominator":{"code":"{container}","system":"http://unitsofmeasure.org","unit":"container","value":1},"numerator":{"code":"mL","system":"http://unitsofmeasure.org","unit":"mL","value":500}}`), 1)
	require.NotEqual(t, first, changed)
	before, medications := d.count(t, "Task"), d.count(t, "Medication")
	for n := range 3 {
		w := ask(t, d, "POST", "/fhir", changed)
		require.Equal(t, http.StatusOK, w.Code, w.Body.String())
		assert.Contains(t, w.Body.String(), "change-not-applied")
		assert.Equal(t, before+1, d.count(t, "Task"), n)
		assert.Equal(t, medications+1, d.count(t, "Medication"), n)
	}
	d.rows(t)
}

// An unknown id is 405 with Allow, whether a version is named or not; a known
// one asks for the version.
func TestAnUnknownIdIsNotUpdated(t *testing.T) {
	d := openStore(t)
	body := []byte(`{"resourceType":"Patient","id":"nobody"}`)
	for _, header := range [][]string{nil, {"If-Match", `W/"1"`}} {
		w := ask(t, d, "PUT", "/fhir/Patient/nobody", body, header...)
		assert.Equal(t, http.StatusMethodNotAllowed, w.Code)
		assert.Equal(t, "GET, HEAD", w.Header().Get("Allow"))
		fhir(t, w, "OperationOutcome")
	}
	for _, method := range []string{"GET", "HEAD", "PUT", "DELETE"} {
		w := ask(t, d, method, verify, nil)
		assert.Equal(t, http.StatusMethodNotAllowed, w.Code, method)
		assert.Equal(t, "POST", w.Header().Get("Allow"), method)
	}
}

// Two of one identifier in one document cannot both be stored: the document
// is wrong, the server is not busy.
func TestOneIdentifierTwiceInADocument(t *testing.T) {
	d := openStore(t)
	one := `{"resourceType":"Patient","identifier":[{"system":"urn:oid:1.2.3","value":"7"}]}`
	by := "Patient?identifier=urn:oid:1.2.3%7C7"
	for name, requests := range map[string][2]string{
		"two ways of writing": {`"method":"PUT","url":"` + by + `"`, `"method":"PUT","url":"` + strings.ReplaceAll(by, ":oid", "%3Aoid") + `"`},
		"two creates":         {`"method":"POST","url":"Patient","ifNoneExist":"identifier=urn:oid:1.2.3|7"`, `"method":"POST","url":"Patient","ifNoneExist":"identifier=urn:oid:1.2.3|7"`},
		"create and update":   {`"method":"POST","url":"Patient"`, `"method":"PUT","url":"` + by + `"`},
	} {
		w := ask(t, d, "POST", "/fhir", fmt.Appendf(nil, `{"resourceType":"Bundle","type":"transaction","entry":[{"resource":%s,"request":{%s}},{"resource":%s,"request":{%s}}]}`, one, requests[0], one, requests[1]))
		assert.Equal(t, http.StatusBadRequest, w.Code, name)
		assert.Equal(t, "Bundle.entry[1].resource", fhir(t, w, "OperationOutcome").Get("issue").At(0).Get("expression").At(0).Text(), name)
	}
	assert.Zero(t, d.count(t, "Patient"))
}

// What is wrong with an entry of a batch is pointed at in the Bundle, by an
// expression that leads there.
func TestABatchPointsIntoItself(t *testing.T) {
	d := openStore(t)
	w := ask(t, d, "POST", "/fhir", []byte(`{"resourceType":"Bundle","type":"batch","entry":[
		{"resource":{"resourceType":"Patient","foo":1},"request":{"method":"POST","url":"Patient"}},
		{"request":{"method":"GET","url":"Patient/none"}},
		{"request":{"method":"GET","url":"Patient?foo=1"}},
		{"resource":{"resourceType":"Patient"},"request":{"method":"POST","url":"Patient","ifNoneExist":"x"}},
		{"resource":{"resourceType":"Patient","id":"a"},"request":{"method":"PUT","url":"Patient/b"}},
		{"request":{"method":"DELETE","url":"Patient/b"}},
		{"request":{"method":"GET","url":"$process-message"}},
		{"request":{"method":"GET","url":"/"}}]}`))
	entries := fhir(t, w, "Bundle").Get("entry").Each()
	for i, want := range []string{"400 Bundle.entry[0].resource.foo", "404 Bundle.entry[1]", "400 Bundle.entry[2]", "400 Bundle.entry[3].request.ifNoneExist", "400 Bundle.entry[4].resource.id", "405 Bundle.entry[5]", "400 Bundle.entry[6].request.url", "400 Bundle.entry[7].request.url"} {
		r := entries[i].Get("response")
		issue := r.Get("outcome").Get("issue").At(0)
		assert.Equal(t, want, r.Get("status").Text()[:3]+" "+issue.Get("expression").At(0).Text())
		assert.NotEmpty(t, issue.Get("details").Get("coding").At(0).Get("code").Text())
	}
}

func TestATransactionIsAnsweredAsPreferred(t *testing.T) {
	for prefer, want := range map[string][2]bool{"return=minimal": {false, false}, "return=representation": {true, false}, "return=OperationOutcome": {false, true}} {
		d := openStore(t)
		w := ask(t, d, "POST", "/fhir", transaction(t, s1, "POST"), "Prefer", prefer)
		for _, e := range fhir(t, w, "Bundle").Get("entry").Each() {
			assert.Equal(t, want, [2]bool{e.Get("resource").Exists(), e.Get("response").Get("outcome").Exists()}, prefer)
		}
	}
}

// Who sends slowly takes nobody's turn.
func TestSlowBodiesTakeNoTurn(t *testing.T) {
	d := openStore(t, func(s *api.Server) { s.Limits = api.Limits{AtOnce: 1, Queue: 1, Waiting: 50 * time.Millisecond} })
	l := httptest.NewServer(d)
	defer l.Close()
	for _, address := range []string{"", "/Patient", "/$process-message", "/MedicationRequest/$verify"} {
		body, feed := io.Pipe()
		defer func() { _ = feed.Close() }()
		go func() {
			if r, err := http.Post(l.URL+"/fhir"+address, "application/fhir+json", body); err == nil {
				_ = r.Body.Close()
			}
		}()
		_, err := feed.Write([]byte(strings.Repeat(" ", 9000))) // more than a client keeps back
		require.NoError(t, err)
	}
	time.Sleep(100 * time.Millisecond) // nothing outside tells that they have arrived
	r, err := http.Post(l.URL+"/fhir", "application/fhir+json", bytes.NewReader(transaction(t, s1, "POST")))
	require.NoError(t, err)
	_ = r.Body.Close()
	assert.Equal(t, http.StatusOK, r.StatusCode)
}

func TestWhatIsTooLong(t *testing.T) {
	d := openStore(t)
	w := ask(t, d, "GET", "/fhir/metadata", nil, "X-Long", strings.Repeat("a", 33<<10))
	assert.Equal(t, http.StatusRequestHeaderFieldsTooLarge, w.Code)
	fhir(t, w, "OperationOutcome")
	packed := func(text string) []byte {
		var b bytes.Buffer
		z := gzip.NewWriter(&b)
		_, _ = z.Write([]byte(text))
		_ = z.Close()
		return b.Bytes()
	}
	for size, want := range map[int]int{900_000: http.StatusOK, 2_000_000: http.StatusRequestEntityTooLarge} {
		doc, err := json.Marshal(json.RawMessage(load(t, s1).Document))
		require.NoError(t, err)
		w := ask(t, d, "POST", verify, packed(string(doc)+strings.Repeat(" ", size)), "Content-Encoding", "gzip")
		assert.Equal(t, want, w.Code, size)
	}
	whole := ask(t, d, "POST", verify, packed(string(load(t, s1).Document)), "Content-Encoding", "gzip")
	assert.Equal(t, http.StatusOK, whole.Code)
}

// A type that R4 does not have is a word of the sender: it is not repeated.
func TestAnUnknownTypeIsNotRepeated(t *testing.T) {
	d := openStore(t)
	for _, address := range []string{"/fhir", "/fhir/Patient", "/fhir/$process-message", verify} {
		w := ask(t, d, "POST", address, []byte(`{"resourceType":"Canaryword","id":"a"}`))
		assert.Equal(t, http.StatusBadRequest, w.Code, address)
		assert.Equal(t, "$this.resourceType", fhir(t, w, "OperationOutcome").Get("issue").At(0).Get("expression").At(0).Text())
		assert.NotContains(t, w.Body.String(), "Canaryword")
	}
}

// late is a store that somebody else writes while we look: who asks for a
// patient the first time does not see what is there a moment later.
type late struct {
	adapter.Store
	blind atomic.Int64
}

func (l *late) ByIdentifier(ctx context.Context, kind string, by adapter.Identity) ([]adapter.Resource, error) {
	if kind == "Patient" && l.blind.Add(-1) >= 0 {
		return nil, nil
	}
	return l.Store.ByIdentifier(ctx, kind, by)
}

// The same order from many at once is no order of another patient, however
// the looks and the writes fall together.
func TestWhatIsWrittenMeanwhileIsNoRefusal(t *testing.T) {
	for _, method := range []string{"POST", "PUT"} {
		var between *late
		d := openStore(t, func(s *api.Server) { between = &late{Store: s.Store}; s.Store = between })
		document := transaction(t, s1, method)
		require.Equal(t, http.StatusOK, ask(t, d, "POST", "/fhir", document).Code)
		before := d.rows(t)
		between.blind.Store(1)
		w := ask(t, d, "POST", "/fhir", document)
		assert.Equal(t, http.StatusOK, w.Code, w.Body.String())
		assert.Negative(t, between.blind.Load())
		assert.Equal(t, before, d.rows(t))
	}
}

// Rows that were written before are still found by who acted.
func TestTheOperatorKeepsTheirName(t *testing.T) {
	assert.Equal(t, "local-operator", api.Operator)
}

// A message may stand in Parameters; what asks for an answer elsewhere is
// refused there as in the address.
func TestAMessageInParameters(t *testing.T) {
	d := openStore(t)
	d.at(load(t, "s2-vancomycin-kidneys").Now)
	body := message(t, "s2-vancomycin-kidneys")
	in := func(more string) []byte {
		return fmt.Appendf(nil, `{"resourceType":"Parameters","parameter":[{"name":"content","resource":%s}%s]}`, body, more)
	}
	for more, want := range map[string]string{`,{"name":"async","valueBoolean":true}`: "Parameters.parameter[1].valueBoolean", `,{"name":"async"}`: "Parameters.parameter[1].valueBoolean",
		`,{"name":"response-url","valueUrl":"https://elsewhere.example/x"}`: "Parameters.parameter[1].valueUrl", `,{"name":"other","valueString":"x"}`: "Parameters.parameter[1]", `,{"name":"content"}`: "Parameters.parameter[1]"} {
		w := ask(t, d, "POST", "/fhir/$process-message", in(more))
		assert.Equal(t, http.StatusBadRequest, w.Code, more)
		assert.Equal(t, want, fhir(t, w, "OperationOutcome").Get("issue").At(0).Get("expression").At(0).Text())
	}
	assert.Zero(t, d.count(t, "Patient"))
	for _, none := range []string{`{"resourceType":"Parameters","parameter":[{"name":"async","valueBoolean":false}]}`, `{"resourceType":"Parameters"}`} {
		assert.Equal(t, http.StatusBadRequest, ask(t, d, "POST", "/fhir/$process-message", []byte(none)).Code, none)
	}
	first := ask(t, d, "POST", "/fhir/$process-message", in(`,{"name":"async","valueBoolean":false}`))
	require.Equal(t, http.StatusOK, first.Code, first.Body.String())
	assert.Equal(t, "ok", fhir(t, first, "Bundle").Get("entry").At(0).Get("resource").Get("response").Get("code").Text())
	assert.Equal(t, first.Body.String(), ask(t, d, "POST", "/fhir/$process-message", body).Body.String(), "the same message, bare")
}

// A reference to one patient with the number of another one that is known is
// refused: it may be either's. A number that nobody has is not.
func TestAReferenceToOnePatientWithTheNumberOfAnother(t *testing.T) {
	d := openStore(t)
	person := `{"resourceType":"Patient","identifier":[{"system":"urn:oid:1.2.%d","value":"7"}],"birthDate":"1980-01-02"}`
	var ids []string
	for n := range 2 {
		w := ask(t, d, "POST", "/fhir/Patient", fmt.Appendf(nil, person, n))
		require.Equal(t, http.StatusCreated, w.Code)
		ids = append(ids, fhir(t, w, "Patient").Get("id").Text())
	}
	order := `{"resourceType":"MedicationRequest","identifier":[{"system":"urn:oid:1.9","value":"%s"}],"status":"active","intent":"order","medicationCodeableConcept":{"text":"cefazolin"},"subject":{"reference":"Patient/%s","identifier":{"system":"urn:oid:1.2.%d","value":"7"}}}`
	for name, c := range map[string]struct{ system, want int }{"theirs": {0, http.StatusCreated}, "of another": {1, http.StatusConflict}, "of nobody": {2, http.StatusCreated}} {
		w := ask(t, d, "POST", "/fhir/MedicationRequest", fmt.Appendf(nil, order, name, ids[0], c.system))
		assert.Equal(t, c.want, w.Code, name+w.Body.String())
	}
	both := fmt.Appendf(nil, `{"resourceType":"Bundle","type":"transaction","entry":[{"fullUrl":"urn:uuid:0c3151bd-1cbf-4d64-b04d-cd9187a4c6e1","resource":%s,"request":{"method":"POST","url":"Patient"}},{"fullUrl":"urn:uuid:0c3151bd-1cbf-4d64-b04d-cd9187a4c6e2","resource":%s,"request":{"method":"POST","url":"Patient"}},{"resource":%s,"request":{"method":"POST","url":"MedicationRequest"}}]}`,
		fmt.Sprintf(person, 5), fmt.Sprintf(person, 6), strings.Replace(fmt.Sprintf(order, "both", "", 6), `"Patient/"`, `"urn:uuid:0c3151bd-1cbf-4d64-b04d-cd9187a4c6e1"`, 1))
	w := ask(t, d, "POST", "/fhir", both)
	assert.Equal(t, http.StatusConflict, w.Code, w.Body.String())
	assert.Equal(t, 2, d.count(t, "Patient"))
}
