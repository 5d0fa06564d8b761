package api_test

import (
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
)

const smith = `{"resourceType":"Patient","id":"p1","meta":{"versionId":"77","lastUpdated":"2020-01-01T00:00:00Z","source":"urn:sender","tag":[{"system":"urn:t","code":"x"}]},
"identifier":[{"system":"urn:mrn","value":"7"}],"name":[{"family":"Smith","given":["Eve"]}],"birthDate":"1980-02-29"}`

// https://hl7.org/fhir/R4/http.html#read, #vread and #history.
func TestAResourceIsReadByItsIDAndVersion(t *testing.T) {
	s := stocked(t, smith)
	s.put(t, strings.Replace(smith, "1980", "1984", 1), 2)
	w := s.ask(t, "/fhir/Patient/p1")
	root := fhir(t, w, "Patient")
	assert.Equal(t, `W/"2"`, w.Header().Get("ETag"))
	assert.Equal(t, "Tue, 10 Nov 2026 19:20:02 GMT", w.Header().Get("Last-Modified"))
	assert.Equal(t, "2", root.Get("meta").Get("versionId").Text())
	assert.Equal(t, "2026-11-10T19:20:02.000000Z", root.Get("meta").Get("lastUpdated").Text())
	assert.Equal(t, "urn:sender", root.Get("meta").Get("source").Text(), "what else was sent stays")
	assert.Equal(t, "x", root.Get("meta").Get("tag").At(0).Get("code").Text())
	assert.Equal(t, "1984-02-29", root.Get("birthDate").Text())

	w = s.ask(t, "/fhir/Patient/p1/_history/1")
	assert.Equal(t, `W/"1"`, w.Header().Get("ETag"))
	assert.Equal(t, "1980-02-29", fhir(t, w, "Patient").Get("birthDate").Text())
	assert.Contains(t, s.ask(t, "/fhir/Patient/p1?_pretty=true").Body.String(), "\n  \"")

	history := fhir(t, s.ask(t, "/fhir/Patient/p1/_history"), "Bundle")
	require.Equal(t, 2, history.Get("entry").Len())
	assert.Equal(t, "2", history.Get("entry").At(0).Get("resource").Get("meta").Get("versionId").Text())
	assert.Equal(t, "PUT", history.Get("entry").At(0).Get("request").Get("method").Text())
	assert.Equal(t, "POST", history.Get("entry").At(1).Get("request").Get("method").Text())
	first := bundleOf(t, s.ask(t, "/fhir/Patient/p1/_history?_count=1"))
	require.NotEmpty(t, first.next())
	second := bundleOf(t, s.ask(t, first.next()))
	assert.Equal(t, "1", second.Entry[0].Resource.Meta.VersionID)
	assert.Empty(t, second.next())

	for _, path := range []string{"/fhir/Patient/p1", "/fhir/Patient/p1/_history/1", "/fhir/Patient/p1/_history", "/fhir/Patient?_id=p1"} {
		get, head := s.ask(t, path), ask(t, s, "HEAD", path, nil)
		assert.Equal(t, get.Code, head.Code)
		for _, name := range []string{"Content-Length", "ETag", "Last-Modified", "Content-Type"} {
			assert.Equal(t, get.Header().Get(name), head.Header().Get(name), path)
		}
		assert.Empty(t, head.Body.Bytes())
	}
}

func TestWhatTheClientHasIsNotSentAgain(t *testing.T) {
	s := stocked(t, smith)
	for tag, want := range map[string]int{`W/"1"`: 304, `"1"`: 304, `W/"7", W/"1"`: 304, `*`: 304, `W/"2"`: 200, ``: 200, `1`: 200, `W/"11"`: 200} {
		w := ask(t, s, "GET", "/fhir/Patient/p1", nil, "If-None-Match", tag)
		assert.Equal(t, want, w.Code, tag)
		assert.Equal(t, `W/"1"`, w.Header().Get("ETag"))
		if want == 304 {
			assert.Empty(t, w.Body.Bytes())
		}
	}
}

