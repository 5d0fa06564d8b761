package compendium

import (
	_ "embed"
	"fmt"
	"slices"
	"strings"
	"sync"
)

//go:embed pairs.json
var pairsFile []byte

// AnyOther stands in a pair for every other drug; a carrier fluid is none.
const AnyOther = "any other drug"

// Pair is what a named source says of two drugs, or a drug and a fluid, that
// meet in one line. A side is a drug of the drug table, one of the other
// names of the file, a group of the file, or AnyOther.
type Pair struct {
	A, B      string
	Verdict   string // incompatible, conditional, compatible
	How       string // y-site, admixture, line, syringe: what was tested or is forbidden
	Condition string // when it holds: strengths, fluids, products; never empty for conditional
	Concerns  string // what happens
	Between   string // what lets one follow the other in the same line; empty: not said
	Newborn   string // what is stricter for a newborn
	Standing  string
	Source    string
}

type pairTable struct {
	Others []string // names that are no drug of the drug table
	pairwise[Pair]
}

// verdicts by their gravity.
var verdicts = []string{"incompatible", "conditional", "compatible"}

var pairsKnown = sync.OnceValue(func() pairTable { return must(parsePairs(pairsFile)) })

// PairsFile returns the embedded table of pairs, for the schema check.
func PairsFile() []byte { return pairsFile }

// Pairs are the rows of the table, and PairGroups the groups they name.
func Pairs() []Pair       { return pairsKnown().Rows }
func PairGroups() []Group { return pairsKnown().Groups }

// PairOthers are names of the table that the drug table does not have.
func PairOthers() []string { return pairsKnown().Others }

// PairsCount counts the table and its values by standing; a group counts as
// one value.
func PairsCount() Count { return pairsKnown().count() }

// PairOf finds what is known about two names in one line, in either order,
// by their names as in the drug table or the full name of a fluid. A row
// that names both comes first, then rows by a group, then rows on any other
// drug; of several the gravest. False is unknown, and never means
// compatible.
func PairOf(a, b string) (Pair, bool) {
	t := pairsKnown()
	a, b = Fold(a), Fold(b)
	if a == "" || b == "" || a == b {
		return Pair{}, false
	}
	var best Pair
	rank := 0
	for _, p := range t.Rows {
		r := max(min(t.side(p.A, a), t.side(p.B, b)), min(t.side(p.A, b), t.side(p.B, a)))
		if r > rank || r == rank && r > 0 && slices.Index(verdicts, p.Verdict) < slices.Index(verdicts, best.Verdict) {
			best, rank = p, r
		}
	}
	return best, rank > 0
}

// side tells how closely a side of a row names a drug or fluid: 3 by its
// name, 2 by a group, 1 as any other drug, 0 not at all.
func (t pairTable) side(side, name string) int {
	switch {
	case Fold(side) == name:
		return 3
	case side == AnyOther:
		if isFluid(name) {
			return 0
		}
		return 1
	}
	for _, g := range t.Groups {
		if g.Name == side && g.has(name) {
			return 2
		}
	}
	if code, ok := Carrier(name); ok && Fold(DiluentName(code)) == Fold(side) {
		return 3 // the same fluid in other words
	}
	return 0
}

func (g Group) has(name string) bool {
	return slices.ContainsFunc(g.Members, func(m string) bool { return Fold(m) == name }) || g.Solute != "" && FluidContains(name, g.Solute)
}

// isFluid: a carrier fluid in any strength. Nutrition is none: it has rows of
// its own.
func isFluid(name string) bool {
	return !strings.Contains(name, "parenteral nutrition") &&
		(FluidContains(name, "dextrose") || FluidContains(name, "sodium chloride") || strings.Contains(name, "ringer") || strings.Contains(name, "sterile water"))
}

// ParsePairs reads a table of pairs. It refuses an empty table, a key it
// does not know, a pair that stands twice in either order, a pair of a name
// with itself, a conditional pair without its condition, and a row without
// source and standing.
func ParsePairs(data []byte) ([]Pair, error) {
	t, err := parsePairs(data)
	return t.Rows, err
}

func parsePairs(data []byte) (pairTable, error) {
	var t pairTable
	if err := decodeTable("pair", data, &t); err != nil {
		return t, err
	}
	return t, t.check("pair")
}

func (p Pair) sides() (a, b string)             { return p.A, p.B }
func (p Pair) vouch() (standing, source string) { return p.Standing, p.Source }

func (p Pair) check() error {
	switch {
	case p.A == "" || p.B == "" || p.A == p.B || p.Concerns == "":
		return fmt.Errorf("lacks a side or what happens")
	case !slices.Contains(verdicts, p.Verdict) || p.Verdict == "conditional" && p.Condition == "":
		return fmt.Errorf("has verdict %q and condition %q; use incompatible, conditional (with its condition) or compatible", p.Verdict, p.Condition)
	case !slices.Contains([]string{"y-site", "admixture", "line", "syringe"}, p.How):
		return fmt.Errorf("is known by %q; use y-site, admixture, line or syringe", p.How)
	case p.Verdict == "compatible" && p.How != "y-site":
		return fmt.Errorf("is compatible by %q; only a test at the Y-site tells", p.How)
	case p.Verdict == "compatible" && (p.A == AnyOther || p.B == AnyOther):
		return fmt.Errorf("is compatible: nothing is, with any other drug")
	}
	return nil
}
