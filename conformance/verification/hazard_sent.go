package verification

import (
	"slices"
	"strings"

	"weir.example/weir/mapping/order"
)

// sent looks for a kit item among what the document asks to be supplied: by
// code, else by exact words. Words that refuse it ask for none.
func sent(supplies []order.Supply, item string, words ...string) bool {
	return slices.ContainsFunc(supplies, func(s order.Supply) bool {
		return matches(s, item, func(text string) bool {
			return slices.ContainsFunc(words, func(w string) bool { return strings.Contains(text, w) })
		})
	})
}

// sentAs: at least one piece is asked for, by code, else by its words.
func sentAs(f Facts, item string, named func(string) bool) bool {
	return slices.ContainsFunc(f.kase().Supplies, func(s order.Supply) bool {
		return matches(s, item, named) && s.Quantity.Sign() > 0
	})
}

// matches: the supply line asks for the item. The code outweighs the words.
func matches(s order.Supply, item string, named func(string) bool) bool {
	if s.Item != "" || over[s.Status] {
		return s.Item == item && !over[s.Status]
	}
	text := strings.ToLower(s.Text)
	return named(text) && !slices.ContainsFunc(wordsOf(text), func(w string) bool { return slices.Contains(refusing, w) })
}

func anyOf(text string, list ...string) bool {
	return slices.ContainsFunc(list, func(w string) bool { return strings.Contains(text, w) })
}

// The words by which hospitals ask for what a hazardous drug needs (common
// practice, no source).
func closedWords(text string) bool {
	return anyOf(text, "closed-system", "closed system", "cstd")
}

func spillWords(text string) bool {
	return strings.Contains(text, "spill") && anyOf(text, "kit", "pack", "set")
}

// wasteWords: a container for hazardous waste. A bag is none, and a bin of the
// household is for other waste.
func wasteWords(text string) bool {
	return anyOf(text, "hazard", "chemo", "cytotoxic", "cytostatic", "antineoplastic") && anyOf(text, "container", "bin", "bucket", "pail", "drum")
}

// inPairs is how many connectors one piece of a supply line holds: 2 where its
// words name the pair.
func inPairs(s order.Supply) int64 {
	text := strings.ToLower(s.Text)
	if strings.Contains(text, "patient side") && strings.Contains(text, "line side") || strings.Contains(text, "pair") {
		return 2
	}
	return 1
}
