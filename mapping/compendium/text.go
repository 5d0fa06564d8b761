package compendium

import (
	"slices"
	"strings"
	"unicode"
)

// tokens are the words of a text without the signs between them: "0.9%
// Sodium-Chloride" gives 0.9 % sodium chloride. A point or comma between
// digits stays.
func tokens(text string) []string {
	runes := []rune(strings.ToLower(text))
	var out []string
	var word []rune
	end := func() {
		if len(word) > 0 {
			out, word = append(out, string(word)), nil
		}
	}
	digit := func(i int) bool { return i >= 0 && i < len(runes) && unicode.IsDigit(runes[i]) }
	for i, r := range runes {
		switch {
		case unicode.IsLetter(r) || unicode.IsDigit(r) || unicode.IsMark(r) || r == '\'' || r == '’':
			word = append(word, r)
		case (r == '.' || r == ',') && digit(i+1) && (digit(i-1) || len(word) == 0):
			word = append(word, r)
		case r == '%':
			end()
			out = append(out, "%")
		default:
			end()
		}
	}
	end()
	return out
}

// phrase is a text as words with one blank between them.
func phrase(text string) string { return strings.Join(tokens(text), " ") }

// contains reports whether a text has a phrase as whole words; both are as
// phrase makes them.
func contains(text, part string) bool { return strings.Contains(" "+text+" ", " "+part+" ") }

// longestPhrase bounds the names looked for in a text, in words.
const longestPhrase = 8

// phrasesIn are the phrases of a list that stand in a text as whole words,
// without those that are part of a longer one.
func phrasesIn[V any](text string, list map[string]V) []string {
	words := tokens(text)
	var out []string
	for from := range words {
		for to := min(len(words), from+longestPhrase); to > from; to-- {
			p := strings.Join(words[from:to], " ")
			if _, ok := list[p]; ok && !slices.ContainsFunc(out, func(longer string) bool { return contains(longer, p) }) {
				out = append(out, p)
			}
		}
	}
	return out
}

// plain are words that say nothing of which substance is meant: amounts,
// vessels and how a fluid is given. From memory; a word that is missing makes a
// drug unknown, never another.
var plain = set(strings.Fields("iv ivpb intravenously piggyback in for and with of to per at a % percent mg g mcg kg ml l mmol meq unit units injection injections injectable infusion intravenous solution solutions " +
	"powder vial vials ampule ampoule bag bags container plastic glass bottle flexible syringe prefilled pre filled reservoir elastomeric cassette lyophilized reconstituted diluted dilution " +
	"premixed premix mix mixed made up sterile water preservative free single dose use usp total volume final flush hydration")...)

// carrying are the words a carrier fluid is named with. From memory.
var carrying = set(strings.Fields("dextrose glucose sodium chloride lactated lactate ringer ringer's ringers ringer’s isotonic normal saline")...)

func set(words ...string) map[string]bool {
	out := map[string]bool{}
	for _, w := range words {
		out[w] = true
	}
	return out
}

// number reports whether a word is an amount, with or without its unit.
func number(word string) bool {
	rest := strings.TrimLeft(word, "0123456789.,")
	return rest != word && (rest == "" || plain[rest])
}

// Carrier finds the code of a carrier fluid in a name that says nothing but
// the fluid: its solutes, strengths, volume and vessel. "Heparin in dextrose
// 5 %" is no carrier, though it has one (see Diluent).
func Carrier(name string) (code string, ok bool) {
	if !OnlyFluid(name) {
		return "", false
	}
	return Diluent(name)
}

// OnlyFluid reports whether a name has no word but those of carrier fluids,
// amounts and vessels. It may lack the strength that would tell which.
func OnlyFluid(name string) bool {
	words := tokens(name)
	return len(words) > 0 && !slices.ContainsFunc(words, func(w string) bool { return !plain[w] && !carrying[w] && !number(w) })
}

// substance is a name without amounts, vessel and carrier fluid: "Cefazolin 2 g in
// sodium chloride 0.9 % injection, 100 mL" is cefazolin. It only confirms a
// row that something exact has found.
func substance(name string) string {
	words := tokens(name)
	if at := slices.Index(words, "in"); at > 0 {
		if _, fluid := Carrier(strings.Join(words[at+1:], " ")); fluid {
			words = words[:at]
		}
	}
	return strings.Join(slices.DeleteFunc(words, func(w string) bool { return plain[w] || number(w) }), " ")
}

// SaysOnly reports whether a text names one substance and, besides amounts,
// vessels and a carrier fluid, nothing else.
func SaysOnly(text, name string) bool { return name != "" && substance(text) == phrase(name) }

// forms are words that make another product of a drug: another release,
// another carrier, another salt. A row whose own names do not have the word
// is not meant. From memory.
var forms = set("liposomal", "liposome", "liposomes", "lipid complex", "pegylated", "peg", "conjugate", "depot", "extended release", "sustained release",
	"implant", "inhalation", "inhaled", "ophthalmic", "otic", "nasal", "topical", "oral", "tablet", "tablets", "capsule", "capsules", "suppository", "cream", "ointment",
	"acetate", "benzathine", "procaine", "decanoate", "enanthate", "palmitate", "axetil", "proxetil", "pivoxil")

// inhibitors of beta-lactamase make another drug of an antibiotic; new ones
// are named with the same ending.
const inhibitors = "bactam"

// another is what a text says that is another drug or another form than the
// row; "" when it says none.
func (t *Tables) another(d Drug, text string) string {
	var own []string
	for _, n := range append(d.names(), d.Additives...) {
		own = append(own, phrase(n))
	}
	ours := func(p string) bool {
		return slices.ContainsFunc(own, func(n string) bool { return contains(n, p) })
	}
	whole := phrase(text)
	for _, n := range d.NotThis {
		if p := phrase(n); contains(whole, p) && !ours(p) {
			return n
		}
	}
	for _, list := range []map[string]bool{forms, t.phrases} {
		for _, p := range phrasesIn(text, list) {
			if !ours(p) {
				return p
			}
		}
	}
	for _, w := range tokens(text) {
		if strings.HasSuffix(w, inhibitors) && !ours(w) {
			return w
		}
	}
	return ""
}

// phrasesOf collects the names of all rows, of hazardous drugs and of what
// the table of pairs calls other drugs. Carrier fluids are left out: every
// text may have one.
func (t *Tables) phrasesOf() map[string]bool {
	out := map[string]bool{}
	add := func(name string) {
		if p := phrase(name); p != "" && !isFluid(Fold(name)) {
			out[p] = true
		}
	}
	for _, d := range t.Drugs {
		if _, fluid := Carrier(d.Name); !fluid {
			for _, n := range d.names() {
				add(n)
			}
		}
	}
	for p := range t.hazardPhrases {
		out[p] = true
	}
	for _, n := range t.rest.pairs.Others {
		add(n)
	}
	return out
}
