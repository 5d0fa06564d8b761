package compendium

import (
	"slices"
	"strings"
	"sync"
)

// denials before a word say that it did not happen.
var denials = set("no", "not", "without", "denies", "denied", "never", "negative")

// tells reports whether words hold a phrase that the word before it does not
// deny.
func tells(have, want []string) bool {
	for i := 0; len(want) > 0 && i+len(want) <= len(have); i++ {
		if have[i] == want[0] && slices.Equal(have[i:i+len(want)], want) && (i == 0 || !denials[have[i-1]]) {
			return true
		}
	}
	return false
}

// split keeps the words of every phrase that records are searched for.
var split = sync.OnceValue(func() map[string][]string {
	out := map[string][]string{}
	t := allergiesKnown()
	for _, r := range t.Reactions {
		for _, w := range r.Words {
			out[w] = tokens(w)
		}
	}
	for _, s := range t.Supplies {
		for _, w := range slices.Concat(s.Words, s.Problems) {
			out[w] = tokens(w)
		}
	}
	return out
})

// ReactionKinds are the kinds of reaction that a text and its SNOMED CT codes
// tell, in the order of the table: the gravest first. None is not understood.
func ReactionKinds(text string, codes ...string) []string {
	var out []string
	have, phrases := tokens(text), split()
	for _, r := range allergiesKnown().Reactions {
		if slices.ContainsFunc(r.Words, func(w string) bool { return tells(have, phrases[w]) }) || slices.ContainsFunc(codes, func(c string) bool { return slices.Contains(r.Codes, c) }) {
			out = append(out, r.Kind)
		}
	}
	return out
}

// SaysAllergy reports whether a text speaks of an allergy, and does not deny it.
func SaysAllergy(text string) bool {
	words := tokens(text)
	for i, w := range words {
		if (strings.HasPrefix(w, "allerg") || strings.HasPrefix(w, "hypersensitiv") || strings.HasPrefix(w, "anaphyla")) && !slices.ContainsFunc(words[:i], func(d string) bool { return denials[d] }) {
			return true
		}
	}
	return false
}

// ProblemSupplies are the allergens of a kit that a problem or a flag forbids:
// heparin-induced thrombocytopenia, or an allergy in words.
func ProblemSupplies(text string, codes ...string) []SupplyAllergen {
	var out []SupplyAllergen
	allergy, have, phrases := SaysAllergy(text), tokens(text), split()
	for _, s := range SupplyAllergens() {
		said := func(words []string) bool {
			return slices.ContainsFunc(words, func(w string) bool { return tells(have, phrases[w]) })
		}
		if slices.ContainsFunc(codes, func(c string) bool { return slices.Contains(s.Codes, c) }) || said(s.Problems) || allergy && said(s.Words) {
			out = append(out, s)
		}
	}
	return out
}

// In reports whether a lock or flush, by its words, holds the allergen.
func (s SupplyAllergen) In(text string) bool {
	return slices.ContainsFunc(s.Solutions, func(w string) bool { return contains(phrase(text), phrase(w)) })
}

// FreeIn reports whether the words of an item say that it does not hold the
// allergen.
func (s SupplyAllergen) FreeIn(text string) bool {
	return slices.ContainsFunc(s.Free, func(w string) bool { return contains(phrase(text), phrase(w)) })
}

// ProductWords are the words of a text that no name of the drug, no amount,
// vessel, form or carrier fluid accounts for: what tells one product of a
// biologic from another.
func ProductWords(d Drug, text string) string {
	own := map[string]bool{}
	for _, n := range append(d.names(), d.Class) {
		for _, w := range tokens(n) {
			own[w] = true
		}
	}
	words := slices.DeleteFunc(tokens(text), func(w string) bool { return own[w] || plain[w] || carrying[w] || forms[w] || number(w) })
	slices.Sort(words)
	return strings.Join(slices.Compact(words), " ")
}

// filler are words beside a substance that name none. From memory; a word that
// is missing makes a part unknown, never known.
var filler = set(strings.Fields("allergy allergies allergic allergen substance finding disorder situation product products containing drug drugs medication medications medicine antibiotic antibiotics class " +
	"family type other others unspecified all any human derivative derivatives adverse reaction reactions history intolerance severe mild moderate multiple related oral topical extract protein")...)

// UnknownParts are the parts of a list in one text ("penicillin, X and bees")
// that the tables do not know: one known name beside them does not make them
// compared.
func UnknownParts(text string) []string {
	var out []string
	l := substances()
	if _, whole := l.phrases[phrase(text)]; whole {
		return nil
	}
	parts := strings.FieldsFunc(strings.ReplaceAll(strings.ToLower(text), " and ", ","), func(r rune) bool { return strings.ContainsRune(",;&+\n", r) })
	for _, p := range parts {
		says := slices.ContainsFunc(tokens(p), func(w string) bool { return !filler[w] && !plain[w] && !forms[w] && !number(w) })
		if says && !AllergenOf(Item{Names: []string{p}}).Known() {
			out = append(out, strings.TrimSpace(p))
		}
	}
	return out
}
