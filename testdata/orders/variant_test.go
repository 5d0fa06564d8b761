package orders

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const small = `{"resourceType":"Bundle","type":"collection","entry":[
 {"fullUrl":"https://a.example/fhir/Patient/p","resource":{"resourceType":"Patient","id":"p","name":[{"given":["Ada","B"]}],"identifier":[{"value":"77"}]}},
 {"fullUrl":"urn:uuid:1","resource":{"resourceType":"Observation","identifier":[{"value":"w"}],"valueQuantity":{"value":82.40,"unit":"kg"}}},
 {"fullUrl":"urn:uuid:2","resource":{"resourceType":"Encounter","id":"e","meta":{"versionId":"1"}}},
 {"fullUrl":"urn:uuid:2","resource":{"resourceType":"Encounter","id":"e","meta":{"versionId":"2"},"contained":[{"resourceType":"Location","id":"l","name":"é"}]}}]}`

func edited(t *testing.T, text string) (string, error) {
	f, err := derive("x", "why: test\nbase: small\n"+text+"\nexpect verdict ready", func(string) (Fixture, error) {
		return Fixture{Name: "small", Now: time.Unix(0, 0), Stage: "release", Document: []byte(small)}, nil
	})
	return string(f.Document), err
}

func TestEdits(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"a value is set, and the digits of its neighbour stay", `set Patient/p name[0].given[1] "C"`, `82.40`},
		{"the digits of the new value stay", `set w valueQuantity.value 5.000`, `"value": 5.000`},
		{"a number beyond binary fractions stays", `set w valueQuantity.value 0.1000000000000000055511151231257827`, `0.1000000000000000055511151231257827`},
		{"a member is added", `add w status "final"`, `"status": "final"`},
		{"an array grows at its end", `add Patient/p name[0].given "Z"`, "\"B\",\n"},
		{"an element is deleted", `delete Patient/p name[0].given[0]`, `"B"`},
		{"a resource is found by its fullUrl", `set urn:uuid:1 valueQuantity.unit "g"`, `"unit": "g"`},
		{"by type and identifier", `set Observation/w valueQuantity.unit "g"`, `"unit": "g"`},
		{"by identifier of a patient", `set 77 id "q"`, `"id": "q"`},
		{"a version is named", `set Encounter/e/_history/2 contained[0].name "y"`, `"name": "y"`},
		{"a contained resource is named", `set Encounter/e/_history/2#l name "y"`, `"name": "y"`},
		{"the Bundle itself is named", `set Bundle type "batch"`, `"type": "batch"`},
		{"a value may go on over indented lines", "set w valueQuantity {\"value\":\n 1,\n \"unit\":\"g\"}", `"value": 1`},
		{"edits come in order", "delete Patient/p name[0].given[0]\nset Patient/p name[0].given[0] \"Q\"", `"Q"`},
		{"an entry is added", `resource urn:uuid:3 {"resourceType":"Flag"}`, `"resourceType": "Flag"`},
		{"letters beyond ASCII stay", `set w valueQuantity.unit "g"`, `é`},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := edited(t, c.text)
			require.NoError(t, err)
			assert.Contains(t, got, c.want)
			again, err := edited(t, c.text)
			require.NoError(t, err)
			assert.Equal(t, got, again)
		})
	}
}

func TestWhatAnEditTakesAwayIsGone(t *testing.T) {
	got, err := edited(t, "drop w\ndelete Patient/p name")
	require.NoError(t, err)
	assert.NotContains(t, got, "82.40")
	assert.NotContains(t, got, "Ada")
	assert.Contains(t, got, `"value": "77"`)
}

func TestAnEntryGetsWhatItsBundleAsks(t *testing.T) {
	got, err := edited(t, "set Bundle type \"transaction\"\nresource urn:uuid:3 {\"resourceType\":\"Flag\"}")
	require.NoError(t, err)
	assert.Contains(t, got, `"method": "POST"`)
	got, err = edited(t, "set Bundle type \"searchset\"\nresource urn:uuid:3 {\"resourceType\":\"MedicationRequest\"}\nresource urn:uuid:4 {\"resourceType\":\"Flag\"}")
	require.NoError(t, err)
	assert.Contains(t, got, `"mode": "match"`)
	assert.Contains(t, got, `"mode": "include"`)
}

