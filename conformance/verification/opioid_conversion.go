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

// opioids are names of the kind, for drugs without a row in the table (from
// memory). An order of one of them is never "not applicable".
var opioids = []string{"morphine", "hydromorphone", "fentanyl", "sufentanil", "alfentanil", "remifentanil", "methadone", "levomethadone", "buprenorphine",
	"oxycodone", "oxymorphone", "hydrocodone", "codeine", "levorphanol", "meperidine", "pethidine", "nalbuphine", "butorphanol", "tramadol", "tapentadol", "piritramide", "diamorphine"}

// ratios are the least and the most mg of morphine that 1 mg of hydromorphone
// by vein stands for. A number that differs so much from what is due looks
// like the one drug taken for the other.
func ratios(f Facts) (least, most quantity.Number) {
	x := f.policy().Opioid
	return x.SwapLeast.Number, x.SwapMost.Number
}

func namedOpioid(texts ...string) string {
	words := wordsOf(strings.ToLower(strings.Join(texts, " ")))
	for _, w := range words {
		if slices.Contains(opioids, w) {
			return w
		}
	}
	return ""
}

func orderedOpioid(f Facts) string {
	return namedOpioid(f.drug().Name, f.order().Drug.Name, f.order().Drug.Concept.Name())
}

func isOpioid(f Facts) bool { return f.drug().Is("opioid") || orderedOpioid(f) != "" }

// exposure is what the record says of earlier opioids: naive, tolerant, both
// or none. A denial ("not opioid tolerant") says nothing: it is asked.
func exposure(f Facts) (naive, tolerant bool) {
	o, k := f.order(), f.kase()
	switch o.PriorExposure {
	case "naive": // "never" is said of this drug, not of opioids
		naive = true
	case "tolerant":
		tolerant = true
	}
	read := func(text string, about bool) {
		for _, clause := range strings.FieldsFunc(strings.ToLower(text), func(r rune) bool { return strings.ContainsRune(".;,\n", r) }) {
			words := wordsOf(clause)
			said := about || slices.ContainsFunc(words, func(w string) bool { return w == "opioid" || w == "opioids" || w == "opiate" || w == "opiates" })
			if !said || slices.ContainsFunc(words, func(w string) bool { return slices.Contains(refusing, w) }) {
				continue
			}
			naive = naive || slices.Contains(words, "naive") || slices.Contains(words, "naïve")
			tolerant = tolerant || slices.Contains(words, "tolerant")
		}
	}
	for _, d := range o.Directions {
		read(d.Text, true)
	}
	for _, l := range o.Lines {
		read(l.Words, true)
	}
	for _, c := range append(slices.Clone(k.Conditions), k.Flags...) {
		read(c.Name(), false)
	}
	return naive, tolerant
}

// opioidConversion: row q3. No ceiling and no floor: the order says naive or
// tolerant, and its day follows from the last 24 hours.
func opioidConversion(f Facts) []finding.Finding {
	var out []finding.Finding
	switch naive, tolerant := exposure(f); {
	case naive && tolerant:
		out = here(f.order().Place, "the order and the record say both opioid-naive and opioid-tolerant", "one of the two")
	case !naive && !tolerant:
		out = here(f.order().Place, "neither opioid-naive nor opioid-tolerant is said", "one of the two, with the total of the last 24 hours")
	}
	return append(append(out, naiveStart(f)...), opioidChange(f)...)
}

// naiveStart: a patient who had no opioid begins at the starting dose of the
// table; with nothing to compare the day with, that is all that tells a slip.
func naiveStart(f Facts) []finding.Finding {
	naive, tolerant := exposure(f)
	_, most, unit, place, known := opioidDay(f)
	day, err := quantity.ParseUnit(unit.Code() + "/d")
	if !naive || tolerant || !known || err != nil {
		return nil
	}
	var top quantity.Number
	var from compendium.Fact
	for _, x := range f.drug().About("usual_dose", population(f)) {
		if !slices.ContainsFunc(x.AppliesTo, func(a compendium.Applies) bool { return a.Exposure == "naive" }) {
			continue
		}
		if q, ok := mostOfDay(x.Value); ok {
			if in, ok := readIn(f, q, day); ok && top.Less(in.High) {
				top, from = in.High, x
			}
		}
	}
	if top.Sign() <= 0 || !top.Less(most) {
		return nil
	}
	x := here(doseAt(f, place), notation.About(most, unit, 4)+" in 24 hours for an opioid-naive patient", "a start of at most "+ceiling{fact: from, summed: true}.shown()+
		", here "+notation.About(top, unit, 4)+" in 24 hours"+limit{Fact: from}.says())
	x[0].Standing = from.Standing
	return x
}

