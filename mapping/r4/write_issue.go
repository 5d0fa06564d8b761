package r4

import (
	"strings"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/worksheet"
)

// writeIssues writes a DetectedIssue for each finding, worst first, then a
// preliminary one for each rule that a missing fact kept from answering
// (https://hl7.org/fhir/R4/detectedissue.html).
func (b *bundler) writeIssues() []entry {
	var out []entry
	for _, f := range b.w.Findings {
		e := b.make("DetectedIssue", f.Code+"|"+f.Expression)
		detail := f.Sentence
		if detail == "" {
			detail = "Found: " + f.Observed + ". Instead: " + f.Expected + "."
		}
		if f.Remedy != "" {
			detail += " " + f.Remedy
		}
		e.fields = b.issue(issueText{code: f.Code, gate: f.Gate, severity: f.Severity, title: f.Title, citation: f.Citation, detail: detail, status: "final"},
			evidence(f), culprits(f))
		out = append(out, e)
	}
	for _, n := range b.w.NotChecked {
		if n.Gate != string(finding.Hold) {
			continue
		}
		row, _ := finding.Lookup(finding.Code(n.Code))
		e := b.make("DetectedIssue", n.Code+"|")
		e.fields = b.issue(issueText{code: n.Code, gate: n.Gate, severity: "moderate", title: row.Title, citation: row.Citation,
			detail: "Not checked, missing: " + strings.Join(n.Missing, ", ") + ".", status: "preliminary"}, element.Value{}, nil)
		out = append(out, e)
	}
	return out
}

type issueText struct{ code, gate, severity, title, citation, detail, status string }

func (b *bundler) issue(t issueText, proof element.Value, culprits []element.Value) []element.Field {
	extensions := append([]element.Value{extensionOf("gate", "Code", element.Str(t.gate)), extensionOf("citation", "String", element.Str(t.citation))}, culprits...)
	order := reference(b.w.Refs.Order)
	if proof.Empty() {
		proof = element.Obj(element.F("detail", element.List(order)))
	} else {
		proof = proof.With(element.F("detail", element.List(order)))
	}
	return []element.Field{
		element.F("extension", element.List(extensions...)),
		element.F("status", element.Str(t.status)),
		element.F("code", codeable(ourCodes+"finding", t.code, t.title, t.title)),
		element.F("severity", element.Str(t.severity)),
		element.F("patient", reference(b.w.Refs.Patient)),
		element.F("identifiedDateTime", element.Str(b.now())),
		element.F("author", software(b.w)),
		element.F("implicated", element.List(order)),
		element.F("evidence", element.List(proof)),
		element.F("detail", element.Str(t.detail)),
		element.F("reference", element.Str(canonical+"rules/"+t.code)),
	}
}

func evidence(f worksheet.Finding) element.Value {
	return element.Obj(element.F("extension", element.List(
		extensionOf("observed", "String", element.Str(f.Observed)),
		extensionOf("expected", "String", element.Str(f.Expected)),
		extensionOf("expression", "String", element.Str(f.Expression)))))
}

func culprits(f worksheet.Finding) []element.Value {
	var out []element.Value
	for _, c := range f.Culprits {
		out = append(out, element.Obj(element.F("extension", element.List(
			part("name", "Code", element.Str(c.Name)),
			part("stated", "Quantity", decimal(c.Stated, c.Unit)),
			part("consistent", "Quantity", decimal(c.Consistent, c.Unit)),
			part("signature", "Code", element.Str(c.Signature)),
			part("named", "Boolean", element.Boolean(c.Named)))),
			element.F("url", element.Str(ours+"culprit"))))
	}
	return out
}

// software is this program as a logical reference.
func software(w worksheet.Worksheet) element.Value {
	version := w.Sources.Program
	if words := strings.Fields(version); len(words) >= 2 {
		version = words[0] + " " + words[1]
	}
	return element.Obj(element.F("type", element.Str("Device")),
		element.F("identifier", element.Obj(element.F("system", element.Str(canonical+"software")), element.F("value", element.Str("weir")))),
		element.F("display", element.Str(version)))
}
