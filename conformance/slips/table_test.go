package slips_test

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
)

// The table is Markdown. It holds nothing that differs from run to run.

func share(n, of int) string {
	p := percent(n, of)
	if math.IsNaN(p) {
		return "–"
	}
	s := fmt.Sprintf("%.2f", p)
	if n != of && s == "100.00" {
		return "< 100"
	}
	if n != 0 && s == "0.00" {
		return "> 0"
	}
	return s
}

func line(b *strings.Builder, cells ...any) {
	for _, c := range cells {
		fmt.Fprintf(b, "| %v ", c)
	}
	b.WriteString("|\n")
}

func head(b *strings.Builder, cells ...any) {
	line(b, cells...)
	b.WriteString(strings.Repeat("|---", len(cells)) + "|\n")
}

// report writes the result of one or more runs: the targets for every seed,
// the rest of the first.
func report(runs []run, tallies []*tally) string {
	var b strings.Builder
	b.WriteString("# Typing slips: what is found and who is blamed\n\n")
	b.WriteString("Written by `.ci/slips`. Orders, roundings and slips are invented (`rounding_test.go`, `drugs_test.go`, `slip_test.go`). All shares are percent.\n\n")
	t := tallies[0]
	fmt.Fprintf(&b, "%d orders for each seed, %d sets of stated fields; of each order and set %d of the possible slips, drawn evenly over the pairs of signature and field (one variant of each), each with rough and full drug tables (without any: one order in %d). The last five columns are of the slips that were found and could be checked. Details: seed %d.\n\n",
		t.orders, len(sets), runs[0].perSet, runs[0].bare, runs[0].seed)
	b.WriteString(coverage(t) + "\n\n## Targets\n\n")
	cells := []any{"", "target"}
	for _, r := range runs {
		cells = append(cells, fmt.Sprintf("seed %d", r.seed))
	}
	head(&b, cells...)
	for _, l := range limits {
		sign := "≥"
		if l.atMost {
			sign = "≤"
		}
		cells = []any{l.says, fmt.Sprintf("%s %v", sign, l.percent)}
		for _, t := range tallies {
			n, of := l.of(t)
			mark := ""
			if _, ok := l.within(t, false); !ok {
				mark = " ✗"
			}
			cells = append(cells, share(n, of)+mark)
		}
		line(&b, cells...)
	}
	countedIn(&b, tallies)
	for _, grade := range []int{full, rough, none} {
		fmt.Fprintf(&b, "\n## Slips, drug tables: %s\n", grades[grade])
		for _, group := range list("total", "rough table is", "signature", "checks", "kind", "set") {
			if group == "rough table is" && grade != rough {
				continue
			}
			t.section(&b, careful, group, grade)
		}
	}
	for _, group := range list("total", "signature") {
		b.WriteString("\n## Slips, careless ward, rough tables\n")
		t.section(&b, careless, group, rough)
	}
	b.WriteString("\n## Signature by field, rough tables\n")
	t.section(&b, careful, "signature and field", rough)
	b.WriteString("\n## Carried slips: a weight in pounds that the dose was worked out with\n\nRank 1 is the wrong weight, or where the right weight is written the dose (of a drip the drug rate). Rough tables.\n")
	t.section(&b, careful, "carried", rough)
	b.WriteString("\n")
	head(&b, "", "detected", "honest weight first in the list")
	for _, k := range rowsOf(t.alarms, careful, "honest weight blamed", rough) {
		a := t.alarms[k]
		line(&b, k.row, a.cases, share(a.any, a.cases))
	}
	b.WriteString("\n## Alarms on correct orders\n\nOnly the table by sets and its own row hold the sets with an earlier weight.\n")
	for _, w := range []ward{careful, careless} {
		for _, group := range list("total", "rough table is", "kind", "set") {
			t.alarmSection(&b, w, group)
		}
	}
	return b.String()
}

