package orders

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What a scenario wants caught must really stand in its Bundle, digit for
// digit. The values are those of the scenarios.
func TestTheFaultsStandInTheBundles(t *testing.T) {
	for _, c := range []struct{ fixture, resource, path, literal string }{
		{"s1-cefazolin-elastomeric", "88213007", "dispenseRequest.quantity.value", `126`},
		{"s1-cefazolin-elastomeric", "88213007", "dosageInstruction[0].text", `"Cefazolin 2 g IV every 8 hours over 30 min, use 100 mL elastomeric 50 mL/h, through 15 December 2026"`},
		{"s2-vancomycin-kidneys", "V-500117", "dosageInstruction[0].timing.repeat.duration", `60`},
		{"s2-vancomycin-kidneys-changed", "Observation/obs-scr-2", "valueQuantity.value", `1.9`},
		{"s2-vancomycin-kidneys-changed", "Observation/obs-trough-2", "effectiveDateTime", `"2027-02-15T08:20:00-06:00"`},
		{"s2-vancomycin-kidneys-changed", "V-500164", "priorPrescription.reference", `"MedicationRequest/mr-vanc-1"`},
		{"s3-fluorouracil-46h", "ONC-3304518", "dosageInstruction[0].doseAndRate[1].rateQuantity.value", `47.7`},
		{"s4-ceftriaxone-child", "Observation/obs-weight", "valueQuantity", `{"value":35.7,"unit":"kg","system":"http://unitsofmeasure.org","code":"kg"}`},
		{"s4-ceftriaxone-child", "Observation/obs-weight-january", "valueQuantity.value", `16.0`},
		{"s4-ceftriaxone-child", "Patient/pat-2209", "birthDate", `"2022-06-03"`},
		{"s4-ceftriaxone-child", "DocumentReference/doc-referral#sheet", "birthDate", `"2022-03-06"`},
		{"s4-ceftriaxone-child", "QX-77082#hep", "ingredient[0].strength.numerator.value", `100`},
		{"s5-nutrition-cycle", "Medication/med-pn", "ingredient[6].strength.numerator.code", `"meq"`},
		{"s5-nutrition-cycle", "Medication/med-pn", "ingredient[8].strength.denominator.code", `"L"`},
		{"s5-nutrition-cycle", "Medication/med-pn", "ingredient[7].strength.numerator.value", `8`},
		{"s5-nutrition-cycle", "PN-0313-1#made", "ingredient[7].strength.numerator.value", `12`},
		{"s6-hydration-gravity", "H-210088", "dosageInstruction[0].doseAndRate[0].rateQuantity.value", `25`},
		{"s6-hydration-gravity", "H-210088", "dosageInstruction[0].timing.repeat.boundsPeriod", `{"start":"2027-06-07T10:00:00-07:00"}`},
		{"s7-daptomycin-discharge", "B-88220455-1#made", "batch.expirationDate", `"2026-12-27T15:00:00-08:00"`},
		{"s7-daptomycin-discharge", "Encounter/enc-31907/_history/9", "period.end", `"2026-12-18T11:00:00-08:00"`},
		{"s7-daptomycin-discharge", "Encounter/enc-31907/_history/10", "period.end", `"2026-12-20T19:30:00-08:00"`},
		{"s7-daptomycin-discharge", "Appointment/app-nurse", "start", `"2026-12-19T17:00:00-08:00"`},
		// And in variants the change that they are made for.
		{"s1-status-empty", "88213007", "status", `""`},
		{"s3-fixed", "ONC-3304518", "dosageInstruction[0].doseAndRate[1].rateQuantity.value", `2`},
		{"s1-weight-in-pounds", "Observation/obs-weight", "valueQuantity.code", `"[lb_av]"`},
		{"s7-dextrose", "Medication/med-dapto", "ingredient[1].itemCodeableConcept.text", `"dextrose 5 % injection"`},
	} {
		t.Run(c.fixture+" "+c.resource+" "+c.path, func(t *testing.T) {
			_, n, err := find(document(t, c.fixture), c.resource)
			require.NoError(t, err)
			steps, err := split(c.path)
			require.NoError(t, err)
			for _, s := range steps {
				n = s.in(n)
				require.NotNil(t, n, "nothing at %s", s)
			}
			assert.JSONEq(t, c.literal, literalOf(t, n))
			if n.literal != nil {
				assert.Equal(t, c.literal, string(n.literal))
			}
		})
	}
}

