package r4

import (
	"cmp"
	"slices"
	"strings"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/worksheet"
)

// issue is a DetectedIssue with the finding code it is about.
type issue struct {
	entry
	code string
	gate finding.Gate
}

// issueText is what differs between a finding and a rule not answered.
type issueText struct{ code, gate, severity, title, citation, detail, status string }

// severities are the contract's defaults, for a code without one of its own.
var severities = map[finding.Gate]string{finding.Block: "high", finding.Hold: "moderate", finding.Warn: "moderate", finding.Note: "low"}

// writeIssues writes a DetectedIssue for each finding and a preliminary one
// for each rule that a missing fact kept from answering
// (https://hl7.org/fhir/R4/detectedissue.html), worst gate first. What our
// own tables have no row for has no gate and is no issue.
func (b *bundler) writeIssues() []issue {
	var out []issue
	for _, f := range b.w.Findings {
		e := b.make("DetectedIssue", f.Code+"|"+f.Expression)
		detail := f.Sentence
		if detail == "" {
			detail = sentences("Found: "+f.Observed, "Instead: "+f.Expected)
		}
		e.fields = b.issue(e, issueText{f.Code, f.Gate, f.Severity, f.Title, f.Citation, sentences(detail, f.Remedy), "final"}, evidence(f), culprits(f))
		out = append(out, issue{e, f.Code, finding.Gate(f.Gate)})
	}
	for _, n := range b.w.NotChecked {
		if n.Gate == "" {
			continue
		}
		row, _ := finding.Lookup(finding.Code(n.Code))
		e := b.make("DetectedIssue", n.Code+"|")
		detail := sentences("Not checked, so not passed. Missing: "+strings.Join(n.Missing, ", "), row.Remedy)
		e.fields = b.issue(e, issueText{n.Code, n.Gate, "", cmp.Or(row.Title, n.Code), row.Citation, detail, "preliminary"}, nil, nil)
		out = append(out, issue{e, n.Code, finding.Gate(n.Gate)})
	}
	slices.SortStableFunc(out, func(x, y issue) int { return cmp.Compare(y.gate.Weight(), x.gate.Weight()) })
	return out
}

func (b *bundler) issue(e entry, t issueText, evidence, culprits []element.Value) []element.Field {
	extensions := append([]element.Value{
		extensionOf("gate", "Code", element.Str(t.gate)),
		extensionOf("citation", "String", element.Str(t.citation)),
	}, culprits...)
	detail := element.F("detail", element.List(b.order()))
	if len(evidence) == 0 {
		evidence = []element.Value{element.Obj()}
	}
	evidence[0] = evidence[0].With(detail)
	return []element.Field{
		element.F("extension", element.List(extensions...)),
		element.F("identifier", ownIdentifier(e)),
		element.F("status", element.Str(t.status)),
		element.F("code", codeable(ourCodes+"finding", t.code, t.title, t.title)),
		element.F("severity", element.Str(cmp.Or(t.severity, severities[finding.Gate(t.gate)]))),
		element.F("patient", b.patient()),
		element.F("identifiedDateTime", element.Str(b.now())),
		element.F("author", software(b.w)),
		element.F("implicated", element.List(b.order())),
		element.F("evidence", element.List(evidence...)),
		element.F("detail", element.Str(t.detail)),
		element.F("reference", element.Str(canonical+"rules/"+t.code)),
	}
}

// evidence is what was found and what instead at the element judged, then
// the other elements it rests on.
func evidence(f worksheet.Finding) []element.Value {
	at := func(parts ...element.Value) element.Value {
		return element.Obj(element.F("extension", element.List(parts...)))
	}
	out := []element.Value{at(
		extensionOf("observed", "String", element.Str(f.Observed)),
		extensionOf("expected", "String", element.Str(f.Expected)),
		extensionOf("expression", "String", element.Str(f.Expression)))}
	for _, x := range f.Evidence {
		if x != f.Expression {
			out = append(out, at(extensionOf("expression", "String", element.Str(x))))
		}
	}
	return out
}

// culprits are the explanations, best first. Part `with` names what must be
// withdrawn together with it, part `reading` another meaning of the field.
func culprits(f worksheet.Finding) []element.Value {
	var out []element.Value
	for _, c := range f.Culprits {
		parts := []element.Value{foreignExtension("name", "Code", element.Str(c.Name))}
		for _, n := range c.With {
			parts = append(parts, foreignExtension("with", "Code", element.Str(n)))
		}
		out = append(out, nested("culprit", append(parts,
			foreignExtension("stated", "Quantity", decimal(c.Stated, c.Unit)),
			foreignExtension("consistent", "Quantity", decimal(c.Consistent, c.Unit)),
			foreignExtension("signature", "Code", element.Str(c.Signature)),
			foreignExtension("named", "Boolean", element.Boolean(c.Named)),
			foreignExtension("reading", "String", element.Str(c.Reading)))...))
	}
	return out
}

// software is this program as a logical reference: it has no address.
func software(w worksheet.Worksheet) element.Value {
	version := "weir"
	if words := strings.Fields(w.Sources.Program); len(words) >= 2 {
		version = words[0] + " " + words[1]
	}
	return element.Obj(
		element.F("type", element.Str("Device")),
		element.F("identifier", element.Obj(element.F("system", element.Str(canonical+"software")), element.F("value", element.Str("weir")))),
		element.F("display", element.Str(version)))
}
