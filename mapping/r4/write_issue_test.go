package r4_test

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/worksheet"
)

func TestAnIssueSaysEverythingOfItsFinding(t *testing.T) {
	w := surface()
	list := resources(t, w, "DetectedIssue")
	require.Len(t, list, 2, "what has no gate is no issue")
	i := byCode(t, list, "dose-arithmetic")
	f := named(t, "dose-arithmetic", w.Findings)
	assert.Equal(t, "final", i["status"])
	assert.Equal(t, "high", i["severity"])
	assert.Equal(t, "block", part(i, "gate"))
	assert.Equal(t, f.Citation, part(i, "citation"))
	assert.Equal(t, f.Title, at(i, "code", "text"))
	assert.Equal(t, "https://weir.example/fhir/CodeSystem/finding", at(i, "code", "coding", 0, "system"))
	assert.Equal(t, "47.7 is the concentration (mg per mL) typed as the rate. Correct the rate to 2 mL per hour.", i["detail"])
	assert.Equal(t, "https://weir.example/fhir/rules/dose-arithmetic", i["reference"])
	assert.Equal(t, w.Sources.Now, i["identifiedDateTime"])
	assert.Equal(t, "Device", at(i, "author", "type"))
	assert.Nil(t, at(i, "author", "reference"), "the software has no address")
	for _, path := range [][]any{{"implicated", 0}, {"evidence", 0, "detail", 0}} {
		assert.Equal(t, w.Refs.Order.URL, at(i, append(path, "reference")...))
	}
	e := at(i, "evidence", 0)
	assert.Equal(t, f.Observed, part(e, "observed"))
	assert.Equal(t, f.Expected, part(e, "expected"))
	assert.Equal(t, f.Expression, part(e, "expression"))
}

func TestTheCulpritsStandBestFirst(t *testing.T) {
	i := byCode(t, resources(t, surface(), "DetectedIssue"), "dose-arithmetic")
	var have []value
	for _, x := range i["extension"].([]any) {
		if at(x, "url") == "https://weir.example/fhir/StructureDefinition/culprit" {
			have = append(have, x.(value))
		}
	}
	require.Len(t, have, 2)
	first, second := have[0], have[1]
	assert.Equal(t, "rate", part(first, "name"))
	assert.Equal(t, value{"value": json.Number("47.7"), "unit": "mL per hour", "system": "http://unitsofmeasure.org", "code": "mL/h"}, part(first, "stated"))
	assert.Equal(t, json.Number("2"), at(part(first, "consistent"), "value"))
	assert.Equal(t, "neighbouring-field", part(first, "signature"))
	assert.Equal(t, true, part(first, "named"))
	assert.Equal(t, false, part(second, "named"))
	assert.Equal(t, "duration", part(second, "with"), "what must be withdrawn together is not lost")
	assert.Equal(t, "volume per day", part(second, "reading"))
	assert.Nil(t, part(first, "reading"))
}

// A value that is no decimal cannot stand in a Quantity; the rest stays.
func TestACulpritWithoutANumberKeepsItsName(t *testing.T) {
	w := surface()
	w.Findings[0].Culprits = []worksheet.Culprit{{Name: "endsAt", Stated: "2026-11-02T09:00:00-05:00", Consistent: "02.0", Signature: "none"}}
	c := part(byCode(t, resources(t, w, "DetectedIssue"), "dose-arithmetic"), "culprit")
	assert.Equal(t, "endsAt", part(c, "name"))
	assert.Nil(t, part(c, "stated"))
	assert.Equal(t, value{"value": json.Number("2")}, part(c, "consistent"), "a number without unit stays a number, written as JSON wants it")
}

func TestARuleThatLacksAFactIsPreliminary(t *testing.T) {
	i := byCode(t, resources(t, surface(), "DetectedIssue"), "dose-renal")
	assert.Equal(t, "preliminary", i["status"])
	assert.Equal(t, "hold", part(i, "gate"))
	assert.Equal(t, "moderate", i["severity"])
	assert.Contains(t, i["detail"], "Not checked, so not passed. Missing: creatinine.")
	assert.Equal(t, "The dose does not fit the kidneys", at(i, "code", "text"), "the title of that rule in the table of codes")
}

func TestTheSeverityFollowsTheGateWhereTheTableIsSilent(t *testing.T) {
	for gate, severity := range map[string]string{"block": "high", "hold": "moderate", "warn": "moderate", "note": "low"} {
		w := fixed()
		w.Findings = []worksheet.Finding{{Code: "a-code-of-tomorrow", Gate: gate}}
		assert.Equal(t, severity, resources(t, w, "DetectedIssue")[0]["severity"], gate)
		w.Findings[0].Severity = "low"
		assert.Equal(t, "low", resources(t, w, "DetectedIssue")[0]["severity"], "the rule's own table wins")
	}
}

func TestEvidenceNamesTheOtherElementsOnce(t *testing.T) {
	i := byCode(t, resources(t, blocked(), "DetectedIssue"), "device-family")
	require.Len(t, i["evidence"], 2, "the element judged, and one other")
	assert.Equal(t, "Bundle.entry[14].resource.dosageInstruction[0].timing", part(at(i, "evidence", 1), "expression"))
}

// Two findings of one code at one place have the same purpose; the ordinal
// keeps their ids apart.
func TestEqualFindingsHaveIdsOfTheirOwn(t *testing.T) {
	w := fixed()
	w.Findings = []worksheet.Finding{{Code: "therapy-interaction", Gate: "warn", Expression: "Bundle"}, {Code: "therapy-interaction", Gate: "warn", Expression: "Bundle"}}
	list := resources(t, w, "DetectedIssue")
	assert.NotEqual(t, list[0]["id"], list[1]["id"])
}
