package sig

import (
	"strings"

	"weir.example/weir/mapping/quantity"
)

type itemKind byte

const (
	amount  itemKind = iota // a number, or a range, with a unit
	count                   // a number without a unit
	term                    // a word with a meaning of its own
	cue                     // a word that says what a number near it is
	silent                  // a word that adds nothing
	date                    // a calendar day
	clock                   // a time of day
	mark                    // punctuation, and the end of a line
	unknown                 // a word that is not known
)

// item is one or more tokens that mean one thing.
type item struct {
	kind     itemKind
	class    string // of a term
	meaning  string // of a term, cue or mark; a date's or clock's value
	role     string // of a date: month-first, no-year
	low      string
	high     string
	unit     quantity.Unit
	code     string
	over     string // "100" of "2 g/100 mL"
	overUnit string
	odd      bool
	from, to int // tokens, half open
	scope    string
	phase    int
	used     bool
	aside    bool // in a condition: "after ifosfamide"
}

func (x item) dim() quantity.Dimension { return x.unit.Dimension() }
func (x item) isRange() bool           { return x.low != x.high }

// is reports a cue, term or mark of one of the meanings.
func (x item) is(meanings ...string) bool {
	if x.kind != cue && x.kind != term && x.kind != mark {
		return false
	}
	for _, m := range meanings {
		if x.meaning == m {
			return true
		}
	}
	return false
}

// itemize reads the tokens from left to right, the longest meaning first.
func (r *reader) itemize() {
	for i := 0; i < len(r.tokens); {
		x := r.itemAt(i)
		if x.kind == cue && x.meaning == "then" && len(r.items) > 0 {
			r.phase++
		}
		x.from, x.phase = i, r.phase
		r.items = append(r.items, x)
		i = x.to
	}
}

func (r *reader) itemAt(i int) item {
	t := r.tokens[i]
	if t.kind == newline {
		return item{kind: mark, meaning: ".", to: i + 1}
	}
	if x, ok := r.dateAt(i); ok {
		return x
	}
	if x, ok := r.clockAt(i); ok {
		return x
	}
	p, known := words().match(r.tokens, i)
	if known && p.class == "shortFluid" && !r.asksFluid() {
		p, known = nil, false // "D5" is day 5 where no fluid is spoken of
	}
	if end := r.nameEnd(i); end > i+1 && (!known || p.class == "number" || p.size() < end-i) && t.kind == numeral {
		return item{kind: unknown, to: end} // "5-FU", "1.2-micron", "3-in-1"
	}
	if (!known || p.class == "number") || t.kind == numeral && p.class != "diluent" {
		if n, ok := r.numberAt(i); ok {
			return r.amountAt(i, n)
		}
	}
	if end := i + 1; known && (p.class == "route" || p.class == "access") && end == i+p.size() && end < len(r.tokens) && r.tokens[end].glued && r.tokens[end].kind == numeral {
		return item{kind: unknown, to: end + 1} // "PO4" is phosphate
	}
	if known && p.class != "number" {
		return r.known(i, p)
	}
	if end := r.arrow(i); end > i {
		r.doubtBefore()
		return item{kind: mark, meaning: ";", to: end}
	}
	if end := r.numbered(i); end > i {
		return item{kind: unknown, to: end}
	}
	switch t.kind {
	case symbol:
		return item{kind: mark, meaning: t.text, to: i + 1}
	case numeral, malformed:
		return item{kind: count, low: t.text, high: t.text, odd: true, to: i + 1}
	}
	return item{kind: unknown, to: i + 1}
}

func (r *reader) known(i int, p *phrase) item {
	x := item{kind: term, class: p.class, meaning: p.meaning, to: i + p.size()}
	switch p.class {
	case "cue":
		x.kind = cue
	case "shortFluid":
		x.class = "diluent"
	case "silent":
		x.kind = silent
	case "unread":
		x.kind = unknown
	case "unit":
		x.kind, x.class = silent, "unit"
		if r.tokens[i].kind == word && len(r.tokens[i].text) == 1 {
			x.kind = unknown // "penicillin G": a letter alone is no unit
		}
		if u, err := quantity.ParseUnit(p.meaning); err == nil && u.Dimension() != quantity.Time && u.Dimension() != quantity.None {
			x.kind = unknown // a unit whose number is missing
		}
	}
	if r.tokens[i].kind == symbol && x.kind == silent {
		x.kind = mark
	}
	return x
}

// asksFluid: what stands before speaks of a fluid.
func (r *reader) asksFluid() bool {
	for k := len(r.items) - 1; k >= 0 && k >= len(r.items)-2; k-- {
		if x := r.items[k]; x.is("in", "with", "to") || r.isVolume(k) {
			return true
		} else if x.kind != silent {
			return false
		}
	}
	return false
}

// numbered is behind a name that ends in a number: "C1", "alpha-1".
func (r *reader) numbered(i int) int {
	t, end := r.tokens, i+1
	if t[i].kind != word || t[i].lower == "d" {
		return i
	}
	if end < len(t) && t[end].text == "-" && t[end].glued && len(t[i].text) > 1 {
		end++
	}
	if end >= len(t) || t[end].kind != numeral || !t[end].glued || end+1 < len(t) && t[end+1].glued && t[end+1].kind != symbol {
		return i
	}
	if code, _ := r.unitAt(end + 1); code != "" {
		return i
	}
	return end + 1
}

// arrow is behind "->" or "→" at token i.
func (r *reader) arrow(i int) int {
	t := r.tokens
	switch {
	case t[i].text == "→":
		return i + 1
	case (t[i].text == "-" || t[i].text == "=") && i+1 < len(t) && t[i+1].text == ">" && t[i+1].glued:
		return i + 2
	}
	return i
}

// doubtBefore: what an arrow leads away from is no longer ordered, or is the
// step before; the words do not say which.
func (r *reader) doubtBefore() {
	for k := len(r.items) - 1; k >= 0 && k >= len(r.items)-8*reach && !r.items[k].is(".", ";"); k-- {
		if x := &r.items[k]; x.kind == amount && (isDrug(r.whole(*x)) || x.dim() == flow || x.dim() == volumeDim) {
			x.odd = true
		}
	}
}

// nameEnd: a number joined by a hyphen to a word that is no unit belongs to
// a name.
func (r *reader) nameEnd(i int) int {
	t := r.tokens
	if t[i].kind != numeral && t[i].kind != malformed {
		return i
	}
	end := i + 1
	for end+1 < len(t) && t[end].text == "-" && t[end].glued && t[end+1].glued && t[end+1].kind == word {
		if p, ok := words().match(t, end+1); ok && p.class != "cue" && p.class != "silent" && end == i+1 {
			return i
		}
		end += 2
		if end+1 < len(t) && t[end].text == "-" && t[end+1].kind == numeral && t[end+1].glued {
			end += 2
		}
	}
	return end
}

// text is the words of the items from…to, as written; "" beyond the ends.
func (r *reader) text(from, to int) string {
	if from < 0 || from >= to || to > len(r.items) {
		return ""
	}
	return string(r.runes[r.tokens[r.items[from].from].start:r.tokens[r.items[to-1].to-1].end])
}

// lower is a name as read, in lower case.
func lower(s string) string { return strings.ToLower(strings.Join(strings.Fields(s), " ")) }