func rowsOf[T any](m map[key]T, w ward, group string, grade int) []key {
	var out []key
	for k := range m {
		if k.ward == w.name && k.group == group && k.grade == grade {
			out = append(out, k)
		}
	}
	place := func(k key) int {
		return slices.IndexFunc(sets, func(f fieldSet) bool { return f.name == k.row })
	}
	slices.SortFunc(out, func(a, b key) int { return cmp.Or(cmp.Compare(place(a), place(b)), cmp.Compare(a.row, b.row)) })
	return out
}

func (t *tally) section(b *strings.Builder, w ward, group string, grade int) {
	b.WriteString("\n")
	head(b, group, "slips", "found", "checkable", "found of checkable", "not detectable in principle", "culprit listed", "explanations", "rank 1", "named", "named and right")
	for _, k := range rowsOf(t.slips, w, group, grade) {
		c, row := t.slips[k], k.row
		if group == "checks" {
			row = map[string]string{"0": "no independent check", "1": "1 independent check", "4": "4 and more"}[row]
			if row == "" {
				row = k.row + " independent checks"
			}
		}
		explanations := "–"
		if c.foundCheckable > 0 {
			explanations = fmt.Sprintf("%.2f", float64(c.explanations)/float64(c.foundCheckable))
		}
		line(b, row, c.cases, share(c.found, c.cases), share(c.checkable, c.cases), share(c.foundCheckable, c.checkable), share(c.cases-c.checkable, c.cases),
			share(c.listed, c.foundCheckable), explanations, share(c.first, c.foundCheckable), share(c.named, c.foundCheckable), share(c.right, c.named))
	}
}

func (t *tally) alarmSection(b *strings.Builder, w ward, group string) {
	b.WriteString("\n")
	head(b, w.name+", "+group, "orders", "full: any", "> 1 %", "> 5 %", "rough: any", "> 1 %", "> 5 %", "none: any", "> 1 %", "> 5 %")
	for _, k := range rowsOf(t.alarms, w, group, full) {
		cells := []any{k.row, t.alarms[k].cases}
		for _, grade := range []int{full, rough, none} {
			k.grade = grade
			a := t.alarms[k]
			cells = append(cells, share(a.any, a.cases), share(a.overOne, a.cases), share(a.overFive, a.cases))
		}
		line(b, cells...)
	}
}

// coverage says how well the drawn slips cover what there is.
func coverage(t *tally) string {
	var n []int
	total := 0
	for k, c := range t.slips {
		if k.ward == careful.name && k.group == "coverage" && k.grade == full {
			n = append(n, c.cases)
			total += c.cases
		}
	}
	slices.Sort(n)
	if len(n) == 0 {
		return ""
	}
	few := 0
	for _, c := range n {
		few += one(c < 30)
	}
	return fmt.Sprintf("%d slips over %d combinations of set, signature and field; the middle one was tried %d times, %d were tried fewer than 30 times.", total, len(n), n[len(n)/2], few)
}

// countedIn says what the targets leave out: a number typed from a field
// that neither is stated nor follows carries no mark that anybody could see.
// Counted in, by its share of the slips drawn, it lowers the ranking.
func countedIn(b *strings.Builder, tallies []*tally) {
	b.WriteString("\nDetection and alarms are judged with full drug tables, ranking with rough ones. The ranking leaves out slips without a mark (`none`) and " +
		"numbers of a field that neither is stated nor follows (`" + unsent + "`): by what reaches the checker they have no mark either. With the latter counted in:\n\n")
	head(b, "", "rank 1", "named", "named and right")
	for i, t := range tallies {
		c := count{}
		for _, k := range []key{{careful.name, "total", "all", rough}, {careful.name, "signature", unsent, rough}} {
			if n := t.slips[k]; n != nil {
				c.add(*n)
			}
		}
		line(b, fmt.Sprintf("run %d", i+1), share(c.first, c.foundCheckable), share(c.named, c.foundCheckable), share(c.right, c.named))
	}
}
