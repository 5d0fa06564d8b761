package conformance_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/testdata/orders"
)

// deviceVariants are the other sides of the variants that stand as files:
// what stops those does not stop these, or the other way round.
var deviceVariants = map[string]string{
	"s2-pump-settings-right": `why: the same pump runs 250 mL per hour and has the concentration of the container
source: checks.md, device-pump-range and device-sheet-differs
base: s2-pump-settings
set D-31880 parameter[1].valueQuantity.value 250
set D-31880 parameter[3].valueQuantity.value 5.0
expect no-finding device-sheet-differs
expect no-finding device-pump-range
expect no-finding device-pump-rounding
`,
	"s2-milrinone-two-pumps": `why: the same with a second request for a pump of the same kind
source: checks.md, device-backup-missing
base: s2-milrinone
resource https://fenwicktarn.example/fhir/DeviceRequest/dr-pump-2 {"resourceType":"DeviceRequest","id":"dr-pump-2","basedOn":[{"reference":"MedicationRequest/mr-vanc-1"}],"status":"active","intent":"order",
 "codeCodeableConcept":{"coding":[{"system":"https://weir.example/fhir/CodeSystem/infusion-device","code":"electronic-pump"}],"text":"Second electronic pump"},"subject":{"reference":"Patient/pat-118774"}}
expect no-task device-backup-missing
expect no-finding device-backup-missing at dispatch
`,
	"s2-milrinone-elastomeric": `why: an inotrope in a fixed-flow device
source: checks.md, device-unsuitable
base: s2-milrinone
set D-31880 codeCodeableConcept {"coding":[{"system":"https://weir.example/fhir/CodeSystem/infusion-device","code":"elastomeric","display":"Elastomeric reservoir"}],"text":"Elastomeric reservoir"}
expect verdict block
expect finding device-unsuitable block
`,
	"s3-per-day": `why: the dose in 24 hours stands beside the total, so nobody can take one for the other
source: checks.md, record-total-only; 4390 x 24 / 46 = 2290 mg
base: s3-fixed
set ONC-3304518 dosageInstruction[0].text "Fluorouracil 2,400 mg/m2 (4,390 mg) IV continuous over 46 h, 2,290 mg per day, 95.4 mg/h, elastomeric device, start Saturday 31 October 11:00"
expect no-finding record-total-only
expect no-finding dose-arithmetic
`,
}

func TestOtherSidesOfTheDeviceVariants(t *testing.T) {
	for name, text := range deviceVariants {
		f, err := orders.Variant(name, text)
		require.NoError(t, err)
		for _, stage := range f.Stages() {
			j := judge(t, f, stage)
			for _, e := range f.At(stage) {
				assert.Empty(t, check(j, e), "%s: %s\nwhy: %s", name, says(e), f.Why)
			}
		}
	}
}
