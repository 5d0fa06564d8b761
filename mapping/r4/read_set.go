package r4

import (
	"fmt"
	"slices"
	"time"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
)

// Named is the name of a resource of a set in expressions: FHIRPath that
// picks it among all of the set, MedicationRequest.where(id='m1'). With
// several versions in the set the version is named too.
func Named(m Member, several bool) string {
	if several && m.Version != "" {
		return fmt.Sprintf("%s.where(id='%s' and meta.versionId='%s')", m.Type, m.ID, m.Version)
	}
	return fmt.Sprintf("%s.where(id='%s')", m.Type, m.ID)
}

// ReadSet is ReadCases for a part of a set: each document is one resource,
// and references between them resolve by Type/id. A part may hold no order
// for infusion; then its cases have none, and the caller, who sees the whole
// set, must say so when no part has any. lost says, a line each, what of the
// part could not be read; each holds the orders of the part.
func ReadSet(docs []*element.Document, lost []string, now time.Time, lenient bool) []order.Case {
	r := newSetReader(docs, now)
	r.lenient = lenient
	cases := r.readCases()
	lostLines(cases, lost)
	return cases
}

func lostLines(cases []order.Case, lost []string) {
	for i := range cases {
		p := &cases[i].Patient
		for _, text := range lost {
			p.Conflicts = append(p.Conflicts, finding.Finding{Code: "record-reference-unresolved", Place: p.Place, Observed: text,
				Expected: "every line about the patient in strict FHIR R4", Detail: "a line about the order's patient could not be read; a needed fact may be in it",
				Remedy: "Sender: correct the line and send the folder again; pharmacist: hold until it is seen."})
		}
	}
}

func newSetReader(docs []*element.Document, now time.Time) *reader {
	r := emptyReader(now)
	for _, d := range docs {
		r.add(d.Root(), "")
	}
	r.sort()
	return r
}

// NoOrder is the finding of a set without an order for infusion.
func NoOrder() finding.Finding {
	f := (&reader{}).noOrder()
	f.Place.Expression = "MedicationRequest"
	f.Expected = "a folder of NDJSON by resource type with at least one MedicationRequest for an infusion"
	f.Detail = "the folder holds no order for an infusion, so there is nothing to judge"
	return f
}

// readCases reads every patient with an order. What belongs to nobody is
// listed with the first one that is judged.
func (r *reader) readCases() []order.Case {
	var cases []order.Case
	for _, p := range r.patientsWithOrders() {
		cases = append(cases, r.readCase(p))
	}
	if len(cases) > 0 {
		first := max(0, slices.IndexFunc(cases, hasOrders))
		cases[first].Unused = append(cases[first].Unused, r.leftOver()...)
	}
	return cases
}

func hasOrders(c order.Case) bool { return len(c.Orders) > 0 }

// versions are the resources of the document that are the same one, the
// resource itself among them.
func (r *reader) versions(s *resource) []*resource {
	if s.url != "" {
		return r.byURL[s.url]
	}
	if s.id != "" && s.host == nil {
		return r.byTypeAndID[s.kind+"/"+s.id]
	}
	return nil
}
