package r4

import (
	"cmp"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
)

// issueTypes are the codes of http://hl7.org/fhir/issue-type for ours.
var issueTypes = map[finding.Code]string{"document-json": "structure", "document-limit": "too-costly", "document-structure": "structure",
	"document-value": "value", "document-cardinality": "required", "document-invariant": "invariant", "document-reference": "not-found",
	"document-unsupported": "not-supported"}

// WriteOutcome writes why a document was refused, as an OperationOutcome
// (https://hl7.org/fhir/R4/operationoutcome.html): for each fault what and
// where, with line and column, and one sentence on what to do.
func WriteOutcome(faults []finding.Finding) []byte {
	var issues []element.Value
	for _, f := range faults {
		row, _ := finding.Lookup(f.Code)
		var where []element.Value
		if f.Place.Line > 0 {
			where = append(where, foreignExtension(structures+"operationoutcome-issue-line", "Integer", element.Int(f.Place.Line)),
				foreignExtension(structures+"operationoutcome-issue-col", "Integer", element.Int(f.Place.Column)))
		}
		text := f.Detail
		if remedy := cmp.Or(f.Remedy, row.Remedy); remedy != "" {
			text += ". " + remedy
		}
		issues = append(issues, element.Obj(
			element.F("extension", element.List(where...)),
			element.F("severity", element.Str("error")),
			element.F("code", element.Str(cmp.Or(issueTypes[f.Code], "invalid"))),
			element.F("details", codeable(ourCodes+"finding", string(f.Code), row.Title, row.Title)),
			element.F("diagnostics", element.Str(text)),
			element.F("expression", element.Strs(f.Place.Expression))))
	}
	return element.Encode(element.Obj(element.F("resourceType", element.Str("OperationOutcome")), element.F("issue", element.List(issues...))))
}