// opioidChange compares the day of the order with what the last 24 hours ask.
func opioidChange(f Facts) []finding.Finding {
	last, missing := lastDay(f)
	least, most, unit, place, known := opioidDay(f)
	if missing != "" || !known {
		return nil
	}
	low, high := unit.FromBase(last.low), unit.FromBase(last.high)
	limits := f.policy().Opioid
	if !high.Mul(limits.Rise.Number).Less(least) && !most.Less(low.Mul(limits.Fall.Number)) {
		return nil
	}
	shown := notation.About(low, unit, 4)
	if low.Less(high) {
		shown += " to " + notation.About(high, unit, 4)
	}
	x := here(doseAt(f, place), opioidShown(least, most, unit)+" in 24 hours", "at most "+limits.Rise.Decimal()+" times and at least "+limits.Fall.Decimal()+" times "+shown+", from the last 24 hours on record"+last.says)
	swapLow, swapHigh := ratios(f)
	apart := swapLow.Decimal() + " to " + swapHigh.Decimal() + " times apart"
	for _, p := range []struct{ over, under quantity.Number }{{least.Quo(high), least.Quo(low)}, {low.Quo(most), high.Quo(most)}} {
		if drug := orderedOpioid(f); (drug == "morphine" || drug == "hydromorphone") && !swapHigh.Less(p.over) && !p.under.Less(swapLow) {
			x[0].Detail = apart + ", as when morphine and HYDROmorphone are exchanged"
			x[0].Remedy = "Call the prescriber: the number is " + apart + " from the last 24 hours, as when morphine and HYDROmorphone are exchanged. Which drug is meant?"
		}
	}
	if last.converted {
		x[0].Standing = compendium.Memory
	}
	x[0].Evidence = last.evidence
	return x
}

func opioidShown(least, most quantity.Number, unit quantity.Unit) string {
	if least.Equal(most) || least.Sign() == 0 {
		return notation.About(most, unit, 4)
	}
	return notation.About(least, unit, 4) + " to " + notation.About(most, unit, 4)
}

// opioidDay is the least and the most that the order gives in 24 hours: the
// continuous rate, with all the doses the patient may ask for. As needed, the
// least is nothing.
func opioidDay(f Facts) (least, most quantity.Number, unit quantity.Unit, place finding.Place, ok bool) {
	unit = quantity.MustUnit("mg")
	day := quantity.Int(24 * 3600)
	perDay := func(rate *order.Stated) (quantity.Number, bool) {
		if rate == nil || rate.Quantity.Unit.Dimension() != quantity.Mass.Per(quantity.Time) {
			return quantity.Number{}, false
		}
		return unit.FromBase(rate.Quantity.Unit.ToBase(rate.Quantity.High).Mul(day)), true
	}
	if c := f.order().Controlled; c != nil {
		basal, known := perDay(c.Basal)
		if !known && c.Basal != nil {
			return least, most, unit, place, false
		}
		least, most, place = basal, basal, c.Place
		if c.Demand != nil && c.Lockout != nil && c.Demand.Quantity.Unit.Dimension() == quantity.Mass && c.Lockout.Quantity.Low.Sign() > 0 {
			_, each := c.Demand.Quantity.Base()
			every, _ := c.Lockout.Quantity.Base()
			most = most.Add(unit.FromBase(each.Mul(day).Quo(every)))
		}
		return least, most, unit, place, most.Sign() > 0
	}
	q, low, high, known := written(f, "dailyDose")
	if !known || q.Unit.Dimension() != quantity.Mass.Per(quantity.Time) || q.Disputed {
		return least, most, unit, place, false
	}
	in := func(n quantity.Number) quantity.Number { return unit.FromBase(q.Unit.ToBase(n).Mul(day)) }
	least, most = in(low), in(high)
	if slices.ContainsFunc(f.order().Directions, func(d order.Direction) bool { return d.AsNeeded }) {
		least = quantity.Int(0)
	}
	return least, most, unit, q.Place, true
}
