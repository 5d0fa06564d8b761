package terminal

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"weir.example/weir/adapter"
	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/notation"
)

// Tables writes the list of reference tables.
func Tables(list []adapter.Table, color bool) string {
	p := &page{color: color, narrow: true}
	p.line(fmt.Sprintf("  %-14s %5s %8s %6s %7s %6s", "table", "rows", "sourced", "corr.", "memory", "local"))
	open := 0
	for _, t := range list {
		n := t.Standing
		p.line(fmt.Sprintf("  %-14s %5d %8d %6d %7d %6d", t.Name, t.Rows, n[compendium.Sourced], n[compendium.Corroborated], n[compendium.Memory], n[compendium.LocalStanding]))
		p.field(4, "edition", t.Edition)
		p.field(4, "signature", signature(t))
		p.line("    sha256:" + t.Hash)
		if t.State != adapter.SignedTable {
			open++
		}
	}
	p.line("")
	p.text(0, "Values by how they are known: sourced, read in the named document; corr., recalled and found again in weak support; memory, recalled: holds where it would block until signed; local, the site's own. The hash is of what is signed.")
	if open == 0 {
		p.line(p.paint(green, "Every table is signed as it is."))
	} else {
		p.line(p.paint(yellow, fmt.Sprintf("%d of %d tables are not signed: nothing is released.", open, len(list))))
		p.text(0, "A pharmacist reads them (weir tables drug NAME, weir tables show TABLE, weir tables report) and signs: weir tables sign --help")
	}
	return p.b.String()
}

func signature(t adapter.Table) string {
	switch s := t.Signature; t.State {
	case adapter.SignedTable:
		return fmt.Sprintf("%s, %s, license %s, on %s", s.Name, s.Role, s.License, s.On)
	case adapter.FutureTable:
		return adapter.FutureTable + ": " + strings.TrimSuffix(t.Says, ", "+adapter.FutureTable)
	case adapter.VoidTable:
		return fmt.Sprintf("VOID: changed since %s signed on %s", s.Name, s.On)
	}
	return "unsigned"
}

// Report writes what was read into the table of drugs.
func Report(r compendium.Report) string {
	p := &page{narrow: true}
	p.text(0, fmt.Sprintf("%d drugs, found by %d names and %d codes; %d codes are ambiguous and find nothing.", r.Drugs, r.Names, r.Codes, r.Ambiguous))
	p.line(fmt.Sprintf("Hazardous list: %d of them are named in it, %d were looked for and not found.", r.Listed, r.Reviewed))
	p.line(fmt.Sprintf("%d facts: %s.", r.Facts, tally(r.ByStanding)))
	p.line("By basis: " + tally(r.ByBasis) + ".")
	p.text(0, fmt.Sprintf("%d are to be read and never hold or block, %d hold for one regimen only, %d disagree with another document.", r.NeverGate, r.Keyed, r.Conflicting))
	p.head("Facts by topic")
	var names []string
	for t := range r.ByTopic {
		names = append(names, t)
	}
	slices.SortFunc(names, func(a, b string) int { return cmp.Or(placeOf(a)-placeOf(b), strings.Compare(a, b)) })
	for _, t := range names {
		p.line(fmt.Sprintf("  %4d  %s", r.ByTopic[t], title(t)))
	}
	for _, x := range []struct {
		says string
		list []string
	}{{"No entry for the kidneys", r.NoRenal}, {"No limit for a day", r.NoDaily}, {"No list of fluids", r.NoFluid}, {"No stability once diluted", r.NoStability}, {"No monitoring", r.NoMonitoring}} {
		p.head(fmt.Sprintf("%s: not checked for %d drugs", x.says, len(x.list)))
		for _, l := range wrap(strings.Join(x.list, "; "), p.width()-2) {
			p.line("  " + l)
		}
	}
	return p.b.String()
}

func tally(m map[string]int) string {
	var keys, out []string
	for k := range m {
		keys = append(keys, k)
	}
	slices.SortFunc(keys, func(a, b string) int { return cmp.Or(m[b]-m[a], strings.Compare(a, b)) })
	for _, k := range keys {
		out = append(out, fmt.Sprintf("%d %s", m[k], strings.ReplaceAll(k, "_", " ")))
	}
	return strings.Join(out, ", ")
}

// tablesInOrder counts differences by table, in the order they are listed.
func tablesInOrder(list []compendium.Difference) (names []string, n map[string]int) {
	n = map[string]int{}
	for _, d := range list {
		if n[d.Table] == 0 {
			names = append(names, d.Table)
		}
		n[d.Table]++
	}
	return names, n
}

// Edition writes what other tables or another policy change.
func Edition(e adapter.Edition) string {
	p := &page{narrow: true}
	names, n := tablesInOrder(e.Tables)
	if len(names) == 0 {
		p.line("The tables hold the same rows and facts.")
	}
	for _, table := range names {
		p.line(fmt.Sprintf("%s: %s", table, differs(n[table])))
		for _, d := range e.Tables {
			if d.Table == table {
				difference(p, d)
			}
		}
	}
	if len(e.Shipped) > 0 {
		p.line("")
		p.text(0, "Not judged by: "+strings.Join(e.Shipped, ", ")+". Orders are always judged by these tables as this program was built with them; what they change in an answer is not listed here.")
	}
	if e.Judged > 0 {
		p.line("")
		p.line(answers(len(e.Orders), e.Judged))
	}
	for _, c := range e.Orders {
		p.text(2, notation.DrugName(c.Drug)+"   order "+c.Order+" in "+c.Document+": "+verdictChange(c.Before, c.After))
		for _, x := range c.New {
			p.line("    + " + clean(x))
		}
		for _, x := range c.Gone {
			p.line("    - " + clean(x))
		}
		if c.Else {
			p.line("    the findings are the same; their numbers or words, the kit or the tasks are not")
		}
	}
	for _, r := range e.Refused {
		p.text(0, r.Document+" was refused: nothing in it was judged.")
		for _, f := range r.Faults {
			p.text(2, f)
		}
	}
	return p.b.String()
}

func differs(n int) string {
	if n == 1 {
		return "1 row or fact differs"
	}
	return fmt.Sprintf("%d rows or facts differ", n)
}

func answers(n, of int) string {
	if of == 1 {
		return fmt.Sprintf("%d of 1 order is answered otherwise.", n)
	}
	return fmt.Sprintf("%d of %d orders are answered otherwise.", n, of)
}

// difference writes one row or fact with the members that differ.
func difference(p *page, d compendium.Difference) {
	what := notation.DrugName(d.Row)
	switch {
	case d.Fact != "":
		what = d.Fact
	case d.Row == "":
		what = "the table itself"
	}
	p.text(2, d.What+" "+what)
	for _, m := range d.Changes {
		shown := compendium.Member{Name: m.Name, Was: plain(m.Was), Is: plain(m.Is)}
		if shown.Was == shown.Is || strings.Contains(m.Name, "source") || strings.Contains(m.Was+m.Is, "`") {
			shown = m // a source as it stands, and what differs in letters only
		}
		switch d.What {
		case "added":
			p.field(4, m.Name+":", shown.Is)
		case "dropped":
			p.field(4, m.Name+":", shown.Was)
		default:
			p.field(4, m.Name+":", shown.Says())
		}
	}
}

func verdictChange(before, after string) string {
	switch {
	case before == after:
		return before + " as before"
	case before == "":
		return "new, " + after
	case after == "":
		return "was " + before + ", no longer answered"
	}
	return before + " becomes " + after
}
