package sig

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
)

// frequencies reads "q8h", "q 8 h", "BID", "3 times daily", "every other day"
// before numbers are paired with units.
func (r *reader) frequencies() {
	t := r.tokens
	for i := range t {
		if t[i].used {
			continue
		}
		next, after := r.lower(i+1), r.lower(i+2)
		switch {
		case t[i].lower == "q" && i+2 < len(t) && t[i+1].kind == numeral && words().unit[after] != "":
			if unit := words().unit[after]; unit == "h" || unit == "min" || unit == "d" || unit == "wk" {
				r.add("interval", t[i+1].text, unit, "", i, i+3)
			}
		case t[i].lower == "every" && next == "other" && after == "day":
			r.add("interval", "2", "d", "", i, i+3)
		case t[i].lower == "every" && (next == "day" || next == "morning" || next == "evening" || next == "night"):
			r.add("interval", "1", "d", "", i, i+2)
		case t[i].lower == "once" && (next == "daily" || next == "weekly"):
			unit := map[string]string{"daily": "d", "weekly": "wk"}[next]
			r.add("interval", "1", unit, "", i, i+2)
		case (t[i].lower == "twice" || t[i].lower == "thrice") && (next == "daily" || next == "a" && after == "day"):
			to := i + 2
			if next == "a" {
				to++
			}
			r.add("dosesPerDay", words().Numbers[t[i].lower], "/d", "", i, to)
		case isCount(t, i) && next == "times" && (after == "daily" || (after == "a" || after == "per") && r.lower(i+3) == "day"):
			to := i + 3
			if after != "daily" {
				to++
			}
			n, _ := numberAt(t, i)
			r.add("dosesPerDay", n, "/d", "", i, to)
		case words().frequency[t[i].lower] != "" && next != "total" && r.lower(i-1) != "total":
			n := words().frequency[t[i].lower]
			if n == "1" {
				r.add("interval", "1", "d", "", i, i+1)
			} else {
				r.add("dosesPerDay", n, "/d", "", i, i+1)
			}
		}
	}
}

func isCount(t []token, i int) bool {
	n, ok := numberAt(t, i)
	return ok && !strings.Contains(n, ".")
}

// dates reads "through 15 December 2026", "until 12/15/2026", "until
// 2026-12-15" as the end, and what follows "start" as words: a day without a
// year is never guessed.
func (r *reader) dates() {
	for i := range r.tokens {
		switch r.lower(i) {
		case "through", "thru", "until", "til", "till", "ending", "ends":
			if date, to := r.dateAt(i + 1); date != "" {
				r.add("end", date, "", "", i, to)
			}
		case "start", "starting", "begin":
			if date, to := r.dateAt(i + 1); date != "" {
				r.add("start", date, "", "", i, to)
			} else if to := r.dayWords(i + 1); to > i+1 {
				start, end := r.tokens[i+1].start, r.tokens[to-1].end
				r.add("start", string(r.runes[start:end]), "", "words", i, to)
			}
		}
	}
}

// dayWords is the end of a run of weekday, day, month and clock words.
func (r *reader) dayWords(i int) int {
	for i < len(r.tokens) {
		t := r.tokens[i]
		day := slices.Contains([]string{"monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday", "mon", "tue", "wed", "thu", "fri", "sat", "sun", "at", "on"}, t.lower)
		if !day && t.kind != numeral && words().month(t.lower) == 0 && t.text != ":" {
			break
		}
		i++
	}
	return i
}

func (r *reader) dateAt(i int) (date string, to int) {
	text := func(k int) string {
		if k < len(r.tokens) {
			return r.tokens[k].text
		}
		return ""
	}
	make := func(y, m, d string) string {
		year, errY := strconv.Atoi(y)
		month, errM := strconv.Atoi(m)
		day, errD := strconv.Atoi(d)
		if errY != nil || errM != nil || errD != nil || year < 1900 || year > 2100 {
			return ""
		}
		at := time.Date(year, time.Month(month), day, 0, 0, 0, 0, time.UTC)
		if at.Day() != day || int(at.Month()) != month {
			return ""
		}
		return at.Format("2006-01-02")
	}
	for r.lower(i) == "on" || words().month(r.lower(i)) == 0 && slices.Contains([]string{"monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"}, r.lower(i)) {
		i++
	}
	switch {
	case words().month(r.lower(i+1)) > 0 && len(text(i+2)) == 4: // 15 December 2026
		return make(text(i+2), fmt.Sprint(words().month(r.lower(i+1))), text(i)), i + 3
	case words().month(r.lower(i)) > 0 && text(i+2) == "," && len(text(i+3)) == 4: // December 15, 2026
		return make(text(i+3), fmt.Sprint(words().month(r.lower(i))), text(i+1)), i + 4
	case words().month(r.lower(i)) > 0 && len(text(i+2)) == 4: // December 15 2026
		return make(text(i+2), fmt.Sprint(words().month(r.lower(i))), text(i+1)), i + 3
	case text(i+1) == "-" && text(i+3) == "-" && len(text(i)) == 4: // 2026-12-15
		return make(text(i), text(i+2), text(i+4)), i + 5
	case text(i+1) == "/" && text(i+3) == "/" && len(text(i+4)) == 4: // 12/15/2026, as written in the trade's country
		return make(text(i+4), text(i), text(i+2)), i + 5
	}
	return "", i
}

// loneNumbers gives every number without a role as unclear.
func (r *reader) loneNumbers() {
	for i, t := range r.tokens {
		if t.kind == numeral && !t.used && r.lower(i+1) != "%" {
			r.add("", t.text, "", "unclear", i, i+1)
		}
	}
}

// plainWords reads route, device, access, diluent and "as needed".
func (r *reader) plainWords() {
	seen := map[string]bool{}
	once := func(field, value string, from, to int) {
		if !seen[field+value] {
			seen[field+value] = true
			r.add(field, value, "", "", from, to)
		}
	}
	for i, t := range r.tokens {
		if t.kind != word || t.used {
			continue
		}
		switch {
		case t.lower == "prn":
			once("as-needed", "true", i, i+1)
		case t.lower == "as" && r.lower(i+1) == "needed":
			once("as-needed", "true", i, i+2)
		case t.lower == "syringe" && r.lower(i+1) == "pump":
			once("device", "syringe-pump", i, i+2)
		case words().device[t.lower] != "" && !seen["deviceelastomeric"] && !seen["devicesyringe-pump"]:
			once("device", words().device[t.lower], i, i+1)
		case words().route[t.lower] != "":
			once("route", words().route[t.lower], i, i+1)
		case words().diluent[t.lower] != "":
			once("diluent", words().diluent[t.lower], i, i+1)
		case slices.Contains(words().Access, t.lower):
			once("access", t.lower, i, i+1)
		}
	}
}
