package sig

import (
	"unicode"

	"weir.example/weir/mapping/quantity"
)

// scopes marks the stretches that speak of something else than the infusion.
func (r *reader) scopes() {
	for i := range r.items {
		x := r.items[i]
		switch {
		case x.kind == term && x.class == "flush":
			r.scopeForward(i, "flush")
			r.scopeBack(i, "flush")
			r.flushSentence(i)
		case x.kind == cue && x.meaning == "premedication":
			r.scopeForward(i, "premedication")
			r.scopeBack(i, "premedication")
		case x.kind == cue && x.meaning == "titrate":
			r.scopeForward(i, "titration")
		case x.is("before") && r.isTime(i-1) && i > 1:
			r.premedicationBack(i)
		case x.is("monitor"):
			if x.scope == "" && !r.underCondition(i) {
				r.clauseScope(i, "monitoring")
			}
		case x.is("part") && r.opensPart(i):
			r.clauseScope(i, "step")
		case x.is("later"):
			r.scopeForward(i, "step")
		case x.is("otherMedicine"):
			r.scopeForward(i, "component")
		case x.is("supplies"):
			r.scopeForward(i, "supplies")
		case x.is("if"):
			r.otherwise(i)
		case x.is("laboratory") && x.scope == "" && r.watched(i) && !r.underCondition(i):
			r.clauseScope(i, "monitoring")
		case r.isAlternative(i):
			r.scopeForward(i, "alternative")
		case x.class == "pca":
			r.pca = true
		}
	}
	r.otherDrugs()
	for i := range r.items { // the word that opened the scope
		x := r.items[i]
		if x.class == "flush" {
			r.add("flush", x.meaning, "", "", i, i+1)
		}
		if x.kind == cue && x.meaning == "premedication" {
			r.add("premedication", "premedication", "", "", i, i+1)
		}
		if x.is("titrate", "part", "later", "otherMedicine", "supplies") {
			r.items[i].used = true
		}
		if x.is("monitor") && !x.used && x.scope == "monitoring" {
			r.add("monitoring", lower(r.text(i, i+1)), "", "", i, i+1)
		}
	}
}

// clauseScope marks the clause of item i, back to the last punctuation and
// forth to the end of the sentence.
func (r *reader) clauseScope(i int, scope string) {
	from := i
	for from > 0 && from > i-2*reach && !r.items[from-1].is(",", ";", ".", "(") && r.items[from-1].scope == "" {
		from--
	}
	if scope == "step" {
		for from > 0 && from > i-4*reach && !r.endsSentence(from-1) && r.items[from-1].scope == "" {
			from--
		}
	}
	for k := from; k < i; k++ {
		r.items[k].scope = scope
	}
	r.scopeForward(i, scope)
	if scope == "monitoring" {
		r.endMonitoring(i)
	}
}

// otherDrugs: a further sentence that names another drug with an amount of
// its own speaks of that one, and so does the rest of a sentence that adds
// one ("rifampin 600 mg q24h + vancomycin 1 g q12h") after a pace.
func (r *reader) otherDrugs() {
	own, start := "", 0
	for i := range r.items {
		if r.endsSentence(i) {
			start = i + 1
		}
		x := r.items[i]
		if d := r.whole(x); x.kind != amount || x.scope != "" || !isDrug(d) && (!isDrug(d.Times(quantity.Time)) || timePart(x.code) == "") {
			continue
		}
		from := r.nameBefore(i)
		name := lower(r.text(from, i))
		switch {
		case own == "" && from < i:
			own = name
		case own != "" && from < i && name != own && r.addsDrug(from, i):
			r.scopeForward(from, "component")
		case own == "" || from == i || name == own || start == 0 || from < start:
		default:
			r.items[from].scope = ""
			r.scopeForward(from, "component")
		}
	}
}

func (r *reader) endsSentence(i int) bool {
	return i < 0 || i >= len(r.items) || r.items[i].is(".", ";") && !r.afterUnit(i)
}

// afterUnit: the point of "250 ml." ends no sentence when what follows goes
// on in the same one.
func (r *reader) afterUnit(i int) bool {
	x := r.items[i]
	if x.meaning != "." || i == 0 || i+1 >= len(r.items) || r.items[i-1].kind != amount || r.tokens[x.from].kind != symbol || !r.tokens[x.from].glued {
		return false
	}
	first := r.runes[r.tokens[x.to].start]
	return r.items[i+1].class == "route" || unicode.IsLower(first) || isDigit(first)
}

