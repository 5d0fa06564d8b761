package r4

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/element"
)

// A rate spelled mL/hr without a code: refused as a unit in strict reading,
// read and said in lenient reading.
func TestPublishedSpellingsAreReadOnlyOnRequest(t *testing.T) {
	const document = `{"resourceType":"MedicationRequest","id":"m","status":"active","intent":"order","subject":{"display":"x"},
	 "medicationCodeableConcept":{"text":"cefazolin"},
	 "dosageInstruction":[{"route":{"text":"Intravenous"},"doseAndRate":[{"doseQuantity":{"value":2,"unit":"g","system":"http://unitsofmeasure.org","code":"g"},"rateQuantity":{"value":200,"unit":"mL/hr"}}]}]}`
	d, faults := element.Read([]byte(document), element.Limit{})
	require.Empty(t, faults)
	now := time.Date(2026, 11, 10, 12, 0, 0, 0, time.UTC)

	strict, _ := ReadCases(d, now)
	require.Len(t, strict, 1)
	require.NotEmpty(t, strict[0].Orders[0].Faults)
	assert.EqualValues(t, "record-unit-unknown", strict[0].Orders[0].Faults[0].Code)
	assert.Contains(t, strict[0].Orders[0].Faults[0].Expected, `"mL/h"`)

	lenient, _ := ReadLenient(d, now)
	require.Len(t, lenient, 1)
	assert.Empty(t, lenient[0].Orders[0].Faults)
	rate := ""
	for _, s := range lenient[0].Orders[0].Stated {
		if s.Name == "rate" {
			rate = s.Quantity.Low.Decimal() + " " + s.Quantity.Unit.Code()
		}
	}
	assert.Equal(t, "200 mL/h", rate)
	said := ""
	for _, u := range lenient[0].Unused {
		said += u.Reason + "\n"
	}
	assert.True(t, strings.Contains(said, `"mL/hr" was read as mL/h`), said)
}
