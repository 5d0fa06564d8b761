package sig

import (
	"slices"
	"strings"
	"unicode/utf8"

	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// reader is one line being read.
type reader struct {
	line    order.Line
	runes   []rune
	tokens  []token
	amounts []amount
	out     []order.Reading
	tooLong bool
}

// Read takes from the words everything it knows, in the order of the text.
func Read(line order.Line) []order.Reading { return read(line).out }

// Unread lists the words that were not understood, in order.
func Unread(line order.Line) []string {
	r := read(line)
	if r.tooLong {
		return []string{"all of them: the directions are longer than 4,000 characters"}
	}
	var out []string
	first := true
	for _, t := range r.tokens {
		leading := first && t.kind == word
		first = first && t.kind == word
		if t.used || t.kind == symbol || leading || words().known(t.lower) {
			continue
		}
		out = append(out, t.text)
	}
	return out
}

// mostCharacters bounds the directions that are read. Longer ones are read
// not at all and said: the end of a sentence can turn its beginning.
const mostCharacters = 4000

func read(line order.Line) *reader {
	if utf8.RuneCountInString(line.Words) > mostCharacters {
		return &reader{line: line, tooLong: true}
	}
	r := &reader{line: line, runes: []rune(line.Words), tokens: tokenize(line.Words)}
	r.frequencies()
	r.dates()
	r.amounts = amounts(r.tokens)
	for i := range r.amounts {
		r.assign(i)
	}
	r.loneNumbers()
	r.plainWords()
	slices.SortStableFunc(r.out, func(a, b order.Reading) int { return a.Place.Span[0] - b.Place.Span[0] })
	return r
}

// add makes one reading of the tokens from…to.
func (r *reader) add(field, value, unit, role string, from, to int) *order.Reading {
	start, end := r.tokens[from].start, r.tokens[to-1].end
	for i := from; i < to; i++ {
		r.tokens[i].used = true
	}
	p := r.line.Place
	p.Span = [2]int{start, end}
	r.out = append(r.out, order.Reading{Field: field, Value: value, Unit: unit, Role: role, Words: string(r.runes[start:end]), Place: p})
	return &r.out[len(r.out)-1]
}

func (r *reader) lower(i int) string {
	if i < 0 || i >= len(r.tokens) {
		return ""
	}
	return r.tokens[i].lower
}

// before looks back from token i over silent filler for one of the words;
// punctuation ends the look.
func (r *reader) before(i, far int, wanted ...string) bool {
	for k := i - 1; k >= 0 && k >= i-far; k-- {
		if slices.Contains(wanted, r.lower(k)) {
			return true
		}
		if r.tokens[k].kind == symbol && r.tokens[k].text != "-" && r.tokens[k].text != "~" {
			return false
		}
	}
	return false
}

// deviceNear finds a device word close before or right after the tokens,
// with no comma, semicolon or other number's role between.
func (r *reader) deviceNear(from, to, back int) bool {
	for k := from - 1; k >= 0 && k >= from-back; k-- {
		if _, ok := words().device[r.lower(k)]; ok {
			return true
		}
		if r.tokens[k].kind == symbol || r.lower(k) == "at" || r.lower(k) == "over" {
			break
		}
	}
	for k := to; k < len(r.tokens) && k < to+2; k++ {
		if _, ok := words().device[r.lower(k)]; ok {
			return true
		}
		if r.tokens[k].kind != word {
			break
		}
	}
	return false
}

var (
	flow = quantity.Volume.Per(quantity.Time)
)

// isDrug: a dimension a drug is measured in.
func isDrug(d quantity.Dimension) bool {
	return slices.Contains([]quantity.Dimension{quantity.Mass, quantity.International, quantity.Pharmacopeial, quantity.Enzyme, quantity.Equivalent, quantity.Amount, quantity.Energy}, d)
}

// assign gives one amount its field and role from its dimension and the
// words around it.
func (r *reader) assign(i int) {
	a := r.amounts[i]
	field, role := r.meaning(a)
	x := r.add(field, a.low, a.unit.Code(), role, a.from, a.to)
	if a.low != a.high {
		x.Value, x.Low, x.High = "", a.low, a.high
	}
}

func (r *reader) meaning(a amount) (field, role string) {
	d, code := a.dim(), a.unit.Code()
	maximum := r.before(a.from, 3, words().Maximum...)
	perBody, perArea := strings.Contains(code, "/kg"), strings.Contains(code, "/m2")
	byTime := timePart(code)
	switch {
	case maximum:
		return "maximum", "maximum"
	case code == "kg" || code == "[lb_av]":
		if r.before(a.from, 3, "weight", "wt", "weighs") {
			return "dosingWeight", ""
		}
		return "", "unclear"
	case d == quantity.Time:
		return r.timeMeaning(a)
	case d == quantity.Volume:
		return r.volumeMeaning(a)
	case d == flow:
		if r.deviceNear(a.from, a.to, 4) {
			return "nominalRate", "device"
		}
		if r.stepping() {
			return "step", "rate"
		}
		return "rate", ""
	case d == quantity.Drop.Per(quantity.Volume):
		return "dropFactor", "device"
	case perBody && byTime == "":
		return "dosePerKg", ""
	case perBody && byTime != "d" && byTime != "wk":
		return "drugRatePerKg", ""
	case perArea && byTime == "":
		return "dosePerArea", ""
	case isDrug(d):
		if r.before(a.from, 2, "loading", "bolus") || r.lower(a.to) == "bolus" {
			return "dose", "loading"
		}
		if r.lower(a.to) == "daily" && r.lower(a.to+1) == "total" || r.before(a.from, 2, "total") && r.lower(a.to) == "daily" {
			return "dailyDose", ""
		}
		return "dose", ""
	case isDrug(d.Times(quantity.Volume)):
		return "concentration", ""
	case isDrug(d.Times(quantity.Time)) && byTime == "d":
		return "dailyDose", ""
	case isDrug(d.Times(quantity.Time)):
		return "drugRate", ""
	}
	return "", "unclear"
}

func timePart(code string) string {
	parts := strings.Split(code, "/")
	last := parts[len(parts)-1]
	if slices.Contains([]string{"s", "min", "h", "d", "wk"}, last) && len(parts) > 1 {
		return last
	}
	return ""
}

// stepping: rates that follow each other ("then").
func (r *reader) stepping() bool {
	n := 0
	for _, a := range r.amounts {
		if a.dim() == flow {
			n++
		}
	}
	return n > 1 && slices.ContainsFunc(r.tokens, func(t token) bool { return t.lower == "then" })
}

func (r *reader) volumeMeaning(a amount) (field, role string) {
	switch {
	case r.deviceNear(a.from, a.to, 2):
		return "volume", "device"
	case r.before(a.from, 2, "flush") || r.lower(a.to) == "flush":
		return "flush", "flush"
	case r.before(a.from, 1, "to") || r.before(a.from, 2, "up"):
		return "volume", "to"
	case r.before(a.from, 2, "in", "with"):
		return "volume", "in"
	}
	return "volume", ""
}

func (r *reader) timeMeaning(a amount) (field, role string) {
	long := slices.Contains([]string{"d", "wk", "mo"}, a.unit.Code())
	switch {
	case r.before(a.from, 1, "every", "each", "q"):
		return "interval", ""
	case r.before(a.from, 2, "lockout"):
		return "lockout", ""
	case r.before(a.from, 2, "over", "infuse", "within") && !long:
		return "duration", ""
	case r.before(a.from, 2, "for", "x", "duration") && long:
		return "courseLength", ""
	case r.before(a.from, 2, "for") && r.stepping():
		return "step", "duration"
	case r.before(a.from, 2, "for", "x"), r.lower(a.to) == "infusion":
		return "duration", ""
	case r.before(a.from, 2, "over") && long:
		return "duration", ""
	}
	return "", "unclear"
}
