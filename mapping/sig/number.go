package sig

import (
	"strings"
	"unicode"

	"weir.example/weir/mapping/quantity"
)

// fractions are the vulgar fractions that have a short exact decimal.
var fractions = map[rune]string{'½': "5", '¼': "25", '¾': "75"}

func isFraction(r rune) bool { return fractions[r] != "" }

// isThin: spaces that group digits and never separate words.
func isThin(r rune) bool { return r == '\u00a0' || r == '\u2009' || r == '\u202f' }

// scanNumber takes the digits from i on. Commas and thin spaces group
// thousands ("2,400"); a leading point stands for "0.". Digits that are
// written in another way ("1,25", "1.250.000", "IV.5") are one malformed
// token: a part of them must never pass for the number.
func scanNumber(runes []rune, i int) (end int, text string, kind tokenKind) {
	start, kind := i, numeral
	if isFraction(runes[i]) {
		return i + 1, "0." + fractions[runes[i]], numeral
	}
	for i < len(runes) && (isDigit(runes[i]) || (runes[i] == '.' || runes[i] == ',') && i+1 < len(runes) && isDigit(runes[i+1]) || isThin(runes[i]) && groupOf3(runes, i+1)) {
		i++
	}
	raw := string(runes[start:i])
	text, ok := plain(raw)
	if ok && i < len(runes) && isFraction(runes[i]) && !strings.Contains(text, ".") { // 1½
		text, i = text+"."+fractions[runes[i]], i+1
	}
	// A point or digit stuck to what stands before is part of something else.
	if start > 0 && runes[start] == '.' && !unicode.IsSpace(runes[start-1]) && !strings.ContainsRune("(/-–=:~<>≤≥", runes[start-1]) {
		ok = false
	}
	if !ok {
		return i, raw, malformed
	}
	return i, text, numeral
}

// groupOf3 reports exactly three digits at i.
func groupOf3(runes []rune, i int) bool {
	for k := i; k < i+3; k++ {
		if k >= len(runes) || !isDigit(runes[k]) {
			return false
		}
	}
	return i+3 >= len(runes) || !isDigit(runes[i+3])
}

// plain gives the number without grouping, and false when the grouping is
// not that of thousands.
func plain(raw string) (string, bool) {
	whole, fraction, point := strings.Cut(raw, ".")
	if point && (fraction == "" || strings.Trim(fraction, "0123456789") != "") {
		return "", false
	}
	groups := strings.FieldsFunc(whole, func(r rune) bool { return r == ',' || isThin(r) })
	for k, g := range groups {
		if len(groups) > 1 && (k > 0 && len(g) != 3 || k == 0 && (len(g) > 3 || strings.HasPrefix(g, "0"))) {
			return "", false
		}
	}
	text := strings.Join(groups, "")
	if text == "" {
		text = "0"
	}
	if point {
		text += "." + fraction
	}
	_, err := quantity.ParseNumber(text)
	return text, err == nil
}

// number is a value read from one or more tokens.
type number struct {
	value string
	end   int
	odd   bool // not to be relied on
}

var quarters = map[string]string{"1/2": "0.5", "1/4": "0.25", "3/4": "0.75"}

// numberAt reads "2,400", "½", "1 1/2", "two", "thirty (30)", "1 250" from
// token i on. A pair of groups with a plain space between is one number only
// where it cannot be a count of something ("give 2 250 mg vials").
func (r *reader) numberAt(i int) (number, bool) {
	t := r.tokens
	if i >= len(t) {
		return number{}, false
	}
	if t[i].kind == malformed {
		return number{t[i].text, i + 1, true}, true
	}
	if p, ok := words().match(t, i); ok && p.class == "number" {
		n := number{value: p.meaning, end: i + p.size()}
		return r.twice(n), true
	}
	if t[i].kind != numeral {
		return number{}, false
	}
	if half, ok := r.quarterAt(i); ok {
		return number{half, i + 3, false}, true
	}
	if half, ok := r.quarterAt(i + 1); ok && !strings.Contains(t[i].text, ".") && !t[i+1].glued {
		return number{t[i].text + strings.TrimPrefix(half, "0"), i + 4, false}, true
	}
	n := number{value: t[i].text, end: i + 1, odd: r.stuck(i)}
	if i+1 < len(t) && r.spaced(i) {
		joined := t[i].text + t[i+1].text
		if r.counts(i) {
			return number{t[i].text + " " + t[i+1].text, i + 2, true}, true
		}
		return number{joined, i + 2, n.odd}, true
	}
	return r.twice(n), true
}

// twice accepts "thirty (30)" and "30 (thirty)" when both say the same.
func (r *reader) twice(n number) number {
	t := r.tokens
	if n.end+2 >= len(t) || t[n.end].text != "(" {
		return n
	}
	value, end := "", n.end+2
	p, isWord := words().match(t, n.end+1)
	switch {
	case t[n.end+1].kind == numeral:
		value = t[n.end+1].text
	case isWord && p.class == "number":
		value, end = p.meaning, n.end+1+p.size()
	}
	if value == "" || end >= len(t) || t[end].text != ")" {
		return n
	}
	n.odd = n.odd || value != n.value
	n.end = end + 1
	return n
}

func (r *reader) quarterAt(i int) (string, bool) {
	t := r.tokens
	if i+3 >= len(t) || t[i].kind != numeral || t[i+1].text != "/" || !t[i+1].glued || !t[i+2].glued || t[i+2].kind != numeral || t[i+3].text == "/" {
		return "", false
	}
	half, ok := quarters[t[i].text+"/"+t[i+2].text]
	if !ok {
		return "", false
	}
	if code, _ := r.unitAt(i + 3); code == "" {
		if p, found := words().match(t, i+3); !found || p.class != "noun" {
			return "", false
		}
	}
	return half, true
}

// stuck: a number that hangs on a word that is not known ("1e3", "B12") or on
// a sign is part of something else.
func (r *reader) stuck(i int) bool {
	t := r.tokens
	if i == 0 || !t[i].glued {
		return false
	}
	before := t[i-1]
	switch {
	case before.kind == word:
		return !words().knows(t, i-1)
	case before.text == "-" || before.text == "−" || before.text == "+":
		return i > 1 && !before.glued && t[i-2].kind != newline
	case before.text == "±":
		return true
	}
	return false
}

// spaced: "1 250" followed by a unit.
func (r *reader) spaced(i int) bool {
	t := r.tokens
	a, b := t[i], t[i+1]
	if b.kind != numeral || b.start != a.end+1 || len(a.text) > 3 || strings.HasPrefix(a.text, "0") || strings.Contains(a.text, ".") || a.end-a.start != len(a.text) {
		return false
	}
	whole, _, _ := strings.Cut(b.text, ".")
	if len(whole) != 3 || r.line.Words == "" || string(r.runes[b.start:b.start+3]) != whole {
		return false
	}
	code, _ := r.unitAt(i + 2)
	return code != ""
}

// counts: the first of two numbers may be a count: nothing, a verb or "x"
// stands before it, or a container is named after it.
func (r *reader) counts(i int) bool {
	t := r.tokens
	if i == 0 || t[i-1].kind != word || words().knows(t, i-1) {
		return true
	}
	_, end := r.unitAt(i + 2)
	return end < len(t) && words().container[t[end].lower]
}
