package verification

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/compendium"
)

const singleRule = "dose-above-maximum"

func single(value, unit string) compendium.Fact { return mostOf("max_single_dose", value, unit) }

// byDose writes the limit as the tables write one with an interval.
func byDose(value, unit string) compendium.Fact {
	b := band(value, "", "", unit)
	return fact("", "max_single_dose", "all", compendium.Value{Dose: &b})
}

// grams is one dose of so many grams every 8 hours, for 74 kg.
func grams(n string) func(*world) {
	return figures("dose", n, "g", "interval", "8", "h", "dosingWeight", "74", "kg")
}

var singleFixtures = []fixture{
	{rule: singleRule, name: "at the limit", want: Pass, change: both(limitedBy(single("2", "g")), grams("2"))},
	{rule: singleRule, name: "above it", want: Found, says: "2.01 g", change: both(limitedBy(single("2", "g")), grams("2.01"))},
	{rule: singleRule, name: "in another unit", want: Found, change: both(limitedBy(single("2000", "mg")), grams("2.01"))},
	{rule: singleRule, name: "no limit in the table", want: Indeterminate, missing: TableLimit, change: both(limitedBy(), grams("2"))},
	{rule: singleRule, name: "what runs all day has no single dose", want: NotApplicable, change: both(limitedBy(single("2", "g")), figures("dose", "6", "g", "duration", "24", "h", "interval", "24", "h"))},
	{rule: singleRule, name: "the dose is not known", want: Indeterminate, missing: Dose, change: both(limitedBy(single("2", "g")), figures("interval", "8", "h"))},
	// By weight: 5 % for rounding, as dose-basis says nothing of it. 74 × 6 = 444; × 1.05 = 466.2.
	{rule: singleRule, name: "per kg, rounded up by 5 %", want: Pass, change: both(limitedBy(byDose("6", "mg/kg")), grams("0.4662"))},
	{rule: singleRule, name: "per kg, by more", want: Found, change: both(limitedBy(byDose("6", "mg/kg")), grams("0.4663"))},
	{rule: singleRule, name: "per kg without a weight", want: Indeterminate, missing: Weight, change: both(limitedBy(byDose("6", "mg/kg")), figures("dose", "400", "mg"))},
	// Populations: scenario S4, 2,650 mg for a child whose whole day may have 2 g.
	{rule: singleRule, name: "S4: a dose above what a day may have", want: Found, says: "2.65 g", change: both(child, limitedBy(of("pediatric", daily("2", "g/d"))), figures("dose", "2650", "mg"))},
	{rule: singleRule, name: "S4: the right dose, without a limit for one dose", want: Indeterminate, missing: TableLimit, change: both(child, limitedBy(of("pediatric", daily("2", "g/d"))), figures("dose", "1200", "mg"))},
	{rule: singleRule, name: "a child above the adult's limit", want: Found, change: both(child, limitedBy(single("2", "g")), grams("2.01"))},
	{rule: singleRule, name: "a child below it, without one of its own", want: Indeterminate, missing: TableLimit, change: both(child, limitedBy(single("2", "g")), grams("2"))},
	{rule: singleRule, name: "a child within a limit per kg for everybody", want: Pass, change: both(child, limitedBy(byDose("50", "mg/kg")), grams("1"))},
	{rule: singleRule, name: "an adult is not held under a child's", want: Pass, change: both(limitedBy(single("2", "g"), of("pediatric", single("1", "g"))), grams("2"))},
	// Regimens: caspofungin's 70 mg after an inadequate response, clindamycin's 600 mg into the muscle.
	{rule: singleRule, name: "above a limit of a regimen that nobody told", want: Indeterminate, missing: regimen("inadequate response"), change: both(limitedBy(single("3", "g"), keyed(single("2", "g"), compendium.Applies{Regimen: "inadequate response"})), grams("2.5"))},
	{rule: singleRule, name: "below it", want: Pass, change: both(limitedBy(single("3", "g"), keyed(single("2", "g"), compendium.Applies{Regimen: "inadequate response"})), grams("2"))},
	{rule: singleRule, name: "a limit of another route is none", want: Indeterminate, missing: TableLimit, change: both(limitedBy(keyed(single("600", "mg"), compendium.Applies{Route: "intramuscular"})), grams("0.9"))},
	{rule: singleRule, name: "a range of doses is held at its high end", want: Found, change: both(limitedBy(single("2", "g")), figures("dose", "1 to 3", "g"))},
	{rule: singleRule, name: "a range up to the limit", want: Pass, change: both(limitedBy(single("2", "g")), figures("dose", "1 to 2", "g"))},
	{rule: singleRule, name: "between the table's number and the site's", want: Found, change: both(limitedBy(loosenedTo("3", single("2", "g"))), grams("2.5"))},
	{rule: singleRule, name: "a disputed dose below the limit is not checked", want: Indeterminate, missing: Dose, change: both(limitedBy(single("2", "g")), grams("1"), disputing("dose"))},
	{rule: singleRule, name: "a disputed dose above the limit counts as it is written", want: Found, change: both(limitedBy(single("2", "g")), grams("3"), disputing("dose"))},
}

