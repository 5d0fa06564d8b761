package index_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/index"
	"weir.example/weir/conformance/profile"
	"weir.example/weir/conformance/schema"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/r4"
	"weir.example/weir/testdata/examples"
)

func at(t testing.TB, s string) time.Time {
	v, err := time.Parse(time.RFC3339Nano, s)
	require.NoError(t, err)
	return v
}

// of reads a resource and indexes it.
func of(t testing.TB, text string) ([]adapter.Identity, map[string][]adapter.Value) {
	doc, faults := element.Read([]byte(text), element.Limit{})
	require.Empty(t, faults)
	ids, values := index.Of(doc.Root())
	out := map[string][]adapter.Value{}
	for _, v := range values {
		name := v.Name
		v.Name = ""
		out[name] = append(out[name], v)
	}
	return ids, out
}

func text(system, code string) adapter.Value { return adapter.Value{System: system, Text: code} }

// Every element of the table is one of R4, each parameter stands once, and
// what is ours is published (conformance/profile) with the same type.
func TestTheTableIsOfR4(t *testing.T) {
	ours := map[string]element.Node{}
	for _, r := range profile.Resources("0") {
		if r.Kind == "SearchParameter" {
			doc, faults := element.Read(r.JSON(), element.Limit{})
			require.Empty(t, faults)
			ours[r.URL()] = doc.Root()
		}
	}
	rows, own := 0, 0
	for _, kind := range index.Types() {
		seen := map[string]bool{}
		for _, p := range index.Parameters(kind) {
			rows++
			assert.False(t, seen[p.Name], "%s %s", kind, p.Name)
			seen[p.Name] = true
			assert.Contains(t, []string{"token", "reference", "date", "string"}, p.Kind)
			if !strings.HasPrefix(p.Definition, "https://weir.example/") {
				assert.True(t, strings.HasPrefix(p.Definition, "http://hl7.org/fhir/SearchParameter/"), p.Definition)
				continue
			}
			own++
			require.Contains(t, ours, p.Definition)
			assert.Equal(t, p.Kind, ours[p.Definition].Get("type").Text())
			assert.Equal(t, p.Name, ours[p.Definition].Get("code").Text())
			assert.Equal(t, kind, ours[p.Definition].Get("base").At(0).Text())
		}
		assert.True(t, kind == "Provenance" || kind == "AuditEvent" || seen["identifier"], kind)
	}
	assert.Equal(t, len(ours), own)
	assert.Greater(t, rows, 150)
	for kind, paths := range index.Paths() {
		for _, p := range paths {
			assert.True(t, schema.Known(kind+"."+p), "%s.%s", kind, p)
		}
	}
	for _, row := range r4.Inputs() {
		for _, p := range append(row.First, row.Then...) {
			if kind, _, _ := strings.Cut(p, "."); kind != "Bundle" {
				assert.Contains(t, index.Types(), kind, "a type that is read can be searched")
			}
		}
	}
}

func TestAPatientIsFoundByNameNumberAndBirthday(t *testing.T) {
	ids, v := of(t, `{"resourceType":"Patient","identifier":[{"system":"urn:mrn","value":"7"},{"value":"8"},{"system":"urn:mrn","value":"7"},{"system":"urn:none"}],
		"name":[{"family":"Müller-Straße","given":["Ève","  Anna  Lena "]},{"text":"no parts"}],"birthDate":"1980-02",
		"telecom":[{"system":"phone","value":"+1 (555) 010-0199"},{"system":"email","value":"a@b.example"},{"system":"phone","value":"ask"}]}`)
	assert.Equal(t, []adapter.Identity{{System: "urn:mrn", Value: "7"}, {Value: "8"}}, ids)
	assert.Equal(t, []adapter.Value{text("", "muller-strasse")}, v["family"])
	assert.Equal(t, []adapter.Value{text("", "Müller-Straße")}, v["family:exact"])
	assert.Equal(t, []adapter.Value{text("", "eve"), text("", "anna lena")}, v["given"])
	assert.Equal(t, []adapter.Value{text("", "+15550100199"), text("", "ask")}, v["phone"])
	assert.Equal(t, []adapter.Value{{Low: at(t, "1980-02-01T00:00:00Z"), High: at(t, "1980-03-01T00:00:00Z")}}, v["birthdate"])
}