func TestNutritionHasFourteenIngredients(t *testing.T) {
	_, n, err := find(document(t, "s5-nutrition-cycle"), "Medication/med-pn")
	require.NoError(t, err)
	assert.Len(t, n.member("ingredient").items(), 14)
}

func TestTheGravitySetHasNoDropFactor(t *testing.T) {
	_, n, err := find(document(t, "s6-hydration-gravity"), "D-6001")
	require.NoError(t, err)
	assert.Nil(t, n.member("parameter"))
}

// Every kind of Bundle is there, with what its kind asks of each entry.
func TestBundlesAreOfEveryKind(t *testing.T) {
	kinds := map[string]bool{}
	for _, f := range All() {
		root := document(t, f.Name)
		kind := root.member("type").str()
		kinds[kind] = true
		var seen []string
		for i, e := range root.member("entry").items() {
			r := e.member("resource")
			key := e.member("fullUrl").str() + " " + r.member("meta").member("versionId").str()
			assert.NotContains(t, seen, key, "%s: bdl-7", f.Name)
			seen = append(seen, key)
			asks := kind == "transaction" || kind == "batch"
			assert.Equal(t, asks, e.member("request") != nil, "%s: bdl-3, %s", f.Name, key)
			assert.Equal(t, kind == "searchset", e.member("search") != nil, "%s: bdl-2, %s", f.Name, key)
			if kind == "message" && i == 0 {
				assert.Equal(t, "MessageHeader", r.member("resourceType").str(), "%s: bdl-12", f.Name)
			}
		}
	}
	assert.Equal(t, map[string]bool{"collection": true, "message": true, "searchset": true, "transaction": true, "batch": true}, kinds)
}

// Every reference resolves inside its own document, and every contained
// resource is referred to (ref-1, dom-3).
func TestReferencesResolve(t *testing.T) {
	for _, f := range All() {
		root := document(t, f.Name)
		var urls []string
		for _, e := range root.member("entry").items() {
			urls = append(urls, e.member("fullUrl").str())
		}
		for _, e := range root.member("entry").items() {
			url, r := e.member("fullUrl").str(), e.member("resource")
			var inner, used []string
			for _, c := range r.member("contained").items() {
				inner = append(inner, c.member("id").str())
			}
			for _, ref := range references(r) {
				if id, ok := strings.CutPrefix(ref, "#"); ok {
					assert.Contains(t, inner, id, "%s %s", f.Name, url)
					used = append(used, id)
					continue
				}
				if !strings.Contains(ref, ":") {
					parts := strings.Split(url, "/")
					ref = strings.Join(parts[:len(parts)-2], "/") + "/" + ref
				}
				assert.Contains(t, urls, ref, "%s %s", f.Name, url)
			}
			for _, id := range inner {
				assert.Contains(t, used, id, "%s %s: nobody refers to #%s", f.Name, url, id)
			}
		}
	}
}

func references(n *node) []string {
	var out []string
	for i, v := range n.values {
		if n.kind == '{' && n.names[i] == "reference" && v.kind == '"' {
			out = append(out, v.str())
		}
		out = append(out, references(v)...)
	}
	return out
}

// No number in a Bundle stands without a unit of UCUM.
func TestQuantitiesCarryAUnit(t *testing.T) {
	var walk func(name string, n *node)
	walk = func(name string, n *node) {
		if n.kind == '{' && slices.Contains(n.names, "value") && n.member("value").kind == '0' {
			assert.Equal(t, "http://unitsofmeasure.org", n.member("system").str(), name)
			assert.NotEmpty(t, n.member("code").str(), name)
			assert.NotEmpty(t, n.member("unit").str(), name)
		}
		for _, v := range n.values {
			walk(name, v)
		}
	}
	for _, f := range All() {
		walk(f.Name, document(t, f.Name))
	}
}

func document(t *testing.T, name string) *node {
	f, err := Load(name)
	require.NoError(t, err)
	root, err := parse(f.Document)
	require.NoError(t, err)
	return root
}

func literalOf(t *testing.T, n *node) string {
	text, err := n.text()
	require.NoError(t, err)
	return string(text)
}
