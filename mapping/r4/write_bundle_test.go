package r4_test

import (
	"bytes"
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/r4"
	"weir.example/weir/mapping/worksheet"
)

// contractOrder is the order of the entries in the outside contract.
var contractOrder = []string{"MedicationDispense", "Task", "SupplyRequest", "DeviceRequest", "ServiceRequest", "CarePlan", "DetectedIssue", "Provenance"}

// targets are the resource types R4 allows in the references we write, from
// the 4.0.1 StructureDefinitions; what R4 leaves open is not listed.
var targets = map[string][]string{
	"statusReasonReference": {"DetectedIssue"}, "subject": {"Patient"}, "context": {"Encounter"}, "authorizingPrescription": {"MedicationRequest"},
	"detectedIssue": {"DetectedIssue"}, "eventHistory": {"Provenance"}, "partOf": {"Task"}, "encounter": {"Encounter"}, "deliverTo": {"Patient"},
	"supplier": {"Organization"}, "patient": {"Patient"}, "author": {"Device"}, "onBehalfOf": {"Organization"}, "for": {"Patient"},
	"activity": {"DeviceRequest", "Task", "ServiceRequest"}, "implicated": {"MedicationRequest"}, "who": {"Device"},
}

func TestEveryAnswerIsValidAndWhole(t *testing.T) {
	for name, w := range all() {
		t.Run(name, func(t *testing.T) {
			data := r4.WriteBundle(w)
			assert.True(t, valid(t, data))
			assert.Equal(t, string(data), string(r4.WriteBundle(w)), "two runs give equal bytes")
			whole(t, w, data)
		})
	}
}

// whole checks order, ids and references of the Bundle of one order.
func whole(t require.TestingT, w worksheet.Worksheet, data []byte) {
	b := decode(t, data)
	assert.Equal(t, "collection", b["type"])
	assert.Equal(t, w.Sources.Now, b["timestamp"])
	for _, absent := range []string{"total", "link", "signature"} {
		assert.NotContains(t, b, absent)
	}
	ids, last := map[string]string{}, 0
	list, _ := b["entry"].([]any)
	for _, e := range list {
		assert.NotContains(t, e, "search")
		assert.NotContains(t, e, "request")
		assert.NotContains(t, e, "response")
		kind, _ := at(e, "resource", "resourceType").(string)
		url, _ := at(e, "fullUrl").(string)
		assert.Equal(t, "urn:uuid:"+at(e, "resource", "id").(string), url)
		assert.NotContains(t, ids, url, "an id stands twice")
		ids[url] = kind
		place := slices.Index(contractOrder, kind)
		assert.GreaterOrEqual(t, place, last, "%s stands too late", kind)
		last = place
	}
	given := map[string]bool{}
	for _, r := range []order.Reference{w.Refs.Patient, w.Refs.Order, w.Refs.Encounter, w.Refs.Pharmacy, w.Refs.Document} {
		given[r.URL] = true
	}
	for _, e := range list {
		r := at(e, "resource")
		walk("", r, func(name string, v value) {
			url, isReference := v["reference"].(string)
			kind, _ := v["type"].(string)
			if v["resourceType"] != nil || !isReference && kind == "" {
				return // DetectedIssue.reference is the address of a page
			}
			switch {
			case strings.HasPrefix(url, "#"):
				contained, _ := at(r, "contained").([]any)
				assert.True(t, slices.ContainsFunc(contained, func(c any) bool { return "#"+at(c, "id").(string) == url }), "%s", url)
				return
			case !isReference: // by identifier or in words
			case ids[url] != "":
				assert.Equal(t, ids[url], kind)
			default:
				assert.True(t, given[url], "%s leads neither to the answer nor to the input", url)
				assert.Contains(t, url, ":", "never relative")
			}
			if allowed := targets[name]; allowed != nil && kind != "" {
				assert.Contains(t, allowed, kind, "%s", name)
			}
		})
	}
}