func TestAnOrderIsFoundByWhatItNames(t *testing.T) {
	_, v := of(t, `{"resourceType":"MedicationRequest","status":"active","intent":"order","subject":{"reference":"Patient/p1"},"authoredOn":"2026-11-10T14:20:00-05:00",
		"medicationReference":{"reference":"Medication/m1/_history/3"},"requester":{"reference":"PractitionerRole/r1"},
		"supportingInformation":[{"reference":"Device/d1"},{"reference":"Observation/o1"},{"reference":"https://elsewhere.example/Device/d2"},{"reference":"#here"}],
		"dispenseRequest":{"performer":{"reference":"Organization/o2"}}}`)
	assert.Equal(t, []adapter.Value{text("http://hl7.org/fhir/CodeSystem/medicationrequest-status", "active")}, v["status"])
	assert.Equal(t, []adapter.Value{text("", "Patient/p1")}, v["patient"])
	assert.Equal(t, []adapter.Value{text("", "Medication/m1")}, v["medication"], "the version named does not count")
	assert.Equal(t, []adapter.Value{{Low: at(t, "2026-11-10T19:20:00Z"), High: at(t, "2026-11-10T19:20:01Z")}}, v["authoredon"])
	assert.Empty(t, v["code"])
	var to []string
	for _, one := range v[index.Referred] {
		to = append(to, one.Text)
	}
	assert.ElementsMatch(t, []string{"Medication/m1", "PractitionerRole/r1", "Device/d1", "Organization/o2"}, to)

	_, v = of(t, `{"resourceType":"MedicationRequest","subject":{"reference":"Group/g"},"medicationCodeableConcept":{"coding":[{"system":"urn:a","code":"1"},{"code":"2"},{"display":"x"}],"text":"x"}}`)
	assert.Empty(t, v["patient"], "a group is no patient")
	assert.Equal(t, []adapter.Value{text("urn:a", "1"), text("", "2")}, v["code"])
}

// What is there in a form that nothing can be compared with is there all the
// same: it is not missing.
func TestWhatCannotBeComparedIsNotMissing(t *testing.T) {
	_, v := of(t, `{"resourceType":"Task","code":{"text":"in words"},"focus":{"identifier":{"value":"1"}},"owner":{"reference":"#one"},"for":{"identifier":{"value":"2"}},"groupIdentifier":{"system":"urn:g","value":"9"}}`)
	for _, name := range []string{"code", "focus", "owner"} {
		assert.Equal(t, []adapter.Value{text("", "")}, v[name], name)
	}
	assert.Empty(t, v["patient"], "whoever it is for may be no patient")
	assert.Equal(t, []adapter.Value{text("urn:g", "9")}, v["group-identifier"])
	assert.Empty(t, v["status"])
}

func TestOurOwnParameters(t *testing.T) {
	_, v := of(t, `{"resourceType":"DetectedIssue","extension":[{"url":"https://weir.example/fhir/StructureDefinition/citation","valueString":"x"},{"url":"https://weir.example/fhir/StructureDefinition/gate","valueCode":"hold"}],
		"status":"final","severity":"high","identifiedPeriod":{"start":"2026-11-10"},"implicated":[{"reference":"MedicationRequest/r"}]}`)
	assert.Equal(t, []adapter.Value{text("https://weir.example/fhir/CodeSystem/gate", "hold")}, v["gate"])
	assert.Equal(t, []adapter.Value{text("http://hl7.org/fhir/detectedissue-severity", "high")}, v["severity"])
	assert.Equal(t, []adapter.Value{{Low: at(t, "2026-11-10T00:00:00Z"), High: adapter.Latest}}, v["identified"])
	_, v = of(t, `{"resourceType":"Task","restriction":{"period":{"end":"2026-11-11T09:00:00Z"}},"performerType":[{"coding":[{"system":"urn:r","code":"nurse"},{"system":"urn:s","code":"1"}]}]}`)
	assert.Equal(t, []adapter.Value{{Low: at(t, "2026-11-11T09:00:00Z"), High: at(t, "2026-11-11T09:00:01Z")}}, v["due"])
	assert.Len(t, v["performer"], 2)
}

func TestTimings(t *testing.T) {
	_, v := of(t, `{"resourceType":"ServiceRequest","occurrenceTiming":{"event":["2026-11-10","2026-11-12"],"repeat":{"boundsPeriod":{"end":"2026-12-01"}}}}`)
	assert.Equal(t, []adapter.Value{{Low: at(t, "2026-11-10T00:00:00Z"), High: at(t, "2026-11-11T00:00:00Z")}, {Low: at(t, "2026-11-12T00:00:00Z"), High: at(t, "2026-11-13T00:00:00Z")},
		{Low: adapter.Earliest, High: at(t, "2026-12-02T00:00:00Z")}}, v["occurrence"])
	_, v = of(t, `{"resourceType":"ServiceRequest","occurrenceTiming":{"repeat":{"frequency":1,"period":1,"periodUnit":"d"}}}`)
	assert.Equal(t, []adapter.Value{{Low: adapter.Earliest, High: adapter.Latest}}, v["occurrence"], "nobody knows when: it may be any time")
}

