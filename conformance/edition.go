package conformance

import (
	"encoding/json"
	"slices"

	"weir.example/weir/mapping/worksheet"
)

// Change is what other tables or another policy make of one order.
type Change struct {
	Order         string // its identifier
	Drug          string
	Before, After string   // verdicts; "" where one side has no such order
	New, Gone     []string // findings with their gates, as "hold dose-renal"; one that stands twice is listed twice
	Else          bool     // verdict and findings are the same; numbers, words, kit or tasks are not
}

// place is one order of one document. Two documents may hold equal keys at
// equal expressions, and one document may be given twice: nth counts those.
type place struct {
	document, key, expression string
	nth                       int
}

// places are the worksheets by place, and the places in their order.
func places(list []worksheet.Worksheet) (map[place]worksheet.Worksheet, []place) {
	at := make(map[place]worksheet.Worksheet, len(list))
	order := make([]place, 0, len(list))
	seen := map[place]int{}
	for _, w := range list {
		p := place{document: w.Sources.Document, key: w.Order.Key, expression: w.Order.Expression}
		seen[p]++
		p.nth = seen[p]
		at[p] = w
		order = append(order, p)
	}
	return at, order
}

// Changed lists the orders whose answer differs between two judgements of
// the same documents, in their order. An order that one side lacks is listed
// with an empty verdict there: nothing is passed over.
func Changed(before, after []worksheet.Worksheet) []Change {
	var out []Change
	was, first := places(before)
	is, then := places(after)
	for _, p := range first {
		b, both := is[p]
		if c := change(was[p], b); !both || c.differs() {
			out = append(out, c)
		}
	}
	for _, p := range then {
		if _, both := was[p]; !both {
			out = append(out, change(worksheet.Worksheet{}, is[p]))
		}
	}
	return out
}

func change(a, b worksheet.Worksheet) Change {
	c := Change{Order: a.Order.Identifier, Drug: a.Order.Drug, Before: a.Verdict, After: b.Verdict}
	if c.Order == "" && c.Drug == "" {
		c.Order, c.Drug = b.Order.Identifier, b.Order.Drug
	}
	was, is := gated(a), gated(b)
	c.New, c.Gone = without(is, was), without(was, is)
	c.Else = !c.differs() && content(a) != content(b)
	return c
}

func (c Change) differs() bool { return c.Before != c.After || len(c.New)+len(c.Gone) > 0 || c.Else }

// content is the answer without what it was reached from: the hashes of the
// tables always differ between two editions.
func content(w worksheet.Worksheet) string {
	w.Sources = worksheet.Sources{}
	data, _ := json.Marshal(w) // plain data
	return string(data)
}

// gated are findings and unchecked rules with their gates, sorted.
func gated(w worksheet.Worksheet) []string {
	var out []string
	for _, f := range w.Findings {
		out = append(out, f.Gate+" "+f.Code)
	}
	for _, n := range w.NotChecked {
		if n.Gate != "" {
			out = append(out, n.Gate+" "+n.Code+", not checked")
		}
	}
	slices.Sort(out)
	return out
}

// without takes each entry of other out of the list once.
func without(list, other []string) []string {
	out := slices.Clone(list)
	for _, s := range other {
		if i := slices.Index(out, s); i >= 0 {
			out = slices.Delete(out, i, i+1)
		}
	}
	if len(out) == 0 {
		return nil
	}
	return out
}
