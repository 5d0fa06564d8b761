package api_test

import (
	"fmt"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/element"
)

// Every refusal of a search is an OperationOutcome with a code, and repeats
// nothing of the question.
func TestSearchesThatAreRefused(t *testing.T) {
	s := stocked(t, smith)
	const secret = "Secretname-Q7"
	for query, code := range map[string]string{
		"Patient?" + secret + "=1": "parameter-unknown", "Patient?name=" + secret: "parameter-unknown", "Patient?family:phonetic=" + secret: "parameter-malformed", "Patient?family:" + secret + "=1": "parameter-malformed",
		"Patient?_summary=count": "parameter-unknown", "Patient?_has:Task:patient:code=" + secret: "parameter-unknown", "Patient?_text=" + secret: "parameter-unknown", "Patient?_filter=" + secret: "parameter-unknown",
		"Patient?family=": "parameter-malformed", "Patient?family=%CC%81": "parameter-malformed", "Patient?family=" + secret + ",": "parameter-malformed", `Patient?family=` + secret + `\x`: "parameter-malformed", `Patient?family=` + secret + `\`: "parameter-malformed",
		"Patient?family=" + secret + "%00": "parameter-malformed", "Patient?family=%ff" + secret: "parameter-malformed", "Patient?family=%zz" + secret: "parameter-malformed", "Patient?%ff=" + secret: "parameter-malformed",
		"Patient?family:missing=" + secret: "parameter-malformed", "Patient?birthdate=" + secret: "parameter-malformed", "Patient?birthdate=ap2013": "parameter-malformed", "Patient?birthdate=xx2013": "parameter-malformed", "Patient?birthdate=2013-02-30": "parameter-malformed",
		"Patient?birthdate=eq": "parameter-malformed", "Patient?birthdate:exact=2013": "parameter-malformed", "Patient?birthdate=2013-01-01T10:00:00+02:00": "parameter-malformed", "Patient?_lastUpdated=" + secret: "parameter-malformed", "Patient?_lastUpdated:missing=true": "parameter-malformed",
		"Patient?identifier=%7C": "parameter-malformed", "Patient?identifier=a%7Cb%7C" + secret: "parameter-malformed", "Patient?identifier:of-type=" + secret: "parameter-malformed", "Patient?identifier:text=" + secret: "parameter-malformed", "Patient?phone=x%7C" + secret: "parameter-malformed",
		"Patient?_id=" + secret + "'": "parameter-malformed", "Patient?_id:exact=1": "parameter-malformed", "Patient?_id:missing=true": "parameter-malformed",
		"Patient?_count=00": "parameter-malformed", "AuditEvent?_count=0": "parameter-malformed", "Patient?_count=-1": "parameter-malformed", "Patient?_count=" + secret: "parameter-malformed", "Patient?_count=1&_count=2": "parameter-malformed", "Patient?_count=": "parameter-malformed", "Patient?_count:x=1": "parameter-malformed",
		"Patient?_sort=" + secret: "parameter-malformed", "Patient?_sort=family,given": "parameter-malformed", "Patient?_sort=-": "parameter-malformed", "Patient?_sort=identifier": "parameter-malformed", "Patient?_sort=family&_sort=given": "parameter-malformed", "Provenance?_sort=patient": "parameter-malformed",
		"Task?_include=*": "parameter-malformed", "Task?_include=Task:*": "parameter-malformed", "Task?_include=Task:code": "parameter-malformed", "Task?_include=Patient:link": "parameter-malformed", "Task?_include:iterate=Task:focus": "parameter-malformed", "Task?_include=Task:part-of:Patient": "parameter-malformed", "Task?_include=" + secret: "parameter-malformed",
		"Task?_revinclude=*": "parameter-malformed", "Task?_revinclude=Task:focus": "parameter-malformed", "Task?_revinclude:iterate=Provenance:target": "parameter-malformed",
		"Task?focus=" + secret: "parameter-malformed", "Task?part-of=Patient/1": "parameter-malformed", "Task?patient=Patient/": "parameter-malformed", "Task?patient=" + secret + "'": "parameter-malformed", "Task?patient=Practitioner/1": "parameter-malformed", "Task?patient:Practitioner=1": "parameter-malformed", "Task?patient:identifier=7": "parameter-malformed",
		"Task?patient.family=" + secret: "parameter-unknown", "Task?patient:Patient.identifier=" + secret: "parameter-malformed", "Task?owner.identifier=" + secret: "parameter-unknown", "Task?focus=a%20b:c": "parameter-malformed",
		"Patient?_cursor=" + secret: "cursor-unknown", "Patient?_cursor=": "cursor-unknown", "Patient?_cursor=AAAA&family=" + secret: "parameter-malformed",
		"AuditEvent?_sort=date": "parameter-malformed", "AuditEvent?date=ne2026": "parameter-malformed", "AuditEvent?action:not=R": "parameter-malformed", "AuditEvent?action=R,C": "parameter-malformed", "AuditEvent?patient.identifier=7": "parameter-unknown", "AuditEvent?agent:x=1": "parameter-malformed", "AuditEvent?entity=" + secret + "%27": "parameter-malformed", "AuditEvent?_include=AuditEvent:action": "parameter-malformed",
	} {
		w := ask(t, s, "GET", "/fhir/"+query, nil)
		require.Equal(t, 400, w.Code, "%s %s", query, w.Body.String())
		issue := fhir(t, w, "OperationOutcome").Get("issue").At(0)
		assert.Equal(t, code, issue.Get("details").Get("coding").At(0).Get("code").Text(), query)
		assert.NotContains(t, w.Body.String(), secret, query)
		kind, form, _ := strings.Cut(query, "?")
		posted := s.form(t, kind, form)
		assert.Equal(t, 400, posted.Code, query)
		assert.NotContains(t, posted.Body.String(), secret, query)
	}
	assert.NotContains(t, s.log.String(), secret)
}

func TestFormsThatAreRefused(t *testing.T) {
	s := stocked(t, smith)
	for kind, want := range map[string]int{"application/x-www-form-urlencoded": 200, "application/x-www-form-urlencoded; charset=UTF-8": 200, "application/x-www-form-urlencoded; charset=latin1": 415, "application/fhir+json": 415, "": 415, "multipart/form-data": 415} {
		assert.Equal(t, want, ask(t, s, "POST", "/fhir/Patient/_search", []byte("family=smith"), "Content-Type", kind).Code, kind)
	}
	assert.Equal(t, 415, ask(t, s, "POST", "/fhir/Patient/_search", []byte("family=smith"), "Content-Type", "application/x-www-form-urlencoded", "Content-Encoding", "gzip").Code)
	assert.Equal(t, 413, s.form(t, "Patient", "family="+strings.Repeat("a", 1<<20)).Code)
	assert.Equal(t, 406, s.form(t, "Patient", "family=smith&_format=xml").Code)
	assert.Contains(t, s.form(t, "Patient", "family=smith&_pretty=true").Body.String(), "\n  \"")
	assert.Equal(t, 400, s.form(t, "Patient", "family=smith&_pretty=yes").Code)
	assert.Equal(t, 200, ask(t, s, "POST", "/fhir/Patient/_search?_id=p1", []byte("family=smith"), "Content-Type", "application/x-www-form-urlencoded").Code)
	assert.Equal(t, 400, ask(t, s, "PUT", "/fhir/Patient/_search", []byte("family=smith")).Code, "it is no resource that could be updated")
}

// Unknown parameters are ignored when the client says so, and are then not in
// self; what is known and malformed is refused all the same.
func TestLenientSearches(t *testing.T) {
	s := stocked(t, smith)
	w := ask(t, s, "GET", "/fhir/Patient?nonsense=1&family=smith&_elements=id", nil, "Prefer", "handling=lenient")
	require.Equal(t, 200, w.Code)
	b := bundleOf(t, w)
	assert.Equal(t, "http://127.0.0.1:8765/fhir/Patient?family=smith", b.link("self"))
	assert.Len(t, b.Entry, 1)
	assert.Equal(t, 400, ask(t, s, "GET", "/fhir/Patient?birthdate=x", nil, "Prefer", "handling=lenient").Code)
	assert.Equal(t, 400, ask(t, s, "GET", "/fhir/Patient?family:x=y", nil, "Prefer", "handling=lenient").Code)
}

// reliability-and-ux.md, section C, I3: values are compared, never run; what
// is too much is refused.
func TestHostileSearches(t *testing.T) {
	s := stocked(t, smith, `{"resourceType":"Patient","id":"p2","name":[{"family":"100% of_all"}],"identifier":[{"value":"' OR 1=1 --"}]}`)
	for _, v := range []string{"' OR '1'='1", "'; DROP TABLE resource; --", "%", "_", "smith%", `") OR 1=1 --`, "x' UNION SELECT body FROM resource_version --", "Patient.name.family", "{{7*7}}", "<script>alert(1)</script>", "\u202esmith"} {
		for _, name := range []string{"family", "family:exact", "family:contains", "given", "identifier", "phone", "identifier:not"} {
			got := s.found(t, address("Patient", name, v))
			if name == "identifier:not" {
				assert.ElementsMatch(t, []string{"p1", "p2"}, got, v)
			} else if name == "family:contains" && (v == "%" || v == "_") {
				assert.Equal(t, []string{"p2"}, got, "%s is itself", v)
			} else {
				assert.Empty(t, got, "%s=%s", name, v)
			}
		}
	}
	assert.Equal(t, []string{"p2"}, s.found(t, address("Patient", "identifier", "' OR 1=1 --")))
	many := func(n int) string { return strings.Repeat("a,", n-1) + "smith" }
	assert.Len(t, s.found(t, address("Patient", "family", many(500))), 1)
	for _, body := range []string{"family=" + many(501), "family=" + many(10_000), "family=" + many(300) + "&given=" + many(300), strings.Repeat("family=a&", 101), "identifier=" + strings.Repeat("a,", 9_999) + "b"} {
		w := s.form(t, "Patient", body)
		assert.Equal(t, 400, w.Code)
		assert.Equal(t, "search-too-costly", fhir(t, w, "OperationOutcome").Get("issue").At(0).Get("details").Get("coding").At(0).Get("code").Text())
	}
	w := s.form(t, "MedicationRequest", "requester="+strings.TrimSuffix(strings.Repeat("a,", 100), ","))
	assert.Equal(t, 400, w.Code, "an id that may be of six types is six")
	assert.Len(t, s.found(t, "/fhir/Patient?_count=1000000000"), 2)
	assert.Len(t, s.found(t, "/fhir/Patient?_count=99999999999999999999999999"), 2)
}

