package r4_test

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/worksheet"
)

func TestEachKitLineIsASupplyRequest(t *testing.T) {
	list := resources(t, fixed(), "SupplyRequest")
	require.Len(t, list, 5)
	s := list[1]
	assert.Equal(t, "draft", s["status"], "a person releases")
	assert.Equal(t, "saline-syringe", at(s, "itemCodeableConcept", "coding", 0, "code"))
	assert.Equal(t, value{"value": json.Number("47"), "unit": "syringes", "system": "http://unitsofmeasure.org", "code": "{syringe}"}, s["quantity"])
	assert.Equal(t, "2026-11-17T18:00:00-05:00", s["occurrenceDateTime"], "the arrival of the second delivery")
	assert.Equal(t, "https://marrowgate.example/fhir/Patient/pat-004417", at(s, "deliverTo", "reference"))
	assert.Equal(t, "https://marrowgate.example/fhir/Patient/pat-004417", at(part(s, "extension-SupplyRequest.deliverFor"), "reference"))
	assert.Equal(t, "https://marrowgate.example/fhir/MedicationRequest/mr-cefazolin", at(part(s, "extension-SupplyRequest.basedOn"), "reference"))
	assert.Equal(t, fixed().Kit[1].Formula, part(s, "formula"))
	assert.Len(t, resources(t, blocked(), "SupplyRequest"), 1, "with a block only the first delivery's kit")
}

func TestAThingOfTwoWordsIsCountedInUCUM(t *testing.T) {
	w := fixed()
	w.Kit = []worksheet.KitItem{{Item: "spill-kit", Name: "spill kit", Quantity: 1, Unit: "spill kit", Delivery: 9}}
	s := resources(t, w, "SupplyRequest")[0]
	assert.Equal(t, value{"value": json.Number("1"), "unit": "spill kit", "system": "http://unitsofmeasure.org", "code": "{spill_kit}"}, s["quantity"])
	assert.NotContains(t, s, "occurrenceDateTime", "no arrival is made up for a delivery that is not there")
}

func TestWhatUCUMCannotCountIsCountedByOne(t *testing.T) {
	for unit, code := range map[string]string{"": "1", "漢": "1", "Öse": "{se}", "{x}": "{x}"} {
		w := fixed()
		w.Kit = []worksheet.KitItem{{Item: "x", Name: "x", Quantity: 3, Unit: unit, Delivery: 1}}
		assert.Equal(t, code, at(resources(t, w, "SupplyRequest")[0], "quantity", "code"), unit)
	}
}

// parameters of the infusion device by code, with value and unit.
func parameters(t *testing.T, w worksheet.Worksheet, kind string) map[string]string {
	t.Helper()
	out := map[string]string{}
	list, _ := byCode(t, resources(t, w, "DeviceRequest"), kind)["parameter"].([]any)
	for _, p := range list {
		out[at(p, "code", "coding", 0, "code").(string)] = string(at(p, "valueQuantity", "value").(json.Number)) + " " + at(p, "valueQuantity", "code").(string)
	}
	return out
}

func TestTheDeviceHasTheRateThatFits(t *testing.T) {
	// S1: 100 mL ÷ 0.5 h; the 50 mL per hour of the words is not repeated.
	assert.Equal(t, map[string]string{"nominal-rate": "200 mL/h"}, parameters(t, blocked(), "elastomeric"))
	// S3: 92 mL ÷ 46 h.
	assert.Equal(t, map[string]string{"nominal-rate": "2 mL/h"}, parameters(t, surface(), "elastomeric"))
	w := fixed() // nothing against the 190 mL per hour that was ordered: devices come in fixed rates
	w.Refs.Numbers["nominalRate"] = number("190", "mL/h")
	assert.Equal(t, map[string]string{"nominal-rate": "190 mL/h"}, parameters(t, w, "elastomeric"))
	assert.Equal(t, "Elastomeric reservoir, nominal 190 mL per hour", at(resources(t, w, "DeviceRequest")[0], "codeCodeableConcept", "text"))
	w.Refs.Source.Device.Kind = "electronic-pump"
	delete(w.Refs.Numbers, "nominalRate")
	assert.Equal(t, map[string]string{"set-rate": "200 mL/h", "concentration": "20 mg/mL"}, parameters(t, w, "electronic-pump"))
	for _, name := range []string{"volume", "rate"} { // volume in dispute: no fitting rate; rate too: none at all
		q := w.Refs.Numbers[name]
		q.Disputed = true
		w.Refs.Numbers[name] = q
	}
	assert.Equal(t, map[string]string{"concentration": "20 mg/mL"}, parameters(t, w, "electronic-pump"))
}

