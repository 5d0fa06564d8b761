package sig

import (
	"strings"
	"unicode"
)

type tokenKind byte

const (
	numeral   tokenKind = iota // a decimal number that can be relied on
	malformed                  // digits that are no safe number: "1,25", "e3", "IV.5"
	word
	symbol
	newline
)

// token is a piece of the text with its place in Unicode characters.
type token struct {
	kind       tokenKind
	text       string // as written; numerals without grouping
	lower      string
	start, end int
	glued      bool // nothing stands between it and the token before
}

// tokenize cuts the text into numerals, words and symbols.
func tokenize(runes []rune) []token {
	var out []token
	for i := 0; i < len(runes); {
		r, start := runes[i], i
		t := token{start: start}
		switch {
		case r == '\n':
			i++
			t.kind, t.text = newline, "\n"
		case unicode.IsSpace(r):
			i++
			continue
		case isDigit(r), isFraction(r), r == '.' && i+1 < len(runes) && isDigit(runes[i+1]):
			i, t.text, t.kind = scanNumber(runes, i)
		case unicode.IsDigit(r) || unicode.IsNumber(r): // digits of other scripts, superscripts
			i++
			t.kind, t.text = malformed, string(r)
		case unicode.IsLetter(r):
			i, t.text = scanWord(runes, i)
			t.kind = word
		default:
			i++
			t.kind, t.text = symbol, string(r)
		}
		t.end, t.lower = i, strings.ToLower(t.text)
		if n := len(out); n > 0 && out[n-1].end == start {
			t.glued = true
		}
		out = append(out, t)
	}
	return out
}

// scanWord takes letters with apostrophes inside, a raised 2, and dotted
// abbreviations such as "i.v.", which lose their dots.
func scanWord(runes []rune, i int) (int, string) {
	start := i
	letter := func(k int) bool { return k < len(runes) && unicode.IsLetter(runes[k]) }
	if i+3 < len(runes) && runes[i+1] == '.' && letter(i+2) && (runes[i+3] == '.' || !letter(i+3)) {
		var b strings.Builder
		for letter(i) && (i+1 == len(runes) || !letter(i+1)) {
			b.WriteRune(runes[i])
			i++
			if i >= len(runes) || runes[i] != '.' || !letter(i+1) {
				break
			}
			i++
		}
		if i < len(runes) && runes[i] == '.' {
			i++
		}
		return i, b.String()
	}
	for i < len(runes) && (unicode.IsLetter(runes[i]) || runes[i] == '²' || (runes[i] == '\'' || runes[i] == '’') && letter(i+1)) {
		i++
	}
	return i, strings.ReplaceAll(string(runes[start:i]), "’", "'")
}

func isDigit(r rune) bool { return r >= '0' && r <= '9' }
