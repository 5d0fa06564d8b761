package r4_test

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/worksheet"
)

func TestTheParentComesFirstAndTheOthersArePartOfIt(t *testing.T) {
	list := resources(t, fixed(), "Task")
	require.Len(t, list, 9)
	parent := list[0]
	assert.Equal(t, []any{"fulfill", "fulfill"}, []any{at(parent, "code", "coding", 0, "code"), at(parent, "code", "coding", 1, "code")})
	assert.Equal(t, "http://hl7.org/fhir/CodeSystem/task-code", at(parent, "code", "coding", 1, "system"))
	assert.NotContains(t, parent, "partOf")
	assert.Equal(t, "2026-12-15T14:00:00-05:00", at(parent, "restriction", "period", "end"), "due with the last dose")
	for _, x := range list[1:] {
		assert.Equal(t, "urn:uuid:"+parent["id"].(string), at(x, "partOf", 0, "reference"))
		assert.Equal(t, parent["groupIdentifier"], x["groupIdentifier"])
	}
	for _, x := range list {
		assert.Equal(t, "order", x["intent"])
		assert.Equal(t, "2026-11-10T14:20:00-05:00", x["authoredOn"])
		assert.Equal(t, x["authoredOn"], x["lastModified"])
		assert.Equal(t, "https://marrowgate.example/fhir/MedicationRequest/mr-cefazolin", at(x, "focus", "reference"))
		assert.Equal(t, "CarePlan", at(x, "basedOn", 0, "type"), "R4: what a task is based on is not what it fulfils")
	}
}

func TestWhatPreparesIsADraftWhileTheOrderIsHeld(t *testing.T) {
	for verdict, want := range map[string]string{"ready": "requested", "hold": "draft", "block": "draft", "indeterminate": "draft"} {
		w := blocked()
		w.Verdict = verdict
		list := resources(t, w, "Task")
		prepare := byCode(t, list, "prepare")
		assert.Equal(t, want, prepare["status"], verdict)
		assert.Equal(t, want, list[0]["status"], "the parent too")
		assert.Equal(t, "requested", byCode(t, list, "clinical-check")["status"], verdict)
		if want == "draft" {
			assert.Equal(t, "DetectedIssue", at(prepare, "reasonReference", "type"), "it says what it waits for")
		} else {
			assert.NotContains(t, prepare, "reasonReference")
		}
	}
}

// Each review follows its own blood draw, not the first one.
func TestATaskWaitsForTheOneBeforeIt(t *testing.T) {
	list := resources(t, fixed(), "Task")
	id := func(n int) string { return "urn:uuid:" + list[n]["id"].(string) }
	assert.Equal(t, id(1), at(part(list[2], "after"), "reference"))
	assert.Equal(t, id(4), at(part(list[5], "after"), "reference"))
	assert.Equal(t, id(6), at(part(list[7], "after"), "reference"))
	assert.Nil(t, part(list[1], "after"))
}

func TestTheWorstFindingIsTheReasonAndTheOthersAreInputs(t *testing.T) {
	w := blocked()
	w.Tasks = append(w.Tasks, worksheet.Task{Code: "call-prescriber", Role: "pharmacist", Title: "Call", Finding: "access-lock-missing"})
	issues := resources(t, w, "DetectedIssue")
	list := resources(t, w, "Task")
	id := func(code string) string { return "urn:uuid:" + byCode(t, issues, code)["id"].(string) }
	assert.Equal(t, id("device-family"), at(list[0], "reasonReference", "reference"))
	for i, code := range []string{"record-text-contradicts", "access-lock-missing", "schedule-quantity-explained"} {
		assert.Equal(t, "finding", at(list[0], "input", i, "type", "text"))
		assert.Equal(t, id(code), at(list[0], "input", i, "valueReference", "reference"))
	}
	assert.Equal(t, id("access-lock-missing"), at(byCode(t, list, "call-prescriber"), "reasonReference", "reference"))
	assert.NotContains(t, byCode(t, list, "clinical-check"), "reasonReference")
}

func TestNumbersOfATaskAreQuantitiesUnlessInDispute(t *testing.T) {
	inputs := func(w worksheet.Worksheet) map[string]any {
		out := map[string]any{}
		for _, x := range byCode(t, resources(t, w, "Task"), "prepare")["input"].([]any) {
			v := at(x, "valueQuantity", "value")
			if v == nil {
				v = at(x, "valueString")
			}
			out[at(x, "type", "text").(string)] = v
		}
		return out
	}
	assert.Equal(t, map[string]any{"closes only with": "a signature", "dose": json.Number("2"), "rate": json.Number("200"), "line": "right arm"}, inputs(fixed()))
	w := fixed()
	q := w.Refs.Numbers["rate"]
	q.Disputed = true
	w.Refs.Numbers["rate"] = q
	assert.NotContains(t, inputs(w), "rate")
}

func TestPerformersHaveOurRoleAndSNOMEDWhereItFits(t *testing.T) {
	list := resources(t, fixed(), "Task")
	for _, c := range []struct{ task, role, snomed string }{
		{"clinical-check", "pharmacist", "46255001"}, {"first-visit", "nurse", "106292003"}, {"prepare", "technician", ""}, {"call-back", "on-call", ""},
	} {
		p := at(byCode(t, list, c.task), "performerType", 0)
		assert.Equal(t, "https://weir.example/fhir/CodeSystem/role", at(p, "coding", 0, "system"))
		assert.Equal(t, c.role, at(p, "coding", 0, "code"))
		if c.snomed == "" {
			assert.Len(t, at(p, "coding"), 1)
			continue
		}
		assert.Equal(t, c.snomed, at(p, "coding", 1, "code"))
	}
	assert.NotContains(t, byCode(t, list, "call-back"), "restriction", "a due time that is open is not made up")
}
