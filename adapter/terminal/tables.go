package terminal

import (
	"fmt"
	"slices"
	"strings"

	"weir.example/weir/adapter"
	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/notation"
)

// Tables writes the list of reference tables.
func Tables(list []adapter.Table, color bool) string {
	p := &page{color: color}
	widths := []int{12, 23, 5, 8, 6, 6, 5, 34}
	p.row(widths, "table", "edition", "rows", "sourced", "corr.", "memory", "local", "signature")
	open := 0
	for _, t := range list {
		count := func(standing string) string { return fmt.Sprint(t.Standing[standing]) }
		p.row(widths, t.Name, t.Edition, fmt.Sprint(t.Rows), count(compendium.Sourced), count(compendium.Corroborated), count(compendium.Memory),
			count(compendium.LocalStanding), signature(t))
		if t.State != adapter.SignedTable {
			open++
		}
	}
	p.line("")
	for _, t := range list {
		p.line("  " + pad(t.Name, 14) + "sha256:" + t.Hash)
	}
	p.line("")
	p.line("Values by standing: sourced, read in the named document; corr., recalled and found again in weak")
	p.line("support; memory, recalled: holds where it would block until signed; local, the site's own.")
	if open == 0 {
		p.line(p.paint(green, "Every table is signed as it is."))
	} else {
		p.line(p.paint(yellow, fmt.Sprintf("%d of %d tables are not signed: nothing is released.", open, len(list))))
		p.line("A pharmacist reads them (weir tables drug NAME, weir tables report) and signs: weir tables sign --help")
	}
	return p.b.String()
}

func signature(t adapter.Table) string {
	switch s := t.Signature; t.State {
	case adapter.SignedTable:
		return fmt.Sprintf("%s, %s, license %s, %s", s.Name, s.Role, s.License, s.On)
	case adapter.VoidTable:
		return fmt.Sprintf("VOID: changed since %s signed on %s", s.Name, s.On)
	}
	return "unsigned"
}

// Report writes what was read into the table of drugs.
func Report(r compendium.Report) string {
	p := &page{}
	p.line(fmt.Sprintf("%d drugs, found by %d names and %d codes; %d codes are ambiguous and find nothing.", r.Drugs, r.Names, r.Codes, r.Ambiguous))
	p.line(fmt.Sprintf("Hazardous list: %d of them are named in it, %d were looked for and not found.", r.Listed, r.Reviewed))
	p.line(fmt.Sprintf("%d facts: %s.", r.Facts, tally(r.ByStanding)))
	p.line("By basis: " + tally(r.ByBasis) + ".")
	p.line(fmt.Sprintf("%d never gate, %d hold for one regimen only, %d disagree with another document.", r.NeverGate, r.Keyed, r.Conflicting))
	p.head("Facts by topic")
	var topics []string
	for t := range r.ByTopic {
		topics = append(topics, t)
	}
	slices.Sort(topics)
	for _, t := range topics {
		p.line(fmt.Sprintf("  %4d  %s", r.ByTopic[t], strings.ReplaceAll(t, "_", " ")))
	}
	for _, x := range []struct {
		says string
		list []string
	}{{"No entry for the kidneys", r.NoRenal}, {"No limit for a day", r.NoDaily}, {"No list of fluids", r.NoFluid}, {"No stability once diluted", r.NoStability}, {"No monitoring", r.NoMonitoring}} {
		p.head(fmt.Sprintf("%s: not checked for %d drugs", x.says, len(x.list)))
		for _, l := range wrap(strings.Join(x.list, "; "), width-2) {
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
	slices.SortFunc(keys, func(a, b string) int { return m[b] - m[a] })
	for _, k := range keys {
		out = append(out, fmt.Sprintf("%d %s", m[k], strings.ReplaceAll(k, "_", " ")))
	}
	return strings.Join(out, ", ")
}

// Edition writes what other tables or another policy change.
func Edition(e adapter.Edition) string {
	p := &page{}
	p.line(fmt.Sprintf("%d cells of the tables differ.", len(e.Tables)))
	for _, c := range e.Tables {
		what := c.Row
		if c.Fact != "" {
			what = c.Fact
		}
		p.line("  " + pad(c.What, 8) + " " + pad(c.Table, 8) + " " + what)
		p.field(4, "was", c.Was)
		p.field(4, "is", c.Is)
	}
	p.line("")
	p.line(fmt.Sprintf("%d of %d orders are answered otherwise.", len(e.Orders), e.Judged))
	for _, c := range e.Orders {
		p.line("  " + clean(notation.DrugName(c.Drug)) + "   order " + clean(c.Order) + ": " + verdictChange(c.Before, c.After))
		for _, x := range c.New {
			p.line("    + " + x)
		}
		for _, x := range c.Gone {
			p.line("    - " + x)
		}
	}
	return p.b.String()
}

func verdictChange(before, after string) string {
	if before == after {
		return before + " as before"
	}
	return before + " becomes " + after
}
