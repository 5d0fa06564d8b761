package notation

import (
	"strconv"
	"strings"
)

// reader is whom a text is for: staff read mcg, a household micrograms.
type reader int

const (
	staff reader = iota
	household
)

// UnitWords writes a UCUM code in words: "mL per hour", "mg per kg per day",
// "mg per m²" (a superscript two is on no list of error-prone signs). An
// annotation is printed as a word. A code without words here comes back in
// backticks, unchanged.
func UnitWords(ucum string) string { return unitWords(ucum, false, staff) }

func unitWords(ucum string, one bool, r reader) string {
	if ucum == "" || ucum == "1" {
		return ""
	}
	factors, ok := parse(ucum)
	if !ok {
		return asCode(ucum)
	}
	s, ok := say(factors, one, r)
	if !ok {
		return asCode(ucum)
	}
	return s
}

// asCode marks a text as a machine code. What cannot stand in backticks is
// escaped, so that the reader sees every character that was received.
func asCode(s string) string {
	quoted := strconv.QuoteToASCII(s)
	return "`" + strings.ReplaceAll(quoted[1:len(quoted)-1], "`", `\x60`) + "`"
}

// factor is one atom of a unit. power is negative below the fraction line;
// group marks factors written inside one pair of brackets.
type factor struct {
	symbol string // atom with prefix, a whole number, or ""
	note   string // annotation without braces
	power  int
	group  int
}

type unitReader struct {
	rest   string
	groups int
	list   []factor
}

// parse splits a UCUM code into factors. UCUM reads from left to right, so
// in "mg/kg.d" only kg is below the line.
func parse(ucum string) ([]factor, bool) {
	if len(ucum) > 64 {
		return nil, false
	}
	r := &unitReader{rest: ucum}
	if !r.term(1, 0, 0) || r.rest != "" {
		return nil, false
	}
	return r.list, true
}

func (r *unitReader) term(sign, group, depth int) bool {
	if depth > 4 {
		return false
	}
	way := sign
	if r.take("/") {
		way = -sign
	}
	for {
		if !r.component(way, group, depth) {
			return false
		}
		switch {
		case r.take("."):
			way = sign
		case r.take("/"):
			way = -sign
		default:
			return true
		}
	}
}

func (r *unitReader) take(s string) bool {
	rest, ok := strings.CutPrefix(r.rest, s)
	r.rest = rest
	return ok
}

func (r *unitReader) component(sign, group, depth int) bool {
	if r.take("(") {
		r.groups++
		return r.term(sign, r.groups, depth+1) && r.take(")")
	}
	f := factor{power: sign, group: group}
	f.symbol = r.symbol()
	if f.symbol != "" && !isNumber(f.symbol) {
		e, ok := r.exponent()
		if !ok {
			return false
		}
		f.power *= e
	}
	if r.take("{") {
		note, rest, ok := strings.Cut(r.rest, "}")
		if !ok || note == "" {
			return false
		}
		f.note, r.rest = note, rest
	}
	r.list = append(r.list, f)
	return f.symbol != "" || f.note != ""
}

// symbol cuts a power of ten, a whole number, or letters with what stands in
// square brackets.
func (r *unitReader) symbol() string {
	s := r.rest
	i := 0
	switch {
	case strings.HasPrefix(s, "10*"), strings.HasPrefix(s, "10^"):
		for i = 3; i < len(s) && s[i] >= '0' && s[i] <= '9'; i++ {
		}
		r.rest = s[i:]
		return "10*" + s[3:i]
	case s != "" && s[0] >= '0' && s[0] <= '9':
		for i < len(s) && s[i] >= '0' && s[i] <= '9' {
			i++
		}
	default:
		for i < len(s) {
			c := s[i]
			if c == '[' {
				end := strings.IndexByte(s[i:], ']')
				if end < 0 {
					return ""
				}
				i += end + 1
				continue
			}
			if c != '%' && c != '\'' && c != '_' && (c|0x20 < 'a' || c|0x20 > 'z') {
				break
			}
			i++
		}
	}
	r.rest = s[i:]
	return s[:i]
}

func (r *unitReader) exponent() (int, bool) {
	s := strings.TrimPrefix(r.rest, "-")
	if s == "" || s[0] < '1' || s[0] > '9' {
		return 1, s == r.rest
	}
	e := int(s[0] - '0')
	if s != r.rest {
		e = -e
	}
	r.rest = s[1:]
	return e, e <= 3 && e >= -3
}

func isNumber(s string) bool { return s != "" && s[0] >= '0' && s[0] <= '9' }
