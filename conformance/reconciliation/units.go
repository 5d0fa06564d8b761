package reconciliation

import (
	"slices"
	"strings"
	"time"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/plan"
	"weir.example/weir/mapping/quantity"
)

// labelDiffers: row m6. What a unit holds, by its record, and what its label
// says, against the order as it stands. Units at home of an older form of the
// order are row m7.
func labelDiffers(p *pair) (a answer) {
	if !p.inForce() {
		return a
	}
	told, _ := p.compared()
	units, mixture := 0, len(told) > 0 // component by component, by row m22
	for _, l := range p.stock.lots {
		if l.where == plan.AtHome || mixture && l.unit.Drug == "" {
			continue
		}
		other, unread := p.contents(l)
		switch {
		case other != "":
			a.found("nightly-label-differs", p.lotPlace(l), counted(l.units, "unit", "units")+lotWords(l.name)+" "+p.whereWords(l.where)+": "+other, "contents and label of the order as it stands")
			units += l.units
		case unread != "":
			a.lacking("nightly-label-differs", "contents of a prepared unit", "of prepared units"+lotWords(l.name)+" it is not on record "+unread+": read the label")
		}
	}
	for _, x := range p.held.Labels {
		if l := slices.IndexFunc(p.stock.lots, func(l lot) bool { return l.name == x.Lot && l.where == plan.AtHome }); l >= 0 && x.Lot != "" {
			continue
		}
		if says := p.labelSays(x); says != "" {
			place := x.Place
			if place.Expression == "" {
				place = p.place()
			}
			a.found("nightly-label-differs", place, "label"+lotWords(x.Lot)+": "+says, "the numbers of the order as it stands")
			units++
		}
	}
	if units > 0 {
		now := p.clock()
		a.ask("dispatch-block", now, "a prepared unit does not carry the order as it stands")
		a.ask("quarantine-pharmacist", now, "made for another form of the order: make again, or label again by policy")
	}
	return a
}

// contents says what of a lot differs from the order as it stands, and what of
// it cannot be compared.
func (p *pair) contents(l lot) (other, unread string) {
	v := p.current()
	if l.unit.Drug == "" && l.unit.Strength.Absent() {
		return plan.Differs(l.drug, v.order.Drug, v.numbers())
	}
	if l.unit.Drug != "" && !v.isOf(l.unit.Drug) {
		return "is of " + l.unit.Drug, ""
	}
	other, compared := v.numbersDiffer([]labelled{{"dose", l.unit.Strength}, {"volume", l.unit.Volume}}, filled)
	if other == "" && !compared {
		unread = "how much it holds"
	}
	return other, unread
}

// isOf: a generic name is that of the order, by its document or our tables.
func (v *version) isOf(name string) bool {
	return compendium.Fold(name) == compendium.Fold(drugName(v.order)) || compendium.Fold(name) == compendium.Fold(v.sheetDrug())
}

func (v *version) sheetDrug() string {
	if v.sheet == nil {
		return ""
	}
	return v.sheet.Order.Drug
}

type labelled struct {
	name string
	q    quantity.Quantity
}

func (p *pair) labelSays(x Label) string {
	v := p.current()
	if x.Drug != "" && !v.isOf(x.Drug) {
		return "drug " + x.Drug + ", order " + drugName(v.order)
	}
	says, _ := v.numbersDiffer([]labelled{{"dose", x.Dose}, {"volume", x.Volume}, {"concentration", x.Concentration}, {"rate", x.Rate}}, printed)
	return says
}

// How far a number may be from the settled one, as a fraction of it: what
// rounding makes of a label, and what overfill or a rounded dose makes of a
// unit. Common practice, no source; the second is that of planning.
var (
	printed = quantity.Ratio(1, 200)
	filled  = quantity.Ratio(1, 20)
)