// The ids were worked out with another program from the contract's text
// `type|orderKey|orderVersion|purpose|ordinal`.
func TestIdsAreThoseOfTheContract(t *testing.T) {
	ids := map[string]bool{}
	for _, r := range slices.Concat(resources(t, blocked(), contractOrder...), resources(t, fixed(), contractOrder...)) {
		ids[r["resourceType"].(string)+" "+r["id"].(string)] = true
	}
	for _, want := range []string{
		"MedicationDispense d8f9af3d-52fd-5d3d-9c91-6ecf9a3c487f", // delivery|1
		"MedicationDispense 63f535c2-698c-5104-97c3-1c209dad83b6", // delivery|2
		"Task 35583c1b-31b0-54df-9ff5-4a9468cbb620",               // fulfill|1
		"Task abaf71fb-4b1b-579e-a404-c759126b67b4",               // prepare|1
		"Task 4a9a40a4-6cff-590c-9a29-f688613236cc",               // laboratory-draw|2
		"SupplyRequest 9d228ab4-23d1-5d8b-b15d-35f640efd8bf",      // delivery|1
		"DetectedIssue 0e69b316-7d83-5542-abeb-740a79683c28",      // device-family|Bundle.entry[14]…text|1
		"Provenance 9b9bf4f0-e88f-5a05-a6ad-2c337862ece8",         // SHA-256 of document|tables|policy|clock
	} {
		assert.Contains(t, ids, want)
	}
}

func TestAnotherVersionOfTheOrderHasOtherIds(t *testing.T) {
	w := fixed()
	w.Order.Version = strings.Repeat("cd", 32)
	before := resources(t, fixed(), contractOrder...)
	for i, r := range resources(t, w, contractOrder...) {
		assert.NotEqual(t, before[i]["id"], r["id"])
	}
	w = fixed()
	w.Sources.Now = "2026-11-10T15:00:00-05:00" // a second run of the same order: only its Provenance is new
	for i, r := range resources(t, w, contractOrder...) {
		assert.Equal(t, before[i]["resourceType"] == "Provenance", before[i]["id"] != r["id"])
	}
}

func TestSeveralOrdersGiveTheirBundlesInInputOrder(t *testing.T) {
	data := r4.WriteBundles([]worksheet.Worksheet{surface(), fixed(), fixed()})
	require.True(t, valid(t, data))
	outer := decode(t, data)
	assert.Equal(t, "collection", outer["type"])
	assert.Equal(t, "2026-11-10T14:20:00-05:00", outer["timestamp"])
	list := outer["entry"].([]any)
	require.Len(t, list, 3)
	ids := map[any]bool{}
	for i, drug := range []string{"Home infusion: fluorouracil", "Home infusion: ceFAZolin", "Home infusion: ceFAZolin"} {
		inner := at(list[i], "resource")
		assert.Equal(t, "Bundle", at(inner, "resourceType"))
		assert.Equal(t, "urn:uuid:"+at(inner, "id").(string), at(list[i], "fullUrl"))
		for _, e := range at(inner, "entry").([]any) {
			if at(e, "resource", "resourceType") == "CarePlan" {
				assert.Equal(t, drug, at(e, "resource", "title"))
			}
			assert.False(t, ids[at(e, "fullUrl")], "the same order twice still gives no id twice")
			ids[at(e, "fullUrl")] = true
		}
	}
	assert.JSONEq(t, string(r4.WriteBundle(fixed())), again(t, at(list[1], "resource")), "an inner Bundle is the Bundle of that order alone")
}

func again(t *testing.T, v any) string {
	data, err := json.Marshal(v)
	require.NoError(t, err)
	return string(data)
}

func TestNoOrdersGiveAnEmptyCollection(t *testing.T) {
	data := r4.WriteBundles(nil)
	assert.Equal(t, value{"resourceType": "Bundle", "type": "collection"}, decode(t, data))
	assert.True(t, valid(t, data))
}

func TestALineIsTheSameBundleInOneLine(t *testing.T) {
	list := []worksheet.Worksheet{blocked(), fixed()}
	line := r4.WriteBundlesLine(list)
	assert.Equal(t, len(line)-1, bytes.IndexByte(line, '\n'), "one line feed, at the end")
	var compact bytes.Buffer
	require.NoError(t, json.Compact(&compact, r4.WriteBundles(list)))
	assert.Equal(t, compact.String()+"\n", string(line))
	assert.Contains(t, string(r4.WriteBundle(fixed())), "{\n  \"resourceType\": \"Bundle\",\n")
}

// Nothing error-prone stands in what a person reads, nor a number with a
// trailing zero in a Quantity.
func TestWhatPeopleReadIsPlain(t *testing.T) {
	texts := []string{"text", "display", "title", "description", "detail", "unit", "valueString", "diagnostics"}
	for name, w := range all() {
		n := 0
		for _, r := range resources(t, w, contractOrder...) {
			walk("", r, func(_ string, v value) {
				for k, x := range v {
					if s, ok := x.(string); ok && slices.Contains(texts, k) {
						n++
						assert.Empty(t, notation.Scan(s), "%s: %s %q", name, k, s)
					}
				}
			})
		}
		assert.NotZero(t, n)
	}
}
