package conformance

import (
	"slices"

	"weir.example/weir/mapping/worksheet"
)

// Change is what other tables or another policy make of one order.
type Change struct {
	Order         string // its identifier
	Drug          string
	Before, After string   // verdicts
	New, Gone     []string // finding codes with their gates, as "hold dose-renal"
}

// Changed lists the orders whose answer differs between two judgements of
// the same orders, in their order. An order that one side lacks is listed
// with an empty verdict there: nothing is passed over.
func Changed(before, after []worksheet.Worksheet) []Change {
	var out []Change
	is := map[string]worksheet.Worksheet{}
	for _, w := range after {
		is[w.Order.Key+w.Order.Expression] = w
	}
	for _, a := range before {
		key := a.Order.Key + a.Order.Expression
		b := is[key]
		delete(is, key)
		if c := change(a, b); c.differs() {
			out = append(out, c)
		}
	}
	for _, b := range after {
		if _, only := is[b.Order.Key+b.Order.Expression]; only {
			out = append(out, change(worksheet.Worksheet{}, b))
		}
	}
	return out
}

func change(a, b worksheet.Worksheet) Change {
	c := Change{Order: a.Order.Identifier, Drug: a.Order.Drug, Before: a.Verdict, After: b.Verdict}
	if c.Order == "" {
		c.Order, c.Drug = b.Order.Identifier, b.Order.Drug
	}
	was, is := gated(a), gated(b)
	c.New, c.Gone = without(is, was), without(was, is)
	return c
}

func (c Change) differs() bool { return c.Before != c.After || len(c.New)+len(c.Gone) > 0 }

// gated are findings and unchecked rules with their gates.
func gated(w worksheet.Worksheet) []string {
	var out []string
	for _, f := range w.Findings {
		out = append(out, f.Gate+" "+f.Code)
	}
	for _, n := range w.NotChecked {
		if n.Gate != "" {
			out = append(out, "not checked "+n.Code)
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

func without(list, other []string) []string {
	return slices.DeleteFunc(slices.Clone(list), func(s string) bool { return slices.Contains(other, s) })
}