// numbersDiffer compares numbers with the settled ones, and says whether any
// could be compared.
func (v *version) numbersDiffer(list []labelled, within quantity.Number) (says string, compared bool) {
	var out []string
	for _, x := range list {
		q, ok := v.numbers()[x.name]
		if x.q.Absent() || !ok || q.Unit.IsZero() {
			continue
		}
		compared = true
		if in, err := x.q.In(q.Unit); err != nil || q.Disputed || !near(in.Low, q.Value, within) {
			out = append(out, notation.Name(x.name)+" "+plain(x.q)+", order "+words(q, true))
		}
	}
	return strings.Join(out, "; "), compared
}

func near(have, want, within quantity.Number) bool {
	if want.Sign() == 0 {
		return have.Sign() == 0
	}
	return !within.Less(have.Quo(want).Sub(quantity.Int(1)).Abs())
}

func (p *pair) lotPlace(l lot) finding.Place {
	if l.at.Expression != "" {
		return l.at
	}
	return p.place()
}

func lotWords(name string) string {
	if name == "" {
		return " without a lot on record"
	}
	return " of lot `" + name + "`"
}

func (p *pair) whereWords(where plan.EventPlace) string {
	return map[plan.EventPlace]string{plan.InPharmacy: "in the pharmacy", plan.OnTheWay: "on the way", plan.AtHome: "at home"}[where]
}

// surplusAtHome: row m7. Units of an order that is no longer given, or of an
// older form of it; and more than the doses until the next arrival, beyond
// the tolerance: doses were left out, or a delivery came twice.
func surplusAtHome(p *pair) (a answer) {
	s := p.stock
	if s.most == 0 || p.now == nil && p.state != Absent {
		return a
	}
	c := p.planned()
	old := func(n int, why string) {
		a.found("nightly-surplus-at-home", p.place(), counted(n, "unit", "units")+" at home ("+s.says+") "+why, "no unit at home that may not be given")
		a.ask("call-patient", p.beforeNext(), "set "+counted(n, "unit", "units")+" apart and start none of them")
		a.ask("quarantine-patient", p.beforeNext(), counted(n, "unit", "units")+" at home "+why)
		a.ask("fetch-back", p.fetch(), counted(n, "unit", "units")+" at home "+why)
	}
	if p.state != Absent && (p.now.replaced || p.stops()) {
		old(s.most, "of an order that is not given any more")
		return a
	}
	if p.state != Absent && p.inForce() {
		n, why := 0, ""
		for _, l := range s.lots {
			if other, _ := p.contents(l); l.where == plan.AtHome && other != "" {
				n, why = n+l.units, other
			}
		}
		if n > 0 {
			old(min(n, s.most), "made for another form of the order ("+why+")")
			return a
		}
	}
	need, until, ok := c.until(p.night.Now)
	if spare := s.least - need; ok && s.known && spare > p.night.Reference.Policy.Night.StockTolerance {
		f := a.found("nightly-surplus-at-home", p.place(), counted(s.least, "unit", "units")+" at home if every dose was given ("+s.says+"), "+counted(need, "dose", "doses")+" until "+p.untilWords(until), "at most "+counted(need+p.night.Reference.Policy.Night.StockTolerance, "unit", "units")+": were doses left out, or did a delivery come twice?")
		f.Remedy = "Nurse: ask which doses were given and count the units. Supply team: trim the next delivery."
		a.ask("call-patient", p.beforeNext(), counted(spare, "unit", "units")+" more at home than planned: which doses were given?")
	}
	return a
}

// until counts the doses from an instant until the next delivery, or until
// the end of the course where none comes. False: it cannot be told.
func (c course) until(now time.Time) (doses int, at time.Time, ok bool) {
	if !c.known {
		return 0, time.Time{}, false
	}
	if at = c.arrival(now); !at.IsZero() {
		return c.between(now.Add(-time.Nanosecond), at.Add(-time.Nanosecond)), at, true
	}
	return len(c.from(now)), time.Time{}, c.complete
}

func (p *pair) untilWords(at time.Time) string {
	if at.IsZero() {
		return "the end of the course"
	}
	return "the delivery of " + p.moment(at)
}

