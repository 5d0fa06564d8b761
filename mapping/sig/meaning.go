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
	limited := lead == "maximum" || lead == "less" && !r.negated(at)
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
		if r.items[k].is("not") {
			return true
		}
	}
	return false
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
	case r.byBody(i, "/kg"):
		return "dosingWeight", ""
	}
	return "", ""
}

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
	case lead == "rounding":
		return "", "unclear", a.code
	case a.over != "":
		return r.perVolume(i)
	case isDrug(d) && byTime == "":
		field = "dose" + kind
		switch {
		case a.role == "daily" || lead == "totalDaily":
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
	switch {
	case lead == "test":
		return "test"
	case lead == "previous":
		return "previous"
	case lead == "demand" || r.pca && (lead == "loading" || after.is("demand", "loading")) && field == "dose":
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
		if i < r.first && (isDrug(d) || d == quantity.Volume) {
			r.first = i
		}
		r.byDay = r.byDay || timePart(x.code) == "d" && isDrug(d.Times(quantity.Time))
		if x.over == "" && isDrug(d) && x.dim() == d {
			r.doses[x.dim()]++
		}
	}
}

// ladder: rates each with a time ("30 mL/h x 30 min; 60 mL/h x 30 min") follow
// each other without a "then".
func (r *reader) ladder() {
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

// isComponent: an amount that is not the first of the directions and has a
// name of its own, or is added to what came before.
func (r *reader) isComponent(i int, lead string) bool {
	from := r.nameBefore(i)
	if lead == "with" && (r.first < i || r.item(r.leadAt(i)-1).class == "diluent") ||
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
