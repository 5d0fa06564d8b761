package notation

import (
	"strings"
	"sync"

	"weir.example/weir/mapping/quantity"
)

// say puts the factors in words: what stands above the line, then one "per"
// for each below it. A number in brackets belongs to the unit after it:
// "per 24 hours", "per 100 mL".
func say(list []factor, one bool, r reader) (string, bool) {
	var above, below []factor
	for i, f := range list {
		switch {
		case f.power < 0:
			below = append(below, f)
		case f.symbol == "1" && i == 0 && f.note == "": // the 1 of "1/min"
		default:
			above = append(above, f)
		}
	}
	head, ok := sayAbove(above, one, r)
	if !ok {
		return "", false
	}
	out := []string{head}
	for i := 0; i < len(below); i++ {
		f := below[i]
		text := "per "
		single := true
		if isNumber(f.symbol) && f.note == "" {
			n, err := quantity.ParseNumber(f.symbol)
			if err != nil {
				return "", false
			}
			text += Number(n)
			if i+1 == len(below) || below[i+1].group != f.group || f.group == 0 || isNumber(below[i+1].symbol) {
				out = append(out, text)
				continue
			}
			i++
			f, text, single = below[i], text+" ", f.symbol == "1"
		}
		f.power = -f.power
		w, ok := word(f, single, r)
		if !ok {
			return "", false
		}
		out = append(out, text+w)
	}
	return strings.TrimSpace(strings.Join(out, " ")), true
}

// sayAbove writes a product with hyphens ("mg-hours"), powers of ten as
// words before the unit, and only the last word in the plural.
func sayAbove(list []factor, one bool, r reader) (string, bool) {
	s := ""
	for i, f := range list {
		last := i == len(list)-1
		w, ok := word(f, one || !last, r)
		if !ok {
			return "", false
		}
		switch {
		case isNumber(f.symbol) && !strings.HasPrefix(f.symbol, "10*"):
			s += "times " + w + " "
		case isNumber(f.symbol), last:
			s += w + " "
		default:
			s += w + "-"
		}
	}
	return strings.TrimSpace(s), true
}

func word(f factor, one bool, r reader) (string, bool) {
	s := ""
	switch w, known := units[f.symbol]; {
	case f.symbol == "":
		return counted(f.note, one)
	case known && r == household && w.household[0] != "":
		s = pick(w.household, one)
	case known:
		s = pick(w.staff, one)
	case strings.HasPrefix(f.symbol, "10*"):
		return "", false
	case isNumber(f.symbol):
		n, err := quantity.ParseNumber(f.symbol)
		if err != nil {
			return "", false
		}
		s = Number(n)
	default:
		return "", false
	}
	switch f.power {
	case 1:
	case 2, 3:
		s += [...]string{"²", "³"}[f.power-2]
	default:
		return "", false
	}
	if f.note != "" {
		note, ok := noted(f.note)
		if !ok {
			return "", false
		}
		s += " (" + note + ")"
	}
	return s, true
}

func pick(w [2]string, one bool) string {
	if one {
		return w[0]
	}
	return w[1]
}

// usual are the annotations that our own answers are full of. They are looked
// at once, not each time; any other is looked at when it comes.
var usual = sync.OnceValue(func() map[string]string {
	m := map[string]string{}
	for _, note := range []string{"dose", "set", "container", "kit", "pad", "connector", "syringe", "cap", "box", "cooler", "pump", "pair", "gown",
		"cover", "bag", "adaptor", "reservoir", "needle", "each", "1.73_m2"} {
		if s, ok := clean(note); ok {
			m[note] = s
		}
	}
	return m
})

func noted(note string) (string, bool) {
	if s, ok := usual()[note]; ok {
		return s, true
	}
	return clean(note)
}

