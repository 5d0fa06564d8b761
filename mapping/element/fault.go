package element

import (
	"cmp"
	"slices"

	"weir.example/weir/mapping/finding"
)

type code = finding.Code

// The codes of group document that reading can give.
const (
	syntax    code = "document-json"      // no strict JSON, or ambiguous
	limits    code = "document-limit"     // larger, deeper or more precise than accepted
	structure code = "document-structure" // JSON that is no FHIR: null, [], {}, no resourceType
	value     code = "document-value"     // a value FHIR does not allow for any element
)

// what is the text of a fault. Detail may be logged, so it is made of fixed
// words and numbers alone, never of anything the document holds.
type what struct {
	observed, expected, remedy, detail string
	evidence                           string // expression of the other place, if there is one
}

// fault is a finding before its place is worked out.
type fault struct {
	code   code
	offset int
	at     int32 // node whose expression is given
	what   what
}

// faults collects up to maxFaults; what comes after them is counted, so that
// a hostile document cannot make the answer larger than itself.
type faults struct {
	doc  *Document
	list []fault
	more int
}

func (f *faults) full() bool { return len(f.list) == maxFaults }

func (f *faults) add(one fault) {
	if f.full() {
		f.more++
		return
	}
	f.list = append(f.list, one)
}

// findings sorts by place, code and text, and gives each its expression, line
// and column.
func (f *faults) findings() []finding.Finding {
	if len(f.list) == 0 {
		return nil
	}
	slices.SortStableFunc(f.list, func(a, b fault) int {
		return cmp.Or(cmp.Compare(a.offset, b.offset), cmp.Compare(a.code, b.code), cmp.Compare(a.what.detail, b.what.detail))
	})
	if f.more > 0 {
		last := f.list[len(f.list)-1]
		f.list = append(f.list, fault{code: limits, offset: last.offset, at: last.at, what: tooManyFaults(f.more)})
	}
	list := make([]finding.Finding, 0, len(f.list))
	for _, one := range f.list {
		list = append(list, f.finding(one))
	}
	return list
}

func (f *faults) finding(one fault) finding.Finding {
	line, column := f.doc.position(one.offset)
	expression := "$this"
	if last := int32(len(f.doc.nodes)) - 1; last >= 0 { // a limit may have kept the node out of the tree
		expression = Node{f.doc, min(one.at, last)}.Expression()
	}
	result := finding.Finding{
		Code:     one.code,
		Place:    finding.Place{Expression: expression, Line: line, Column: column},
		Observed: one.what.observed,
		Expected: one.what.expected,
		Remedy:   one.what.remedy,
		Detail:   one.what.detail,

		Diagnostic: one.what.detail,
	}
	if one.what.observed != "" {
		result.Diagnostic = one.what.detail + " (" + one.what.observed + ")"
	}
	if one.what.evidence != "" {
		result.Evidence = []string{one.what.evidence}
	}
	return result
}
