package verification

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

const (
	guardRule = "opioid-safeguards"
	limitRule = "opioid-limit"
	cycleRule = "nutrition-cycle"
	sweetRule = "nutrition-rate"
	sweetWarn = "nutrition-rate-minor"
	clearRule = "nutrition-calcium-phosphate"
	madeRule  = "nutrition-compounding"
)

// guarded is a pump for the patient with every safeguard on record, and the
// fixture of codes.json: 1 mg per hour and 0.5 mg every 10 minutes.
func guarded(changes ...func(*world)) func(*world) {
	return both(append([]func(*world){opioidDaily("hydromorphone", "24"), byPatient("1", "0.5", "10"),
		device("electronic-pump", stated("concentration", "1", "mg/mL", order.Device)), withNumbers("concentration", "1", "mg/mL"),
		replied("sleep-apnea", "no", ""), replied("sedatives", "none", ""), replied("naloxone-at-home", "yes", ""), replied("patient-only-button", "yes", "")}, changes...)...)
}

func unanswered(name string) func(*world) {
	return func(w *world) {
		var kept []order.Answer
		for _, a := range w.kase.Answers {
			if a.Name != name {
				kept = append(kept, a)
			}
		}
		w.kase.Answers = kept
	}
}

// cappedAt sets the limit of the pump for a time.
func cappedAt(value, unit, window string) func(*world) {
	return func(w *world) {
		l, t := stated("limit", value, unit, order.Coded), stated("window", window, "h", order.Coded)
		w.order.Controlled.Limit, w.order.Controlled.Window = &l, &t
	}
}

func component(name, amount, unit string) order.Ingredient {
	yes := true
	i := order.Ingredient{Concept: concept(name), Active: &yes, Place: place("ingredient." + name)}
	if amount != "" {
		i.Strength = &order.Strength{Numerator: q(amount, unit), Denominator: q("1", "{bag}"), Place: i.Place}
	}
	return i
}

// bag is the nutrition of scenario S5, running for so many hours with an hour
// up and one down at a rate, for a man of 58 kg. The glucose rate is that of
// the plateau that empties the bag.
func bag(hours, rate, glucose string, changes ...func(*world)) func(*world) {
	return func(w *world) {
		ofKinds("nutrition")(w)
		w.order.Drug = order.Drug{Name: "parenteral nutrition", Place: place("medication"), Ingredients: []order.Ingredient{
			component("amino acids", "90", "g"), component("dextrose", "300", "g"), component("potassium chloride", "60", "mmol"),
			component("calcium (as calcium gluconate)", "9", "mmol"), component("magnesium (as magnesium sulfate)", "8", "mmol"), component("phosphate", "15", "mmol"), component("sterile water", "", "")}}
		w.order.Device = order.InfusionDevice{Kind: "electronic-pump", Place: place("device")}
		amount := stated("volume", "2000", "mL", order.Coded)
		w.order.Drug.Amount = &amount
		w.order.Stated = []order.Stated{stated("volume", "2000", "mL", order.Coded), stated("duration", hours, "h", order.Coded)}
		if rate != "" {
			w.order.Stated = append(w.order.Stated, stated("rate", rate, "mL/h", order.Text))
		}
		w.order.Readings = []order.Reading{{Field: "taper", Role: "up", Value: "1", Unit: "h"}, {Field: "taper", Role: "down", Value: "1", Unit: "h"}}
		w.numbers = order.Quantities{"volume": settled("2000", "mL"), "duration": settled(hours, "h")}
		for name, n := range w.numbers {
			n.Stated = true
			w.numbers[name] = n
		}
		if glucose != "" {
			w.numbers["glucoseInfusionRate"] = settled(glucose, "mg/kg/min")
		}
		both(changes...)(w)
	}
}

func stepsOf(list ...string) func(*world) {
	return func(w *world) {
		w.order.Steps, w.order.Readings = nil, nil
		for i := 0; i < len(list); i += 2 {
			r, d := stated("rate", list[i], "mL/h", order.Coded), stated("duration", list[i+1], "h", order.Coded)
			w.order.Steps = append(w.order.Steps, order.Step{Number: i/2 + 1, Rate: &r, Duration: &d, Place: place("step")})
		}
	}
}

