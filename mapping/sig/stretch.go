package sig

import (
	"strings"

	"weir.example/weir/mapping/quantity"
)

// underCondition: "hold if CK > 1000": the word belongs to a condition.
func (r *reader) underCondition(i int) bool {
	for k := i - 1; k >= 0 && k >= i-2*reach && !r.items[k].is(",", ";", ".", "("); k-- {
		if r.items[k].is("if") {
			return true
		}
	}
	return false
}

// endMonitoring ends the stretch that began at item i at the comma after
// which something else is said: a condition, a cycle, an amount given, a
// route.
func (r *reader) endMonitoring(i int) {
	for k := i; k < len(r.items) && r.items[k].scope == "monitoring"; k++ {
		if !r.items[k].is(",") || r.monitorsOn(k+1) {
			continue
		}
		for ; k < len(r.items) && r.items[k].scope == "monitoring"; k++ {
			r.items[k].scope = ""
		}
		return
	}
}

// monitorsOn: the clause from item i on still speaks of monitoring.
func (r *reader) monitorsOn(i int) bool {
	on := true
	for k := i; k < len(r.items) && !r.items[k].is(",") && !r.endsSentence(k); k++ {
		switch x := r.items[k]; {
		case x.is("monitor"):
			return true
		case x.is("if", "{cycle}", "over", "start", "end") && k <= i+reach, x.class == "route",
			x.kind == amount && (isDrug(r.whole(x)) || x.dim() == volumeDim || x.dim() == flow):
			on = false
		}
	}
	return on
}

// flushSentence: a sentence of nothing but a name, strengths and volumes up
// to the word is about the flush as a whole ("heparin 100 units/mL, 3 mL to
// lock").
func (r *reader) flushSentence(from int) {
	start := from
	for start > 0 && start > from-2*reach && !r.endsSentence(start-1) {
		x := r.items[start-1]
		if x.scope != "" && x.scope != "flush" || !(x.kind == unknown || x.kind == silent || x.class == "diluent" || x.class == "flush" || x.is(",", "to", ":") ||
			x.kind == amount && (r.isVolume(start-1) || isDrug(x.dim().Times(volumeDim)))) {
			return
		}
		start--
	}
	if !r.endsSentence(start - 1) {
		return
	}
	for k := start; k < from; k++ {
		if r.items[k].kind != unknown {
			r.items[k].scope = "flush"
		}
	}
}

// otherwise: a clause that gives another dose under a condition ("2 g q8h;
// 1 g q12h if CrCl < 50") is an alternative.
func (r *reader) otherwise(i int) {
	if !orders[r.tokens[r.items[i].from].lower] {
		return
	}
	from, _ := r.clause(i)
	dose, earlier := false, false
	for k := max(0, i-8*reach); k < i; k++ {
		if x := r.items[k]; x.kind == amount && x.scope == "" && isDrug(r.whole(x)) {
			dose, earlier = dose || k >= from, earlier || k < from
		}
	}
	for k := from; k < i && dose && earlier; k++ {
		r.items[k].scope = "alternative"
	}
}

// orders are the words of a condition under which something else is given.
var orders = map[string]bool{"if": true, "when": true, "unless": true, "whenever": true}

// addsDrug: the name at item from, of the amount at item i, is joined to a
// statement that is complete with its pace, or has a pace of its own where
// how the first is given has been said.
func (r *reader) addsDrug(from, i int) bool {
	joint := r.item(from - 1)
	if joint.is("then") {
		return true
	}
	if !(joint.is("with", "&", ",") || joint.kind == silent && r.tokens[joint.from].lower == "and") {
		return false
	}
	paces := func(k int) bool {
		return r.items[k].class == "interval" || r.items[k].class == "perDay" || r.items[k].is("every") || r.items[k].class == "civi" || r.items[k].class == "continuous"
	}
	paced, timed := false, false
	for k := from - 2; k >= 0 && k >= from-2*reach && !r.endsSentence(k); k-- {
		paced, timed = paced || paces(k), timed || r.isTime(k)
	}
	if paced && !joint.is(",") {
		return true
	}
	for k := i + 1; k < len(r.items) && k <= i+reach && !r.endsSentence(k) && !r.items[k].is(","); k++ {
		if paces(k) && (paced || timed) {
			return true
		}
	}
	return false
}

// opensPart: "remainder over 2 hours", "remaining 750 mL"; not "11 days
// remaining".
func (r *reader) opensPart(i int) bool {
	n := r.item(r.next(i))
	return n.kind == amount && !n.is(",") || n.is("over", "at", "for", "in", "within")
}

// watched: a laboratory word in a clause of nothing but how often ("levels
// weekly").
func (r *reader) watched(i int) bool {
	from, to := r.clause(i)
	paced := false
	for k := from; k < to; k++ {
		x := r.items[k]
		paced = paced || r.isPace(k)
		if x.kind == count && !r.ordinal(k) || x.kind == amount && !r.isTime(k) || x.class == "route" {
			return false
		}
	}
	return paced
}

// watchedSentence: a sentence with a laboratory word and no amount speaks of
// the draws.
func (r *reader) watchedSentence(i int) bool {
	from, to := i, i
	for from > 0 && from > i-2*reach && !r.endsSentence(from-1) {
		from--
	}
	for to < len(r.items) && to < i+2*reach && !r.endsSentence(to) {
		to++
	}
	watched := false
	for k := from; k < to; k++ {
		switch x := r.items[k]; {
		case x.kind == amount && x.scope == "" && (isDrug(r.whole(x)) || x.dim() == volumeDim || x.dim() == flow), x.class == "route":
			return false
		case k < i && (x.is("laboratory") || strings.HasPrefix(lower(r.text(k, k+1)), "trough")):
			watched = true
		}
	}
	return watched
}

