package r4

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// asked is an Observation of cs:patient-fact with the value given.
func asked(id, code, at, value string, more ...string) string {
	s := `{"resourceType":"Observation","id":"` + id + `","status":"final","subject":{"reference":"Patient/a"},"effectiveDateTime":"` + at + `",
		"code":{"coding":[{"system":"https://weir.example/fhir/CodeSystem/patient-fact","code":"` + code + `"}]},` + value
	for _, m := range more {
		s += "," + m
	}
	return s + "}"
}

func TestAnswersAreReadWithTheirValueInWords(t *testing.T) {
	for value, want := range map[string]string{
		`"valueString":"moderate"`: "moderate", `"valueBoolean":true`: "yes", `"valueBoolean":false`: "no",
		`"valueCodeableConcept":{"text":"low"}`: "low", `"valueQuantity":` + q("12", "{score}"): "12 {score}",
	} {
		k := readOne(t, bundle(patientA, orderA, asked("x", "thrombosis-risk", "2027-02-20", value)), noon)
		require.Len(t, k.Answers, 1, value)
		assert.Equal(t, "thrombosis-risk", k.Answers[0].Name)
		assert.Equal(t, want, k.Answers[0].Text, value)
	}
	coded := readOne(t, bundle(patientA, orderA, asked("x", "sleep-apnea", "2027-02-20", `"valueCodeableConcept":{"coding":[{"system":"http://snomed.info/sct","code":"373067005"}]}`)), noon)
	require.Len(t, coded.Answers, 1)
	assert.Equal(t, "373067005", coded.Answers[0].Value.Code("http://snomed.info/sct"))
}

func TestAnswersThatDoNotCount(t *testing.T) {
	for why, o := range map[string]string{
		"later than the clock": asked("x", "thrombosis-risk", "2027-03-05", `"valueString":"low"`),
		"no result":            asked("x", "thrombosis-risk", "2027-02-20", `"dataAbsentReason":{"text":"asked and not known"}`),
		"an unknown question":  asked("x", "favourite-colour", "2027-02-20", `"valueString":"blue"`),
		"another patient":      `{"resourceType":"Observation","id":"x","status":"final","subject":{"reference":"Patient/b"},"code":{"coding":[{"system":"http://loinc.org","code":"2458-8"}]},"valueString":"normal"}`,
	} {
		assert.Empty(t, readOne(t, bundle(patientA, orderA, o), noon).Answers, why)
	}
}

func TestAnAnswerByLOINCAndTheOrderItIsAbout(t *testing.T) {
	iga := observation("i", "2458-8", "2027-02-20", `"valueQuantity":`+q("210", "mg/dL"))
	of := asked("y", "calcium-phosphate-solubility", "2027-02-22", `"valueString":"amino acids: clear"`, `"focus":[{"reference":"MedicationRequest/o"}]`)
	k := readOne(t, bundle(patientA, orderA, iga, of), noon)
	require.Len(t, k.Answers, 2)
	assert.Equal(t, "calcium-phosphate-solubility", k.Answers[0].Name, "the newest first")
	assert.Equal(t, "https://a.example/fhir/MedicationRequest/o", k.Answers[0].Focus)
	assert.Equal(t, "iga-deficiency", k.Answers[1].Name)
	assert.Equal(t, "210 mg/dL", k.Answers[1].Text)
	faulty := observation("i", "2458-8", "2027-02-20", `"valueString":"deficient"`)
	assert.Len(t, readOne(t, bundle(patientA, orderA, faulty), noon).Answers, 1)
}

// No dose is worked out from an answer: a unit that is none refuses nothing.
func TestAUnitOfAnAnswerIsNoFaultOfTheOrder(t *testing.T) {
	k := readOne(t, bundle(patientA, orderA, asked("x", "thrombosis-risk", "2027-02-20", `"valueString":"low","valueQuantity":{"value":1,"unit":"points"}`)), noon)
	require.Len(t, k.Answers, 1)
	assert.Empty(t, k.Patient.Conflicts)
}

func TestASolubilityCheckIsATask(t *testing.T) {
	task := func(status string) string {
		return `{"resourceType":"Task","id":"t","status":"` + status + `","intent":"order","code":{"coding":[{"system":"https://weir.example/fhir/CodeSystem/task","code":"calcium-phosphate-check"}]},
			"for":{"reference":"Patient/a"},"focus":{"reference":"MedicationRequest/o"},"executionPeriod":{"end":"2027-02-25T10:00:00Z"},"output":[{"type":{"text":"result"},"valueString":"amino acids 5 %: below the curve"}]}`
	}
	k := readOne(t, bundle(patientA, orderA, task("completed")), noon)
	require.Len(t, k.Answers, 1)
	assert.Equal(t, "amino acids 5 %: below the curve", k.Answers[0].Text)
	assert.Equal(t, "https://a.example/fhir/MedicationRequest/o", k.Answers[0].Focus)
	assert.Empty(t, readOne(t, bundle(patientA, orderA, task("requested")), noon).Answers, "asked for is not done")
}

// The one who was asked is believed where the order says nothing; a denial and a
// later word of the clock say nothing.
func TestOpioidNaiveOrTolerantIsTakenFromTheAnswer(t *testing.T) {
	for text, want := range map[string]string{"opioid-tolerant": "tolerant", "Opioid naive": "naive", "opioid-naïve": "naive", "not tolerant": "", "naive or tolerant": "", "unknown": ""} {
		k := readOne(t, bundle(patientA, orderA, asked("x", "opioid-status", "2027-02-20", `"valueString":"`+text+`"`)), noon)
		require.Len(t, k.Orders, 1)
		assert.Equal(t, want, k.Orders[0].PriorExposure, text)
	}
	other := asked("x", "opioid-status", "2027-02-20", `"valueString":"opioid-naive"`, `"focus":[{"reference":"MedicationRequest/another"}]`)
	assert.Empty(t, readOne(t, bundle(patientA, orderA, other), noon).Orders[0].PriorExposure, "about another order")
	two := bundle(patientA, orderA, asked("x", "opioid-status", "2027-02-18", `"valueString":"opioid-naive"`), asked("y", "opioid-status", "2027-02-20", `"valueString":"opioid-tolerant"`))
	assert.Equal(t, "tolerant", readOne(t, two, noon).Orders[0].PriorExposure, "the newest counts")
}
