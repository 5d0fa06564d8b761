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

// By how much a day may differ from the last 24 hours: a quarter more, half
// less (common practice, no source).
var (
	opioidRise = quantity.MustNumber("1.25")
	opioidFall = quantity.MustNumber("0.5")
)

// One mg of hydromorphone by vein does what 5 to 7 mg of morphine do (from
// memory, as in the drug table). A number that differs so much from what is
// due looks like the one drug taken for the other.
var swapLow, swapHigh = quantity.Int(5), quantity.Int(7)

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
	return append(out, opioidChange(f)...)
}

// opioidChange compares the day of the order with what the last 24 hours ask.
func opioidChange(f Facts) []finding.Finding {
	last, missing := lastDay(f)
	least, most, unit, place, known := opioidDay(f)
	if missing != "" || !known {
		return nil
	}
	low, high := unit.FromBase(last.low), unit.FromBase(last.high)
	if !high.Mul(opioidRise).Less(least) && !most.Less(low.Mul(opioidFall)) {
		return nil
	}
	shown := notation.About(low, unit, 4)
	if low.Less(high) {
		shown += " to " + notation.About(high, unit, 4)
	}
	x := here(doseAt(f, place), opioidShown(least, most, unit)+" in 24 hours", "no more than a quarter above and half below "+shown+", from the last 24 hours on record"+last.says)
	for _, p := range []struct{ over, under quantity.Number }{{least.Quo(high), least.Quo(low)}, {low.Quo(most), high.Quo(most)}} {
		if drug := orderedOpioid(f); (drug == "morphine" || drug == "hydromorphone") && !swapHigh.Less(p.over) && !p.under.Less(swapLow) {
			x[0].Detail = "5 to 7 times apart, as when morphine and HYDROmorphone are exchanged"
			x[0].Remedy = "Call the prescriber: the number is 5 to 7 times apart from the last 24 hours, as when morphine and HYDROmorphone are exchanged. Which drug is meant?"
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
