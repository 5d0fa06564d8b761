package r4

import (
	"cmp"
	"strings"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
)

// issueTypes are the codes of http://hl7.org/fhir/issue-type for ours.
var issueTypes = map[finding.Code]string{"document-json": "structure", "document-limit": "too-costly", "document-structure": "structure",
	"document-value": "value", "document-cardinality": "required", "document-invariant": "invariant", "document-reference": "value",
	"document-unsupported": "not-supported"}

// issueType tells a text that is too long from a document that would cost
// too much to read, and a reference to nothing from one to the wrong thing.
func issueType(f finding.Finding) string {
	switch {
	case f.Code == "document-limit" && (strings.Contains(f.Detail, "longer") || strings.Contains(f.Detail, "bytes")):
		return "too-long"
	case f.Code == "document-reference" && strings.Contains(f.Detail, "not contained"):
		return "not-found"
	}
	return cmp.Or(issueTypes[f.Code], "invalid")
}

// WriteOutcome writes why a document was refused, as an OperationOutcome
// (https://hl7.org/fhir/R4/operationoutcome.html): for each fault what is
// wrong, where with line and column, and one sentence on what to do.
func WriteOutcome(faults []finding.Finding) []byte { return element.Encode(outcome(faults)) }

// WriteOutcomeLine is WriteOutcome in one line that ends with a line feed.
func WriteOutcomeLine(faults []finding.Finding) []byte { return element.EncodeLine(outcome(faults)) }

func outcome(faults []finding.Finding) element.Value {
	var issues []element.Value
	for _, f := range faults {
		issues = append(issues, outcomeIssue(f))
	}
	if len(issues) == 0 { // R4 demands an issue
		issues = []element.Value{element.Obj(element.F("severity", element.Str("information")), element.F("code", element.Str("informational")),
			element.F("diagnostics", element.Str("No fault was found in the document.")))}
	}
	return element.Obj(element.F("resourceType", element.Str("OperationOutcome")), element.F("issue", element.List(issues...)))
}

// outcomeIssue never repeats a value of the document beyond what the reader
// put into observed.
func outcomeIssue(f finding.Finding) element.Value {
	row, _ := finding.Lookup(f.Code)
	var where []element.Value
	if f.Place.Line > 0 {
		where = append(where, foreignExtension(structures+"operationoutcome-issue-line", "Integer", element.Int(f.Place.Line)))
	}
	if f.Place.Column > 0 {
		where = append(where, foreignExtension(structures+"operationoutcome-issue-col", "Integer", element.Int(f.Place.Column)))
	}
	what := []string{upperFirst(cmp.Or(f.Detail, row.Title))}
	if f.Observed != "" {
		what = append(what, "Found: "+f.Observed)
	}
	if f.Expected != "" {
		what = append(what, "Instead: "+f.Expected)
	}
	fix := cmp.Or(f.Remedy, row.Remedy, "Sender: correct the element named and send the document again.")
	return element.Obj(
		element.F("extension", element.List(where...)),
		element.F("severity", element.Str("error")),
		element.F("code", element.Str(issueType(f))),
		element.F("details", codeable(ourCodes+"finding", string(f.Code), row.Title, sentences(what...))),
		element.F("diagnostics", element.Str(sentences(fix))),
		element.F("expression", element.Strs(f.Place.Expression)))
}