func disputing(name string) func(*world) {
	return func(w *world) {
		x := w.numbers[name]
		x.Disputed, x.Stated = true, true
		w.numbers[name] = x
	}
}

func TestSingleDoseRules(t *testing.T) { judged(t, singleFixtures) }

// A recalled limit says so, and a site's looser number lowers by one step.
func TestASingleMaximumCarriesStandingAndSite(t *testing.T) {
	o := ask(t, singleRule, limitedBy(recalled(single("2", "g"))), grams("3"))
	require.Len(t, o.Findings, 1)
	assert.Equal(t, compendium.Memory, o.Findings[0].Standing)
	o = ask(t, singleRule, limitedBy(loosenedTo("3", single("2", "g"))), grams("2.5"))
	require.Len(t, o.Findings, 1)
	assert.Equal(t, LoosenedDetail, o.Findings[0].Detail)
	o = ask(t, singleRule, limitedBy(loosenedTo("3", single("2", "g"))), grams("3.1"))
	require.Len(t, o.Findings, 1)
	assert.NotEqual(t, LoosenedDetail, o.Findings[0].Detail)
}

// Every limit of one dose in the tables speaks above itself and not at it.
func TestEverySingleLimitOfTheTablesSpeaksBeyondItself(t *testing.T) {
	tried := 0
	for _, d := range compendium.Embedded().Drugs {
		for _, x := range d.Facts {
			if x.Topic != "max_single_dose" || !x.Gates || len(x.AppliesTo) > 0 && x.AppliesTo[0].Age == nil {
				continue
			}
			b := x.Value.Band
			if b.Empty() {
				b = *x.Value.Dose
			}
			at, err := b.Quantity()
			require.NoError(t, err, x.ID)
			for _, beyond := range []bool{false, true} {
				n, unit := at.High, b.Unit
				if bySize(unit) {
					n, unit = n.Mul(settled("16", "kg").Value), "mg"
				}
				if beyond {
					n = n.Mul(settled("1.06", "1").Value)
				}
				w := base()
				if x.Population == "pediatric" {
					child(w)
				}
				w.drug = d
				w.drug.Facts = []compendium.Fact{x}
				figures("dose", n.Decimal(), unit, "dosingWeight", "16", "kg")(w)
				o := Run([]Rule{ruleOf(t, singleRule)}, w.facts(), "release")[0]
				assert.Equal(t, beyond, o.Kind == Found, "%s beyond %t: %s %v", x.ID, beyond, o.Kind, o.Missing)
			}
			tried++
		}
	}
	assert.GreaterOrEqual(t, tried, 12)
	t.Logf("%d limits", tried)
}