// A question too long to go on from page to page is refused at once, not
// after the first page.
func TestAQuestionTooLongForItsPages(t *testing.T) {
	s := stocked(t, smith, strings.Replace(smith, "p1", "p2", 1))
	var values []string
	for i := range 500 {
		values = append(values, fmt.Sprintf("urn:mrn|7,%0100d", i))
	}
	body := "identifier=" + url.QueryEscape(strings.Join(values[:240], ","))
	w := s.form(t, "Patient", body+"&_count=1")
	assert.Equal(t, 400, w.Code)
	assert.Equal(t, 200, s.form(t, "Patient", body).Code)
}

func FuzzSearch(f *testing.F) {
	s := stocked(f, smith, `{"resourceType":"Task","id":"t1","for":{"reference":"Patient/p1"}}`)
	for _, seed := range []string{"family=smith", "family:exact=Smith&_sort=-birthdate&_count=1", "birthdate=ge1980-02", "identifier=urn:mrn|7", "_cursor=AAAA", "patient.identifier=7", "_include=Task:patient", `given=a\,b`, "_lastUpdated=gt2026"} {
		f.Add("Patient", seed)
		f.Add("Task", seed)
		f.Add("AuditEvent", seed)
	}
	f.Fuzz(func(t *testing.T, kind, query string) {
		if kind != "Patient" && kind != "Task" && kind != "AuditEvent" && kind != "Provenance" {
			kind = "Patient"
		}
		r := httptest.NewRequest("POST", "/fhir/"+kind+"/_search", strings.NewReader(query))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		w := httptest.NewRecorder()
		s.ServeHTTP(w, r)
		require.Contains(t, []int{200, 400, 406, 413}, w.Code)
		doc, faults := element.Read(w.Body.Bytes(), element.Limit{})
		require.Empty(t, faults)
		require.Contains(t, []string{"Bundle", "OperationOutcome"}, doc.Root().Get("resourceType").Text())
	})
}
