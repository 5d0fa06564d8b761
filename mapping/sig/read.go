package sig

import (
	"cmp"
	"slices"
	"unicode/utf8"

	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// reader is one line being read.
type reader struct {
	line   order.Line
	runes  []rune
	tokens []token
	items  []item
	phase  int // number of "then" passed
	out    []reading
	drug   bool // the infusion's own drug has been named
	own    string

	pacedAt, wholeAt, volumes int // see notes
	tapers                    bool

	pca   bool // the directions are those of a patient-controlled pump
	paced bool // an interval or a count per day is given
	byDay bool // a dose per day is stated
	first int  // the item of the infusion's first amount
	doses map[quantity.Dimension]int
	roles map[int]string // what the number at an item was read as
}

// reading is a reading with what later steps need to know of it.
type reading struct {
	order.Reading
	item  int
	phase int
	after string // the cue it follows
}

// Read takes from the words everything it knows, in the order of the text.
func Read(line order.Line) []order.Reading {
	if tooLong(line) {
		return nil
	}
	r := read(line)
	var out []order.Reading
	for _, x := range r.out {
		out = append(out, x.Reading)
	}
	return out
}

// Unread lists the words that were not understood, in order. Words that
// stand together are listed together.
func Unread(line order.Line) []string {
	if tooLong(line) {
		return []string{"all of them: the directions are longer than 4,000 characters"}
	}
	r := read(line)
	var out []string
	for i := 0; i < len(r.items); i++ {
		if !r.leftOver(i) {
			continue
		}
		to := i + 1
		for to < len(r.items) && (r.leftOver(to) || r.joins(to)) {
			to++
		}
		out = append(out, r.text(i, to))
		i = to - 1
	}
	return out
}

// mostCharacters bounds the directions that are read. Longer ones are read
// not at all and said: the end of a sentence can turn its beginning.
const mostCharacters = 4000

func tooLong(line order.Line) bool { return utf8.RuneCountInString(line.Words) > mostCharacters }

// leftOver: an unknown word, or a cue that says something and found nothing
// to say it of.
func (r *reader) leftOver(i int) bool {
	x := r.items[i]
	return !x.used && (x.kind == unknown || x.kind == cue && words().strong[x.meaning])
}

// joins: a hyphen or slash inside a run of unknown words.
func (r *reader) joins(i int) bool {
	x := r.items[i]
	return x.kind == mark && (x.meaning == "-" || x.meaning == "/") && i+1 < len(r.items) && r.leftOver(i+1) && r.tokens[x.from].glued
}

func read(line order.Line) *reader {
	r := &reader{line: line, runes: []rune(line.Words), roles: map[int]string{}}
	r.tokens = tokenize(r.runes)
	r.itemize()
	r.scopes()
	r.notes()
	r.survey()
	r.regimens()
	r.conditions()
	r.frequencies()
	r.days()
	for i := range r.items {
		if !r.items[i].used && (r.items[i].kind == amount || r.items[i].kind == count) {
			r.number(i)
		}
	}
	r.terms()
	r.names()
	slices.SortStableFunc(r.out, func(a, b reading) int {
		return cmp.Or(cmp.Compare(a.Place.Span[0], b.Place.Span[0]), cmp.Compare(a.Place.Span[1], b.Place.Span[1]))
	})
	r.steps()
	return r
}

// add makes one reading of the items from…to. In a scope (flush,
// premedication, titration) the scope is the field and what it would have
// been is the role.
func (r *reader) add(field, value, unit, role string, from, to int) *reading {
	for i := from; i < to; i++ {
		r.items[i].used = true
	}
	at := from
	for at < to-1 && r.items[at].kind != amount && r.items[at].kind != count {
		at++
	}
	if scope := r.items[at].scope; scope != "" && field != scope && role != "unclear" {
		switch {
		case field == "maximum" || field == "condition" && role == "":
			role = field
		case role == "" || field != "condition":
			role = cmp.Or(field, role)
		}
		field = scope
	}
	p := r.line.Place
	p.Span = [2]int{r.tokens[r.items[from].from].start, r.tokens[r.items[to-1].to-1].end}
	r.out = append(r.out, reading{item: from, phase: r.items[from].phase,
		Reading: order.Reading{Field: field, Value: value, Unit: unit, Role: role, Words: r.text(from, to), Place: p}})
	return &r.out[len(r.out)-1]
}

// addAmount makes a reading of the number at item i, as a value or a range.
// A number that is not to be relied on is unclear whatever its field.
func (r *reader) addAmount(field, unit, role string, i int) *reading {
	a := r.items[i]
	if a.odd {
		field, role = "", "unclear"
	}
	if field == "" {
		role = "unclear"
	}
	x := r.add(field, a.low, unit, role, i, i+1)
	if a.isRange() {
		x.Value, x.Low, x.High = "", a.low, a.high
	}
	return x
}

// number gives the number at item i its field.
func (r *reader) number(i int) {
	a := r.items[i]
	lead, at := r.lead(i)
	field, role, unit := "", "", a.code
	switch {
	case a.kind == count:
		field, role, unit = r.countMeaning(i, lead)
	case a.code == "d/wk":
		field = "frequency"
	default:
		field, role, unit = r.amountMeaning(i, lead, at)
	}
	if field == "split" {
		return
	}
	x := r.addAmount(field, unit, role, i)
	x.after, r.roles[i] = lead, x.Role
	if x.Field == "dosingWeight" {
		r.roles[i] = "weight"
	}
	if at >= 0 {
		r.items[at].used = true
	}
}

// lead is the cue that governs item i: the nearest one before it, over words
// that add nothing. at is -1 when there is none.
func (r *reader) lead(i int) (meaning string, at int) {
	for k := i - 1; k >= 0 && k >= i-reach; k-- {
		switch x := r.items[k]; {
		case x.kind == cue:
			if k > 0 && r.items[k-1].is("maximum", "minimum") && x.is("over", "at") { // "maximum infusion rate"
				return r.items[k-1].meaning, k - 1
			}
			return x.meaning, k
		case x.kind == silent, x.is(":", "~", "=", "@"):
		case x.class == "diluent" && r.items[i].kind == amount && r.isVolume(i):
		case x.is(",") && k > 0 && r.isVolume(i) && (r.items[k-1].class == "diluent" || r.items[k-1].kind == silent && k > 1 && r.items[k-2].class == "diluent"):
		default:
			return "", -1
		}
	}
	return "", -1
}

// reach is how many items a look back or forth may pass.
const reach = 6

// next is the index of the next item that says something, len(items) at the
// end.
func (r *reader) next(i int) int {
	k := i + 1
	for k < len(r.items) && k <= i+reach && r.items[k].kind == silent && r.items[k].class != "unit" {
		k++
	}
	return k
}

func (r *reader) item(i int) item {
	if i < 0 || i >= len(r.items) {
		return item{kind: mark, meaning: "."}
	}
	return r.items[i]
}