// potassiumOf replaces the potassium of the bag.
func potassiumOf(name, amount, unit string) func(*world) {
	return func(w *world) { w.order.Drug.Ingredients[2] = component(name, amount, unit) }
}

func perPhosphate(low, high string) func(*world) {
	return func(w *world) {
		w.drug.Facts = append(w.drug.Facts, fact("e1", "electrolyte_content", "all", compendium.Value{Other: map[string]compendium.Band{"potassiumPerPhosphate": band("", low, high, "1")}}))
	}
}

// mixed is a bag on record: that of the order with one component changed.
func mixed(index int, i order.Ingredient) func(*world) {
	return func(w *world) {
		d := w.order.Drug
		d.Ingredients = append([]order.Ingredient(nil), d.Ingredients...)
		if index >= 0 {
			d.Ingredients[index] = i
		}
		w.kase.Held.Prepared = []order.Batch{{Units: 7, Lot: "PN-1", Status: "preparation", Drug: d, Place: place("dispense")}}
	}
}

var specialFixtures = []fixture{
	// Row q3: each missing safeguard is named.
	{rule: guardRule, name: "no opioid", want: NotApplicable},
	{rule: guardRule, name: "all on record", want: Pass, change: guarded()},
	{rule: guardRule, name: "neither naive nor tolerant", want: Found, says: "not on record: opioid-naive or opioid-tolerant", change: guarded(directed("HYDROmorphone by pump"))},
	{rule: guardRule, name: "naive or tolerant by an answer", want: Pass, change: guarded(directed("HYDROmorphone by pump"), replied("opioid-status", "tolerant", ""))},
	{rule: guardRule, name: "sleep apnoea not asked", want: Found, says: "not on record: whether the patient has sleep apnoea", change: guarded(unanswered("sleep-apnea"))},
	{rule: guardRule, name: "sleep apnoea among the conditions", want: Pass, change: guarded(unanswered("sleep-apnea"), func(w *world) { w.kase.Conditions = []order.Concept{concept("Obstructive sleep apnea")} })},
	{rule: guardRule, name: "sleep apnoea denied in a note", want: Pass, change: guarded(unanswered("sleep-apnea"), wordsSay("No sleep apnoea."))},
	{rule: guardRule, name: "sedatives not asked", want: Found, says: "benzodiazepines", change: guarded(unanswered("sedatives"))},
	{rule: guardRule, name: "no naloxone", want: Found, says: "not on record: naloxone at home", change: guarded(unanswered("naloxone-at-home"))},
	{rule: guardRule, name: "naloxone refused", want: Found, says: "naloxone", change: guarded(unanswered("naloxone-at-home"), replied("naloxone-at-home", "no", ""))},
	{rule: guardRule, name: "naloxone ordered", want: Pass, change: guarded(unanswered("naloxone-at-home"), alongside("rescue", "active", rxnorm("7242", "rescue spray")))},
	{rule: guardRule, name: "naloxone in the kit", want: Pass, change: guarded(unanswered("naloxone-at-home"), func(w *world) { w.kase.Supplies = []order.Supply{{Text: "Naloxone nasal spray"}} })},
	{rule: guardRule, name: "naloxone within another drug is no rescue", want: Found, change: guarded(unanswered("naloxone-at-home"), taking("active", concept("buprenorphine-naloxone")))},
	{rule: guardRule, name: "the button", want: Found, says: "only the patient presses", change: guarded(unanswered("patient-only-button"))},
	{rule: guardRule, name: "the button, in words", want: Pass, change: guarded(unanswered("patient-only-button"), wordsSay("Only the patient may press the button"))},
	{rule: guardRule, name: "no button without doses on demand", want: Pass, change: guarded(unanswered("patient-only-button"), func(w *world) { w.order.Controlled = nil })},
	{rule: guardRule, name: "the concentration of the pump", want: Found, says: "concentration set in the pump", change: guarded(func(w *world) { w.order.Device.Parameters = nil })},
	{rule: guardRule, name: "the lockout", want: Found, says: "the lockout", change: guarded(func(w *world) { w.order.Controlled.Lockout = nil })},
	{rule: guardRule, name: "a drug without a row may be one", want: Indeterminate, missing: DrugRow, change: func(w *world) { w.unlisted = true }},
	// Continuous rate + 60 / lockout × dose: 1 + 6 × 0.5 = 4 mg in an hour.
	{rule: limitRule, name: "no opioid", want: NotApplicable},
	{rule: limitRule, name: "no doses on demand", want: NotApplicable, change: guarded(func(w *world) { w.order.Controlled = nil })},
	{rule: limitRule, name: "no limit", want: Found, says: "up to 4 mg in an hour: 1 mg per hour and 0.5 mg every 10 minutes, and no limit is set", change: guarded()},
	{rule: limitRule, name: "at the limit", want: Pass, change: guarded(cappedAt("4", "mg", "1"))},
	{rule: limitRule, name: "above the limit", want: Found, says: "the limit is 3.9 mg in 1 hour", change: guarded(cappedAt("3.9", "mg", "1"))},
	{rule: limitRule, name: "a limit for four hours", want: Pass, change: guarded(cappedAt("16", "mg", "4"))},
	{rule: limitRule, name: "a limit for four hours, above it", want: Found, says: "up to 16 mg in 4 hours", change: guarded(cappedAt("15.9", "mg", "4"))},
	{rule: limitRule, name: "a limit in mL", want: Pass, change: guarded(cappedAt("4", "mL", "1"))},
	{rule: limitRule, name: "a limit in mL, above it", want: Found, change: guarded(cappedAt("4", "mL", "1"), withNumbers("concentration", "0.99", "mg/mL"))},
	{rule: limitRule, name: "a limit in mL, and no concentration", want: Indeterminate, missing: Concentration, change: guarded(cappedAt("4", "mL", "1"), func(w *world) { delete(w.numbers, "concentration") })},
	{rule: limitRule, name: "a limit on the pump sheet", want: Pass, change: guarded(func(w *world) {
		w.order.Device.Parameters = append(w.order.Device.Parameters, stated("doseLimit", "4", "mg", order.Device), stated("limitWindow", "1", "h", order.Device))
	})},
	{rule: limitRule, name: "a limit without its time", want: Indeterminate, missing: LimitWindow, change: guarded(cappedAt("4", "mg", "1"), func(w *world) { w.order.Controlled.Window = nil })},
	{rule: limitRule, name: "a limit and no lockout", want: Indeterminate, missing: Demand, change: guarded(cappedAt("4", "mg", "1"), func(w *world) { w.order.Controlled.Lockout = nil })},
	{rule: limitRule, name: "no continuous rate", want: Pass, change: guarded(cappedAt("3", "mg", "1"), func(w *world) { w.order.Controlled.Basal = nil })},
	{rule: limitRule, name: "doses as needed that nobody described", want: Found, says: "no limit is set", change: guarded(func(w *world) { w.order.Controlled = nil }, whenNeeded)},
	// Row d13: V ÷ (T − ramps/2) = 2000 ÷ 11 = 181.8; 1 % of 2000 mL are 20 mL.
	{rule: cycleRule, name: "no nutrition", want: NotApplicable},
	{rule: cycleRule, name: "one constant rate", want: NotApplicable, change: bag("12", "166.7", "", func(w *world) { w.order.Readings = nil })},
	{rule: cycleRule, name: "scenario S5", want: Found, says: "gives 1,833.7 mL of 2,000 mL: 166.3 mL short", change: bag("12", "166.7", "")},
	{rule: cycleRule, name: "the plateau that empties it", want: Pass, change: bag("12", "181.8", "")},
	{rule: cycleRule, name: "1 % short", want: Pass, change: bag("12", "180", "")},
	{rule: cycleRule, name: "over 1 % short", want: Found, change: bag("12", "179.9", "")},
	{rule: cycleRule, name: "1 % too much", want: Pass, change: bag("12", "183.6", "")},
	{rule: cycleRule, name: "over 1 % too much", want: Found, says: "20.7 mL too much", change: bag("12", "183.7", "")},
	{rule: cycleRule, name: "no rate: the pump works it out", want: Pass, change: bag("12", "", "")},
	{rule: cycleRule, name: "what stays in the device is not short", want: Pass, change: bag("12", "179.5", "", withNumbers("residual", "10", "mL"))},
	{rule: cycleRule, name: "coded steps", want: Pass, change: bag("12", "", "", stepsOf("90.9", "1", "181.8", "10", "90.9", "1"))},
	{rule: cycleRule, name: "coded steps that fall short", want: Found, says: "the sum of the steps gives 1,833.7 mL", change: bag("12", "", "", stepsOf("83.35", "1", "166.7", "10", "83.35", "1"))},
	{rule: cycleRule, name: "a step that says another volume", want: Found, says: "step 2 gives 1,818 mL by its rate and time, and says 1,600 mL", change: bag("12", "", "", stepsOf("90.9", "1", "181.8", "10", "90.9", "1"), func(w *world) {
		v := stated("volume", "1600", "mL", order.Coded)
		w.order.Steps[1].Volume = &v
	})},
	{rule: "rate-steps", name: "a cycle of nutrition is another rule's", want: NotApplicable, change: bag("12", "181.8", "", stepsOf("90.9", "1", "181.8", "10", "90.9", "1"))},
	{rule: "rate-steps", name: "steps of another drug are not", want: Found, says: "would be left", change: both(bag("12", "", "", stepsOf("83.35", "1", "166.7", "10", "83.35", "1")), ofKinds("anti-infective"))},
	{rule: cycleRule, name: "a step without its time", want: Indeterminate, missing: Steps, change: bag("12", "", "", stepsOf("90.9", "1", "181.8", "10"), func(w *world) { w.order.Steps[1].Duration = nil })},
	{rule: cycleRule, name: "a taper that is neither up nor down", want: Indeterminate, missing: Ramps, change: bag("12", "166.7", "", func(w *world) { w.order.Readings[0].Role = "taper" })},
	{rule: cycleRule, name: "no time", want: Indeterminate, missing: RunTime, change: bag("12", "166.7", "", func(w *world) { delete(w.numbers, "duration") })},
	{rule: cycleRule, name: "no volume", want: Indeterminate, missing: Container, change: bag("12", "166.7", "", func(w *world) { delete(w.numbers, "volume") })},
	// Glucose: policy 5 and 7 mg/kg/min at the plateau.
	{rule: sweetRule, name: "no nutrition", want: NotApplicable},
	{rule: sweetRule, name: "scenario S5", want: Found, says: "7.84 mg per kg per minute", change: bag("12", "181.8", "7.84")},
	{rule: sweetRule, name: "7", want: Pass, change: bag("12", "181.8", "7")},
	{rule: sweetRule, name: "7.01", want: Found, change: bag("12", "181.8", "7.01")},
	{rule: sweetRule, name: "coded steps: 300 g by 200 of 2000 mL per hour for 74 kg", want: Pass, change: bag("12", "", "", stepsOf("100", "1", "200", "9", "100", "1"))},
	{rule: sweetRule, name: "coded steps: 210 mL per hour", want: Found, says: "7.09", change: bag("12", "", "", stepsOf("100", "1", "210", "9", "100", "1"))},
	{rule: sweetRule, name: "no glucose rate", want: Indeterminate, missing: Glucose, change: bag("12", "166.7", "")},
	{rule: sweetRule, name: "no weight", want: Indeterminate, missing: Weight, change: bag("12", "181.8", "", without("weight"))},
	{rule: sweetRule, name: "a child: no limit in the policy", want: Indeterminate, missing: TableLimit, change: bag("12", "181.8", "9", child)},
	// Potassium: policy 10 mmol per hour. 60 mmol at 181.8 of 2000 mL: 5.45.
	{rule: sweetRule, name: "potassium at the limit: 110 mmol", want: Pass, change: bag("12", "181.8", "6", potassiumOf("potassium chloride", "110", "mmol"))},
	{rule: sweetRule, name: "potassium above it", want: Found, says: "potassium at the plateau about 10.1 mmol per hour", change: bag("12", "181.8", "6", potassiumOf("potassium acetate", "111", "mmol"))},
	{rule: sweetRule, name: "what the rule about rates blocks is not held again", want: Pass, change: bag("12", "181.8", "6", potassiumOf("potassium chloride", "130", "mmol"))},
	{rule: sweetRule, name: "of a phosphate, as much as the table says", want: Found, says: "11 to", change: bag("12", "181.8", "6", potassiumOf("potassium phosphates, as phosphate", "83", "mmol"), perPhosphate("1.46", "1.57"))},
	{rule: sweetRule, name: "between the two of the table", want: Indeterminate, missing: TableLimit, change: bag("12", "181.8", "6", potassiumOf("potassium phosphates", "72", "mmol"), perPhosphate("1.46", "1.57"))},
	{rule: sweetRule, name: "equivalents of a phosphate", want: Indeterminate, missing: Potassium, change: bag("12", "181.8", "6", potassiumOf("potassium phosphates", "30", "meq"), perPhosphate("1.46", "1.57"))},
	{rule: sweetRule, name: "a child: 0.5 mmol/kg/h are 37; 250 mmol give 36 at the most", want: Indeterminate, missing: TableLimit, change: bag("12", "181.8", "6", child, potassiumOf("potassium phosphates", "250", "mmol"), perPhosphate("1.46", "1.57"))},
	{rule: sweetRule, name: "a child above it", want: Found, says: "potassium", change: bag("12", "181.8", "6", child, potassiumOf("potassium phosphates", "280", "mmol"), perPhosphate("1.46", "1.57"))},
	{rule: sweetWarn, name: "no nutrition", want: NotApplicable},
	{rule: sweetWarn, name: "5", want: Pass, change: bag("12", "181.8", "5")},
	{rule: sweetWarn, name: "5.01", want: Found, change: bag("12", "181.8", "5.01")},
	{rule: sweetWarn, name: "7", want: Found, change: bag("12", "181.8", "7")},
	{rule: sweetWarn, name: "above 7 is the other code", want: Pass, change: bag("12", "181.8", "7.01")},
	{rule: sweetWarn, name: "by the cycle itself: 2000 mL in 15 h for 74 kg are 4.5", want: Pass, change: bag("16", "133.3", "")},
	{rule: sweetWarn, name: "a cycle that does not empty the bag", want: Indeterminate, missing: Glucose, change: bag("16", "120", "")},
	{rule: sweetWarn, name: "numbers that do not agree yet: 2000 mL in 11 h are 6.14", want: Found, says: "6.14", change: bag("12", "181.8", "")},
	// Calcium and phosphate.
	{rule: clearRule, name: "no nutrition", want: NotApplicable},
	{rule: clearRule, name: "no calcium", want: NotApplicable, change: bag("12", "181.8", "6", func(w *world) { w.order.Drug.Ingredients[3] = component("zinc", "5", "mg") })},
	{rule: clearRule, name: "phosphate bound to glycerol", want: NotApplicable, change: bag("12", "181.8", "6", func(w *world) { w.order.Drug.Ingredients[5] = component("sodium glycerophosphate", "15", "mmol") })},
	{rule: clearRule, name: "no check", want: Found, says: "no check", change: bag("12", "181.8", "6")},
	{rule: clearRule, name: "a check for the amino acid", want: Pass, change: bag("12", "181.8", "6", replied("calcium-phosphate-solubility", "Amino acids 4.5 %: below the curve", ""))},
	{rule: clearRule, name: "a check for another amino acid", want: Found, says: "does not name amino acids", change: bag("12", "181.8", "6", replied("calcium-phosphate-solubility", "below the curve of product B", ""))},
	{rule: clearRule, name: "a check that failed", want: Found, says: "did not pass", change: bag("12", "181.8", "6", replied("calcium-phosphate-solubility", "Not soluble with amino acids", ""))},
	{rule: clearRule, name: "a check of another order", want: Found, change: bag("12", "181.8", "6", replied("calcium-phosphate-solubility", "amino acids: clear", "urn:uuid:order-2"))},
	{rule: clearRule, name: "a bag of unknown components", want: Indeterminate, missing: Components, change: bag("12", "181.8", "6", func(w *world) { w.order.Drug.Ingredients = nil })},
	// Row m22: 5 % of 8 mmol are 0.4.
	{rule: madeRule, name: "nothing made", want: NotApplicable, change: bag("12", "181.8", "6")},
	{rule: madeRule, name: "equal", want: Pass, change: bag("12", "181.8", "6", mixed(-1, order.Ingredient{}))},
	{rule: madeRule, name: "scenario S5", want: Found, says: "magnesium (as magnesium sulfate) 12 mmol made, 8 mmol ordered", change: bag("12", "181.8", "6", mixed(4, component("magnesium (as magnesium sulfate)", "12", "mmol")))},
	{rule: madeRule, name: "5 % more", want: Pass, change: bag("12", "181.8", "6", mixed(4, component("magnesium (as magnesium sulfate)", "8.4", "mmol")))},
	{rule: madeRule, name: "over 5 % more", want: Found, change: bag("12", "181.8", "6", mixed(4, component("magnesium (as magnesium sulfate)", "8.41", "mmol")))},
	{rule: madeRule, name: "over 5 % less", want: Found, change: bag("12", "181.8", "6", mixed(4, component("magnesium (as magnesium sulfate)", "7.59", "mmol")))},
	{rule: madeRule, name: "per litre, the same", want: Pass, change: bag("12", "181.8", "6", mixed(4, func() order.Ingredient {
		i := component("magnesium (as magnesium sulfate)", "4", "mmol")
		i.Strength.Denominator = q("1", "L")
		return i
	}()))},
	{rule: madeRule, name: "one left out", want: Found, says: "ordered and not made", change: bag("12", "181.8", "6", mixed(-1, order.Ingredient{}), func(w *world) {
		w.kase.Held.Prepared[0].Drug.Ingredients = w.kase.Held.Prepared[0].Drug.Ingredients[1:]
	})},
	{rule: madeRule, name: "one too many", want: Found, says: "insulin made and not ordered", change: bag("12", "181.8", "6", mixed(-1, order.Ingredient{}), func(w *world) {
		b := &w.kase.Held.Prepared[0].Drug
		b.Ingredients = append(b.Ingredients, component("insulin", "20", "[USP'U]"))
	})},
	{rule: madeRule, name: "another volume", want: Found, says: "volume", change: bag("12", "181.8", "6", mixed(-1, order.Ingredient{}), func(w *world) {
		v := stated("volume", "1800", "mL", order.Coded)
		w.kase.Held.Prepared[0].Drug.Amount = &v
	})},
	{rule: madeRule, name: "perhaps the same under two names", want: Indeterminate, missing: MadeComponents, change: bag("12", "181.8", "6", mixed(4, component("magnesium sulfate", "8", "mmol")))},
	{rule: madeRule, name: "in another kind of unit", want: Indeterminate, missing: MadeComponents, change: bag("12", "181.8", "6", mixed(4, component("magnesium (as magnesium sulfate)", "2", "g")))},
	{rule: madeRule, name: "no components on record", want: Indeterminate, missing: MadeComponents, change: bag("12", "181.8", "6", func(w *world) {
		w.kase.Held.Prepared = []order.Batch{{Units: 7, Lot: "PN-1", Place: place("dispense")}}
	})},
}

func TestSpecialRules(t *testing.T) { judged(t, specialFixtures) }

// The numbers of scenario S5, worked by hand: 2000 ÷ 11 = 181.8 mL per hour.
func TestThePlateauThatEmptiesTheBagIsShown(t *testing.T) {
	w := base()
	bag("12", "166.7", "7.84")(w)
	o := Run([]Rule{ruleOf(t, cycleRule)}, w.facts(), finding.Release)[0]
	require.Len(t, o.Findings, 1)
	assert.Contains(t, o.Findings[0].Expected, "181.8 mL per hour")
	n, ok := plateau(w.facts())
	require.True(t, ok)
	assert.True(t, n.Equal(quantity.Ratio(2000, 11)))
}

// Nothing of the safeguards is said twice, and nothing that is there.
func TestEachMissingSafeguardIsNamedOnce(t *testing.T) {
	w := base()
	guarded(directed("HYDROmorphone"), unanswered("sedatives"), unanswered("naloxone-at-home"))(w)
	o := Run([]Rule{ruleOf(t, guardRule)}, w.facts(), finding.Release)[0]
	require.Len(t, o.Findings, 1)
	assert.Equal(t, 2, strings.Count(o.Findings[0].Observed, ";"))
}
