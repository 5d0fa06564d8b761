package sig

import (
	"strings"
	"unicode"
)

type tokenKind byte

const (
	numeral tokenKind = iota
	word
	symbol
)

// token is a piece of the text with its place in Unicode characters.
type token struct {
	kind       tokenKind
	text       string // as written; numerals without commas
	lower      string
	start, end int
	used       bool
}

// tokenize cuts the text into numerals, words and symbols. Commas between
// groups of three digits belong to the number ("2,400").
func tokenize(text string) []token {
	runes := []rune(text)
	var out []token
	for i := 0; i < len(runes); {
		r := runes[i]
		start := i
		switch {
		case unicode.IsSpace(r):
			i++
			continue
		case isDigit(r):
			i = endOfNumber(runes, i)
			raw := string(runes[start:i])
			out = append(out, token{kind: numeral, text: strings.ReplaceAll(raw, ",", ""), lower: raw, start: start, end: i})
		case unicode.IsLetter(r) || r == 'µ':
			for i < len(runes) && (unicode.IsLetter(runes[i]) || runes[i] == '\'' || runes[i] == '.' && i+2 < len(runes) && unicode.IsLetter(runes[i+1]) && runes[i+2] == '.' ||
				runes[i] == '.' && i > start+1 && runes[i-2] == '.' || runes[i] == '²' || runes[i] == '2' && i == start+1 && (runes[start] == 'm' || runes[start] == 'M')) {
				i++
			}
			raw := string(runes[start:i])
			out = append(out, token{kind: word, text: raw, lower: strings.ToLower(raw), start: start, end: i})
		default:
			i++
			out = append(out, token{kind: symbol, text: string(r), lower: string(r), start: start, end: i})
		}
	}
	return out
}

func isDigit(r rune) bool { return r >= '0' && r <= '9' }

func endOfNumber(runes []rune, i int) int {
	for i < len(runes) && isDigit(runes[i]) {
		i++
	}
	group := func(i int) bool {
		return i+3 < len(runes)+0 && runes[i] == ',' && isDigit(runes[i+1]) && isDigit(runes[i+2]) && isDigit(runes[i+3]) && (i+4 >= len(runes) || !isDigit(runes[i+4]))
	}
	for i < len(runes) && runes[i] == ',' && i+3 < len(runes) && group(i) {
		i += 4
	}
	if i+1 < len(runes) && runes[i] == '.' && isDigit(runes[i+1]) {
		i++
		for i < len(runes) && isDigit(runes[i]) {
			i++
		}
	}
	return i
}
