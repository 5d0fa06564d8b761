package verification

import (
	"slices"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/quantity"
)

var minute = quantity.MustUnit("min")

// runTimes are the infusion times the order tells: as
// stated, by volume and rate where the rate is another number, and by the
// nominal rate of a fixed-flow device. A device that fits the order by the
// rule about devices keeps the time of the order.
func runTimes(f Facts, e end) []way {
	var out []way
	add := func(n quantity.Number, w way) {
		out = append(out, way{n, minute, w.place, w.says})
	}
	t, least, _, okT := written(f, "duration")
	least = e.of(t, least)
	if okT && t.Stated && t.Unit.Dimension() == quantity.Time && least.Sign() > 0 {
		add(minute.FromBase(t.Unit.ToBase(least)), way{place: t.Place})
	}
	v, small, _, okV := written(f, "volume")
	if len(f.order().Steps) > 1 || !okV || v.Unit.Dimension() != quantity.Volume {
		if n, ok := stepTime(f); ok {
			add(n, way{place: f.order().Steps[0].Place, says: "by the steps"})
		}
		return withDerived(f, out)
	}
	needed, timed := byTime(f, e)
	by := func(flow way) quantity.Number {
		return minute.FromBase(v.Unit.ToBase(small).Quo(flow.unit.ToBase(flow.worst)))
	}
	for _, flow := range flows(f, e) {
		if timed && flow.says == needed.says {
			continue
		}
		if n, ok := nominal(f); ok && flow.says == n.says && timed && !f.policy().Device.RateError.Less(flow.worst.Quo(needed.worst).Sub(one).Abs()) {
			continue
		}
		says := text(v, small) + " at " + flow.shown()
		if flow.says != "" {
			says = text(v, small) + " at the " + flow.says + ", " + way{worst: flow.worst, unit: flow.unit}.shown()
		}
		add(by(flow), way{place: flow.place, says: says})
	}
	return withDerived(f, out)
}

// stepTime is the time of all steps in minutes, the last one until the
// container is empty (E32).
func stepTime(f Facts) (quantity.Number, bool) {
	sum, open, ok := emptied(f.order())
	volume, _, known := holds(f)
	if !ok || open && (!known || !sum.Less(volume)) {
		return quantity.Number{}, false
	}
	total := quantity.Number{}
	for i, s := range f.order().Steps {
		v, _ := stepVolume(s)
		if open && i == len(f.order().Steps)-1 {
			v = volume.Sub(sum)
		}
		total = total.Add(minute.FromBase(millilitre.ToBase(v).Quo(millilitrePerHour.ToBase(stepFlow(s)))))
	}
	return total, total.Sign() > 0
}

// withDerived adds the time that follows from other numbers where the order
// tells none itself.
func withDerived(f Facts, out []way) []way {
	if q, _, _, ok := written(f, "duration"); ok && len(out) == 0 && q.Unit.Dimension() == quantity.Time {
		place := q.Place
		if place.Expression == "" {
			place = f.order().Place
		}
		out = append(out, way{minute.FromBase(q.Unit.ToBase(q.Value)), minute, place, "from the other numbers"})
	}
	return out
}

func shorter(limit, have quantity.Number) bool { return have.Less(limit) }

// timeIn is the least time of a band. "At least 30 to 60 minutes" is at least
// 30.
func timeIn(b compendium.Band, w way) (quantity.Number, bool) {
	q, err := b.Quantity()
	if err != nil {
		return quantity.Number{}, false
	}
	in, err := q.In(w.unit)
	return in.Low, err == nil
}

// timeLimits are the least times that hold for the order. A beta-lactam that
// is pushed is not held by a time that names no method: many of them are
// approved or studied as a push (PMC6102793), and the table's time is that of
// the infusion. Whether there are data is asked by the rule about pushes.
func timeLimits(f Facts) (yes, unsure []limit) {
	yes, unsure = limits(f, "infusion_duration_min", populations(f)...)
	if method(f.order()) != "push" || !f.drug().Is("beta-lactam") {
		return yes, unsure
	}
	infused := func(x limit) bool {
		return !slices.ContainsFunc(x.AppliesTo, func(a compendium.Applies) bool { return a.Method != "" })
	}
	return slices.DeleteFunc(yes, infused), slices.DeleteFunc(unsure, infused)
}