// ordinal: "4th".
func (r *reader) ordinal(k int) bool {
	next := r.items[k].to
	return next < len(r.tokens) && r.tokens[next].glued && strings.Contains(" st nd rd th ", " "+r.tokens[next].lower+" ")
}

// clause is the stretch between marks around item i, half open.
func (r *reader) clause(i int) (from, to int) {
	ends := func(k int) bool { return r.items[k].is(",", "(", ")") || r.endsSentence(k) }
	for from = i; from > 0 && from > i-2*reach && !ends(from-1); {
		from--
	}
	for to = i + 1; to < len(r.items) && to < i+2*reach && !ends(to); {
		to++
	}
	return from, to
}

func (r *reader) isPace(k int) bool {
	x := r.items[k]
	return x.class == "interval" || x.class == "perDay" || x.class == "perWeek" || x.class == "weekday" || x.class == "per" || x.kind == cue && x.meaning == "every"
}

// strayPace: how often something is done that the words do not make known
// ("physiotherapy weekly"), after the pace of the infusion.
func (r *reader) strayPace(i int) bool {
	if r.watchedSentence(i) {
		return true
	}
	from, to := r.clause(i)
	strange := false
	for k := from; k < to; k++ {
		x := r.items[k]
		switch {
		case x.kind == amount && !r.isTime(k), x.class == "route", x.is("over", "for", "maximum", "divided"), x.class == "continuous", x.class == "prn", x.class == "device":
			return false
		case x.kind == unknown || x.is("monitor", "laboratory"):
			strange = true
		}
	}
	if !strange {
		return false
	}
	return r.pacedAt < from
}

// conditional: a second dose with a condition of its own ("2 g q8h, 3 g post
// dialysis") is not the dose.
func (r *reader) conditional(i int) bool {
	n := r.item(r.next(i))
	if !n.is("before", "after", "accompany", "if") || n.is("before") && r.beforeDay(r.next(i)) {
		return false
	}
	for k := i - 1; k >= 0 && k >= i-8*reach && r.items[k].phase == r.items[i].phase; k-- {
		x := r.items[k]
		if role, read := r.roles[k]; read && role == "" && x.kind == amount && x.code == r.items[i].code && x.low != r.items[i].low {
			return true
		}
	}
	return false
}

// afterPrevious: what the clause says is of the order before this one.
func (r *reader) afterPrevious(i int) bool {
	for k := i - 1; k >= 0 && k >= i-reach && !r.items[k].is(",", ";", ".", ")", "(", "to", "then") && !r.items[k].odd; k-- {
		if r.items[k].is("previous") {
			return true
		}
	}
	return false
}

// strayName: an unknown word stands right before the rate at item i that is
// not the name the directions begin with ("plateau 162 mL/h").
func (r *reader) strayName(i int) bool {
	from := r.nameBefore(i)
	if from == i || r.deviceBefore(i) != "" {
		return false
	}
	k := from - 1
	for k >= 0 && k >= from-2*reach && r.items[k].kind == silent {
		k--
	}
	return k >= 0 && !r.items[k].is(";", ".", ":")
}

// scopeBack takes the volume, strength and fluid just before item from into
// the scope: "NS 500 mL prehydration".
func (r *reader) scopeBack(from int, scope string) {
	for i := from - 1; i >= 0 && i >= from-reach; i-- {
		x := r.items[i]
		takes := x.class == "diluent" || x.class == "flush" || x.kind == silent || x.kind == amount && (r.isVolume(i) || isDrug(x.dim().Times(volumeDim)))
		if !takes || x.scope != "" {
			return
		}
		r.items[i].scope = scope
	}
}

// tapered: the text tells a taper, and an infusion time of the whole before
// item i; a further time is that of one part.
func (r *reader) tapered(i int) bool {
	return r.tapers && r.wholeAt < i
}

// notes are what the stretches must know of the whole text: the first pace of
// the infusion, its first whole infusion time, how many volumes there are,
// and whether it tapers.
func (r *reader) notes() {
	r.pacedAt, r.wholeAt = len(r.items), len(r.items)
	for i, x := range r.items {
		if i < r.pacedAt && x.scope == "" && r.isPace(i) {
			r.pacedAt = i
		}
		if i < r.wholeAt && r.isTime(i) && r.item(r.leadAt(i)).is("over", "cycle") {
			r.wholeAt = i
		}
		if x.scope == "" && r.isVolume(i) {
			r.volumes++
		}
		r.tapers = r.tapers || x.is("up", "down", "taper")
	}
}

// isAlternative: "or 12 g over 24 h" after an amount of the same kind offers
// a choice; neither side may pass for the order's second number. A choice of
// routes or a range ("1 or 2 g") is none.
func (r *reader) isAlternative(i int) bool {
	if r.items[i].kind != silent || r.tokens[r.items[i].from].lower != "or" {
		return false
	}
	k := r.next(i)
	for n := k; k < len(r.items) && k < n+3 && r.items[k].kind == unknown; k++ { // "or cefoxitin 1 g"
	}
	x := r.item(k)
	given := func(x item) bool {
		d := r.whole(x)
		return x.kind == amount && (isDrug(d) || isDrug(d.Times(quantity.Time)) || d == flow)
	}
	for k := i - 1; given(x) && k >= 0 && k >= i-4*reach; k-- {
		if given(r.items[k]) {
			return true
		}
	}
	return false
}
