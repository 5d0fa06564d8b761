package sig

import (
	"slices"
	"strings"

	"weir.example/weir/mapping/quantity"
)

var (
	volumeDim = quantity.Volume
	flow      = quantity.Volume.Per(quantity.Time)
	drugs     = []quantity.Dimension{quantity.Mass, quantity.International, quantity.Pharmacopeial, quantity.Enzyme, quantity.Equivalent, quantity.Amount, quantity.Energy}
)

// isDrug: a dimension a drug is measured in.
func isDrug(d quantity.Dimension) bool { return slices.Contains(drugs, d) }

// whole is the dimension of what is given: without "per kg", "per m2".
func (r *reader) whole(x item) quantity.Dimension {
	if x.code == "kg" || x.code == "[lb_av]" {
		return quantity.BodyMass // a weight, never a dose
	}
	d := x.dim()
	if strings.Contains(x.code, "/kg") {
		d = d.Times(quantity.Mass)
	}
	if strings.Contains(x.code, "/m2") {
		d = d.Times(quantity.Area)
	}
	return d
}

func (r *reader) isVolume(i int) bool {
	return i >= 0 && i < len(r.items) && r.items[i].kind == amount && r.items[i].dim() == quantity.Volume
}

func (r *reader) isTime(i int) bool {
	return i >= 0 && i < len(r.items) && r.items[i].kind == amount && r.items[i].dim() == quantity.Time
}

// timePart is the unit of time a code ends in, "" for none.
func timePart(code string) string {
	parts := strings.Split(code, "/")
	if last := parts[len(parts)-1]; len(parts) > 1 && slices.Contains([]string{"s", "min", "h", "d", "wk", "mo"}, last) {
		return last
	}
	return ""
}

// amountMeaning gives an amount its field from its dimension and the words
// around it. at is the item of the cue that leads it, -1 for none.
func (r *reader) amountMeaning(i int, lead string, at int) (field, role, unit string) {
	a := r.items[i]
	d := r.whole(a)
	limited := lead == "maximum" || lead == "less" && !r.negated(at) || r.maximumAfter(i)
	switch {
	case d == quantity.Time && !strings.Contains(a.code, "/"):
		field, role = r.timeMeaning(i, lead, at)
	case limited:
		field, role = "maximum", "maximum"
	case r.moreOfMaximum(i):
		field, role = "maximum", "maximum"
	case a.code == "kg" || a.code == "[lb_av]":
		field, role = r.weightMeaning(i, lead)
	case a.code == "m2":
		if lead == "surface" || r.byBody(i, "/m2") {
			field = "bodySurfaceArea"
		}
	case a.code == "%":
		if p := r.item(i - 1); p.kind == unknown || p.class == "diluent" {
			field, role = "concentration", "percent"
		}
	case a.dim() == quantity.Volume && a.role == "daily":
		return "dailyVolume", "", a.code + "/d"
	case a.dim() == quantity.Volume:
		field, role = r.volumeMeaning(i, lead)
	case d == flow:
		field, role = r.flowMeaning(i, lead)
	case d == quantity.Drop.Per(quantity.Volume):
		field, role = "dropFactor", "device"
	case d == quantity.Drop.Per(quantity.Time):
		field = "dropRate"
	case d == quantity.Drop:
		field, role = "dose", ""
	default:
		return r.drugMeaning(i, lead)
	}
	return field, role, a.code
}

// negated: "not" stands before the cue, in the same clause.
func (r *reader) negated(at int) bool {
	for k := at; k >= 0 && k >= at-reach && !r.items[k].is(".", ";", ","); k-- {
		if r.items[k].is("not") || r.items[k].is("maximum") && strings.Contains(lower(r.text(k, k+1)), "not") {
			return true
		}
	}
	return false
}

// maximumAfter: "5 days max" with nothing behind that the word could lead.
func (r *reader) maximumAfter(i int) bool {
	n := r.item(i + 1)
	if n.kind != cue || n.meaning != "maximum" || r.tokens[n.from].kind != word {
		return false
	}
	if after := r.item(r.next(i + 1)); after.kind == amount || after.kind == count || after.is(":", "=") {
		return false
	}
	r.items[i+1].used = true
	return true
}

