package r4_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/worksheet"
)

// The document's hash is that of "Hello World!" and its URI the example of
// RFC 6920, section 8.1; the others are 32 equal bytes, encoded elsewhere.
func TestProvenanceNamesEverySourceByItsHash(t *testing.T) {
	w := fixed()
	w.Sources.Held = "nothing held"
	p := resources(t, w, "Provenance")[0]
	have := map[any]any{}
	for _, e := range p["entity"].([]any) {
		assert.Equal(t, "source", at(e, "role"))
		if d := at(e, "what", "display"); d != nil {
			have[d] = at(e, "what", "identifier", "value")
		}
	}
	assert.Equal(t, map[any]any{
		"document received":           "ni:///sha-256;f4OxZX_x_FO5LcGBSKHWXfwtSx-j1ncoSt3SABJtkGk",
		"reference tables, unsigned":  "ni:///sha-256;ERERERERERERERERERERERERERERERERERERERERERE",
		"site policy":                 "ni:///sha-256;IiIiIiIiIiIiIiIiIiIiIiIiIiIiIiIiIiIiIiIiIiI",
		"program, weir 0.1.0 codes":   "ni:///sha-256;MzMzMzMzMzMzMzMzMzMzMzMzMzMzMzMzMzMzMzMzMzM",
		"time zone data":              "ni:///sha-256;REREREREREREREREREREREREREREREREREREREREREQ",
		"what was held, nothing held": nil,
	}, have)
	assert.Equal(t, w.Refs.Order.URL, at(p, "entity", 1, "what", "reference"))
}

func TestProvenanceTiesEveryResourceToOneRun(t *testing.T) {
	w := blocked()
	others := resources(t, w, contractOrder[:7]...)
	p := resources(t, w, "Provenance")[0]
	targets := p["target"].([]any)
	assert.Len(t, targets, len(others))
	for i, r := range others {
		assert.Equal(t, "urn:uuid:"+r["id"].(string), at(targets[i], "reference"))
	}
	assert.Equal(t, "CREATE", at(p, "activity", "coding", 0, "code"))
	assert.Equal(t, w.Sources.Now, p["recorded"])
	assert.Equal(t, "author", at(p, "agent", 0, "type", "coding", 0, "code"))
	assert.Equal(t, "Device", at(p, "agent", 0, "who", "type"))
	assert.Equal(t, w.Refs.Pharmacy.URL, at(p, "agent", 0, "onBehalfOf", "reference"))
}

// A profile of US Core is claimed only when the resource meets it: a patient
// and a pharmacy that can be found, a drug with an RxNorm code.
func TestUSCoreIsClaimedOnlyWhereItIsMet(t *testing.T) {
	claims := func(w worksheet.Worksheet) map[any]any {
		out := map[any]any{}
		for _, r := range resources(t, w, contractOrder...) {
			if m := at(r, "meta", "profile", 0); m != nil {
				out[r["resourceType"]] = m
			}
		}
		return out
	}
	const core = "http://hl7.org/fhir/us/core/StructureDefinition/us-core-"
	assert.Equal(t, map[any]any{"MedicationDispense": core + "medicationdispense", "CarePlan": core + "careplan", "Provenance": core + "provenance"}, claims(fixed()))
	w := fixed()
	w.Refs.Patient = order.Reference{Display: "somebody"}
	assert.Equal(t, map[any]any{"Provenance": core + "provenance"}, claims(w))
	w = fixed()
	w.Refs.Pharmacy = order.Reference{}
	assert.NotContains(t, claims(w), "Provenance")
}

// The input is never pointed at by a relative address; what has neither
// address nor identifier is named in words, not left out.
func TestReferencesToTheInput(t *testing.T) {
	w := fixed()
	w.Refs.Patient = order.Reference{Type: "Patient", URL: "Patient/1", Identifier: order.Identifier{System: "urn:x", Value: "7"}}
	w.Refs.Order = order.Reference{}
	w.Refs.Encounter = order.Reference{Type: "Encounter", URL: "Encounter/2"}
	d := resources(t, w, "MedicationDispense")[0]
	assert.Equal(t, value{"type": "Patient", "identifier": value{"system": "urn:x", "value": "7"}}, d["subject"])
	assert.Equal(t, value{"type": "MedicationRequest", "display": "the order received"}, at(d, "authorizingPrescription", 0))
	assert.NotContains(t, d, "context")
}
