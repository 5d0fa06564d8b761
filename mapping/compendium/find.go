package compendium

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// The code systems of drugs in FHIR.
const (
	RxNorm = "http://www.nlm.nih.gov/research/umls/rxnorm"
	ATC    = "http://www.whocc.no/atc"
)

// Asked is what an order says of its drug: the codes and texts of the drug
// itself, its active ingredients, and those it calls inactive.
type Asked struct {
	Item
	Ingredients []Item
	Inactive    []Item
}

// Item is one drug or ingredient as named: its codes and its texts.
type Item struct {
	RxNorm, ATC []string
	Names       []string
}

// Named asks by one RxNorm code ("" for none) and by texts.
func Named(rxnorm string, names ...string) Asked {
	a := Asked{Item: Item{Names: names}}
	if rxnorm != "" {
		a.RxNorm = []string{rxnorm}
	}
	return a
}

// index finds rows. A code that several rows or forms share is in ambiguous
// and finds none.
type index struct {
	byCode, byATC, byName map[string]int
	ambiguous             map[string]string
	hazardByCode          map[string]int
	hazardByATC           map[string][]int
	hazardByName          map[string]int
	hazardPhrases         map[string]int  // listed as hazardous: found inside a text too
	phrases               map[string]bool // names of other drugs: see another
}

func (t *Tables) build() error {
	t.index = index{byCode: map[string]int{}, byATC: map[string]int{}, byName: map[string]int{}, ambiguous: map[string]string{},
		hazardByCode: map[string]int{}, hazardByATC: map[string][]int{}, hazardByName: map[string]int{}, hazardPhrases: map[string]int{}}
	for i, d := range t.Drugs {
		for _, name := range d.names() {
			if err := enter(t.byName, Fold(name), i); err != nil {
				return err
			}
		}
		for m, codes := range map[*map[string]int][]string{&t.byCode: d.Codes.RxNorm, &t.byATC: d.Codes.ATC} {
			for _, c := range codes {
				if err := enter(*m, c, i); err != nil {
					return err
				}
			}
		}
		for _, a := range d.Codes.Ambiguous {
			t.ambiguous[a.Code] = a.Why
		}
	}
	for _, d := range t.Drugs {
		for _, c := range append(slices.Clone(d.Codes.RxNorm), d.Codes.ATC...) {
			if _, both := t.ambiguous[c]; both {
				return fmt.Errorf("reference tables: %q finds %s and is called ambiguous", c, d.Name)
			}
		}
		for _, n := range d.NotThis {
			if i, taken := t.byName[Fold(n)]; taken && t.Drugs[i].Name == d.Name {
				return fmt.Errorf("reference tables: %q is a name of %s and stands among those it is not", n, d.Name)
			}
		}
	}
	for i, row := range t.Hazards {
		if err := enter(t.hazardByName, Fold(row.Name), i); err != nil {
			return err
		}
		if err := enter(t.hazardByCode, row.RxNorm, i); err != nil {
			return err
		}
		if row.ATC != "" {
			t.hazardByATC[row.ATC] = append(t.hazardByATC[row.ATC], i)
		}
		if row.Table != "none" {
			for _, n := range append(strings.Split(row.Name, "/"), row.Name) {
				t.hazardPhrases[phrase(n)] = i
			}
		}
	}
	t.phrases = t.phrasesOf()
	return nil
}

// names are all exact names of a row. The parts of a combination may be
// joined in the ways orders join them.
func (d Drug) names() []string {
	out := append([]string{d.Name}, d.Also...)
	if len(d.Parts) > 1 {
		var parts []string
		for _, p := range d.Parts {
			parts = append(parts, p.Name)
		}
		for _, joint := range []string{"-", "/", " / ", " and ", " + ", "+", " with "} {
			out = append(out, strings.Join(parts, joint))
		}
	}
	return out
}

func enter(m map[string]int, key string, at int) error {
	if key == "" {
		return nil
	}
	if other, taken := m[key]; taken && other != at {
		return fmt.Errorf("reference tables: %q names two rows", key)
	}
	m[key] = at
	return nil
}

