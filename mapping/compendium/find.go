package compendium

import (
	"fmt"
	"slices"
	"strings"
)

// The code systems of drugs in FHIR.
const (
	RxNorm = "http://www.nlm.nih.gov/research/umls/rxnorm"
	ATC    = "http://www.whocc.no/atc"
)

// Asked is what an order says of its drug: the codes and texts of the drug
// itself, and its active ingredients.
type Asked struct {
	Item
	Ingredients []Item
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
}

// forms are words that make another product of a drug: another release,
// another carrier. A row whose own names do not have the word is not meant.
var forms = []string{"liposomal", "liposome", "liposomes", "lipid complex", "pegylated", "peg", "conjugate", "depot", "extended-release", "sustained-release", "implant", "inhalation", "ophthalmic", "topical"}

func (t *Tables) build() error {
	t.index = index{byCode: map[string]int{}, byATC: map[string]int{}, byName: map[string]int{}, ambiguous: map[string]string{},
		hazardByCode: map[string]int{}, hazardByATC: map[string][]int{}, hazardByName: map[string]int{}}
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
	}
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
	active := actives(a.Ingredients)
	switch at, whole := t.admixture(active); {
	case whole: // its ingredients are no rows of their own
		rows = append(rows, at)
		active = nil
	case len(rows) == 1 && len(t.Drugs[rows[0]].Mixture) > 0: // named as a whole
		active = nil
	case len(active) == 1:
		more, also := t.rows(active[0])
		if len(rows) == 0 || len(more) > 0 {
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
	slices.Sort(rows)
	rows = slices.Compact(rows)
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
			if other := d.another(name); other != "" {
				return Drug{}, fmt.Sprintf("the name says %q, which is not %s", other, d.Name)
			}
		}
	}
	return d, ""
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
	return out, why
}

// actives drops the carrier fluids, unless there is nothing else: a
// hydration is one.
func actives(list []Item) []Item {
	out := slices.DeleteFunc(slices.Clone(list), func(i Item) bool {
		return len(i.Names) > 0 && !slices.ContainsFunc(i.Names, func(n string) bool { _, fluid := Diluent(n); return !fluid })
	})
	if len(out) == 0 {
		return list
	}
	return out
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

// another is the part of a name that says another drug or another form.
func (d Drug) another(name string) string {
	words := " " + strings.NewReplacer(",", " ", "(", " ", ")", " ").Replace(Fold(name)) + " "
	words = " " + Fold(words) + " "
	own := func(phrase string) bool {
		return slices.ContainsFunc(d.names(), func(n string) bool { return strings.Contains(" "+Fold(n)+" ", " "+phrase+" ") })
	}
	for _, phrase := range append(slices.Clone(d.NotThis), forms...) {
		if p := Fold(phrase); strings.Contains(words, " "+p+" ") && !own(p) {
			return phrase
		}
	}
	return ""
}