// shortAtHome: row m8. A dose before the next arrival has no unit.
func shortAtHome(p *pair) (a answer) {
	if !p.inForce() {
		return a
	}
	need, until, ok := p.planned().until(p.night.Now)
	switch s := p.stock; {
	case !ok:
		a.lacking("nightly-short-at-home", "planned doses until the next delivery", "the doses at home cannot be placed, so nobody can tell here whether units run out")
	case need == 0:
	case !s.known:
		a.lacking("nightly-short-at-home", "units at home", "a delivery was due and nothing on record tells what is at home; doses are due until "+p.untilWords(until))
	case s.least < need:
		a.found("nightly-short-at-home", p.place(), counted(s.least, "unit", "units")+" at home ("+s.says+"), "+counted(need, "dose", "doses")+" until "+p.untilWords(until), "at least "+counted(need, "unit", "units"))
		next := p.planned().from(p.night.Now)
		missing := next[min(s.least, len(next)-1)]
		a.ask("deliver-extra", p.local(missing), counted(need-s.least, "dose", "doses")+" without a unit, the first "+p.moment(missing))
		a.ask("call-patient", p.beforeNext(), "count the units at home; were doses lost or doubled?")
	}
	return a
}

// beyondUse: row m9 (USP <797>: the latest start of administration). Units at
// home serve the next doses, earliest first, then those of the pharmacy. One
// that may no longer be started when its dose is due, or is past its time
// with no dose, is found.
func beyondUse(p *pair) (a answer) {
	if !p.inForce() {
		return a
	}
	next := p.planned().from(p.night.Now)
	late := map[plan.EventPlace]int{}
	var first string
	place, undated := p.place(), false
	left := p.stock.least
	for _, where := range []plan.EventPlace{plan.AtHome, plan.OnTheWay, plan.InPharmacy} {
		lots := slices.DeleteFunc(slices.Clone(p.stock.lots), func(l lot) bool { return l.where != where })
		slices.SortStableFunc(lots, func(x, y lot) int { return x.until.Compare(y.until) })
		if where == plan.AtHome { // what was given came from the earliest
			total := 0
			for _, l := range lots {
				total += l.units
			}
			for gone := total - left; gone > 0 && len(lots) > 0; {
				take := min(gone, lots[0].units)
				lots[0].units, gone = lots[0].units-take, gone-take
				if lots[0].units == 0 {
					lots = lots[1:]
				}
			}
		}
		for _, l := range lots {
			for range l.units {
				at := p.night.Now
				if len(next) > 0 {
					at, next = next[0], next[1:]
				}
				undated = undated || l.until.IsZero()
				if l.until.IsZero() || !at.After(l.until) {
					continue
				}
				late[where]++
				if first == "" {
					first, place = "to be started by "+p.moment(l.until)+", dose "+p.moment(at), p.lotPlace(l)
				}
			}
		}
	}
	n := late[plan.AtHome] + late[plan.OnTheWay] + late[plan.InPharmacy]
	if undated {
		a.lacking("nightly-beyond-use", "beyond-use time of a prepared unit", "of prepared units it is not on record until when they may be started: read the label")
	}
	if n == 0 {
		return a
	}
	a.found("nightly-beyond-use", place, counted(n, "unit", "units")+" past beyond-use at the dose: "+first, "each dose started at or before the beyond-use time of its unit")
	a.ask("remake", p.beforeNext(), counted(n, "unit", "units")+" would be started after the beyond-use time")
	if m := late[plan.AtHome]; m > 0 {
		a.ask("call-patient", p.beforeNext(), counted(m, "unit", "units")+" at home may not be started when due")
		a.ask("quarantine-patient", p.beforeNext(), counted(m, "unit", "units")+" past beyond-use")
	}
	if m := late[plan.OnTheWay] + late[plan.InPharmacy]; m > 0 {
		a.ask("quarantine-pharmacist", p.clock(), counted(m, "unit", "units")+" past beyond-use at the dose")
	}
	return a
}