// Find looks a drug up by its codes, by exact listed names, and by its
// active ingredients. It answers why not when nothing, or more than one row,
// fits; a near match is no match.
func (t *Tables) Find(a Asked) (Drug, string) {
	rows, why := t.rows(a.Item)
	active := t.actives(a)
	switch at, whole := t.admixture(active); {
	case whole: // its ingredients are no rows of their own
		rows = append(rows, at)
		active = nil
	case len(rows) == 1 && len(t.Drugs[rows[0]].Mixture) > 0: // named as a whole
		active = nil
	case len(active) == 1:
		more, also := t.rows(active[0])
		if len(more) == 0 && len(rows) == 1 && !t.Drugs[rows[0]].confirms(active[0]) {
			return Drug{}, fmt.Sprintf("its ingredient, %s, is not listed as %s", active[0], t.Drugs[rows[0]].Name)
		}
		if len(rows) == 0 {
			why = also
		}
		rows = append(rows, more...)
	case len(active) > 1:
		at, ok := t.combination(active)
		if !ok {
			return Drug{}, "it holds several active ingredients, and no row is that mixture"
		}
		rows = append(rows, at)
	}
	rows = once(rows)
	switch {
	case len(rows) > 1:
		return Drug{}, fmt.Sprintf("its codes and names point at %s and at %s", t.Drugs[rows[0]].Name, t.Drugs[rows[1]].Name)
	case len(rows) == 0 && why != "":
		return Drug{}, why
	case len(rows) == 0:
		return Drug{}, "none of its codes and names is listed exactly"
	}
	d := t.Drugs[rows[0]]
	for _, item := range append([]Item{a.Item}, active...) {
		for _, name := range item.Names {
			if other := t.another(d, name); other != "" {
				return Drug{}, fmt.Sprintf("the name says %q, which is not %s", other, d.Name)
			}
		}
	}
	return d, ""
}

// confirms reports whether an ingredient that no code or exact name finds is
// the row, with an amount or a vessel in its name.
func (d Drug) confirms(i Item) bool {
	return len(i.Names) > 0 && !slices.ContainsFunc(i.Names, func(n string) bool {
		return !slices.ContainsFunc(d.names(), func(own string) bool { return phrase(own) == substance(n) })
	})
}

// String names an item for a person.
func (i Item) String() string {
	if len(i.Names) > 0 {
		return strconv.Quote(i.Names[0])
	}
	return "code " + strings.Join(append(slices.Clone(i.RxNorm), i.ATC...), ", ")
}

// rows are the rows an item points at, and what was ambiguous in it.
func (t *Tables) rows(i Item) (out []int, why string) {
	for _, x := range []struct {
		codes []string
		in    map[string]int
	}{{i.RxNorm, t.byCode}, {i.ATC, t.byATC}} {
		for _, c := range x.codes {
			if at, ok := x.in[c]; ok {
				out = append(out, at)
			} else if w := t.ambiguous[c]; w != "" {
				why = fmt.Sprintf("the code %s is ambiguous: %s", c, w)
			}
		}
	}
	for _, n := range i.Names {
		if at, ok := t.byName[Fold(n)]; ok {
			out = append(out, at)
		}
	}
	return once(out), why
}

func once(list []int) []int {
	slices.Sort(list)
	return slices.Compact(list)
}

// actives are the ingredients without the carrier fluids, unless there is
// nothing else: a hydration is one. An ingredient that is called inactive and
// is a drug of the tables counts as active: its own name speaks against it.
func (t *Tables) actives(a Asked) []Item {
	list := slices.Clone(a.Ingredients)
	for _, i := range a.Inactive {
		if rows, _ := t.rows(i); !t.carrier(i) && (len(rows) > 0 || len(t.hazardsOf(i)) > 0) {
			list = append(list, i)
		}
	}
	out := slices.DeleteFunc(slices.Clone(list), t.carrier)
	if len(out) == 0 {
		return list
	}
	return out
}

// carrier reports whether an item is a carrier fluid by all its names, and no
// code of it is that of a drug.
func (t *Tables) carrier(i Item) bool {
	rows, _ := t.rows(i)
	return len(i.Names) > 0 &&
		!slices.ContainsFunc(i.Names, func(n string) bool { _, fluid := Carrier(n); return !fluid }) &&
		!slices.ContainsFunc(rows, func(r int) bool { _, fluid := Carrier(t.Drugs[r].Name); return !fluid }) &&
		len(t.hazardsOf(i)) == 0
}

// combination finds the row whose parts are exactly the ingredients.
func (t *Tables) combination(list []Item) (int, bool) {
	for at, d := range t.Drugs {
		if len(d.Parts) != len(list) {
			continue
		}
		left := slices.Clone(d.Parts)
		for _, i := range list {
			left = slices.DeleteFunc(left, i.is)
		}
		if len(left) == 0 {
			return at, true
		}
	}
	return 0, false
}

// admixture finds the row that a mixture is by some of its ingredients:
// amino acids with dextrose are parenteral nutrition.
func (t *Tables) admixture(list []Item) (int, bool) {
	for at, d := range t.Drugs {
		missing := slices.ContainsFunc(d.Mixture, func(p Part) bool { return !slices.ContainsFunc(list, func(i Item) bool { return i.is(p) }) })
		if len(d.Mixture) > 0 && !missing {
			return at, true
		}
	}
	return 0, false
}

// is reports whether the item is the part, by its code or its exact name.
func (i Item) is(p Part) bool {
	return p.RxNorm != "" && slices.Contains(i.RxNorm, p.RxNorm) || slices.ContainsFunc(i.Names, func(n string) bool { return Fold(n) == p.Name })
}
