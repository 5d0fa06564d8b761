package compendium

import (
	"slices"
	"strings"
	"sync"
)

// Allergen is what an allergy on record may be to, as far as the tables know
// its names and codes.
type Allergen struct {
	Drugs    []string         // by generic name
	Classes  []AllergyClass   // named as a whole
	Supplies []SupplyAllergen // what a kit, a lock or a flush may hold
	Apart    string           // something that no drug and no item holds: foods, …
	coded    bool             // an ATC code tells what it is, though no class here has it
}

// Known reports whether anything was recognised. What is not known has not
// been compared with anything.
func (a Allergen) Known() bool {
	return a.coded || a.Apart != "" || len(a.Drugs)+len(a.Classes)+len(a.Supplies) > 0
}

// meaning is what one phrase stands for.
type meaning struct {
	drugs    []string
	class    *AllergyClass
	supplies []SupplyAllergen
	apart    string
}

type lexicon struct {
	phrases map[string]meaning
	longest map[string]int // first word of a phrase to the most words of one that begins so
	rxnorm  map[string][]string
	atc     map[string][]string
}

// in are the phrases of a text, as phrasesIn finds them: only where a phrase
// begins is one looked for.
func (l lexicon) in(text string) []string {
	words := tokens(text)
	var out []string
	for from, w := range words {
		for to := min(len(words), from+l.longest[w]); to > from; to-- {
			p := strings.Join(words[from:to], " ")
			if _, ok := l.phrases[p]; ok && !slices.ContainsFunc(out, func(longer string) bool { return contains(longer, p) }) {
				out = append(out, p)
			}
		}
	}
	return out
}

// substances are all names that the tables know for a substance: those of drugs,
// of interactions and of the table of allergies. A carrier fluid alone is no
// substance: every text may have one.
var substances = sync.OnceValue(func() lexicon {
	l := lexicon{phrases: map[string]meaning{}, rxnorm: map[string][]string{}, atc: map[string][]string{}}
	drug := func(name string, are ...string) {
		p := phrase(name)
		if p == "" || OnlyFluid(name) && name != "dextrose" && name != "glucose" {
			return
		}
		m := l.phrases[p]
		m.drugs = joined(m.drugs, are...)
		l.phrases[p] = m
	}
	code := func(in map[string][]string, codes []string, are ...string) {
		for _, c := range codes {
			in[c] = joined(in[c], are...)
		}
	}
	for _, d := range Embedded().Drugs {
		are := []string{d.Name}
		for _, p := range d.Parts {
			are = append(are, p.Name)
		}
		for _, n := range d.names() {
			drug(n, are...)
		}
		code(l.rxnorm, d.Codes.RxNorm, are...)
		code(l.atc, d.Codes.ATC, are...)
	}
	t := allergiesKnown()
	for _, s := range t.Substances {
		for _, n := range append([]string{s.Name}, s.Also...) {
			drug(n, s.Name)
		}
		code(l.rxnorm, s.RxNorm, s.Name)
		code(l.atc, s.ATC, s.Name)
	}
	groups := map[string]bool{}
	for _, g := range InteractionGroups() {
		groups[g.Name] = true
		for _, m := range g.Members {
			drug(m, m)
		}
	}
	for _, x := range Interactions() {
		for _, side := range []string{x.A, x.B} {
			if !groups[side] {
				drug(side, side)
			}
		}
	}
	for _, w := range t.Medicines {
		for _, n := range w.Words {
			drug(n, n)
		}
	}
	set := func(words []string, change func(*meaning)) {
		for _, w := range words {
			m := l.phrases[phrase(w)]
			change(&m)
			l.phrases[phrase(w)] = m
		}
	}
	for i := range t.Classes {
		c := &t.Classes[i]
		for _, m := range slices.Concat(c.Members, c.Named) {
			drug(m, m)
		}
		set(c.Words, func(m *meaning) { m.class = c })
	}
	for _, s := range t.Supplies {
		set(s.Words, func(m *meaning) { m.supplies = append(m.supplies, s) })
	}
	for _, a := range t.Apart {
		set(a.Words, func(m *meaning) { m.apart = a.Name })
	}
	l.longest = map[string]int{}
	for p := range l.phrases {
		words := strings.Fields(p)
		l.longest[words[0]] = max(l.longest[words[0]], len(words))
	}
	return l
})

func joined(list []string, more ...string) []string {
	for _, m := range more {
		if !slices.Contains(list, m) {
			list = append(list, m)
		}
	}
	return list
}

