package worklist

import (
	"cmp"
	"fmt"
	"html/template"
	"reflect"
	"regexp"
	"strings"
	"time"
	"unicode"

	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/schedule"
)

// obeyed says whether a screen obeys the character instead of showing it:
// controls, marks of direction, characters without width, and those that are
// drawn as nothing.
func obeyed(r rune) bool {
	if r >= ' ' && r < 0x7f {
		return false // most of what is written
	}
	return unicode.IsControl(r) || unicode.In(r, unicode.Cf, unicode.Zl, unicode.Zp, unicode.Variation_Selector) || r == '\u115f' || r == '\u1160' || r == '\u3164' || r == '\uffa0'
}

// shown writes such characters by their number, so that a name cannot turn a
// line round, and two names that differ in one of them look different.
func shown(text string) string {
	if strings.IndexFunc(text, obeyed) < 0 {
		return text
	}
	var b strings.Builder
	for _, r := range text {
		switch {
		case r == '\n' || r == '\t' || r == '\r':
			b.WriteByte(' ')
		case obeyed(r):
			fmt.Fprintf(&b, "[U+%04X]", r)
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}

// sent marks the sender's own words: isolated in direction, and told apart
// from what this program says.
func sent(text string) template.HTML {
	return template.HTML(`<bdi class="sent" data-received>` + template.HTMLEscapeString(shown(text)) + `</bdi>`)
}

// eachText changes every text of a value.
func eachText(v reflect.Value, change func(string) string) {
	switch v.Kind() {
	case reflect.Pointer, reflect.Interface:
		if !v.IsNil() {
			eachText(v.Elem(), change)
		}
	case reflect.Struct:
		for i := range v.NumField() {
			if v.Type().Field(i).Tag.Get("json") != "-" {
				eachText(v.Field(i), change)
			}
		}
	case reflect.Slice:
		for i := range v.Len() {
			eachText(v.Index(i), change)
		}
	case reflect.Map:
		for _, k := range v.MapKeys() {
			one := reflect.New(v.Type().Elem()).Elem()
			one.Set(v.MapIndex(k))
			eachText(one, change)
			v.SetMapIndex(k, one)
		}
	case reflect.String:
		if v.CanSet() {
			v.SetString(change(v.String()))
		}
	}
}

var amount = regexp.MustCompile(`(\d) (%|mg|mcg|g|kg|mL|L|dL|mmol|mEq|mOsm|m²|cm|nanograms?|micrograms?|milliunits?|units?|international units?|hours?|minutes?|days?|weeks?|drops?|doses?|kcal)( per (?:kg|m²|mL|L|dL|hour|minute|day|week|dose))*`)

// bound keeps the numbers of a sentence with their units: they never part at
// the end of a line.
func bound(text string) string {
	return amount.ReplaceAllStringFunc(text, notation.NonBreaking)
}

// value writes a decimal with its unit, long fractions cut to 4 digits, and
// keeps number and unit on one line.
func value(decimal, unit string) string {
	if n, err := quantity.ParseNumber(decimal); err == nil {
		if short := n.Significant(5); short != decimal {
			decimal = n.Significant(4)
		}
	}
	return notation.NonBreaking(notation.Code(decimal, unit))
}

// moment writes an instant in the zone of the pharmacy, "" for none.
func (p Pages) moment(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return notation.Instant(t.In(p.Zone), "")
}

// home writes instants in the zone of a patient's home.
type home struct {
	zone *time.Location
	now  time.Time
}

func (p Pages) home(zone string) home {
	h := home{p.Zone, p.Now()}
	if z, err := schedule.LoadZones().Zone(zone); err == nil {
		h.zone = z.Location
	}
	return h
}

// instant is a moment for people and for programs.
type instant struct {
	Words string // "" for none
	Exact string // RFC 3339
	Over  string // how long it is past the clock, in words; "" when it is not
	at    time.Time
}

func (h home) at(t time.Time) instant {
	if t.IsZero() {
		return instant{}
	}
	i := instant{Words: notation.Instant(t.In(h.zone), ""), Exact: t.In(h.zone).Format(time.RFC3339), at: t}
	if late := h.now.Sub(t); late >= time.Minute {
		i.Over = notation.Duration(late.Truncate(time.Minute))
		if late >= 48*time.Hour { // elapsed time, as days of 24 hours
			i.Over = "more than " + count(int(late/(24*time.Hour)), "day")
		}
	}
	return i
}

// read reads an RFC 3339 text of a worksheet. A text that is no instant is
// shown as it is.
func (h home) read(text string) instant {
	t, err := time.Parse(time.RFC3339, text)
	if err != nil {
		return instant{Words: text}
	}
	return h.at(t)
}

func (i instant) HTML() template.HTML {
	if i.Exact == "" {
		return template.HTML(template.HTMLEscapeString(i.Words))
	}
	return template.HTML(`<time datetime="` + template.HTMLEscapeString(i.Exact) + `">` + template.HTMLEscapeString(notation.NonBreaking(i.Words)) + `</time>`)
}

// mark is a verdict or a gate: always a word and a shape, colour only beside them.
type mark struct{ Word, Class string }

var marks = map[string]mark{
	"block": {"Block", "block"}, "refused": {"Refused", "block"}, "hold": {"Hold", "hold"}, "indeterminate": {"Not decided", "unknown"},
	"warn": {"Warning", "warn"}, "note": {"Note", "note"}, "ready": {"Ready", "ready"}, "": {"Not checked", "none"},
}

// badge is the mark of a verdict or a gate; what is not known is marked as
// not decided, in its own word.
func badge(word string) mark {
	if m, ok := marks[word]; ok {
		return m
	}
	return mark{shown(word), "unknown"}
}

// plain are single words of the record, as people read them.
var plain = map[string]string{
	"intake": "intake", "release": "release", "pack": "packing", "dispatch": "dispatch", "start": "start at home", "close": "close",
	"active": "active", "on-hold": "on hold", "cancelled": "cancelled", "completed": "completed", "stopped": "stopped", "draft": "draft", "entered-in-error": "entered in error", "unknown": "unknown",
	"coded": "coded field", "text": "words of the order", "record": "patient's record",
	"requested": "to do", "received": "to do", "accepted": "accepted", "rejected": "refused", "ready": "ready", "in-progress": "begun", "failed": "failed",
	"on-call": "on call", "stat": "at once", "asap": "as soon as possible",
	"yes": "yes", "no": "no", "unassessed": "not assessed", "required": "required", "by-policy": "as the site's policy says",
	"prepared": "prepared in the pharmacy", "mixed-at-use": "mixed just before use", "syringe-push": "syringe, pushed by hand", "premix": "ready-made bag",
	"room": "kept at room temperature", "refrigerated": "kept refrigerated", "frozen": "kept frozen",
	"tenfold": "a decimal place off", "thousandfold": "a unit off: a thousand times", "per-day-as-per-hour": "per day written as per hour", "minutes-as-hours": "minutes written as hours",
	"pounds-as-kilograms": "pounds written as kilograms", "daily-total-each-dose": "the total of a day written for each dose", "course-total-as-one-day": "the total of the course written for one day",
	"other-concentration": "a product of another strength", "neighbouring-field": "a neighbouring field's number", "transposed-digits": "digits changed round", "none": "",
	"flush": "flush", "infusion": "infusion", "draw": "blood draw", "pause": "pause",
	"placed": "Everything fits into the day", "impossible": "It does not fit into the day", "not decided": "Whether it fits into the day was not decided",
	"sourced": "from a published source", "memory": "from memory, to be confirmed by a pharmacist", "local": "the pharmacy's own",
}

// words is a single word of the record in plain words; one that is not listed
// is said as it stands, with blanks for hyphens.
func words(word string) string {
	if w, ok := plain[word]; ok {
		return w
	}
	return shown(strings.ReplaceAll(word, "-", " "))
}

func count(n int, one string) string {
	if n == 1 {
		return "1 " + one
	}
	if strings.HasSuffix(one, "y") && !strings.HasSuffix(one, "ay") {
		return fmt.Sprint(n, " ", strings.TrimSuffix(one, "y"), "ies")
	}
	return fmt.Sprint(n, " ", one, "s")
}

// identifier is the value of a "system|value", which is what people compare.
func identifier(text string) string {
	if i := strings.LastIndexByte(text, '|'); i >= 0 {
		return cmp.Or(text[i+1:], text)
	}
	return text
}
