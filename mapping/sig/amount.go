package sig

import (
	"strings"

	"weir.example/weir/mapping/quantity"
)

// amountAt makes an item of the number n at token i: with its unit, as a
// range, or as a bare count.
func (r *reader) amountAt(i int, n number) item {
	x := item{kind: count, low: n.value, high: n.value, odd: n.odd, to: n.end}
	if high, ok := r.rangeTo(n.end); ok && !r.isList(n.end) {
		x.high, x.to, x.odd = high.value, high.end, x.odd || high.odd
	} else {
		r.unitRange(&x, n)
	}
	r.withUnit(&x)
	r.reversed(&x)
	r.chain(&x)
	return x
}

// rangeTo reads "- 60" or "to 60" after a number.
func (r *reader) rangeTo(i int) (number, bool) {
	t := r.tokens
	if i+1 >= len(t) || !(t[i].text == "-" || t[i].text == "–" || t[i].text == "—" || t[i].lower == "to") {
		return number{}, false
	}
	if t[i+1].kind != numeral && t[i+1].kind != malformed && t[i].lower != "to" {
		return number{}, false
	}
	return r.numberAt(i + 1)
}

// isList: "25 to 50 mL" is a range; a date or clock time after "to" is none.
func (r *reader) isList(i int) bool {
	_, isClock := r.clockAt(i + 1)
	return isClock
}

// unitRange reads "500 mg - 1 g" and "30 min to 60 min". A volume "to"
// another is a volume made up, never a range.
func (r *reader) unitRange(x *item, n number) {
	code, end := r.unitAt(n.end)
	if code == "" || end >= len(r.tokens) {
		return
	}
	high, ok := r.rangeTo(end)
	if !ok {
		return
	}
	code2, end2 := r.unitAt(high.end)
	a, err1 := quantity.ParseUnit(code)
	b, err2 := quantity.ParseUnit(code2)
	if err1 != nil || err2 != nil || a.Dimension() != b.Dimension() || r.tokens[end].lower == "to" && a.Dimension() == quantity.Volume {
		return
	}
	low, err := quantity.ParseNumber(n.value)
	if err != nil {
		return
	}
	if code != code2 {
		in, err := quantity.Point(low, a).In(b)
		if err != nil {
			return
		}
		x.low = in.Low.Decimal()
	}
	x.high, x.odd, x.to = high.value, x.odd || high.odd, high.end
	x.unit, x.code = b, code2
	_ = end2
}

func (r *reader) withUnit(x *item) {
	from := x.to
	if from+1 < len(r.tokens) && r.tokens[from].text == "-" && r.tokens[from].glued && r.tokens[from+1].kind == word { // "30-minute"
		from++
	}
	if from+1 < len(r.tokens) && further[r.tokens[from].lower] { // "4 more days"
		if code, _ := r.unitAt(from + 1); isLong(code) {
			from++
		}
	}
	code, end := r.unitAt(from)
	if code == "" {
		return
	}
	u, err := quantity.ParseUnit(code)
	if err != nil {
		return
	}
	x.kind, x.code, x.unit, x.to = amount, code, u, end
	r.perNumber(x)
}

// further are words between a number of days and its unit that change nothing.
var further = map[string]bool{"more": true, "consecutive": true, "additional": true, "further": true, "full": true}

// perNumber reads the "/100 mL" of "2 g/100 mL".
func (r *reader) perNumber(x *item) {
	t := r.tokens
	i := x.to
	if i+2 >= len(t) || t[i].text != "/" && t[i].lower != "per" || t[i+1].kind != numeral || strings.Contains(t[i+1].text, ".") {
		return
	}
	p, ok := words().matchClass(t, i+2, "unit")
	if !ok {
		return
	}
	over := t[i+1].text
	switch {
	case p.meaning == "h" && over == "24" || p.meaning == "d" && over == "1":
		r.per(x, x.code+"/d", i+2+p.size())
	case over == "1":
		r.per(x, x.code+"/"+p.meaning, i+2+p.size())
	case p.meaning == "mL" || p.meaning == "L":
		if r.per(x, x.code+"/("+over+"."+p.meaning+")", i+2+p.size()) {
			x.over, x.overUnit = over, p.meaning
		}
	case p.meaning == "min" || p.meaning == "h":
		r.per(x, x.code+"/("+over+"."+p.meaning+")", i+2+p.size())
	}
}

func (r *reader) per(x *item, code string, to int) bool {
	u, err := quantity.ParseUnit(code)
	if err == nil {
		x.code, x.unit, x.to = code, u, to
	}
	return err == nil
}

// reversed: a range that runs downwards was not meant so.
func (r *reader) reversed(x *item) {
	a, err1 := quantity.ParseNumber(x.low)
	b, err2 := quantity.ParseNumber(x.high)
	if err1 == nil && err2 == nil && b.Less(a) {
		x.odd = true
	}
}

// chain: "1-555-0164" and "1:1,000" are one thing, and no amount.
func (r *reader) chain(x *item) {
	t := r.tokens
	for x.to+1 < len(t) && (t[x.to].text == "-" || t[x.to].text == ":") && t[x.to].glued && t[x.to+1].glued && t[x.to+1].kind == numeral && x.kind == count {
		x.to, x.odd, x.high = x.to+2, true, x.low
	}
}

// maxUnitParts bounds how many parts a unit is divided by.
const maxUnitParts = 4

// unitAt reads "mg/kg/min", "mL per hour", "million units" from token i on
// as a UCUM code. "per dose" adds nothing.
func (r *reader) unitAt(i int) (code string, end int) {
	p, ok := words().match(r.tokens, i)
	if !ok || p.class != "unit" {
		return "", i
	}
	if p.meaning == "{dose}" {
		return "", i
	}
	code, end = p.meaning, i+p.size()
	for range maxUnitParts {
		if end+1 >= len(r.tokens) || !(r.tokens[end].text == "/" || r.tokens[end].lower == "per" || r.tokens[end].lower == "a") {
			break
		}
		next, ok := words().match(r.tokens, end+1)
		if !ok || next.class != "unit" && next.meaning != "{dose}" {
			break
		}
		if r.tokens[end].lower == "a" && (next.meaning != "d" || code == "d") && next.meaning != "wk" {
			break
		}
		end += 1 + next.size()
		if next.meaning != "{dose}" {
			code += "/" + next.meaning
		}
	}
	return code, end
}