// AllergenOf tells what an allergy is to, by its codes and by every phrase of
// its texts that the tables know, the longest first: "penicillin G" is that
// drug and not the class.
func AllergenOf(i Item) Allergen {
	var a Allergen
	l := substances()
	for _, c := range i.RxNorm {
		a.Drugs = joined(a.Drugs, l.rxnorm[c]...)
	}
	for _, c := range i.ATC {
		a.coded = a.coded || len(c) == len("J01DB04")
		a.Drugs = joined(a.Drugs, l.atc[c]...)
		for _, k := range AllergyClasses() {
			if within := slices.ContainsFunc(k.ATC, func(p string) bool { return strings.HasPrefix(c, p) }); within && len(l.atc[c]) == 0 {
				a.addClass(k)
			}
		}
	}
	for _, n := range i.Names {
		for _, p := range l.in(n) {
			m := l.phrases[p]
			a.Drugs = joined(a.Drugs, m.drugs...)
			if m.class != nil {
				a.addClass(*m.class)
			}
			for _, s := range m.supplies {
				a.addSupply(s)
			}
			if m.apart != "" {
				a.Apart = m.apart
			}
		}
	}
	for _, s := range SupplyAllergens() {
		if slices.ContainsFunc(s.Drugs, func(d string) bool { return slices.Contains(a.Drugs, d) }) {
			a.addSupply(s)
		}
	}
	return a
}

func (a *Allergen) addClass(c AllergyClass) {
	if !slices.ContainsFunc(a.Classes, func(k AllergyClass) bool { return k.Name == c.Name }) {
		a.Classes = append(a.Classes, c)
	}
}

func (a *Allergen) addSupply(s SupplyAllergen) {
	if !slices.ContainsFunc(a.Supplies, func(k SupplyAllergen) bool { return k.Name == s.Name }) {
		a.Supplies = append(a.Supplies, s)
	}
}

// SubstancesOf are the generic names that an item names by code or in words;
// none when the tables know none of them.
func SubstancesOf(i Item) []string { return AllergenOf(i).Drugs }

// ClassesOf are the classes a drug is a member of, in the order of the file.
func ClassesOf(drug string) []AllergyClass {
	var out []AllergyClass
	for _, c := range AllergyClasses() {
		if slices.Contains(c.Members, drug) {
			out = append(out, c)
		}
	}
	return out
}

// Crossing is what an allergy means for another drug. By is named (the
// record names a class that the drug is of), chain (they share a side chain,
// or one of the class named does), or how often they react alike.
type Crossing struct{ By, Says, Standing, Source string }

// The first two kinds of crossing; the others are CrossCommon and so on.
const (
	CrossNamed = "named"
	CrossChain = "chain"
)

var crossings = []string{CrossDoubtful, CrossSeldom, CrossCommon, CrossChain, CrossNamed}

// Cross finds the gravest crossing of an allergen and a drug that is not the
// allergen itself. False is no statement that nothing happens.
func (a Allergen) Cross(drug string) (Crossing, bool) {
	best, rank := Crossing{}, -1
	meet := func(c Crossing) {
		if r := slices.Index(crossings, c.By); r > rank {
			best, rank = c, r
		}
	}
	of := func(names []string, says string) {
		for _, s := range SideChains() {
			for _, n := range names {
				if n != drug && slices.Contains(s.Members, n) && slices.Contains(s.Members, drug) {
					meet(Crossing{CrossChain, says + n + " and " + drug + ": " + s.Likeness + " side chain in " + s.Position, s.Standing, s.Source})
				}
			}
		}
	}
	for _, c := range a.Classes {
		if slices.Contains(c.Members, drug) || slices.Contains(c.Named, drug) {
			meet(Crossing{CrossNamed, drug + " is one of the " + c.Name, c.Standing, c.Source})
		}
		of(c.Members, "which of the "+c.Name+" is not told; ")
		a.related(c.Name, drug, meet)
	}
	of(a.Drugs, "")
	for _, d := range a.Drugs {
		for _, c := range ClassesOf(d) {
			if d != drug && slices.Contains(c.Members, drug) {
				meet(Crossing{c.Cross, d + " and " + drug + " are both " + c.Name, c.Standing, c.Source})
			}
			a.related(c.Name, drug, meet)
		}
	}
	return best, rank >= 0
}

func (a Allergen) related(class, drug string, meet func(Crossing)) {
	for _, r := range allergiesKnown().Relations {
		for _, c := range ClassesOf(drug) {
			if r.A == class && r.B == c.Name || r.B == class && r.A == c.Name {
				meet(Crossing{r.Cross, drug + " is one of the " + c.Name + ", related to the " + class, r.Standing, r.Source})
			}
		}
	}
}
