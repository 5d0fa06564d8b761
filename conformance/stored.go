package conformance

import (
	"fmt"
	"slices"
	"time"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/r4"
	"weir.example/weir/mapping/worksheet"
)

// Stored is one patient's stored resources and everything the judgement of
// their orders rests on. The resources were accepted when they came in.
type Stored struct {
	Resources [][]byte          // JSON, each with its id, referring to each other as Type/id
	Known     map[string]r4.Key // names of the orders by id
	Document  string            // hash of what came in
	Held      string            // hash of what was stored before
	Reference policy.Reference
	Now       time.Time
	Stage     finding.Stage
}

// Side is a patient at one clock: the case, and the worksheets of its orders.
type Side struct {
	Case   order.Case
	Sheets []worksheet.Worksheet
}

// JudgeStored judges the orders of one patient. Orders that are not known are
// another patient's, there because something refers to them; they are not
// judged. Nil means that the patient has no order for infusion.
func JudgeStored(in Stored) []Side {
	docs := make([]*element.Document, 0, len(in.Resources))
	for _, data := range in.Resources {
		doc, _ := element.ReadLine(data, element.Limit{}, 1)
		root := doc.Root()
		doc.Rename(fmt.Sprintf("%s.where(id='%s')", root.Get("resourceType").Text(), root.Get("id").Text()))
		docs = append(docs, doc)
	}
	var out []Side
	for _, c := range r4.ReadStored(docs, in.Known, in.Now) {
		ours := false
		for _, o := range c.Orders {
			_, known := in.Known[r4.StoredID(o.Ref)]
			ours = ours || known
		}
		if !ours {
			continue
		}
		c.Held.Hash = in.Held
		side := Side{Case: c}
		for _, w := range JudgeCase(c, in.Reference, in.Now, in.Stage) {
			w.Sources.Document = in.Document
			w.Order.PatientRef = r4.Place(w.Order.PatientRef)
			for i := range w.Findings {
				w.Findings[i].Line, w.Findings[i].Column = 0, 0 // its expression names the resource
			}
			side.Sheets = append(side.Sheets, w)
		}
		out = append(out, side)
	}
	return out
}

// Add puts findings that no rule made into a worksheet, and says the verdict
// anew.
func Add(w *worksheet.Worksheet, ref policy.Reference, list ...finding.Finding) {
	w.Findings = append(slices.Clone(w.Findings), toFindings(list, ref)...)
	slices.SortStableFunc(w.Findings, func(a, b worksheet.Finding) int {
		return finding.Gate(b.Gate).Weight() - finding.Gate(a.Gate).Weight()
	})
	w.Verdict = verdict(*w)
}