func TestWhatIsNotThere(t *testing.T) {
	s := stocked(t, smith)
	for path, code := range map[string]string{
		"/fhir/Patient/p2": "resource-unknown", "/fhir/Observation/p1": "resource-unknown", "/fhir/Patient/p1/_history/2": "resource-unknown", "/fhir/Patient/p1/_history/0": "resource-unknown",
		"/fhir/Patient/p1/_history/01": "resource-unknown", "/fhir/Patient/p1/_history/+1": "resource-unknown", "/fhir/Patient/p1/_history/99999999999999999999": "resource-unknown",
		"/fhir/Patient/p2/_history": "resource-unknown", "/fhir/Patient/" + strings.Repeat("a", 65): "resource-unknown", "/fhir/Patient/%2e%2e": "resource-unknown", "/fhir/Patient/a%2fb": "resource-unknown",
		"/fhir/Patient/a%00b": "resource-unknown", "/fhir/Patient/%F0%9F%98%80": "resource-unknown", "/fhir/Patient/_history": "resource-unknown", "/fhir/Patient/p1'--": "resource-unknown",
		"/fhir/ImagingStudy/1": "address-unknown", "/fhir/patient/p1": "address-unknown", "/fhir/AuditEvent/none": "resource-unknown", "/fhir/AuditEvent/row-001/_history/2": "resource-unknown",
	} {
		w := ask(t, s, "GET", path, nil)
		assert.Equal(t, 404, w.Code, path)
		assert.Equal(t, code, fhir(t, w, "OperationOutcome").Get("issue").At(0).Get("details").Get("coding").At(0).Get("code").Text(), path)
	}
	for _, method := range []string{"DELETE", "PATCH"} {
		w := ask(t, s, method, "/fhir/Patient/p1", nil)
		assert.Equal(t, 405, w.Code)
		assert.Contains(t, w.Header().Get("Allow"), "GET, HEAD")
	}
	w := ask(t, s, "GET", "/fhir/Patient/_search?family=smith", nil)
	assert.Equal(t, 405, w.Code)
	assert.Equal(t, "POST", w.Header().Get("Allow"))
	assert.Equal(t, 400, ask(t, s, "GET", "/fhir/Patient/p1?x=1", nil).Code)
	assert.Equal(t, 400, ask(t, s, "GET", "/fhir/Patient/p1/_history?_count=0", nil).Code)
	assert.Equal(t, 400, ask(t, s, "GET", "/fhir/Patient/p1/_history?_cursor=AAAA", nil).Code)
	assert.Equal(t, 400, ask(t, s, "GET", "/fhir/Patient/p1/_history?_cursor=", nil).Code)
}

// What is stored and cannot be read whole is said, not given in part.
func TestWhatIsDamagedIsNotGivenInPart(t *testing.T) {
	s := stocked(t)
	for id, text := range map[string]string{"a": `{"resourceType":"Patient","id":"a","name":[`, "b": `{"resourceType":"Patient","id":"other"}`, "c": `{"resourceType":"Task","id":"c"}`} {
		s.rows++
		require.NoError(t, s.store.Commit(t.Context(), adapter.Effect{At: s.at, Resources: []adapter.Resource{{Type: "Patient", ID: id, Version: 1, Updated: s.at, JSON: []byte(text)}},
			Audit: []adapter.AuditRow{{ID: "x" + id, At: s.at, Action: "C", Agent: "a"}}}))
		for _, path := range []string{"/fhir/Patient/" + id, "/fhir/Patient/" + id + "/_history", "/fhir/Patient?_id=" + id} {
			w := ask(t, s, "GET", path, nil)
			assert.Equal(t, 500, w.Code, path)
			assert.Equal(t, "resource-damaged", fhir(t, w, "OperationOutcome").Get("issue").At(0).Get("details").Get("coding").At(0).Get("code").Text())
		}
	}
}

// A store that does not answer is said to be so, and to come again.
func TestAStoreThatIsGone(t *testing.T) {
	s := stocked(t, smith)
	require.NoError(t, s.store.Close())
	for _, path := range []string{"/fhir/Patient/p1", "/fhir/Patient/p1/_history", "/fhir/Patient?family=smith", "/fhir/AuditEvent", "/fhir/AuditEvent/row-001"} {
		w := httptest.NewRecorder()
		s.ServeHTTP(w, httptest.NewRequest("GET", path, nil))
		assert.Contains(t, []int{500, 503}, w.Code, path)
		fhir(t, w, "OperationOutcome")
	}
}

// An identifier that is too long for an index of a database is kept by its
// hash: it is found, and what has it is created once.
func TestALongIdentifierIsOneAllTheSame(t *testing.T) {
	s := stocked(t)
	long := strings.Repeat("7", 3000)
	body := []byte(`{"resourceType":"Patient","identifier":[{"system":"urn:mrn","value":"` + long + `"}],"name":[{"family":"Smith"}]}`)
	for _, want := range []int{201, 200} {
		w := ask(t, s, "POST", "/fhir/Patient", body, "If-None-Exist", "identifier=urn:mrn|"+long)
		require.Equal(t, want, w.Code, w.Body.String())
	}
	got := bundleOf(t, s.form(t, "Patient", "identifier=urn:mrn|"+long))
	assert.Len(t, got.Entry, 1)
	w := ask(t, s, "PUT", "/fhir/Patient?identifier=urn:mrn%7C"+long, body)
	assert.Equal(t, 200, w.Code, w.Body.String())
	assert.Len(t, s.found(t, "/fhir/Patient"), 1)
}
