package r4

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A problem that the patient no longer has is not counted, and that is said.
// The states are those of HL7's condition-clinical.
func TestAConditionThatIsOverDoesNotCount(t *testing.T) {
	problem := func(state string) string {
		if state != "" {
			state = `"clinicalStatus":{"coding":[{"system":"http://terminology.hl7.org/CodeSystem/condition-clinical","code":"` + state + `"}]},`
		}
		return `{"resourceType":"Condition","id":"c","subject":{"reference":"Patient/a"},` + state + `"code":{"text":"Dependence on dialysis"}}`
	}
	for _, state := range []string{"", "active", "recurrence", "relapse"} {
		k := readOne(t, bundle(patientA, orderA, problem(state)), noon)
		require.Len(t, k.Conditions, 1, state)
	}
	for _, state := range []string{"inactive", "remission", "resolved"} {
		k := readOne(t, bundle(patientA, orderA, problem(state)), noon)
		assert.Empty(t, k.Conditions, state)
		assert.Contains(t, reasons(k.Unused), "not used: its clinical status is "+state)
	}
}