// moreOfMaximum: "max 2 g per dose, 8 g per day".
func (r *reader) moreOfMaximum(i int) bool {
	a := r.items[i]
	if timePart(a.code) != "d" || !(r.item(i-1).is(",") || r.item(i-1).kind == silent) {
		return false
	}
	return r.roles[i-1] == "maximum" || r.roles[i-2] == "maximum"
}

func (r *reader) weightMeaning(i int, lead string) (field, role string) {
	switch {
	case lead == "weight":
		return "dosingWeight", ""
	case lead == "idealWeight":
		return "idealBodyWeight", ""
	case lead == "adjustedWeight":
		return "adjustedBodyWeight", ""
	case r.byBody(i, "/kg"), ofPerson[strings.ToLower(r.text(i-1, i))]:
		return "dosingWeight", ""
	}
	return "", ""
}

// ofPerson are words right before a weight that is the patient's.
var ofPerson = map[string]bool{"pt": true, "patient": true, "infant": true, "neonate": true, "child": true, "adult": true, "newborn": true}

// byBody: "5 mg/kg x 70 kg", "5 mg/kg (70 kg)".
func (r *reader) byBody(i int, per string) bool {
	p := r.item(i - 1)
	q := r.item(i - 2)
	return (p.is("for", "(", "*", "at", "=")) && q.kind == amount && (strings.Contains(q.code, per) || per == "/kg" && r.roles[i-2] == "weight")
}

// drugMeaning reads what is measured in mass, units, equivalents or moles.
func (r *reader) drugMeaning(i int, lead string) (field, role, unit string) {
	a := r.items[i]
	d, unit := r.whole(a), a.code
	kind := ""
	switch {
	case strings.Contains(a.code, "/kg"):
		kind = "PerKg"
	case strings.Contains(a.code, "/m2"):
		kind = "PerArea"
	}
	byTime := timePart(a.code)
	switch {
	case lead == "rounding", r.conditional(i), r.unitGoesOn(i), r.ofVial(i), r.item(i-1).kind == unknown && r.item(i-1).aside:
		return "", "unclear", a.code
	case a.over != "":
		return r.perVolume(i)
	case isDrug(d) && byTime == "":
		field = "dose" + kind
		switch {
		case a.role == "daily" || lead == "totalDaily" || r.totalPerDay(i):
			field, unit = "dailyDose"+kind, a.code+"/d"
		case r.dividedAfter(i): // of what, is not said: "6 g divided q8h"
			return "", "unclear", a.code
		}
	case isDrug(d.Times(quantity.Volume)) && kind == "":
		field = "concentration"
	case isDrug(d.Times(quantity.Time)) && byTime == "d":
		field = "dailyDose" + kind
	case isDrug(d.Times(quantity.Time)) && byTime != "" && byTime != "wk" && byTime != "mo":
		field = "drugRate" + kind
	default:
		return "", "unclear", a.code
	}
	return field, r.drugRole(i, lead, field), unit
}

// drugRole says what a dose is when it is not simply the dose.
func (r *reader) drugRole(i int, lead, field string) string {
	a, n := r.items[i], r.next(i)
	if r.item(n).class == "route" {
		n = r.next(n) // "4.5 g IV loading dose"
	}
	after := r.item(n)
	if after.is("loading", "basal", "demand") && (n+1 >= len(r.items) || r.item(r.next(n)).kind != amount) {
		r.items[n].used = true
	}
	bracketed := r.item(i-1).is("(", "=")
	switch {
	case bracketed && r.item(i-2).kind == cue && r.item(i-2).is("loading") && r.item(i-2).used:
		return "loading" // "25 mg/kg IV load (1,750 mg)"
	case bracketed && (r.roles[i-2] == "loading" || r.roles[i-2] == "test" || r.roles[i-2] == "previous"):
		return r.roles[i-2] // "load 25 mg/kg (2 g)"
	case lead == "test" || after.is("test"):
		r.useNext(i, "test")
		return "test"
	case lead == "previous":
		return "previous"
	case lead == "demand" || after.is("demand") || (r.pca || r.onDemand(i)) && field == "dose" && (lead == "loading" && r.isBolus(i) || after.is("loading") && strings.HasPrefix(lower(r.text(n, n+1)), "bolus")):
		r.useNext(i, "demand", "loading")
		return "demand"
	case lead == "basal" || after.is("basal"):
		r.useNext(i, "basal")
		return "basal"
	case lead == "loading" || after.kind == cue && after.is("loading") && r.items[n].used:
		return "loading"
	case lead == "minimum" || lead == "more":
		return "minimum"
	case lead == "course" || after.is("course"), (lead == "total" || after.kind == cue && after.meaning == "total") && r.byDay && strings.HasPrefix(field, "dose"):
		r.useNext(i, "course")
		return "course"
	case (strings.HasPrefix(field, "dose") || field == "concentration" && r.doses[a.dim().Times(quantity.Volume)] == 0) && r.isComponent(i, lead):
		return "component"
	}
	return ""
}

