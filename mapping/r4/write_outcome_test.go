package r4_test

import (
	"bytes"
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/r4"
)

func TestARefusedDocumentSaysWhatWhereAndWhatToDo(t *testing.T) {
	faults := []finding.Finding{{Code: "document-value", Detail: "a date is not in the form of R4", Observed: "10/11/2026", Expected: "2026-11-10",
		Place: finding.Place{Expression: "Bundle.entry[0].resource.birthDate", Line: 12, Column: 7}}}
	data := r4.WriteOutcome(faults)
	require.True(t, valid(t, data))
	i := at(decode(t, data), "issue", 0)
	assert.Equal(t, []any{"error", "value"}, []any{at(i, "severity"), at(i, "code")})
	assert.Equal(t, value{"system": "https://weir.example/fhir/CodeSystem/finding", "code": "document-value", "display": "A value has not the form R4 asks for"}, at(i, "details", "coding", 0))
	assert.Equal(t, "A date is not in the form of R4. Found: 10/11/2026. Instead: 2026-11-10.", at(i, "details", "text"))
	assert.Equal(t, "Sender: write the value in the form named beside the finding.", at(i, "diagnostics"), "one sentence: the remedy of the table of codes")
	assert.Equal(t, []any{"Bundle.entry[0].resource.birthDate"}, at(i, "expression"))
	assert.Equal(t, []any{
		value{"url": "http://hl7.org/fhir/StructureDefinition/operationoutcome-issue-line", "valueInteger": json.Number("12")},
		value{"url": "http://hl7.org/fhir/StructureDefinition/operationoutcome-issue-col", "valueInteger": json.Number("7")},
	}, at(i, "extension"))
	faults[0].Remedy = "Write the date as 2026-11-10."
	assert.Equal(t, faults[0].Remedy, at(decode(t, r4.WriteOutcome(faults)), "issue", 0, "diagnostics"), "the finding's own remedy is nearer")
}

func TestEveryDocumentCodeHasItsIssueType(t *testing.T) {
	for code, want := range map[finding.Code]string{"document-json": "structure", "document-limit": "too-costly", "document-structure": "structure", "document-value": "value",
		"document-cardinality": "required", "document-invariant": "invariant", "document-reference": "value", "document-unsupported": "not-supported", "a-code-of-tomorrow": "invalid"} {
		data := r4.WriteOutcome([]finding.Finding{{Code: code}})
		assert.Equal(t, want, at(decode(t, data), "issue", 0, "code"), code)
		assert.NotContains(t, at(decode(t, data), "issue", 0), "extension", "no line is made up")
		assert.True(t, valid(t, data))
	}
	for _, row := range finding.Rows("document") {
		got := at(decode(t, r4.WriteOutcome([]finding.Finding{{Code: row.Code}})), "issue", 0)
		assert.NotEqual(t, "invalid", at(got, "code"), "%s has no issue type", row.Code)
		assert.Empty(t, notation.Scan(at(got, "diagnostics").(string)))
	}
}

// The texts come from the reader itself: a string, a document, a tree beyond
// the limit.
func TestTooLongIsNotTooCostly(t *testing.T) {
	long := `{"resourceType":"Patient","id":"` + string(bytes.Repeat([]byte("a"), 200)) + `"}`
	deep := `{"resourceType":"Patient","extension":[{"extension":[{"extension":[{"url":"x"}]}]}]}`
	for _, c := range []struct {
		name, text string
		limit      element.Limit
		want       string
	}{
		{"one string", long, element.Limit{String: 100}, "too-long"},
		{"the whole document", long, element.Limit{Bytes: 100}, "too-long"},
		{"the depth", deep, element.Limit{Depth: 4}, "too-costly"},
	} {
		_, faults := element.Read([]byte(c.text), c.limit)
		require.NotEmpty(t, faults, c.name)
		assert.Equal(t, c.want, at(decode(t, r4.WriteOutcome(faults)), "issue", 0, "code"), c.name)
	}
	nowhere := finding.Finding{Code: "document-reference", Detail: "a local reference to something that is not contained"}
	assert.Equal(t, "not-found", at(decode(t, r4.WriteOutcome([]finding.Finding{nowhere})), "issue", 0, "code"))
}

func TestAnOutcomeWithoutFaultsIsStillOne(t *testing.T) {
	data := r4.WriteOutcome(nil)
	assert.True(t, valid(t, data))
	assert.Equal(t, "information", at(decode(t, data), "issue", 0, "severity"))
}

func TestAnOutcomeInOneLine(t *testing.T) {
	faults := []finding.Finding{{Code: "document-json"}, {Code: "document-value"}}
	var compact bytes.Buffer
	require.NoError(t, json.Compact(&compact, r4.WriteOutcome(faults)))
	assert.Equal(t, compact.String()+"\n", string(r4.WriteOutcomeLine(faults)))
	assert.Len(t, decode(t, r4.WriteOutcomeLine(faults))["issue"], 2)
}
