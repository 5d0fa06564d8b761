package sig

import (
	"strings"

	"weir.example/weir/mapping/quantity"
)

// isLong: a time that is a course rather than an infusion.
func isLong(code string) bool { return code == "d" || code == "wk" || code == "mo" }

// timeMeaning tells interval, infusion time, course, lockout and taper.
func (r *reader) timeMeaning(i int, lead string, at int) (field, role string) {
	a := r.items[i]
	long := isLong(a.code)
	after := r.item(r.next(i))
	switch {
	case lead == "lockout" || after.is("lockout"):
		r.useNext(i, "lockout")
		return "lockout", ""
	case r.taper(i, lead, at) != "":
		return "taper", r.taper(i, lead, at)
	case after.is("{cycle}") && long:
		return "cycle", "length"
	case lead == "forFirst", lead == "stability", lead == "within" && long, r.eachNoun(i, at, after):
		return "", ""
	case lead == "every" && r.afterPrevious(i):
		return "interval", "previous"
	case lead == "every" && a.scope == "" && r.strayPace(i):
		return "", ""
	case lead == "every":
		return "interval", ""
	case lead == "minimum", lead == "more", lead == "maximum" && strings.Contains(lower(r.text(at, at+1)), "faster"), lead == "less" && r.negated(at):
		return "duration", "minimum"
	case after.kind == cue && after.meaning == "maximum" && r.pca:
		return "maximum", "window"
	case r.maximumAfter(i) && lead == "for" && long:
		return "courseLength", "maximum"
	case lead == "maximum" || lead == "less" || r.maximumAfter(i):
		return "maximum", "maximum"
	case lead == "forMax":
		return "courseLength", "maximum"
	case after.is("courseNoun", "course"):
		r.useNext(i, "courseNoun", "course")
		return "courseLength", ""
	case lead == "over" || lead == "within" || lead == "cycle":
		if a.code == "wk" || a.code == "mo" || a.code == "d" && r.paced {
			return "courseLength", ""
		}
		return "duration", ""
	case lead == "for" && long:
		return "courseLength", ""
	case lead == "for":
		return r.forHours(i, at)
	case !long && (after.class == "infusion" || after.class == "continuous" && lead == ""):
		return "duration", ""
	case long && after.kind == cue && after.meaning == "total":
		return "courseLength", ""
	}
	return "", ""
}

// eachNoun: "each 24 hour bag" says how long one lasts, not how often.
func (r *reader) eachNoun(i, at int, after item) bool {
	return at >= 0 && r.items[at].is("every") && r.tokens[r.items[at].from].lower == "each" && after.class == "noun" && after.meaning != "{cycle}"
}

// forHours: "for 24 hours" after a pace is the course when it is longer than
// the interval ("q6h for 24 hours"); else it is the infusion time.
func (r *reader) forHours(i, at int) (field, role string) {
	a := r.items[i]
	if r.tapered(i) {
		return "", ""
	}
	if a.code != "h" || !r.paced {
		return "duration", ""
	}
	for k := at - 1; k >= 0 && k >= at-reach; k-- {
		x := r.items[k]
		switch {
		case x.kind == amount && x.dim() == flow:
			return "duration", ""
		case r.isTime(k) && r.item(r.leadAt(k)).is("every"):
			switch c := compare(a, x); {
			case x.code == "h" && c > 0:
				return "courseLength", ""
			case x.code == "h" && c == 0:
				return "", "" // "q24h for 24 h": either
			}
			return "duration", ""
		case x.class == "perDay":
			return "", "" // "BID for 12 hours": either
		case x.is(".", ";"):
			return "duration", ""
		}
	}
	return "duration", ""
}

// useNext marks the next item as used when it is one of the meanings.
func (r *reader) useNext(i int, meanings ...string) {
	if n := r.next(i); n < len(r.items) && r.items[n].is(meanings...) {
		r.items[n].used = true
	}
}

// taper reads "1 h up", "1 hr taper down", "taper up over 1 hour".
func (r *reader) taper(i int, lead string, at int) string {
	n := r.next(i)
	if k := n - 1; k > i && r.tokens[r.items[k].from].lower == "and" && (lead == "up" || lead == "down" || lead == "taper") {
		return lead // "up 1 hour and down 1 hour"
	}
	switch {
	case r.item(n).is("up", "down"):
		r.items[n].used = true
		return r.items[n].meaning
	case r.item(n).is("taper"):
		r.items[n].used = true
		if r.item(n+1).is("up", "down") {
			r.items[n+1].used = true
			return r.items[n+1].meaning
		}
		return "taper"
	case lead == "up" || lead == "down" || lead == "taper":
		return lead
	case (lead == "over" || lead == "for") && r.item(at-1).is("up", "down", "taper"):
		r.items[at-1].used = true
		return r.items[at-1].meaning
	}
	return ""
}

// compare sets the time a against the longest of x, both in one unit.
func compare(a, x item) int {
	p, err1 := quantity.ParseNumber(a.low)
	q, err2 := quantity.ParseNumber(x.high)
	if err1 != nil || err2 != nil {
		return -1
	}
	return p.Cmp(q)
}