// unitGoesOn: "20 mg PE/kg": the unit is not read to its end.
func (r *reader) unitGoesOn(i int) bool {
	if p := r.item(i + 2); r.item(i+1).kind == unknown && p.kind == silent && r.tokens[p.from].lower == "per" && r.item(i+3).kind == unknown {
		return true // "20 mEq KCl per liter"
	}
	return r.item(i+1).is("/") || r.item(i+1).kind == unknown && r.item(i+2).is("/") && r.tokens[r.items[i+2].from].glued && len(r.text(i+1, i+2)) < 4
}

// isBolus: the number at item i is led by the word bolus itself.
func (r *reader) isBolus(i int) bool {
	at := r.leadAt(i)
	return at >= 0 && strings.HasPrefix(r.tokens[r.items[at].from].lower, "bolus")
}

// onDemand: "bolus 25 mcg q30 min PRN" beside an infusion is a dose on demand,
// not one to begin with.
func (r *reader) onDemand(i int) bool {
	for k := i + 1; k < len(r.items) && k <= i+reach && !r.endsSentence(k) && !r.items[k].is(","); k++ {
		if r.items[k].is("every") || r.items[k].class == "prn" {
			return true
		}
	}
	return false
}

// ofVial: "two 1 g vials": what one vial holds.
func (r *reader) ofVial(i int) bool {
	return r.item(i+1).class == "noun" && r.item(i+1).meaning == "{vial}"
}

// totalPerDay: "13.5 g total per day".
func (r *reader) totalPerDay(i int) bool {
	n, per := r.item(i+1), r.item(i+2)
	if n.kind != cue || n.meaning != "total" || per.class != "per" || per.meaning != "d" {
		return false
	}
	r.items[i+1].used, r.items[i+2].used = true, true
	return true
}

// dividedAfter: "divided" follows in the same clause.
func (r *reader) dividedAfter(i int) bool {
	for k := i + 1; k < len(r.items) && k <= i+reach && !r.items[k].is(",", ";", ".", "("); k++ {
		if r.items[k].is("divided") {
			r.items[k].used = true
			return true
		}
	}
	return false
}

// survey notes what a reader further on must know of the whole text: the
// first amount of the infusion, whether a dose per day is stated (a total is
// then that of the course), and the doses by dimension.
func (r *reader) survey() {
	r.first, r.doses = len(r.items), map[quantity.Dimension]int{}
	r.ladder()
	for i, x := range r.items {
		if x.kind != amount || x.scope != "" {
			continue
		}
		d := r.whole(x)
		if i < r.first && (isDrug(d) || isDrug(d.Times(quantity.Time)) && timePart(x.code) != "" || d == quantity.Volume && (r.nameBefore(i) < i || r.item(i-1).class == "diluent" || r.item(r.next(i)).class == "diluent")) {
			r.first = i
		}
		r.byDay = r.byDay || timePart(x.code) == "d" && isDrug(d.Times(quantity.Time))
		if x.over == "" && isDrug(d) && x.dim() == d {
			r.doses[x.dim()]++
		}
	}
}