// scopeForward runs to the end of the sentence, or to a "then" that is not
// followed by more of the same.
func (r *reader) scopeForward(from int, scope string) {
	for i := from; i < len(r.items) && !r.endsSentence(i); i++ {
		if r.items[i].scope != "" && i > from && r.items[i].scope != scope {
			return
		}
		if i > from && r.items[i].kind == cue && r.items[i].meaning == "then" && (scope != "flush" || !r.moreFlush(i)) {
			return
		}
		if r.items[i].scope == scope && i > from {
			return // that stretch is marked already
		}
		r.items[i].scope = scope
	}
}

func (r *reader) moreFlush(i int) bool {
	for k := i + 1; k < len(r.items) && k <= i+reach; k++ {
		x := r.items[k]
		if x.class == "flush" || x.kind == unknown && lower(r.text(k, k+1)) == "heparin" {
			return true
		}
	}
	return false
}

// premedicationBack: "diphenhydramine 25 mg PO 30 min before infusion" after
// the infusion's own amounts.
func (r *reader) premedicationBack(from int) {
	start, has := from, false
	for i := from - 1; i >= 0 && i >= from-2*reach && !r.items[i].is(",", ";", ".", "(") && r.items[i].scope == ""; i-- {
		start = i
		has = has || r.items[i].kind == amount && isDrug(r.items[i].dim())
	}
	earlier := false
	for i := start - 1; i >= 0 && i >= start-4*reach; i-- {
		earlier = earlier || r.items[i].kind == amount
	}
	if !has || !earlier {
		return
	}
	for i := start; i < len(r.items) && !r.endsSentence(i) && !r.items[i].is(","); i++ {
		r.items[i].scope = "premedication"
	}
}

// conditions takes whole clauses that say when, unless or not: their numbers
// belong to the condition.
func (r *reader) conditions() {
	for i := 0; i < len(r.items); i++ {
		x := r.items[i]
		if x.used || x.kind != cue && x.class != "tolerated" && x.class != "prn" {
			continue
		}
		to := i
		switch {
		case x.class == "tolerated" || x.is("accompany"):
			to = i + 1
		case x.class == "prn":
			i = r.reason(i)
			continue
		case x.is("if"), x.is("not") && !r.aboutLess(i):
			if to = r.clauseEnd(i); to == i+1 {
				to = i // "no" alone says nothing that can be relied on
			}
		case x.is("end") && r.opensCondition(i):
			to = r.clauseEnd(i)
		case x.is("before", "after") && !r.beforeDay(i) && !r.item(i+1).is("test", "loading"):
			to = r.clauseBeforeCue(i)
			if r.isTime(i-1) && !r.items[i-1].used && !r.item(r.leadAt(i-1)).is("over", "for", "every") {
				i--
			}
		case x.is("laboratory"):
			to = r.labEnd(i)
			if to > i {
				r.add("condition", r.text(i, to), "", "laboratory", i, to)
				i = to - 1
				continue
			}
		}
		if to > i {
			r.add("condition", r.text(i, to), "", "", i, to)
			for k := i; k < to; k++ {
				r.items[k].aside = true
			}
			i = to - 1
		}
	}
	r.titrateTo()
}

// aboutLess: "do not infuse over less than 60 min" states a minimum.
func (r *reader) aboutLess(i int) bool {
	for k := i + 1; k < len(r.items) && k <= i+reach; k++ {
		if r.items[k].is("less") {
			r.items[i].used = true
			return true
		}
	}
	return false
}

// opensCondition: "until" without a day ("until complete").
func (r *reader) opensCondition(i int) bool {
	first := r.tokens[r.items[i].from].lower
	if first != "until" && first != "til" && first != "till" {
		return false
	}
	n := r.item(r.next(i))
	return n.kind == unknown || n.kind == cue || n.kind == term && n.class != "weekday"
}

func (r *reader) beforeDay(i int) bool {
	n := r.item(r.next(i))
	return n.kind == date || n.kind == amount || n.kind == mark && r.items[i].to-r.items[i].from == 1
}