func TestAPatientControlledPumpHasItsSettings(t *testing.T) {
	assert.Equal(t, map[string]string{"basal-rate": "1 mg/h", "demand-dose": "0.5 mg", "lockout": "15 min", "dose-limit": "6 mg", "limit-window": "4 h",
		"concentration": "20 mg/mL"}, parameters(t, controlled(), "electronic-pump"))
	w := controlled()
	w.Findings = []worksheet.Finding{{Code: "opioid-limit", Gate: "hold", Culprits: []worksheet.Culprit{{Name: "demandDose", Named: true}}}}
	have := parameters(t, w, "electronic-pump")
	assert.NotContains(t, have, "demand-dose", "a dose in dispute is no setting")
	assert.Contains(t, have, "lockout")
}

func TestNoDeviceIsProposedWhenTheKindIsNotKnown(t *testing.T) {
	w := fixed()
	w.Refs.Source.Device.Kind = ""
	assert.Empty(t, resources(t, w, "DeviceRequest"))
}

func TestClosedSystemConnectorsWhereTheyAreNeeded(t *testing.T) {
	for state, text := range map[string]string{"required": "(required)", "by-policy": "(by the site's policy)", "no": "", "unassessed": ""} {
		w := fixed()
		w.Hazard.ClosedTransfer = state
		list := resources(t, w, "DeviceRequest")
		if text == "" {
			assert.Len(t, list, 1, state)
			continue
		}
		assert.Contains(t, at(byCode(t, list, "closed-transfer"), "codeCodeableConcept", "text"), text)
	}
}

func TestVisitsAndBloodDrawsAreProposed(t *testing.T) {
	list := resources(t, fixed(), "ServiceRequest")
	require.Len(t, list, 3, "first visit and two blood draws")
	for i, due := range []string{"2026-11-10T21:00:00-05:00", "2026-11-16T12:00:00-05:00", "2026-11-23T12:00:00-05:00"} {
		s := list[i]
		assert.Equal(t, due, s["occurrenceDateTime"])
		assert.Equal(t, []any{"draft", "proposal"}, []any{s["status"], s["intent"]})
		assert.Equal(t, "PTRES", at(s, "locationCode", 0, "coding", 0, "code"))
		assert.Equal(t, "106292003", at(s, "performerType", "coding", 0, "code"))
	}
}

func TestThePlanHoldsTaskDeviceAndVisits(t *testing.T) {
	p := resources(t, fixed(), "CarePlan")[0]
	var kinds []any
	for _, a := range p["activity"].([]any) {
		kinds = append(kinds, at(a, "reference", "type"))
	}
	assert.Equal(t, []any{"Task", "DeviceRequest", "ServiceRequest", "ServiceRequest", "ServiceRequest"}, kinds)
	assert.Equal(t, []any{"draft", "plan"}, []any{p["status"], p["intent"]})
	assert.Equal(t, "assess-plan", at(p, "category", 0, "coding", 0, "code"))
	assert.Equal(t, value{"start": "2026-11-10T22:00:00-05:00", "end": "2026-12-15T14:00:00-05:00"}, p["period"])
	assert.Equal(t, `<div xmlns="http://www.w3.org/1999/xhtml"><p>ceFAZolin 2 g intravenous every 8 hours over 30 minutes in 100 mL at 200 mL per hour</p>`+
		`<p>105 doses at home</p><p>First home dose Tue 10 Nov 2026 22:00 EST</p><p>Last dose Tue 15 Dec 2026 14:00 EST</p><p>Verdict at release: ready</p></div>`, at(p, "text", "div"))
}

func TestNothingOfTheSenderBecomesMarkup(t *testing.T) {
	w := fixed()
	w.Order.Drug = "<script>alert(\"1\")</script> & c\x00\x0bo"
	div := at(resources(t, w, "CarePlan")[0], "text", "div")
	assert.Contains(t, div, "&lt;script&gt;alert(&#34;1&#34;)&lt;/script&gt; &amp; c\uFFFD\uFFFDo")
	assert.NotContains(t, div, "<script")
}

func TestACountThatIsNotSettledIsNotPrinted(t *testing.T) {
	w := fixed()
	w.Schedule.Complete = false
	assert.Contains(t, at(resources(t, w, "CarePlan")[0], "text", "div"), "The end is open; 105 doses are listed")
	q := w.Refs.Numbers["interval"]
	q.Disputed = true
	w.Refs.Numbers["interval"] = q
	div := at(resources(t, w, "CarePlan")[0], "text", "div")
	assert.NotContains(t, div, "105")
	assert.NotContains(t, div, "Last dose")
	w = fixed()
	w.Schedule.DoseCount = 1
	assert.Contains(t, at(resources(t, w, "CarePlan")[0], "text", "div"), "<p>1 dose at home</p>")
}