// https://hl7.org/fhir/R4/search.html#date: the span of a time by its precision.
func TestSpans(t *testing.T) {
	for text, want := range map[string][2]string{
		"2013":                           {"2013-01-01T00:00:00Z", "2014-01-01T00:00:00Z"},
		"2012-02":                        {"2012-02-01T00:00:00Z", "2012-03-01T00:00:00Z"},
		"2012-02-29":                     {"2012-02-29T00:00:00Z", "2012-03-01T00:00:00Z"},
		"2013-01-14T10:00":               {"2013-01-14T10:00:00Z", "2013-01-14T10:01:00Z"},
		"2013-01-14T10:00-05:00":         {"2013-01-14T15:00:00Z", "2013-01-14T15:01:00Z"},
		"2013-01-14T10:00:07+05:30":      {"2013-01-14T04:30:07Z", "2013-01-14T04:30:08Z"},
		"2013-01-14T10:00:07.5Z":         {"2013-01-14T10:00:07.5Z", "2013-01-14T10:00:07.6Z"},
		"2013-01-14T10:00:07.123456789Z": {"2013-01-14T10:00:07.123456Z", "2013-01-14T10:00:07.123457Z"},
		"2016-12-31T23:59:60Z":           {"2016-12-31T23:59:59Z", "2017-01-01T00:00:00Z"},
		"2013-01-14T10:00:00+14:00":      {"2013-01-13T20:00:00Z", "2013-01-13T20:00:01Z"},
	} {
		low, high, ok := index.Span(text)
		require.True(t, ok, text)
		assert.Equal(t, at(t, want[0]), low, text)
		assert.Equal(t, at(t, want[1]), high, text)
	}
	for _, bad := range []string{"", "0000", "213", "2013-13", "2013-00", "2013-02-29", "2013-01-32", "2013-01-14T24:00Z", "2013-01-14T10:60Z", "2013-01-14T10:00:61Z", "2013-01-14T10", "2013-01-14T10:00:07,5Z",
		"2013-01-14T10:00:00+14:01", "2013-01-14T10:00:00+05:60", "2013-01-14 10:00", "2013-01-14T10:00:07.0123456789Z", "2013Z", "20130114", "２０１３", "2013-01-14t10:00z", " 2013"} {
		_, _, ok := index.Span(bad)
		assert.False(t, ok, bad)
	}
}

// https://hl7.org/fhir/R4/search.html#string: case and combining characters
// do not count.
func TestFolding(t *testing.T) {
	for text, want := range map[string]string{"Eve": "eve", "Évelyn": "evelyn", "SEVERINE": "severine", "Ｓｍｉｔｈ": "smith", "Weiß": "weiss", "  a\t\nb ": "a b", "İstanbul": "istanbul", "": "", "日本": "日本"} {
		assert.Equal(t, want, index.Fold(text), text)
	}
	assert.Equal(t, index.Fold("e\u0301"), index.Fold("\u00e9"))
	long := strings.Repeat("é", 3000)
	assert.Len(t, index.Fold(long), 500)
	assert.Equal(t, index.Fold(index.Fold(long)), index.Fold(long))
}

func TestLongTextsStayEqualAndShort(t *testing.T) {
	long := strings.Repeat("x", 501)
	assert.Equal(t, long[:500], index.Short(long[:500]))
	assert.Less(t, len(index.Short(long)), 100)
	assert.NotEqual(t, index.Short(long), index.Short(long+"x"))
	ids, _ := of(t, `{"resourceType":"Patient","identifier":[{"value":"`+long+`"}]}`)
	assert.Equal(t, []adapter.Identity{index.Identity("", long)}, ids)
}

// The official examples are indexed without a doubled value, and every
// resource of a type with rows is found by something.
func TestTheOfficialExamples(t *testing.T) {
	files, err := examples.Files.ReadDir(".")
	require.NoError(t, err)
	seen := 0
	for _, f := range files {
		data, err := examples.Files.ReadFile(f.Name())
		require.NoError(t, err)
		doc, _ := element.Read(data, element.Limit{})
		_, values := index.Of(doc.Root())
		if kind := doc.Root().Get("resourceType").Text(); slices.Contains(index.Types(), kind) {
			assert.NotEmpty(t, values, f.Name())
			seen++
		}
		for i, v := range values {
			assert.False(t, slices.Contains(values[:i], v), "%s %s", f.Name(), v.Name)
			assert.Equal(t, v.Low.IsZero(), v.High.IsZero())
			assert.False(t, v.High.Before(v.Low))
		}
	}
	assert.Greater(t, seen, 30)
}
