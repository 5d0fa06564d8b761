package sig

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

// dateAt reads "15 December 2026", "December 15, 2026", "2026-12-15",
// "12/15/2026", "Dec 20" and, after a word that asks for a day, "12/15". A
// day without a year stays without one (--12-20, as in ISO 8601): the year
// is never guessed.
func (r *reader) dateAt(i int) (item, bool) {
	n := func(k int) string {
		if k < len(r.tokens) && r.tokens[k].kind == numeral {
			return r.tokens[k].text
		}
		return ""
	}
	text := func(k int) string {
		if k < len(r.tokens) {
			return r.tokens[k].text
		}
		return ""
	}
	month := func(k int) string {
		if k < len(r.tokens) && r.tokens[k].kind == word {
			if m := words().month(r.tokens[k].lower); m > 0 {
				return strconv.Itoa(m)
			}
		}
		return ""
	}
	skipPoint := func(k int) int {
		if text(k) == "." || text(k) == "," {
			return k + 1
		}
		return k
	}
	switch {
	case n(i) != "" && month(i+1) != "": // 15 December 2026
		k := skipPoint(i + 2)
		if len(n(k)) == 4 {
			return day(n(k), month(i+1), n(i), "", k+1)
		}
		return day("", month(i+1), n(i), "no-year", i+2)
	case month(i) != "" && n(skipPoint(i+1)) != "": // December 15, 2026
		d := skipPoint(i + 1)
		if code, _ := r.unitAt(d + 1); code != "" || text(d+1) == "-" || text(d+1) == "–" {
			return item{}, false
		}
		k := d + 1
		if ordinal := strings.ToLower(text(k)); k < len(r.tokens) && r.tokens[k].glued && (ordinal == "th" || ordinal == "st" || ordinal == "nd" || ordinal == "rd") {
			k++
		}
		if y := skipPoint(k); len(n(y)) == 4 {
			return day(n(y), month(i), n(d), "", y+1)
		}
		return day("", month(i), n(d), "no-year", k)
	case len(n(i)) == 4 && text(i+1) == "-" && text(i+3) == "-" && n(i+2) != "" && n(i+4) != "":
		return day(n(i), n(i+2), n(i+4), "", i+5)
	case n(i) != "" && (text(i+1) == "/" || text(i+1) == "-") && n(i+2) != "" && text(i+3) == text(i+1) && (len(n(i+4)) == 4 || len(n(i+4)) == 2 && len(n(i)) < 3) && r.tokens[i+1].glued && r.tokens[i+2].glued:
		return slashed(n(i), n(i+2), n(i+4), i+5)
	case n(i) != "" && text(i+1) == "/" && n(i+2) != "" && text(i+3) != "/" && r.tokens[i+1].glued && r.tokens[i+2].glued && r.asksDay():
		if code, _ := r.unitAt(i + 3); code != "" {
			return item{}, false
		}
		return day("", n(i), n(i+2), "no-year", i+3)
	}
	return item{}, false
}

// slashed reads month/day/year, the order of the trade's country; a first
// number above 12 can only be the day. Where both could be the month it is
// said. Two digits of a year are years of this century.
func slashed(a, b, y string, to int) (item, bool) {
	if len(y) == 2 {
		y = "20" + y
	}
	first, _ := strconv.Atoi(a)
	second, _ := strconv.Atoi(b)
	switch {
	case first > 12:
		return day(y, b, a, "", to)
	case second <= 12 && first != second:
		return day(y, a, b, "month-first", to)
	}
	return day(y, a, b, "", to)
}

func day(y, m, d, role string, to int) (item, bool) {
	year, errY := strconv.Atoi(y)
	if y == "" {
		year, errY = 2000, nil // a leap year: 29 February may be meant
	}
	month, errM := strconv.Atoi(m)
	number, errD := strconv.Atoi(d)
	if errY != nil || errM != nil || errD != nil || year < 1900 || year > 2100 {
		return item{}, false
	}
	at := time.Date(year, time.Month(month), number, 0, 0, 0, 0, time.UTC)
	if at.Day() != number || int(at.Month()) != month {
		return item{}, false
	}
	value := at.Format("2006-01-02")
	if y == "" {
		value = "--" + value[5:]
	}
	return item{kind: date, meaning: value, role: role, to: to}, true
}

// asksDay: the words just before ask for a day.
func (r *reader) asksDay() bool {
	for k := len(r.items) - 1; k >= 0 && k >= len(r.items)-3; k-- {
		if x := r.items[k]; x.kind == cue {
			return x.is("start", "end", "from")
		} else if x.class != "weekday" && x.kind != silent && x.kind != mark {
			return false
		}
	}
	return false
}

// clockAt reads "11:00", "9 am", "9:30 PM", and "0900" after "at" or another
// clock time.
func (r *reader) clockAt(i int) (item, bool) {
	t := r.tokens
	if i >= len(t) || t[i].kind != numeral || strings.Contains(t[i].text, ".") || len(t[i].text) > 4 {
		return item{}, false
	}
	h, m, end, sure := t[i].text, "00", i+1, false
	if i+2 < len(t) && t[i+1].text == ":" && t[i+1].glued && t[i+2].glued && t[i+2].kind == numeral && len(t[i+2].text) == 2 && len(h) <= 2 {
		m, end, sure = t[i+2].text, i+3, true
	}
	hour, err := strconv.Atoi(h)
	minute, errM := strconv.Atoi(m)
	if err != nil || errM != nil {
		return item{}, false
	}
	if end < len(t) && len(h) <= 2 && (t[end].lower == "am" || t[end].lower == "pm") && hour >= 1 && hour <= 12 {
		hour %= 12
		if t[end].lower == "pm" {
			hour += 12
		}
		end, sure = end+1, true
	}
	if !sure && len(h) == 4 && t[i].end-t[i].start == 4 && (r.asksClock() || r.clockList(i)) {
		if code, _ := r.unitAt(end); code == "" || code == "h" {
			hour, minute, sure = hour/100, hour%100, true
			if code == "h" {
				_, end = r.unitAt(end)
			}
		}
	}
	if !sure || hour > 24 || minute > 59 || hour == 24 && minute > 0 {
		return item{}, false
	}
	if end+1 < len(t) && t[end].text == ":" && t[end].glued && t[end+1].glued { // 1:10:100 is no time
		return item{}, false
	}
	return item{kind: clock, meaning: fmt.Sprintf("%02d:%02d", hour, minute), to: end}, true
}

// clockList: nothing but four-digit times, at least two, in the brackets
// around token i: "(0600/1800)".
func (r *reader) clockList(i int) bool {
	t, n := r.tokens, 0
	from := i
	for from > 0 && from > i-2*reach && t[from].text != "(" {
		from--
	}
	for k := from + 1; k < len(t) && k <= from+2*reach; k++ {
		hour, err := strconv.Atoi(t[k].text)
		switch {
		case t[k].text == ")":
			return n > 1 && t[from].text == "("
		case t[k].kind == numeral && err == nil && t[k].end-t[k].start == 4 && hour <= 2400 && hour%100 < 60:
			n++
		case t[k].text != "/" && t[k].text != "," && t[k].text != "&" && t[k].lower != "and":
			return false
		}
	}
	return false
}

func (r *reader) asksClock() bool {
	for k := len(r.items) - 1; k >= 0 && k >= len(r.items)-3; k-- {
		switch x := r.items[k]; {
		case x.is("at", "start", "lastGiven", "from"), x.kind == clock:
			return true
		case x.kind != silent && x.kind != mark && x.kind != date:
			return false
		}
	}
	return false
}
