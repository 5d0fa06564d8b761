package terminal

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"

	"weir.example/weir/adapter"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/worksheet"
)

// Computation writes the arithmetic alone: what disagrees first, then what
// was given, what follows with its numbers filled in, and what would follow
// from one more.
func Computation(c worksheet.Computation, color bool) string {
	p := &page{color: color}
	switch {
	case len(c.Findings) > 0:
		p.line(p.paint(verdictColor[c.Verdict], "THE NUMBERS DISAGREE"))
		findings(p, worksheet.Worksheet{Findings: c.Findings})
	default:
		p.line("No disagreement found among the numbers given.")
	}
	p.head("GIVEN")
	for _, name := range ordered(c.Quantities) {
		if q := c.Quantities[name]; q.Stated {
			p.row([]int{28, 62}, notation.Name(name), value(q.Value, q.Unit)+dispute(q))
		}
	}
	for _, name := range slices.Sorted(maps.Keys(c.Given)) {
		p.row([]int{28, 62}, notation.Name(name), c.Given[name])
	}
	p.head("FOLLOWS")
	any := false
	for _, name := range ordered(c.Quantities) {
		q := c.Quantities[name]
		if q.Stated && len(q.Derivation) == 0 {
			continue
		}
		any = true
		mark := "= "
		if q.Stated {
			mark = "checks: "
		}
		p.row([]int{28, 62}, notation.Name(name), mark+worth(q)+dispute(q))
		for _, d := range q.Derivation[:min(len(q.Derivation), 2)] {
			p.field(4, "", cmp.Or(d.Text, d.Formula))
			if !q.Stated && !strings.HasPrefix(d.Citation, "equations E01") {
				p.field(4, "source", d.Citation)
			}
		}
	}
	if !any {
		p.line("  nothing yet")
	}
	if len(c.Outside) > 0 {
		p.head("NOT WORKED OUT")
		for _, o := range c.Outside {
			p.field(2, o.Equation, notation.Name(o.Name)+": "+o.Says)
		}
	}
	if len(c.NotChecked) > 0 {
		p.head("NOT CHECKED")
		for _, n := range c.NotChecked {
			p.field(2, "-", n.Says)
		}
	}
	if len(c.Next) > 0 {
		p.head("ONE MORE NUMBER WOULD GIVE")
		for _, n := range c.Next[:min(len(c.Next), 12)] {
			var list []string
			for _, g := range n.Gives {
				list = append(list, notation.Name(g))
			}
			p.row([]int{28, 62}, n.Give, strings.Join(list, ", "))
		}
	}
	p.line("")
	for _, x := range c.Cautions {
		p.field(0, "caution", x)
	}
	return p.b.String()
}

func worth(q worksheet.Quantity) string {
	if q.Unit == "" {
		return q.Value
	}
	return value(q.Value, q.Unit)
}

func dispute(q worksheet.Quantity) string {
	if q.Disputed {
		return "   DISPUTED"
	}
	return ""
}

// ordered sorts names as the list of NAMEs has them.
func ordered(m map[string]worksheet.Quantity) []string {
	listed, _ := adapter.Listing()
	out := slices.Sorted(maps.Keys(m))
	at := func(name string) int {
		return slices.IndexFunc(listed, func(l adapter.Listed) bool { return l.Code == name })
	}
	slices.SortStableFunc(out, func(a, b string) int { return at(a) - at(b) })
	return out
}

// Listing writes the NAMEs and the equations.
func Listing(names, equations []adapter.Listed) string {
	p := &page{}
	p.line("NAMES")
	for _, n := range names {
		p.row([]int{26, 18, 46}, n.Code, n.Unit, n.Means)
	}
	p.head(fmt.Sprintf("EQUATIONS (%d), besides the products of dose, volume, rate and time", len(equations)))
	for _, e := range equations {
		p.line("  " + pad(e.Code, 14) + " " + e.Means)
		p.field(17, "", e.Needs)
		p.field(17, "holds", e.Holds)
		p.field(17, "source", e.From)
	}
	return p.b.String()
}
