package schema

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/testdata/faults"
	official "weir.example/weir/testdata/r4"
)

func TestKnownPaths(t *testing.T) {
	for path, want := range map[string]bool{
		"MedicationRequest": true,
		"MedicationRequest.dosageInstruction.doseAndRate.doseQuantity":             true,
		"MedicationRequest.dosageInstruction.doseAndRate.dose[x]":                  true,
		"MedicationRequest.dosageInstruction.doseAndRate.doseQuantity.value":       true,
		"MedicationRequest.dosageInstruction.doseAndRate.rateRatio.numerator.code": true,
		"MedicationRequest.dosageInstruction.doseAndRate.doseRatio":                false, // a rate may be a ratio, a dose not
		"MedicationRequest.dosageInstruction.timing.repeat.boundsPeriod.end":       true,
		"MedicationRequest.dispenseRequest.initialFill.quantity.value":             true,
		"MedicationRequest.extension.valueCodeableConcept.coding.code":             true,
		"MedicationRequest.medication[x]":                                          true,
		"MedicationRequest.medication":                                             false, // R5
		"MedicationRequest.medication[x].coding":                                   false, // a choice has no parts before it is made
		"MedicationRequest.medicationCodeableConcept.coding.code":                  true,
		"MedicationRequest.subject.reference":                                      true,
		"MedicationRequest.subject.name":                                           false,
		"MedicationRequest.dosageInstruction[0]":                                   false,
		"Bundle.entry.link.relation":                                               true, // content of another element
		"Bundle.entry.resource":                                                    true,
		"Parameters.parameter.part.part.valueInstant":                              true, // content of itself
		"Patient.birthDate.value":                                                  false,
		"Timing.repeat.durationUnit":                                               true,
		"Nothing":                                                                  false,
		"Nothing.at.all":                                                           false,
		"":                                                                         false,
	} {
		assert.Equal(t, want, Known(path), path)
	}
}

// The table against the JSON schema, which was made from the same definitions
// by others: every type has the same element names, and the same elements are
// lists.
func TestTheTableHasTheElementsOfTheOfficialSchema(t *testing.T) {
	text, err := official.Schema()
	require.NoError(t, err)
	var file struct {
		Definitions map[string]struct {
			Properties map[string]struct {
				Type string
				Enum []string
			}
		}
	}
	require.NoError(t, json.Unmarshal(text, &file))
	compared := 0
	for name, find := range r4().kinds {
		d, there := file.Definitions[name]
		if !there || name == "Resource" || name == "DomainResource" || name == "SimpleQuantity" {
			continue
		}
		compared++
		l := find().top
		names := map[string]bool{}
		for property, p := range d.Properties {
			plain := strings.TrimPrefix(property, "_")
			if plain == "resourceType" {
				continue
			}
			names[plain] = true
			c := l.byName[plain]
			if !assert.NotNil(t, c, "%s.%s", name, property) {
				continue
			}
			if property == plain {
				assert.Equal(t, p.Type == "array", c.def.many, "%s.%s", name, plain)
			}
			if len(p.Enum) > 0 && len(c.def.codes) > 0 {
				slices.Sort(p.Enum)
				codes := slices.DeleteFunc(slices.Clone(c.def.codes), func(code string) bool { return !slices.Contains(p.Enum, code) })
				assert.Equal(t, slices.Compact(p.Enum), codes, "codes of %s.%s", name, plain)
			}
		}
		for plain := range l.byName {
			if !names[plain] && !(name == "Extension" || strings.HasPrefix(plain, "valueMeta") || strings.HasPrefix(plain, "defaultValue") || strings.HasPrefix(plain, "fixed") || strings.HasPrefix(plain, "pattern")) {
				assert.Fail(t, "not in the official schema", "%s.%s", name, plain)
			}
		}
	}
	assert.Greater(t, compared, 180, "resources and datatypes compared")
	assert.Len(t, r4().names, 146, "resources of R4 that can be sent")
}

func TestRequiredCodesAreThere(t *testing.T) {
	status := r4().kinds["MedicationRequest"]().top.byName["status"].def.codes
	assert.Equal(t, []string{"active", "cancelled", "completed", "draft", "entered-in-error", "on-hold", "stopped", "unknown"}, status, "medicationrequest.html, status")
	unit := r4().kinds["Timing"]().below["repeat"].byName["periodUnit"].def.codes
	assert.Equal(t, []string{"a", "d", "h", "min", "mo", "s", "wk"}, unit, "datatypes.html#Timing, UnitsOfTime")
}

// Every invariant we ask has a document that breaks it and nothing else.
func TestEveryInvariantHasItsFault(t *testing.T) {
	list, err := faults.All()
	require.NoError(t, err)
	broken := map[string]bool{}
	for _, f := range list {
		broken[f.Source] = true
	}
	for typ, rules := range byType {
		for _, i := range rules {
			assert.True(t, broken[i.key], "%s of %s has no fault in testdata/faults", i.key, typ)
		}
		assert.True(t, Known(typ), "R4 has no %s", typ)
	}
	for _, key := range []string{"ele-1", "ref-1", "dom-2", "dom-3", "dom-4", "dom-5"} {
		assert.True(t, broken[key], key)
	}
}

func TestReleasesNameNothingThatR4Has(t *testing.T) {
	require.Greater(t, len(releases()), 100)
	for path, release := range releases() {
		assert.False(t, Known(path), "R4 has %s", path)
		assert.Contains(t, []string{"FHIR R5", "FHIR STU3", "FHIR DSTU2"}, release, path)
	}
	assert.Equal(t, "R5", releaseOfProfile("http://hl7.org/fhir/5.0/StructureDefinition/Patient"))
	assert.Empty(t, releaseOfProfile("http://hl7.org/fhir/4.0/StructureDefinition/Patient"))
	assert.Empty(t, releaseOfProfile("http://hl7.org/fhir/StructureDefinition/Patient"))
	assert.Empty(t, releaseOfProfile("http://hl7.org/fhir/us/core/StructureDefinition/us-core-patient"))
}

func TestNearestNames(t *testing.T) {
	names := slices.Values([]string{"dosageInstruction", "dispenseRequest", "status", "subject", "statusReason", "id"})
	for typed, want := range map[string]string{
		"dosageInstructions": "dosageInstruction", // one more
		"dosageinstruction":  "dosageInstruction", // only case
		"dosageInstrcution":  "dosageInstruction", // two exchanged
		"staus":              "status",            // one less
		"stetuz":             "status",            // two wrong
		"szatvz":             "",                  // three wrong
		"subjetc":            "subject",
		"x":                  "",
		"ie":                 "", // half of a short name wrong is another name
		"":                   "",
	} {
		assert.Equal(t, want, nearest(typed, names), typed)
	}
	assert.Equal(t, "ab1", nearest("abc", slices.Values([]string{"ab2", "ab1"})), "of equals the first in the alphabet")
}