func timeCompare(f Facts, ways []way) func(limit) (past, bool) {
	return func(x limit) (past, bool) { return compared(f, x, ways, timeIn, shorter) }
}

// timeUnder are the least times below which the order is.
func timeUnder(f Facts, e end) []past {
	var out []past
	yes, _ := timeLimits(f)
	ways := runTimes(f, e)
	for _, x := range yes {
		if p, ok := timeCompare(f, ways)(x); ok {
			p.of = f
			out = append(out, p)
		}
	}
	return out
}

// tooShort: row d10, the infusion time against the least one for the method.
func tooShort(f Facts) []finding.Finding {
	p, found := gravest(finding.Block, timeUnder(f, asSet))
	if !found {
		return nil
	}
	return p.finding(atLeast)
}

func timeUnchecked(f Facts) []Fact {
	yes, unsure := timeLimits(f)
	numeric := func(x limit) bool { return !x.Value.Band.Empty() }
	if !slices.ContainsFunc(append(slices.Clone(yes), unsure...), numeric) {
		return []Fact{TableLimit}
	}
	ways := runTimes(f, asSet)
	if len(ways) == 0 {
		return []Fact{RunTime}
	}
	out := uncompared(yes, unsure, timeCompare(f, ways), func(limit) Fact { return TableLimit }, ownOf(f))
	if inDispute(f, "duration", "rate", "volume") {
		out = append(out, RunTime)
	}
	return unique(out)
}

// asksPush: the route or the words of the order ask for a push, whatever else
// they say.
func asksPush(f Facts) bool {
	o := f.order()
	for _, d := range o.Directions {
		if pushed(d.Text) {
			return true
		}
	}
	return pushed(o.Route.Name())
}

// pushData are the times of the table for a push: a recommended one gates
// nothing and is data all the same. An adult's are none for a child.
func pushData(f Facts) (answer compendium.Answer, unknown []Fact) {
	c := circumstance(f)
	for _, topic := range []string{"infusion_duration_min", "infusion_duration"} {
		for _, x := range f.drug().About(topic, population(f)) {
			for _, a := range x.AppliesTo {
				if a.Method != "push" {
					continue
				}
				told := c
				told.Method = "push"
				x.AppliesTo = []compendium.Applies{a}
				holds, need := x.Holds(told)
				if answer = max(answer, holds); holds == compendium.Unknown {
					unknown = append(unknown, limit{x, need}.asks()...)
				}
			}
		}
	}
	return answer, unique(unknown)
}

func neverPushed(f Facts) (compendium.Flag, compendium.Answer) {
	return f.drug().FlaggedFor(compendium.NeverPush, circumstance(f))
}

// pushWithoutData: row d10, a push for which the table has no time, or of a
// drug that is never pushed.
func pushWithoutData(f Facts) []finding.Finding {
	place := f.order().Route.Place
	if !pushed(f.order().Route.Name()) || place.Expression == "" {
		place = f.order().Place
		for _, d := range f.order().Directions {
			if pushed(d.Text) {
				place = d.Place
				break
			}
		}
	}
	name := f.order().Drug.Name
	if flag, answer := neverPushed(f); answer == compendium.Yes {
		x := here(place, "a push of "+name, "an infusion: this drug is never pushed ("+flag.Source+")")
		x[0].Standing = flag.Standing
		return x
	}
	if answer, _ := pushData(f); answer != compendium.No {
		return nil
	}
	return here(place, "a push of "+name+", for which the table has no time for this patient and dose", "an infusion, or a time for a push with its source")
}

// pushUnknown: whether the data hold hangs on something nobody told.
func pushUnknown(f Facts) []Fact {
	answer, unknown := pushData(f)
	if _, never := neverPushed(f); never == compendium.Unknown {
		return []Fact{TableLimit}
	}
	if answer == compendium.Unknown {
		return unknown
	}
	return nil
}