// ladder: rates each with a time ("30 mL/h x 30 min; 60 mL/h x 30 min") follow
// each other without a "then", and so do doses ("10 mg daily x 7 d, 5 mg
// daily x 7 d").
func (r *reader) ladder() {
	r.doseLadder()
	rungs := []int{}
	for i, x := range r.items {
		if x.kind == amount && r.whole(x) == flow && r.item(r.next(i)).is("for") && r.isTime(r.next(i)+1) {
			rungs = append(rungs, i)
		}
	}
	if len(rungs) < 2 {
		return
	}
	phase := r.items[rungs[0]].phase
	for i := rungs[0]; i < len(r.items); i++ {
		if r.items[i].kind == amount && r.whole(r.items[i]) == flow {
			phase++
		}
		r.items[i].phase = phase
	}
}

// doseLadder counts a phase for each dose that has its own number of days.
func (r *reader) doseLadder() {
	rungs := []int{}
	for i, x := range r.items {
		if x.kind != amount || x.scope != "" || x.dim() == quantity.Time || !isDrug(r.whole(x)) || len(rungs) > 0 && r.items[rungs[0]].code != x.code {
			continue
		}
		for k := i + 1; k+1 < len(r.items) && k <= i+reach && !r.items[k].is(",") && !r.endsSentence(k); k++ {
			if r.items[k].is("for") && r.isTime(k+1) && isLong(r.items[k+1].code) {
				rungs = append(rungs, i)
				break
			}
		}
	}
	added := 0
	for n := 1; n < len(rungs); n++ {
		end := len(r.items)
		if n+1 < len(rungs) {
			end = rungs[n+1]
		}
		if r.items[rungs[n]].phase+added <= r.items[rungs[n-1]].phase { // no "then" between
			added++
		}
		for k := rungs[n]; k < end; k++ {
			r.items[k].phase += added
		}
	}
	r.phase += added
}

// isComponent: an amount that is not the first of the directions and has a
// name of its own, or is added to what came before.
func (r *reader) isComponent(i int, lead string) bool {
	from := r.nameBefore(i)
	if p := i - 2; (r.item(i-1).is(",") || r.item(i-1).kind == silent && r.tokens[r.items[i-1].from].lower == "and") && from == i {
		for p > 0 && p > i-reach && r.items[p].kind == unknown {
			p--
		}
		if r.roles[p] == "component" {
			return true // "20 units insulin, 40 mEq KCl"
		}
	}
	if own := r.nameBefore(r.first); own < r.first && from < i && lower(r.text(own, r.first)) == lower(r.text(from, i)) {
		return false // the infusion's own drug named again
	}
	if at := r.leadAt(i); lead == "with" && r.first < i && r.item(at-1).kind == unknown && r.endsSentence(at-2) {
		return false // "…; bridge with 100 mcg": a new statement
	}
	if lead == "with" && (r.first < i || r.item(r.leadAt(i)-1).class == "diluent" || r.item(r.leadAt(i)-1).kind == unknown) ||
		from < i && r.item(from-1).is("with") && (r.first < i || r.item(from-2).class == "diluent") {
		return true
	}
	if r.first >= i {
		return false
	}
	return from < i && !r.item(from-1).is(";", ".")
}

// perVolume reads "2 g/100 mL": a strength where another dose is stated,
// else the dose and the volume it is in.
func (r *reader) perVolume(i int) (field, role, unit string) {
	a := r.items[i]
	if r.doses[a.dim().Times(quantity.Volume)] > 0 {
		return "concentration", "", a.code
	}
	if a.odd || a.isRange() {
		return "", "unclear", a.code
	}
	code := strings.TrimSuffix(a.code, "/("+a.over+"."+a.overUnit+")")
	if role = r.drugRole(i, "", "dose"); role == "component" {
		return "concentration", "component", a.code
	}
	x := r.add("dose", a.low, code, role, i, i+1)
	r.narrow(x, a.from, a.to-3)
	y := r.add("volume", a.over, a.overUnit, "in", i, i+1)
	r.narrow(y, a.to-2, a.to)
	return "split", "", ""
}

// narrow puts a reading on the tokens from…to.
func (r *reader) narrow(x *reading, from, to int) {
	if from >= to || from < 0 || to > len(r.tokens) {
		return
	}
	x.Place.Span = [2]int{r.tokens[from].start, r.tokens[to-1].end}
	x.Words = string(r.runes[x.Place.Span[0]:x.Place.Span[1]])
}
