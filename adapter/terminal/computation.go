package terminal

import (
	"cmp"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"

	"weir.example/weir/adapter"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/worksheet"
)

// Computation writes the arithmetic alone: what disagrees first, then what
// was given, what follows with its numbers filled in, and what would follow
// from one more.
func Computation(c worksheet.Computation, color bool) string {
	p := &page{color: color}
	switch {
	case c.Verdict == "block" || c.Verdict == "hold":
		p.line(p.paint(verdictColor[c.Verdict], "THE NUMBERS DISAGREE"))
		findings(p, worksheet.Worksheet{Findings: c.Findings})
	case len(c.Findings) > 0:
		p.line("The numbers disagree slightly, beyond their digits.")
		findings(p, worksheet.Worksheet{Findings: c.Findings})
	case c.Verdict == "indeterminate":
		p.line("Nothing was compared: no two of the numbers given speak about each other.")
	default:
		p.line("No disagreement found among the numbers given.")
	}
	given(p, c)
	follows(p, c)
	if len(c.Outside) > 0 {
		p.head("NOT WORKED OUT")
		for _, o := range c.Outside {
			p.field(2, o.Equation, notation.Name(o.Name)+": "+o.Says)
		}
	}
	unreached(p, c)
	if len(c.Next) > 0 {
		p.head("ONE MORE NUMBER WOULD GIVE")
		for _, n := range c.Next[:min(len(c.Next), mostNext)] {
			p.row([]int{28, 62}, n.Give, words(n.Gives))
		}
		if more := len(c.Next) - mostNext; more > 0 {
			p.line(fmt.Sprintf("  and %d more; --output json lists them", more))
		}
	}
	p.line("")
	for _, x := range c.Cautions {
		p.field(0, "caution", x)
	}
	return p.b.String()
}

// mostNext is how many suggestions a person reads at night.
const mostNext = 5

func words(names []string) string {
	var list []string
	for _, n := range names {
		list = append(list, notation.Name(n))
	}
	return strings.Join(list, ", ")
}

func given(p *page, c worksheet.Computation) {
	p.head("GIVEN")
	for _, name := range ordered(c.Quantities) {
		if q := c.Quantities[name]; q.Stated {
			p.row([]int{28, 62}, notation.Name(name), worth(q)+dispute(q))
		}
	}
	for _, name := range slices.Sorted(maps.Keys(c.Given)) {
		p.row([]int{28, 62}, notation.Name(name), c.Given[name])
	}
}

// follows shows what was worked out with its numbers filled in, and for a
// number that was given what the others make of it.
func follows(p *page, c worksheet.Computation) {
	p.head("FOLLOWS")
	nothing := true
	for _, name := range ordered(c.Quantities) {
		q := c.Quantities[name]
		if len(q.Derivation) == 0 {
			continue
		}
		nothing = false
		text := worth(q)
		if q.Stated {
			text = "given; from the others:"
		}
		p.row([]int{28, 62}, notation.Name(name), text+dispute(q))
		for _, d := range q.Derivation[:min(len(q.Derivation), 2)] {
			p.field(4, "", cmp.Or(d.Text, d.Formula))
			if code := equationCode(d.Citation); code != "" && !q.Stated {
				p.field(4, "by", strings.TrimSuffix(strings.SplitN(d.Citation, ";", 2)[0], " ("+code+")")+"  ["+code+"]")
			}
		}
	}
	if nothing {
		p.line("  nothing yet")
	}
}

var inBrackets = regexp.MustCompile(`\((E[0-9]+[a-z-]*)\)$`)

// equationCode is the code an equation's citation ends in; the products of
// the network need none.
func equationCode(citation string) string {
	if m := inBrackets.FindStringSubmatch(citation); m != nil {
		return m[1]
	}
	return ""
}

// unreached: one line when nothing checks anything, else one for each.
func unreached(p *page, c worksheet.Computation) {
	if len(c.NotChecked) == 0 {
		return
	}
	p.head("NOT CHECKED")
	var names []string
	for _, n := range c.NotChecked {
		if n.Name != "" {
			names = append(names, n.Name)
		}
	}
	if len(names) > 1 && len(c.Findings) == 0 {
		p.field(2, "-", "Nothing given checks these: "+words(names)+".")
		return
	}
	for _, n := range c.NotChecked {
		p.field(2, "-", n.Says)
	}
}

func worth(q worksheet.Quantity) string {
	if q.Unit == "" {
		if len(q.Derivation) > 0 {
			if _, at, ok := strings.Cut(q.Derivation[0].Text, " = "); ok {
				return at
			}
		}
		return q.Value
	}
	text := value(q.Value, q.Unit)
	if n, err := quantity.ParseNumber(q.Value); err == nil && q.Unit == "h" && !n.IsInt() {
		if minutes, ok := n.Mul(quantity.Int(60)).RoundTo(quantity.Int(1)).Floor(); ok && minutes >= 60 {
			text += fmt.Sprintf(" (%s %s)", count(int(minutes/60), "hour"), count(int(minutes%60), "minute"))
		}
	}
	return text
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
