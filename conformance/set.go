package conformance

import (
	"crypto/sha256"
	"time"

	"weir.example/weir/conformance/schema"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/r4"
	"weir.example/weir/mapping/worksheet"
)

// Resource judges whether one line of a file by resource type is a resource
// of that type in FHIR R4, and takes from it what is needed to read it with
// others. Of a line with faults the member is marked failed and holds what
// could be read of it.
func Resource(data []byte, line int, kind string, judges []schema.Judge) (r4.Member, []finding.Finding) {
	doc, faults := Line(data, line, kind, judges)
	m := r4.Remember(doc)
	m.Sum = sha256.Sum256(data)
	if len(faults) > 0 {
		m.Failed = true
		if m.Type == "" {
			m.Type = kind
		}
	}
	return m, faults
}

// Line judges a line as Resource does, and gives it as read.
func Line(data []byte, line int, kind string, judges []schema.Judge) (*element.Document, []finding.Finding) {
	doc, faults := accept(data, line, judges)
	if len(faults) == 0 {
		faults = misplaced(doc.Root(), kind)
	}
	return doc, faults
}

// misplaced finds what is valid R4 and cannot stand in a set: another type
// than the file is named after, or a resource that nothing can refer to.
func misplaced(root element.Node, kind string) []finding.Finding {
	is := root.Get("resourceType").Text()
	switch {
	case is != kind:
		return []finding.Finding{{Code: "document-structure", Place: root.Get("resourceType").Place(), Observed: "a " + is, Expected: "a " + kind,
			Detail: "the line holds another type than its file is named after", Remedy: "Sender: write each type into its own file, Type.ndjson."}}
	case kind == "Bundle":
		return []finding.Finding{{Code: "document-unsupported", Place: root.Place(), Observed: "a Bundle", Expected: "the resources themselves, one a line, in files by type",
			Detail: "a folder by resource type holds no Bundles", Remedy: "Give the file itself to verify: then each of its lines is one document."}}
	case root.Get("id").Text() == "":
		return []finding.Finding{{Code: "document-cardinality", Place: root.Place(), Observed: "no id", Expected: "an id: in a folder by resource type others refer to it as " + kind + "/id",
			Detail: "a resource of a folder has no id", Remedy: "Sender: write the id of each resource."}}
	}
	return nil
}

// Set is one part of a set of resources and everything its judgement rests on.
type Set struct {
	Resources [][]byte // each one a line that Resource accepted
	Names     []string // of the resources in expressions (r4.Named)
	Lost      []string // the lines about the patient that could not be read, in words
	Unread    string   // lines that could not be read and do not say whose they are, in words; "" for none
	Document  string   // the hash of the whole set
	Reference policy.Reference
	Now       time.Time
	Stage     finding.Stage
	Lenient   bool
}

// JudgeSet judges the orders of one part. None means that the part holds no
// order for infusion.
func JudgeSet(in Set) []worksheet.Worksheet {
	docs := make([]*element.Document, 0, len(in.Resources))
	for i, data := range in.Resources {
		doc, _ := element.ReadLine(data, element.Limit{}, 1)
		doc.Rename(in.Names[i])
		docs = append(docs, doc)
	}
	var out []worksheet.Worksheet
	for _, c := range r4.ReadSet(docs, in.Lost, in.Now, in.Lenient) {
		for _, w := range JudgeCase(c, in.Reference, in.Now, in.Stage) {
			w.Sources.Document = in.Document
			for i := range w.Findings {
				w.Findings[i].Line, w.Findings[i].Column = 0, 0 // of which file? Its expression names the resource
			}
			if in.Unread != "" {
				w.Unused = append(w.Unused, worksheet.Unused{Expression: w.Order.Expression, Reason: in.Unread})
			}
			out = append(out, w)
		}
	}
	return out
}
