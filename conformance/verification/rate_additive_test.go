package verification

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/policy"
)

// holding adds a salt to a bag of fluid: amount and unit, in a volume in mL, or
// "" for each bag. The bag itself has no row.
func holding(name, amount, unit, volume string) func(*world) {
	return func(w *world) {
		w.unlisted = true
		s := order.Strength{Numerator: q(amount, unit), Denominator: q("1", "1")}
		if volume != "" {
			s.Denominator = q(volume, "mL")
		}
		w.order.Drug.Ingredients = append(w.order.Drug.Ingredients, order.Ingredient{Concept: concept(name), Strength: &s, Place: place("ingredient[2]")})
	}
}

// litre is 1,000 mL over so many hours (scenario S6).
func litre(hours string) func(*world) {
	return both(figures("volume", "1000", "mL", "duration", hours, "h"), byPump)
}

var rateAdditiveFixtures = []fixture{
	{rule: rateRule, name: "S6: 20 mmol potassium over 4 hours", want: Indeterminate, missing: DrugRow, change: both(litre("4"), holding("potassium chloride", "20", "mmol", "1000"))},
	{rule: rateRule, name: "40 mmol over 4 hours", want: Indeterminate, missing: DrugRow, change: both(litre("4"), holding("potassium chloride", "40", "mmol", "1000"))},
	{rule: rateRule, name: "41 mmol over 4 hours", want: Found, says: "potassium: 10.25", change: both(litre("4"), holding("potassium chloride", "41", "mmol", "1000"))},
	{rule: rateRule, name: "the same for each bag, in milliequivalents", want: Found, change: both(litre("4"), holding("potassium chloride", "41", "meq", ""))},
	{rule: rateRule, name: "two salts", want: Found, change: both(litre("4"), holding("potassium chloride", "21", "mmol", "1000"), holding("potassium acetate", "20", "mmol", "1000"))},
	{rule: rateRule, name: "a phosphate does not tell its potassium", want: Indeterminate, missing: TableLimit, change: both(litre("1"), holding("potassium phosphate", "41", "mmol", "1000"))},
	{rule: rateRule, name: "grams are not compared", want: Indeterminate, missing: TableLimit, change: both(litre("1"), holding("potassium chloride", "6", "g", "1000"))},
	{rule: rateRule, name: "no rate of the bag", want: Indeterminate, missing: Rate, change: both(figures("volume", "1000", "mL"), byPump, holding("potassium chloride", "41", "mmol", "1000"))},
	{rule: rateRule, name: "the site has a number of its own, which is not read here", want: Indeterminate, missing: TableLimit, change: both(litre("4"), holding("potassium chloride", "41", "mmol", "1000"), func(w *world) {
		w.policy.Overrides = []policy.Override{{Fact: "potassium-chloride-001"}}
	})},
	{rule: strongRule, name: "82 mmol in a litre through a short line", want: Found, says: "potassium: 82", change: both(litre("12"), holding("potassium chloride", "82", "mmol", "1000"), through("midline"))},
	{rule: strongRule, name: "80 mmol in a litre through a short line", want: Indeterminate, missing: DrugRow, change: both(litre("12"), holding("potassium chloride", "80", "mmol", "1000"), through("midline"))},
	{rule: edgeRule, name: "by a device that may run faster", want: Found, says: "potassium", change: both(figures("volume", "1000", "mL", "duration", "4", "h"), elastomeric("250"), holding("potassium chloride", "36", "mmol", "1000"))},
	{rule: edgeRule, name: "slow enough at the fast edge", want: Indeterminate, missing: DrugRow, change: both(figures("volume", "1000", "mL", "duration", "4", "h"), elastomeric("250"), holding("potassium chloride", "34", "mmol", "1000"))},
}

func TestRateAdditives(t *testing.T) { judged(t, rateAdditiveFixtures) }

// The recalled limit for a short line only holds.
func TestPotassiumInABagKeepsTheGateOfItsFact(t *testing.T) {
	o := ask(t, strongRule, litre("12"), holding("potassium chloride", "82", "mmol", "1000"), through("midline"))
	require.Len(t, o.Findings, 1)
	assert.Equal(t, finding.Hold, o.Findings[0].AtMost)
	o = ask(t, rateRule, litre("4"), holding("potassium chloride", "41", "mmol", "1000"))
	require.Len(t, o.Findings, 1)
	assert.Equal(t, finding.NoGate, o.Findings[0].AtMost)
}
