package schema_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/conformance/schema"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/r4"
	"weir.example/weir/mapping/r4/googlefhir"
	"weir.example/weir/testdata/examples"
	official "weir.example/weir/testdata/r4"
)

// What becomes of each official example, and why. All are valid R4; the one
// refusal is a limit of ours.
//
// accepted: read, no fault of FHIR R4, and holds an order. no order: the
// same, but there is no MedicationRequest in it. Anything else: code and
// place of the one reason why it is refused.
//
// That medrx0322 writes the unit mEq, which is no UCUM, is no fault of the
// document: R4 does not bind units, and an order pays for it where it is
// judged.
var exampleVerdicts = map[string]string{
	"Bundle-bundle-example.json":                 "accepted",
	"Bundle-bundle-response.json":                "no order",
	"Bundle-bundle-transaction.json":             "no order",
	"DetectedIssue-duplicate.json":               "no order",
	"Encounter-home.json":                        "no order",
	"Medication-med0310.json":                    "no order",
	"Medication-med0313.json":                    "no order",
	"Medication-med0317.json":                    "no order",
	"Medication-med0320.json":                    "no order",
	"Medication-medicationexample1.json":         "no order",
	"MedicationAdministration-medadmin0301.json": "no order",
	"MedicationAdministration-medadmin0306.json": "no order",
	"MedicationAdministration-medadmin0311.json": "no order",
	"MedicationDispense-meddisp0301.json":        "no order",
	"MedicationDispense-meddisp0305.json":        "no order",
	"MedicationDispense-meddisp0311.json":        "no order",
	"MedicationRequest-medrx002.json":            "accepted",
	"MedicationRequest-medrx0302.json":           "accepted",
	"MedicationRequest-medrx0309.json":           "accepted",
	"MedicationRequest-medrx0312.json":           "accepted",
	"MedicationRequest-medrx0315.json":           "accepted",
	"MedicationRequest-medrx0318.json":           "accepted",
	"MedicationRequest-medrx0322.json":           "accepted",
	"MedicationRequest-medrx0324.json":           "accepted",
	"MedicationRequest-medrx0333.json":           "accepted",
	"MedicationRequest-medrx0336.json":           "accepted",
	"MedicationRequest-medrx0337.json":           "accepted",
	"MedicationRequest-medrx0338.json":           "accepted",
	"Observation-body-height.json":               "no order",
	"Observation-decimal.json":                   "document-limit Observation.component[3].valueQuantity.value", // 1E-22, and later 1.0E-245: beyond the exponents accepted
	"Observation-example.json":                   "no order",
	"Observation-f001.json":                      "no order",
	"OperationOutcome-validationfail.json":       "no order",
	"Patient-f201.json":                          "no order",
	"Patient-infant-twin-1.json":                 "no order",
	"Patient-mom.json":                           "no order",
	"Practitioner-f201.json":                     "no order",
	"Provenance-example.json":                    "no order",
	"ServiceRequest-physical-therapy.json":       "no order",
	"Task-example3.json":                         "no order",
}

func TestEveryOfficialExampleIsReadOrRefusedForTheRightReason(t *testing.T) {
	files, err := examples.Files.ReadDir(".")
	require.NoError(t, err)
	require.Len(t, files, len(exampleVerdicts))
	for _, f := range files {
		t.Run(f.Name(), func(t *testing.T) {
			data, err := examples.Files.ReadFile(f.Name())
			require.NoError(t, err)
			want, listed := exampleVerdicts[f.Name()]
			require.True(t, listed)
			assert.Empty(t, official.Errors(data), "the official schema accepts its own example")
			d, strict := element.Read(data, element.Limit{})
			if code, place, refused := strings.Cut(want, " "); refused && want != "no order" {
				for _, x := range strict {
					assert.Equal(t, code, string(x.Code))
				}
				require.NotEmpty(t, strict)
				assert.Equal(t, place, strict[0].Place.Expression)
				return
			}
			assert.Empty(t, strict)
			found := schema.Check(d, googlefhir.Judge)
			assert.Empty(t, found, said(found))
			if want == "accepted" {
				return
			}
			_, none := r4.ReadCases(d, time.Date(2026, time.November, 10, 12, 0, 0, 0, time.UTC))
			require.Len(t, none, 1)
			row, _ := finding.Lookup(none[0].Code) // the outcome takes remedy and words from the table
			none[0].Remedy, none[0].Diagnostic = row.Remedy, none[0].Detail
			isComplete(t, none[0])
			assert.Equal(t, "document-unsupported", string(none[0].Code))
		})
	}
}
