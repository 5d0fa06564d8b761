package verification

import (
	"slices"
	"strings"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// weightOpen: row c3. The dose of an adult goes by body weight, and neither
// the order nor the labelling says by which: actual, ideal or adjusted. For
// children none of the others is defined. Or the labelling names a weight, and
// the order may have gone by another.
func weightOpen(f Facts) bool {
	_, light := labelledLighter(f)
	return population(f) == "adult" && (states(f.order(), "dosePerKg", "dailyDosePerKg") || onlyPerKg(f)) && (light || !basisGiven(f) && !basisLabelled(f))
}

func basisGiven(f Facts) bool {
	o := f.order()
	return o.DoseBasis != "" || slices.ContainsFunc(o.Stated, func(s order.Stated) bool {
		return s.Name == "dosingWeight" && s.Witness != order.Record && s.Witness != order.Computed
	})
}

// basisLabelled: the table names the weight a dose is reckoned by.
func basisLabelled(f Facts) bool {
	return slices.ContainsFunc(f.drug().About("weight_basis", "adult"), func(x compendium.Fact) bool { return x.Value.Weight != "" })
}

// onlyPerKg: every usual dose of the drug goes by weight.
func onlyPerKg(f Facts) bool {
	some := false
	for _, x := range f.drug().About("usual_dose", "adult") {
		for _, b := range []*compendium.Band{x.Value.Dose, x.Value.DailyDose, &x.Value.Band} {
			switch {
			case b == nil || b.Empty():
			case !strings.Contains(b.Unit, "/kg"):
				return false
			case b != &x.Value.Band: // a rate that is titrated goes by what it does
				some = true
			}
		}
	}
	return some
}

// usualBand is the range of all usual doses by weight, in the unit of a dose
// with 1 kg of body; as wide again as a dose may be rounded.
type usualBand struct {
	low, high quantity.Number
	unit      quantity.Unit
	facts     []compendium.Fact
}

func usualPerKg(f Facts, number string) (usualBand, bool) {
	var out usualBand
	q := f.quantities()[number]
	for _, topic := range []string{"usual_dose", "loading_dose"} {
		for _, x := range f.drug().About(topic, "adult") {
			bands := []*compendium.Band{x.Value.Dose}
			if number == "dailyDose" {
				bands = []*compendium.Band{x.Value.DailyDose}
			} else if topic == "loading_dose" {
				bands = append(bands, &x.Value.Band)
			}
			for _, b := range bands {
				if b == nil || b.Empty() || !strings.Contains(b.Unit, "/kg") {
					continue
				}
				band, err := b.Quantity()
				whole, errUnit := quantity.ParseUnit(strings.Replace(b.Unit, "/kg", "", 1))
				if err != nil || errUnit != nil || whole.Dimension() != q.Unit.Dimension() {
					continue
				}
				low, high := q.Unit.FromBase(whole.ToBase(band.Low)), q.Unit.FromBase(whole.ToBase(band.High))
				if len(out.facts) == 0 {
					out.low, out.high, out.unit = low, high, q.Unit
				}
				out.low, out.high, out.facts = quantity.Least(out.low, low), quantity.Greatest(out.high, high), append(out.facts, x)
			}
		}
	}
	return out, len(out.facts) > 0
}

// has: so much for a body of that weight lies in the band, with a tenth for
// rounding on each side.
func (u usualBand) has(f Facts, least, most, kg quantity.Number) bool {
	slack := f.policy().Dose.BasisHold.Number
	return !least.Quo(kg).Less(u.low.Mul(one.Sub(slack))) && !u.high.Mul(one.Add(slack)).Less(most.Quo(kg))
}

// reckoned is the number that goes by weight, with its usual band: the dose,
// or that of a day.
func reckoned(f Facts) (q order.Quantity, least, most quantity.Number, u usualBand, ok bool) {
	for _, number := range []string{"dose", "dailyDose"} {
		if q, least, most, ok = written(f, number); ok {
			if u, ok = usualPerKg(f, number); ok {
				return q, least, most, u, true
			}
		}
	}
	return q, least, most, u, false
}

// otherWeights are the weights a dose may be reckoned by: only the actual one
// up to 1.2 times the ideal, as where a clearance is worked out.
func otherWeights(f Facts) (list []bodyWeight, missing Fact) {
	actual, weighed := bodyNumber(f, "dosingWeight", "kg")
	if !weighed || !states(f.order(), "dosingWeight") {
		return nil, Weight
	}
	list, missing = weightsFor(f, "", actual)
	for _, w := range list {
		if w.doubt != "" {
			return nil, map[bool]Fact{true: DosingWeight, false: w.doubt}[w.doubt == ClearanceWeight]
		}
	}
	return list, missing
}

// weightChoice: the dose is a usual one by one weight and none by another.
func weightChoice(f Facts) []finding.Finding {
	if label, light := labelledLighter(f); light {
		return againstLabel(f, label)
	}
	q, least, most, u, ok := reckoned(f)
	list, missing := otherWeights(f)
	if !ok || missing != "" {
		return nil
	}
	in, out := 0, 0
	var shown []string
	for _, w := range list {
		if u.has(f, least, most, w.weight) {
			in++
		} else {
			out++
		}
		name := w.name
		if name == "" {
			name = "actual"
		}
		shown = append(shown, notation.Code(most.Quo(w.weight).Significant(3), q.Unit.Code()+"/kg")+" by the "+name+" weight of "+notation.Code(w.weight.Significant(3), "kg"))
	}
	if in == 0 || out == 0 {
		return nil
	}
	var standings []string
	for _, x := range u.facts {
		standings = append(standings, x.Standing)
	}
	usual := notation.Code(u.low.Significant(4), u.unit.Code()+"/kg")
	if u.low.Less(u.high) {
		usual += " to " + notation.Code(u.high.Significant(4), u.unit.Code()+"/kg")
	}
	x := here(doseAt(f, q.Place), strings.Join(shown, "; "), "the weight that counts, written in the order: usually "+usual+" ("+u.facts[0].Source+")")
	x[0].Standing = weakest(standings)
	return x
}

func weightChoiceUnknown(f Facts) []Fact {
	_, _, _, _, ok := reckoned(f)
	_, dose := f.quantities()["dose"]
	_, day := f.quantities()["dailyDose"]
	list, missing := otherWeights(f)
	if _, light := labelledLighter(f); light && dose && f.quantities()["dosingWeight"].Disputed {
		return nil // not by the actual weight: that disagreement is asked about
	}
	switch {
	case !dose && !day, inDispute(f, "dose", "dailyDose"):
		return []Fact{Dose}
	case missing != "":
		return []Fact{missing}
	case !ok && len(list) > 1:
		return []Fact{TableLimit}
	}
	return nil
}