func TestEditsThatCannotBeMade(t *testing.T) {
	for _, c := range []struct{ name, text, says string }{
		{"no such resource", `set Patient/x id "q"`, "no resource is called Patient/x"},
		{"two resources of one name", `set Encounter/e id "q"`, "more than one"},
		{"no such contained resource", `set Patient/p#l id "q"`, "contains no #l"},
		{"nothing to set", `set w status "final"`, "use add"},
		{"something there already", `add w valueQuantity {}`, "use set"},
		{"nothing to delete", `delete w status`, "nothing at status"},
		{"no way to the element", `set w component[0].value 1`, "nothing at component"},
		{"beyond the end of an array", `set Patient/p name[0].given[2] "C"`, "nothing at [2]"},
		{"a place that is no number", `set Patient/p name[x] "C"`, "no place in an array"},
		{"an empty path", `set Patient/p`, "no path"},
		{"a value that is no JSON", `set w valueQuantity.value 5,0`, "after the JSON value"},
		{"a value with a name twice", `set w valueQuantity {"a":1,"a":2}`, "duplicate"},
		{"a resource without a type", `resource urn:uuid:3 {}`, "with its type"},
		{"a resource that is there", `resource urn:uuid:1 {"resourceType":"Flag"}`, "already"},
		{"dropping a part", `drop w valueQuantity`, "one entry"},
		{"dropping the Bundle", `drop Bundle`, "one entry"},
		{"an unknown word", `change w id 1`, `"change" is none of`},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := edited(t, c.text)
			assert.ErrorContains(t, err, c.says)
		})
	}
}

func TestLinesOfACase(t *testing.T) {
	for _, c := range []struct {
		text string
		want Expectation
	}{
		{"verdict hold", Expectation{Kind: "verdict", Value: "hold"}},
		{"finding device-family block", Expectation{Kind: "finding", Code: "device-family", Gate: "block"}},
		{"finding hazard-spill-kit at pack", Expectation{Kind: "finding", Code: "hazard-spill-kit", Stage: "pack"}},
		{"no-finding dose-slip order 77 at close", Expectation{Kind: "no-finding", Code: "dose-slip", Order: "77", Stage: "close"}},
		{"quantity rate 200 mL/h", Expectation{Kind: "quantity", Name: "rate", Value: "200", Unit: "mL/h"}},
		{"quantity endsAt 2026-11-02T08:00:00-05:00", Expectation{Kind: "quantity", Name: "endsAt", Value: "2026-11-02T08:00:00-05:00"}},
		{"culprit dose-arithmetic rate tenfold", Expectation{Kind: "culprit", Code: "dose-arithmetic", Name: "rate", Value: "tenfold"}},
		{"doses 105", Expectation{Kind: "doses", Count: "105"}},
		{"delivery 2026-11-10 21", Expectation{Kind: "delivery", Value: "2026-11-10", Count: "21"}},
		{"kit saline-syringe 47", Expectation{Kind: "kit", Name: "saline-syringe", Count: "47"}},
		{"hazard closedTransfer required", Expectation{Kind: "hazard", Name: "closedTransfer", Value: "required"}},
		{"nightly nightly-replaced block", Expectation{Kind: "nightly", Code: "nightly-replaced", Gate: "block"}},
		{"last-dose 2026-12-15T14:00:00-05:00", Expectation{Kind: "last-dose", Value: "2026-12-15T14:00:00-05:00"}},
	} {
		t.Run(c.text, func(t *testing.T) {
			got, err := expectation(c.text)
			require.NoError(t, err)
			assert.Equal(t, c.want, got)
		})
	}
	for _, bad := range []string{"", "finding", "finding a stop", "finding a block b", "verdict fine", "wonder x", "finding a at lunch", "first-dose today", "doses"} {
		t.Run("not understood: "+bad, func(t *testing.T) {
			_, err := expectation(bad)
			assert.Error(t, err)
		})
	}
}

func TestAVariantInATest(t *testing.T) {
	f, err := Variant("faster", "why: one number\nbase: s1-device-250\nstage: pack\nset DeviceRequest/dr-reservoir parameter[0].valueQuantity.value 251\nexpect finding device-rate hold")
	require.NoError(t, err)
	assert.Equal(t, "pack", f.Expect[0].Stage)
	assert.Contains(t, string(f.Document), `"value": 251`)
	for _, bad := range []string{"base: s1-fixed\nexpect verdict ready", "why: x\nexpect verdict ready", "why: x\nbase: s1-fixed", "why: x\nbase: s9\nexpect verdict ready", "why: x\nbase: s1-fixed\nnow: today\nexpect verdict ready"} {
		_, err := Variant("bad", bad)
		assert.Error(t, err, bad)
	}
}