// clean writes an annotation in words. It is the sender's free text, so one that
// would itself be error-prone ("{U}", "{QD}") is refused and the whole unit
// shown as a code.
func clean(note string) (string, bool) {
	s := strings.ReplaceAll(note, "_", " ")
	s = strings.ReplaceAll(s, "1.73m2", "1.73 m2")
	s = strings.ReplaceAll(s, " m2", " m²")
	for _, c := range s {
		if !strings.ContainsRune("abcdefghijklmnopqrstuvwxyz 0123456789.²-", c) {
			return "", false
		}
	}
	if strings.TrimSpace(s) != s || len(Scan("1 "+s)) > 0 || len(Scan(s)) > 0 {
		return "", false
	}
	return s, true
}

// counted writes an annotation that stands alone as the thing counted.
func counted(note string, one bool) (string, bool) {
	s, ok := noted(note)
	if !ok || one || strings.ContainsAny(s, "0123456789.²") {
		return s, ok
	}
	switch {
	case s == "each", strings.HasSuffix(s, "s") && !strings.HasSuffix(s, "ss"):
		return s, true
	case strings.HasSuffix(s, "x"), strings.HasSuffix(s, "ss"), strings.HasSuffix(s, "ch"):
		return s + "es", true
	case strings.HasSuffix(s, "y") && len(s) > 1 && !strings.ContainsRune("aeiou", rune(s[len(s)-2])):
		return s[:len(s)-1] + "ies", true
	}
	return s + "s", true
}

// unitWord is a unit in words, for one and for many.
type unitWord struct {
	staff, household [2]string
}

func same(s string) unitWord   { return unitWord{staff: [2]string{s, s}} }
func plural(s string) unitWord { return unitWord{staff: [2]string{s, s + "s"}} }
func forBoth(short, long string) unitWord {
	return unitWord{staff: [2]string{short, short}, household: [2]string{long, long + "s"}}
}

// units is what may be printed. A symbol that is not here has no words and
// is shown as a code: a prefix is never split off and guessed at.
var units = func() map[string]unitWord {
	m := map[string]unitWord{
		"ug": forBoth("mcg", "microgram"), "ng": plural("nanogram"), "pg": plural("picogram"),
		"uL": plural("microlitre"), "ul": plural("microlitre"),
		"umol": plural("micromole"), "nmol": plural("nanomole"), "pmol": plural("picomole"),
		"eq": same("Eq"), "meq": same("mEq"), "ueq": plural("microequivalent"), "osm": same("Osm"), "mosm": same("mOsm"),
		"s": plural("second"), "min": plural("minute"), "h": plural("hour"), "d": plural("day"),
		"wk": plural("week"), "mo": plural("month"), "a": plural("year"),
		"[drp]": plural("drop"), "cal": plural("calorie"), "%": same("%"), "[ppm]": same("parts per million"),
		"[lb_av]": plural("pound"), "[oz_av]": plural("ounce"),
		"[in_i]": {staff: [2]string{"inch", "inches"}}, "[ft_i]": {staff: [2]string{"foot", "feet"}},
		"[pH]":   same("pH"),
		"mm[Hg]": same("mm of mercury"), "cm[H2O]": same("cm of water"),
		"[USP'U]": plural("unit"), "U": plural("unit"), "mU": plural("milliunit"), "kU": same("thousand units"),
		"10*3": same("thousand"), "10*6": same("million"), "10*9": same("billion"), "10*12": same("trillion"),
	}
	m["Cel"] = unitWord{staff: [2]string{"degree Celsius", "degrees Celsius"}}
	m["[degF]"] = unitWord{staff: [2]string{"degree Fahrenheit", "degrees Fahrenheit"}}
	for _, s := range []string{"kg", "g", "mg", "L", "dL", "mL", "m", "cm", "mm", "mol", "mmol", "kcal", "kJ"} {
		m[s] = same(s)
	}
	m["l"], m["dl"], m["ml"] = same("L"), same("dL"), same("mL") // UCUM allows both letters; a small l is read as 1
	for _, atom := range []string{"[iU]", "[IU]"} {
		m[atom] = plural("international unit")
		m["m"+atom] = plural("milli-international unit")
		m["u"+atom] = plural("micro-international unit")
		m["k"+atom] = same("thousand international units")
		m["M"+atom] = same("million international units")
	}
	return m
}()