func (r *reader) clauseEnd(i int) int {
	to := i + 1
	for to < len(r.items) && !r.items[to].is(".", ";", ",", ")") && !(r.items[to].kind == cue && r.items[to].meaning == "then") {
		to++
	}
	return r.trim(i, to)
}

// startsStatement: classes of terms that begin another statement.
var startsStatement = map[string]bool{"route": true, "weekday": true, "interval": true, "perDay": true, "prn": true, "device": true, "times": true, "perWeek": true}

// clauseBeforeCue ends also at a word that begins another statement.
func (r *reader) clauseBeforeCue(i int) int {
	to := i + 1
	for to < len(r.items) && !r.items[to].is(".", ";", ",", ")", "(", "over", "for", "at", "in", "then", "maximum", "before", "after") && (to == i+1 || !r.items[to].is("start", "end")) &&
		(!r.items[to].is("every") || r.tokens[r.items[to].from].lower == "each") && r.items[to].kind != amount && r.items[to].kind != clock && !startsStatement[r.items[to].class] && !(r.items[to].kind == count && r.item(to+1).class == "timesWord") {
		to++
	}
	return r.trim(i, to)
}

var joining = map[string]bool{"and": true, "on": true, "or": true, "via": true, "by": true, "into": true}

// trim leaves off joining words and marks at the end.
func (r *reader) trim(i, to int) int {
	for to > i+1 && (r.items[to-1].kind == silent && r.items[to-1].class != "unit" && joining[r.tokens[r.items[to-1].from].lower] || r.items[to-1].kind == mark) {
		to--
	}
	return to
}

// labEnd is behind the value a laboratory word is given with.
func (r *reader) labEnd(i int) int {
	for k := i + 1; k < len(r.items) && k <= i+reach; k++ {
		x := r.items[k]
		switch {
		case r.isTime(k), x.kind == amount && isDrug(r.whole(x).Times(quantity.Time)): // a goal of the dose, a time of the draw
			return i
		case x.kind == count && r.item(k+1).is("/"): // "trough 12/1": a day
			return i
		case x.kind == amount || x.kind == count:
			return k + 1
		case x.kind == silent, x.is("laboratory", "maximum", "minimum", "<", ">", "=", ":", "~", "less", "more"), x.kind == term && x.class == "noun":
		default:
			return i
		}
	}
	return i
}

// reason reads "as needed" and what it is needed for. It returns the last
// item read.
func (r *reader) reason(i int) int {
	r.add("as-needed", "true", "", "", i, i+1)
	from := i + 1
	k := from
	if r.item(k).is("for") {
		k++
	}
	to := k
	for to < len(r.items) && (r.items[to].kind == unknown || r.items[to].kind == silent && r.items[to].class != "unit" || r.items[to].is("/", "-") || r.items[to].is("weight", "laboratory") && r.item(to+1).kind == unknown) {
		to++
	}
	if to > k && r.compares(to) { // "output > 2 L"
		return r.reasonWith(from, to+2)
	}
	to = r.trim(from, to)
	if to > k && (r.items[k].kind == unknown || r.items[k].is("weight", "laboratory")) {
		r.add("condition", r.text(from, to), "", "", from, to)
		return to - 1
	}
	return i
}

// compares: a sign of comparison and its number at item i.
func (r *reader) compares(i int) bool {
	sign := r.item(i)
	if !sign.is("less", "more") && !(sign.is("minimum", "maximum", "<", ">") && r.tokens[sign.from].kind == symbol) {
		return false
	}
	return (r.item(i+1).kind == amount || r.item(i+1).kind == count)
}

func (r *reader) reasonWith(from, to int) int {
	r.add("condition", r.text(from, to), "", "", from, to)
	return to - 1
}

// titrateTo: "titrate to pain".
func (r *reader) titrateTo() {
	for i := range r.items {
		if r.items[i].scope == "titration" && r.items[i].is("to") && r.item(i+1).kind == unknown {
			to := i + 1
			for to < len(r.items) && (r.items[to].kind == unknown || r.items[to].is("-", "/")) {
				to++
			}
			r.add("condition", r.text(i, to), "", "", i, to)
		}
	}
}
