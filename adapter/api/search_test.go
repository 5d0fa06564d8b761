package api_test

import (
	"fmt"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// address is a search with its value escaped.
func address(kind, name, value string) string {
	return "/fhir/" + kind + "?" + url.QueryEscape(name) + "=" + url.QueryEscape(value)
}

// The examples of https://hl7.org/fhir/R4/search.html#prefix and #date.
func TestDatesCompareAsR4Says(t *testing.T) {
	s := stocked(t)
	for id, effective := range map[string]string{
		"day13": `"effectiveDateTime":"2013-01-13"`, "day14": `"effectiveDateTime":"2013-01-14"`, "midnight14": `"effectiveDateTime":"2013-01-14T00:00:00Z"`, "ten14": `"effectiveDateTime":"2013-01-14T10:00:00Z"`,
		"midnight15": `"effectiveDateTime":"2013-01-15T00:00:00Z"`, "year": `"effectiveDateTime":"2013"`, "from21jan": `"effectivePeriod":{"start":"2013-01-21"}`, "from15mar": `"effectivePeriod":{"start":"2013-03-15"}`,
		"until12mar": `"effectivePeriod":{"end":"2013-03-12"}`,
	} {
		s.put(t, `{"resourceType":"Observation","id":"`+id+`",`+effective+`}`, 1)
	}
	s.put(t, `{"resourceType":"Observation","id":"undated"}`, 1)
	has := func(value, want, without string) {
		t.Helper()
		got := s.found(t, address("Observation", "date", value))
		for _, id := range strings.Fields(want) {
			assert.Contains(t, got, id, value)
		}
		for _, id := range strings.Fields(without + " undated") {
			assert.NotContains(t, got, id, value)
		}
	}
	has("eq2013-01-14", "midnight14 ten14 day14", "midnight15 day13 year")
	has("2013-01-14", "midnight14 ten14 day14", "midnight15 day13 year")
	has("ne2013-01-14", "midnight15 day13 year", "midnight14 ten14 day14")
	has("lt2013-01-14T10:00Z", "day14 day13 midnight14 year until12mar", "ten14 midnight15 from21jan")
	has("gt2013-01-14T10:00Z", "day14 midnight15 year from21jan", "ten14 day13 midnight14")
	has("ge2013-03-14", "from21jan from15mar year", "day14 until12mar")
	has("le2013-03-14", "from21jan day14 until12mar year", "from15mar")
	has("sa2013-03-14", "from15mar", "from21jan day14 year until12mar")
	has("eb2013-03-14", "day14 ten14 until12mar", "from21jan from15mar year")
	has("2013", "day14 ten14 year", "from21jan")
	has("2013-01", "day14 ten14 midnight15", "year")
	has("2013-01-14T05:00:00-05:00", "ten14", "day14 midnight14")
	has("2013-01-13,2013-01-15", "day13 midnight15", "day14")
	both := s.found(t, "/fhir/Observation?date=ge2013-01-14&date=lt2013-01-15")
	assert.ElementsMatch(t, []string{"day14", "midnight14", "ten14", "year", "until12mar"}, both)
	assert.Equal(t, []string{"undated"}, s.found(t, "/fhir/Observation?date:missing=true"))
	assert.Len(t, s.found(t, "/fhir/Observation?date:missing=false"), 9)

	updated := bundleOf(t, s.ask(t, "/fhir/Observation?_id=undated")).Entry[0].Resource.Meta.LastUpdated
	assert.Equal(t, []string{"undated"}, s.found(t, address("Observation", "_lastUpdated", updated)))
	assert.Empty(t, s.found(t, address("Observation", "_lastUpdated", "gt"+updated)), "what was seen does not come again")
	assert.Len(t, s.found(t, address("Observation", "_lastUpdated", "lt"+updated)), 9)
}

// The examples of https://hl7.org/fhir/R4/search.html#string.
func TestStringsCompareAsR4Says(t *testing.T) {
	s := stocked(t)
	for _, given := range []string{"Eve", "Evelyn", "Severine", "Ève", "eve", "Adam"} {
		s.put(t, fmt.Sprintf(`{"resourceType":"Patient","id":"x%x","name":[{"given":[%q]}]}`, given, given), 1)
	}
	ids := func(list ...string) []string {
		var out []string
		for _, one := range list {
			out = append(out, fmt.Sprintf("x%x", one))
		}
		return out
	}
	assert.ElementsMatch(t, ids("Eve", "Evelyn", "Ève", "eve"), s.found(t, address("Patient", "given", "eve")))
	assert.ElementsMatch(t, ids("Eve", "Evelyn", "Ève", "eve"), s.found(t, address("Patient", "given", "ÈVE")))
	assert.ElementsMatch(t, ids("Eve", "Evelyn", "Severine", "Ève", "eve"), s.found(t, address("Patient", "given:contains", "eve")))
	assert.ElementsMatch(t, ids("Eve"), s.found(t, address("Patient", "given:exact", "Eve")))
	assert.ElementsMatch(t, ids("Evelyn", "Adam"), s.found(t, address("Patient", "given", "adam,evel")))
	for _, v := range []string{"%", "_", "E%", "eve' OR '1'='1", "*", "e.*", "$['name']", "{{7*7}}"} {
		assert.Empty(t, s.found(t, address("Patient", "given", strings.ReplaceAll(strings.ReplaceAll(v, ",", `\,`), "$", `\$`))), v)
		assert.Empty(t, s.found(t, address("Patient", "given:contains", strings.ReplaceAll(v, "$", `\$`))), v)
	}
}

// https://hl7.org/fhir/R4/search.html#token.
func TestTokensCompareAsR4Says(t *testing.T) {
	s := stocked(t,
		`{"resourceType":"Observation","id":"a","status":"final","code":{"coding":[{"system":"urn:one","code":"1"},{"system":"urn:two","code":"2"}]},"identifier":[{"system":"urn:mrn","value":"7"}]}`,
		`{"resourceType":"Observation","id":"b","status":"preliminary","code":{"coding":[{"code":"1"}]},"identifier":[{"value":"7"}]}`,
		`{"resourceType":"Observation","id":"c","status":"final","code":{"text":"words"},"identifier":[{"system":"urn:mrn","value":"7,8|9$\\"}]}`,
		`{"resourceType":"Patient","id":"p","telecom":[{"system":"phone","value":"(555) 010-0199"}]}`)
	for value, want := range map[string]string{
		"code=1": "a b", "code=urn:one|1": "a", "code=|1": "b", "code=urn:one|": "a", "code=urn:two|1": "", "code=2,1": "a b", "code=1&code=2": "a", "code:not=1": "c", "code:not=1,2": "c",
		"code:missing=true": "", "code:missing=false": "a b c", "status=final": "a c", "status=http://hl7.org/fhir/observation-status|final": "a c", "status=FINAL": "", "status:not=final": "b",
		"identifier=7": "a b", "identifier=urn:mrn|7": "a", "identifier=|7": "b", "identifier=urn:mrn|": "a c", `identifier=7\,8\|9\$\\`: "c", `identifier=urn:mrn|7\,8\|9\$\\`: "c", "identifier:not=7": "c",
		"_id=a,c": "a c", "_id=a&_id=b": "", "_id:not=a": "b c", "identifier:missing=true": "",
	} {
		query := ""
		for i, part := range strings.Split(value, "&") {
			name, v, _ := strings.Cut(part, "=")
			query += map[bool]string{true: "", false: "&"}[i == 0] + name + "=" + url.QueryEscape(v)
		}
		assert.Equal(t, strings.Fields(want), append([]string{}, s.found(t, "/fhir/Observation?"+query)...), value)
	}
	assert.Equal(t, []string{"p"}, s.found(t, "/fhir/Patient?phone=5550100199"), "how a number is written says nothing")
	assert.Equal(t, 400, ask(t, s, "GET", "/fhir/Patient?phone=phone%7C5550100199", nil).Code)
}

// https://hl7.org/fhir/R4/search.html#reference.
func TestReferencesCompareAsR4Says(t *testing.T) {
	s := stocked(t, smith,
		`{"resourceType":"MedicationRequest","id":"m1","subject":{"reference":"Patient/p1"},"requester":{"reference":"Practitioner/d1"},"medicationReference":{"reference":"Medication/x"}}`,
		`{"resourceType":"MedicationRequest","id":"m2","subject":{"reference":"Patient/p2"},"requester":{"reference":"Organization/d1"}}`,
		`{"resourceType":"Task","id":"t1","for":{"reference":"Patient/p1"},"focus":{"reference":"MedicationRequest/m1"}}`,
		`{"resourceType":"Task","id":"t2","for":{"reference":"Patient/p1"},"focus":{"reference":"https://elsewhere.example/MedicationRequest/9"},"partOf":[{"reference":"Task/t1"}]}`)
	for value, want := range map[string]string{
		"MedicationRequest?patient=p1": "m1", "MedicationRequest?patient=Patient/p1": "m1", "MedicationRequest?patient=p1,p2": "m1 m2", "MedicationRequest?patient=http://127.0.0.1:8765/fhir/Patient/p1": "m1",
		"MedicationRequest?patient=Patient/p1/_history/3": "m1", "MedicationRequest?patient=p9": "", "MedicationRequest?patient.identifier=urn:mrn%7C7": "m1", "MedicationRequest?patient.identifier=7": "m1", "MedicationRequest?patient.identifier=8": "",
		"MedicationRequest?requester=d1": "m1 m2", "MedicationRequest?requester:Practitioner=d1": "m1", "MedicationRequest?requester=Organization/d1": "m2", "MedicationRequest?medication=x": "m1", "MedicationRequest?medication:missing=true": "m2",
		"Task?focus=MedicationRequest/m1": "t1", "Task?focus:MedicationRequest=m1": "t1", "Task?focus=https://elsewhere.example/MedicationRequest/9": "t2", "Task?part-of=t1": "t2",
	} {
		assert.Equal(t, strings.Fields(want), s.found(t, "/fhir/"+value), value)
	}
}

func TestAProvenanceIsFoundByThePatientItBelongsTo(t *testing.T) {
	s := stocked(t, smith, `{"resourceType":"MedicationRequest","id":"m1","subject":{"reference":"Patient/p1"}}`,
		`{"resourceType":"Provenance","id":"v1","target":[{"reference":"MedicationRequest/m1"}],"recorded":"2026-11-10T19:20:00Z","patient":{"reference":"Patient/p1"}}`,
		`{"resourceType":"Provenance","id":"v2","target":[{"reference":"Organization/o"}],"recorded":"2026-11-10T19:20:00Z"}`)
	for value, want := range map[string]string{"patient=p1": "v1", "patient=Patient/p1": "v1", "patient=p2": "", "patient:missing=true": "v2", "patient:missing=false": "v1", "patient.identifier=7": "v1", "target=MedicationRequest/m1": "v1",
		"recorded=2026-11-10": "v1 v2"} {
		assert.Equal(t, strings.Fields(want), s.found(t, "/fhir/Provenance?"+value), value)
	}
}

func TestWhatIsIncluded(t *testing.T) {
	s := stocked(t, smith,
		`{"resourceType":"MedicationRequest","status":"active","intent":"order","id":"m1","subject":{"reference":"Patient/p1"},"medicationReference":{"reference":"Medication/gone"}}`,
		`{"resourceType":"Task","status":"requested","intent":"order","id":"t1","for":{"reference":"Patient/p1"},"focus":{"reference":"MedicationRequest/m1"}}`,
		`{"resourceType":"Task","status":"requested","intent":"order","id":"t2","for":{"reference":"Patient/p1"},"focus":{"reference":"MedicationRequest/m1"},"partOf":[{"reference":"Task/t1"}]}`,
		`{"resourceType":"Provenance","id":"v1","target":[{"reference":"Task/t1"},{"reference":"Task/t2"}],"agent":[{"who":{"display":"x"}}],"recorded":"2026-11-10T19:20:00Z"}`)
	for query, want := range map[string]string{
		"Task?_include=Task:focus":                                "Task/t1:match Task/t2:match MedicationRequest/m1:include",
		"Task?_include=Task:focus:MedicationRequest":              "Task/t1:match Task/t2:match MedicationRequest/m1:include",
		"Task?_include=Task:focus:Encounter":                      "Task/t1:match Task/t2:match",
		"Task?_include=Task:part-of":                              "Task/t1:match Task/t2:match",
		"Task?_id=t2&_include=Task:part-of&_include=Task:patient": "Task/t2:match Patient/p1:include Task/t1:include",
		"Task?_revinclude=Provenance:target":                      "Task/t1:match Task/t2:match Provenance/v1:include",
		"MedicationRequest?_include=MedicationRequest:medication": "MedicationRequest/m1:match",
		"Task?_id=none&_revinclude=Provenance:target":             "",
		"AuditEvent?entity=Task/t1&_include=AuditEvent:patient":   "AuditEvent/row-003:match Patient/p1:include",
		"Provenance?_include=Provenance:target&_id=v1":            "Provenance/v1:match Task/t1:include Task/t2:include",
	} {
		w := s.ask(t, "/fhir/"+query)
		fhir(t, w, "Bundle")
		var got []string
		for _, e := range bundleOf(t, w).Entry {
			got = append(got, e.Resource.ResourceType+"/"+e.Resource.ID+":"+e.Search.Mode)
			assert.Equal(t, "http://127.0.0.1:8765/fhir/"+e.Resource.ResourceType+"/"+e.Resource.ID, e.FullURL)
		}
		assert.Equal(t, strings.Fields(want), append([]string{}, got...), query)
	}
}

func TestOrdersOfTheAnswer(t *testing.T) {
	s := stocked(t)
	for i, name := range []string{"Chen", "adams", "Brown"} {
		s.put(t, fmt.Sprintf(`{"resourceType":"Patient","id":"p%d","name":[{"family":%q}],"birthDate":"19%d0"}`, i, name, 9-i), 1)
	}
	s.put(t, `{"resourceType":"Patient","id":"p3"}`, 1)
	for query, want := range map[string]string{"_sort=family": "p1 p2 p0 p3", "_sort=-family": "p0 p2 p1 p3", "_sort=birthdate": "p2 p1 p0 p3", "_sort=-birthdate": "p0 p1 p2 p3",
		"_sort=_lastUpdated": "p0 p1 p2 p3", "_sort=-_lastUpdated": "p3 p2 p1 p0", "_sort=-_id": "p3 p2 p1 p0", "": "p0 p1 p2 p3"} {
		for _, count := range []string{"1", "3", "50"} {
			assert.Equal(t, strings.Fields(want), s.found(t, "/fhir/Patient?_count="+count+"&"+query), query)
		}
	}
	require.Equal(t, 4, *bundleOf(t, s.ask(t, "/fhir/Patient")).Total)
	assert.Nil(t, bundleOf(t, s.ask(t, "/fhir/Patient?_count=3")).Total, "a page alone does not know")
	for query, want := range map[string]int{"": 4, "&family=a,b": 2, "&family=nobody": 0, "&birthdate:missing=true": 1, "&_sort=-family": 4} {
		w := s.ask(t, "/fhir/Patient?_count=0"+query)
		fhir(t, w, "Bundle")
		assert.Equal(t, want, *bundleOf(t, w).Total, "how many, and nothing else: %s", query)
		assert.Empty(t, bundleOf(t, w).Entry)
	}
}

// Reading and searching are entries of a Bundle too; a transaction reads what
// it has just written (https://hl7.org/fhir/R4/http.html#trules).
func TestReadingInABundle(t *testing.T) {
	s := stocked(t, smith)
	entry := func(url string) string { return `{"request":{"method":"GET","url":"` + url + `"}}` }
	body := `{"resourceType":"Bundle","type":"batch","entry":[` + strings.Join([]string{entry("Patient/p1"), entry("Patient?family=smith&_count=1"), entry("Patient/none"), entry("Patient?family:x=1"), entry("Patient/p1/_history"), entry("AuditEvent?_count=1")}, ",") + `]}`
	w := ask(t, s, "POST", "/fhir", []byte(body))
	require.Equal(t, 200, w.Code, w.Body.String())
	var got []string
	for _, e := range fhir(t, w, "Bundle").Get("entry").Each() {
		got = append(got, e.Get("response").Get("status").Text()[:3]+e.Get("resource").Get("resourceType").Text())
	}
	assert.Equal(t, []string{"200Patient", "200Bundle", "404", "400", "200Bundle", "200Bundle"}, got)
	created := `{"fullUrl":"urn:uuid:4f2a5c3e-9d40-4c8e-8f7a-0f6f3d1c2b1a","resource":{"resourceType":"Patient","identifier":[{"system":"urn:mrn","value":"new"}],"name":[{"family":"Jones"}]},"request":{"method":"POST","url":"Patient"}}`
	w = ask(t, s, "POST", "/fhir", []byte(`{"resourceType":"Bundle","type":"transaction","entry":[`+entry("Patient?identifier=urn:mrn%7Cnew")+`,`+created+`]}`))
	require.Equal(t, 200, w.Code, w.Body.String())
	assert.Equal(t, 1, fhir(t, w, "Bundle").Get("entry").At(0).Get("resource").Get("entry").Len())
}
