package sig

import (
	"strings"

	"weir.example/weir/mapping/quantity"
)

// amount is a number with its unit as read from the words.
type amount struct {
	low, high  string
	unit       quantity.Unit
	from, to   int // tokens, half open
	start, end int // characters
}

func (a amount) dim() quantity.Dimension { return a.unit.Dimension() }

// amounts finds every number that is followed by a unit, and every range.
func amounts(t []token) []amount {
	var out []amount
	for i := 0; i < len(t); i++ {
		value, ok := numberAt(t, i)
		if !ok || t[i].used {
			continue
		}
		a := amount{low: value, high: value, from: i, start: t[i].start}
		next := i + 1
		if next+1 < len(t) && (t[next].text == "-" || t[next].text == "–" || t[next].lower == "to") {
			if high, ok := numberAt(t, next+1); ok && t[next+1].kind == numeral {
				a.high, next = high, next+2
			}
		}
		if next < len(t) && t[next].text == "-" && next+1 < len(t) && t[next+1].kind == word { // "30-minute"
			next++
		}
		code, end := unitAt(t, next)
		if code == "" {
			continue
		}
		u, err := quantity.ParseUnit(code)
		if err != nil {
			continue
		}
		a.unit, a.to, a.end = u, end, t[end-1].end
		out = append(out, a)
		i = end - 1
	}
	return out
}

func numberAt(t []token, i int) (string, bool) {
	if i >= len(t) {
		return "", false
	}
	if t[i].kind == numeral {
		if _, err := quantity.ParseNumber(t[i].text); err != nil {
			return "", false
		}
		return t[i].text, true
	}
	if n, ok := words().Numbers[t[i].lower]; ok && t[i].lower != "once" && t[i].lower != "twice" && t[i].lower != "thrice" {
		return n, true
	}
	return "", false
}

// unitAt reads "mg/kg/min", "mL per hour", "million units" from token i on.
func unitAt(t []token, i int) (code string, end int) {
	if i < len(t) && t[i].lower == "million" {
		if _, ok := words().unit["million_units"]; ok && i+1 < len(t) && (t[i+1].lower == "units" || t[i+1].lower == "unit") {
			return "10*6.[USP'U]", i + 2
		}
	}
	if i+1 < len(t) && t[i].lower == "international" && strings.HasPrefix(t[i+1].lower, "unit") {
		return "[iU]", i + 2
	}
	if i >= len(t) || t[i].kind != word {
		return "", i
	}
	code, ok := words().unit[t[i].lower]
	if !ok || code == "{dose}" {
		return "", i
	}
	end = i + 1
	for end+1 < len(t) && (t[end].text == "/" || t[end].lower == "per") && t[end+1].kind == word {
		next, ok := words().unit[t[end+1].lower]
		if !ok {
			break
		}
		if next == "{dose}" { // "2 g per dose" is 2 g
			return code, end + 2
		}
		code, end = code+"/"+next, end+2
	}
	return code, end
}
