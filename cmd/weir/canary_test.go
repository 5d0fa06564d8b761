package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/testdata/orders"
)

// canaries are what only the record may hold: name, birth date, identifiers,
// telephones, address and free text of an invented patient, each a word that
// nothing else is made of.
var canaries = map[string]string{"Okonkwo-Reyes": "Qanaryfamily", "Amara": "Qanarygiven", "Tobias": "Qanarycontact", "MG-004417": "QANARY-MRN-7731", "88213007": "QANARY-ORDER-7732",
	"1979-08-22": "1977-07-17", "+1-555-0117": "+1-555-7733", "+1-555-0118": "+1-555-7734", "41 Juniper Spit Road": "Qanarystreet 41", "Partner; will help with infusions": "Qanarytext of a person"}

// session is a client that keeps everything an answer says outside its body,
// and each address it was given to call.
type session struct {
	t       *testing.T
	base    string
	mu      sync.Mutex
	outside bytes.Buffer
}

var givenAddress = regexp.MustCompile(`"relation":\s*"next",\s*"url":\s*"([^"]*)"|href="([^"]*)"|"(?:location|fullUrl)":\s*"([^"]*)"`)

func (s *session) ask(method, address, body string, header ...string) (int, string) {
	r, err := http.NewRequest(method, s.base+address, strings.NewReader(body))
	require.NoError(s.t, err)
	if body != "" {
		r.Header.Set("Content-Type", "application/fhir+json")
	}
	for i := 0; i+1 < len(header); i += 2 {
		r.Header.Set(header[i], header[i+1])
	}
	w, err := (&http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}).Do(r)
	if !assert.NoError(s.t, err) {
		return 0, ""
	}
	defer w.Body.Close()
	data, err := io.ReadAll(w.Body)
	assert.NoError(s.t, err)
	s.mu.Lock()
	defer s.mu.Unlock()
	_ = w.Header.Write(&s.outside)
	for _, m := range givenAddress.FindAllStringSubmatch(string(data), -1) {
		fmt.Fprintln(&s.outside, m[1], m[2], m[3])
	}
	if w.StatusCode >= 400 { // a refusal repeats nothing of the request
		s.outside.Write(data)
	}
	return w.StatusCode, string(data)
}

// asTransaction makes one of a document of the fixtures; orders and patients
// by PUT or POST with the condition.
func asTransaction(t *testing.T, document, method string) string {
	var doc map[string]any
	require.NoError(t, json.Unmarshal([]byte(document), &doc))
	doc["type"] = "transaction"
	for _, e := range doc["entry"].([]any) {
		one := e.(map[string]any)
		r := one["resource"].(map[string]any)
		kind := r["resourceType"].(string)
		request := map[string]any{"method": "POST", "url": kind}
		if ids, ok := r["identifier"].([]any); ok && (kind == "Patient" || kind == "MedicationRequest") {
			id := ids[0].(map[string]any)
			by := fmt.Sprintf("identifier=%s|%s", id["system"], id["value"])
			if method == "PUT" {
				request["method"], request["url"] = "PUT", kind+"?"+by
			} else {
				request["ifNoneExist"] = by
			}
		}
		one["request"] = request
	}
	text, err := json.Marshal(doc)
	require.NoError(t, err)
	return string(text)
}

