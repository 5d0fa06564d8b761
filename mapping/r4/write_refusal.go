package r4

import (
	"cmp"
	"strings"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
)

// Refusal is why a request got no answer. Code is one of our code system
// request, Issue an issue type of R4; What and Todo are words without
// anything of the request, At the name of an element or a parameter.
type Refusal struct {
	Issue, Code, What, Todo, At string
	Request                     string // the request's id
	Severity                    string // "" is error
	Of                          string // code system of Code: "" is request, else finding
}

// WriteRefusal writes a refusal as an OperationOutcome in one line
// (https://hl7.org/fhir/R4/operationoutcome.html).
func WriteRefusal(x Refusal) []byte { return element.EncodeLine(WriteNotice(x)) }

// WriteNotice is WriteRefusal as a part of an answer.
func WriteNotice(x Refusal) element.Value {
	issue := element.Obj(
		element.F("severity", element.Str(cmp.Or(x.Severity, "error"))),
		element.F("code", element.Str(x.Issue)),
		element.F("details", codeable(ourCodes+cmp.Or(x.Of, "request"), x.Code, "", upperFirst(x.What)+".")),
		element.F("diagnostics", element.Str(sentences(x.Todo))),
		element.F("expression", element.Strs(x.At)))
	return withID(x.Request, element.List(issue))
}

// WriteFaults is WriteOutcomeLine for the answer to a request: what stands in
// the document is not repeated, only where it stands.
func WriteFaults(faults []finding.Finding, request string) []byte {
	foreign := ""
	for _, f := range faults {
		if name, ok := strings.CutSuffix(f.Place.Expression, ".resourceType"); ok && !strings.Contains(name, ".") {
			foreign = name // a type that R4 does not know is the sender's own word
		}
	}
	var issues []element.Value
	for _, f := range faults {
		f.Observed = ""
		if rest, ok := strings.CutPrefix(f.Place.Expression, foreign); ok && foreign != "" && (rest == "" || rest[0] == '.') {
			f.Place.Expression = "$this" + rest
		}
		issues = append(issues, outcomeIssue(f))
	}
	return element.EncodeLine(withID(request, element.List(issues...)))
}

func withID(request string, issues element.Value) element.Value {
	return element.Obj(element.F("resourceType", element.Str("OperationOutcome")), element.F("id", element.Str(request)), element.F("issue", issues))
}