// After a whole session, with errors of every kind, nothing of the patient
// stands in log, metrics, headers, addresses, refusals or the log of the
// database: only in the record, and in answers that give it.
func TestNothingOfAPatientLeavesTheRecord(t *testing.T) {
	f, err := orders.Load("s1-cefazolin-elastomeric")
	require.NoError(t, err)
	document := string(f.Document)
	for was, is := range canaries {
		require.Contains(t, document, was)
		document = strings.ReplaceAll(document, was, is)
	}
	kinds(t, func(t *testing.T, fresh func(*testing.T) string) {
		var log bytes.Buffer
		outside, inside, stop := startLogged(t, &log, "--store", fresh(t))
		s := &session{t: t, base: strings.TrimSuffix(outside, "/fhir")}
		post := asTransaction(t, document, "POST")
		status, body := s.ask("POST", "/fhir", post)
		require.Equal(t, 200, status, body)
		require.Contains(t, document, "Qanaryfamily")
		patient := regexp.MustCompile(`Patient/[0-9a-f-]{36}`).FindString(body)

		var wait sync.WaitGroup
		for range 32 { // who comes second meets a key that is taken
			wait.Go(func() {
				other := strings.ReplaceAll(strings.ReplaceAll(post, "QANARY-MRN-7731", "QANARY-MRN-7735"), "QANARY-ORDER-7732", "QANARY-ORDER-7736")
				s.ask("POST", "/fhir", strings.ReplaceAll(other, "marrowgate.example/fhir/", "marrowgate.example/other/"))
			})
		}
		wait.Wait()
		feed := asTransaction(t, document, "PUT")
		stopped := strings.Replace(feed, `"status":"active","subject"`, `"status":"stopped","subject"`, 1)
		for _, text := range []string{post, feed, strings.Replace(post, `"value":2}`, `"value":20}`, 1), stopped, strings.Replace(feed, "2026-11-10T11:05:31-05:00", "2026-11-09T11:05:31-05:00", 1), strings.Replace(post, "Qanaryfamily", "Qanaryfamily2", 1),
			strings.Replace(post, "1977-07-17", "Qanary-date", 1), strings.Replace(post, `"gender":"female"`, `"gender":"Qanarycode"`, 1), strings.Replace(post, `"gender"`, `"member"`, 1),
			strings.Replace(post, "QANARY-ORDER-7732", "\x01QANARY", 1), post + "Qanarytail", strings.Replace(post, `"url":"Patient"`, `"url":"Patient/Qanary"`, 1), `{"resourceType":"Qanary"}`} {
			s.ask("POST", "/fhir", text)
			s.ask("POST", "/fhir", strings.Replace(text, `"transaction"`, `"batch"`, 1))
			s.ask("POST", "/fhir/$process-message", text)
			s.ask("POST", "/fhir/MedicationRequest/$verify", text)
			s.ask("POST", "/fhir/Patient", text, "If-None-Exist", "identifier=https://marrowgate.example/mrn|QANARY-MRN-7731", "X-Request-Id", "Qanary 7737")
		}
		for _, address := range []string{"/fhir/Patient?family=Qanaryfamily&birthdate=1977-07-17&phone=" + url.QueryEscape("+1-555-7733"), "/fhir/Patient?family=Qanaryfamily&_count=1", "/fhir/Patient?identifier=QANARY-MRN-7731&Qanaryparam=1",
			"/fhir/Patient?birthdate=Qanary", "/fhir/Patient/Qanary", "/fhir/Qanary/1", "/fhir/Patient?_sort=Qanary", "/fhir/Patient?_cursor=Qanary", "/fhir/Task?patient.identifier=https://marrowgate.example/mrn%7CQANARY-MRN-7731&_count=2",
			"/fhir/" + patient, "/fhir/" + patient + "/_history", "/fhir/AuditEvent?patient=" + patient, "/", "/?q=Qanaryfamily", "/orders/Qanary", "/Qanary"} {
			for _, method := range []string{"GET", "HEAD", "DELETE", "PATCH"} {
				s.ask(method, address, "")
			}
		}
		s.ask("PUT", "/fhir/Patient/Qanary", `{"resourceType":"Patient","id":"Qanary"}`, "If-Match", "Qanary")
		s.ask("POST", "/fhir/Patient/_search", "family=Qanaryfamily&foo=Qanaryvalue", "Content-Type", "application/x-www-form-urlencoded")
		_, page := s.ask("GET", "/", "")
		for _, m := range regexp.MustCompile(`href="(/[^"]*)"`).FindAllStringSubmatch(page, -1) {
			s.ask("GET", m[1], "")
		}
		_, found := s.ask("GET", "/fhir/Patient?family=Qanaryfamily", "")
		assert.Contains(t, found, "Qanarystreet 41", "the record has it")
		assert.Contains(t, found, "Qanarytext of a person")

		w, err := http.Get(inside + "/metrics")
		require.NoError(t, err)
		metrics, err := io.ReadAll(w.Body)
		require.NoError(t, err)
		_ = w.Body.Close()
		require.Contains(t, string(metrics), "weir_http_requests_total")
		assert.Zero(t, stop())
		places := map[string]string{"log": log.String(), "metrics": string(metrics), "headers, addresses and refusals": s.outside.String()}
		if server, err := postgresServer(); strings.HasSuffix(t.Name(), "postgres") {
			require.NoError(t, err)
			places["log of the database"], err = server.Log()
			require.NoError(t, err)
		}
		assert.Contains(t, log.String(), `"status":409`)
		for place, text := range places {
			require.NotEmpty(t, text, place)
			low := strings.ToLower(text)
			for _, canary := range []string{"qanary", "1977-07-17", "+1-555-", "%2b1-555-"} {
				if at := strings.Index(low, canary); at >= 0 {
					assert.Fail(t, "patient data", "%s in %s: %s", canary, place, text[max(0, at-200):min(len(text), at+100)])
				}
			}
		}
	})
}
