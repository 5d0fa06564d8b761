package verification

import (
	"testing"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/order"
)

const choiceRule = "dose-weight-choice"

// weighing is a dose in mg for a weight, with the ideal one ("" when none is
// defined).
func weighing(dose, actual, ideal string, more ...string) func(*world) {
	return func(w *world) {
		figures(append([]string{"dose", dose, "mg", "interval", "24", "h", "dosingWeight", actual, "kg"}, more...)...)(w)
		if ideal != "" {
			withNumbers("idealBodyWeight", ideal, "kg")(w)
		}
	}
}

func labelledBy(weight string) compendium.Fact {
	return fact("", "weight_basis", "all", compendium.Value{Weight: weight, Text: weight})
}

var weightChoiceFixtures = []fixture{
	// 4 mg/kg usual (3.6 to 4.4 with a tenth). 400 mg: 4 per kg of 100 kg, 5.71 of 70, 4.88 of 82.
	{rule: choiceRule, name: "usual by one weight and not by another", want: Found, says: "5.71 mg per kg", change: both(limitedBy(usually("4", "mg/kg", "24")), weighing("400", "100", "70"))},
	{rule: choiceRule, name: "usual by each", want: Pass, change: both(limitedBy(usually("3 to 6", "mg/kg", "24")), weighing("400", "100", "70"))},
	{rule: choiceRule, name: "usual by none is not this rule's", want: Pass, change: both(limitedBy(usually("10", "mg/kg", "24")), weighing("400", "100", "70"))},
	// 1.2 times the ideal weight: 84 for 70.
	{rule: choiceRule, name: "up to 1.2 times the ideal weight the actual one counts", want: Pass, change: both(limitedBy(usually("4", "mg/kg", "24")), weighing("336", "84", "70"))},
	{rule: choiceRule, name: "above that the choice counts", want: Found, change: both(limitedBy(usually("4", "mg/kg", "24")), weighing("336.4", "84.1", "70"))},
	{rule: choiceRule, name: "S2: 61 kg, 10.7 % above the ideal weight", want: Pass, change: both(limitedBy(usually("15 to 20", "mg/kg", "12")), weighing("1250", "61", "55.1"))},
	{rule: choiceRule, name: "S2: labelled for actual weight", want: NotApplicable, change: both(limitedBy(usually("15 to 20", "mg/kg", "12"), labelledBy("actual")), weighing("1250", "61", "55.1", "dosePerKg", "20.5", "mg/kg"))},
	{rule: choiceRule, name: "S7: 91 kg, labelled for actual weight", want: NotApplicable, change: both(limitedBy(usually("6", "mg/kg", "24"), labelledBy("actual")), weighing("550", "91", "75.0", "dosePerKg", "6", "mg/kg"))},
	{rule: choiceRule, name: "the order says the weight", want: NotApplicable, change: both(limitedBy(usually("4", "mg/kg", "24")), weighing("400", "100", "70"), func(w *world) { w.order.DoseBasis = "adjusted-weight" })},
	{rule: choiceRule, name: "the order states a weight of its own", want: NotApplicable, change: both(limitedBy(usually("4", "mg/kg", "24")), weighing("400", "100", "70"), func(w *world) {
		w.order.Stated = append(w.order.Stated, stated("dosingWeight", "82", "kg", order.Text))
	})},
	{rule: choiceRule, name: "a drug of fixed doses", want: NotApplicable, change: both(limitedBy(usually("2", "g", "8")), weighing("2000", "100", "70"))},
	{rule: choiceRule, name: "a drug of fixed doses and of doses by weight, ordered fixed", want: NotApplicable, change: both(limitedBy(usually("500", "mg", "8"), usually("7.5", "mg/kg", "6")), weighing("500", "100", "55"))},
	{rule: choiceRule, name: "the same, ordered by weight", want: Found, change: both(limitedBy(usually("500", "mg", "8"), usually("7.5", "mg/kg", "6")), weighing("750", "100", "55", "dosePerKg", "7.5", "mg/kg"))},
	{rule: choiceRule, name: "a child has one weight", want: NotApplicable, change: both(child, limitedBy(of("all", usually("4", "mg/kg", "24"))), weighing("64", "16", ""))},
	{rule: choiceRule, name: "ordered by weight, and no usual dose by weight", want: Indeterminate, missing: TableLimit, change: both(limitedBy(), weighing("400", "100", "70", "dosePerKg", "4", "mg/kg"))},
	{rule: choiceRule, name: "a heavy patient without a height", want: Indeterminate, missing: Height, change: both(limitedBy(usually("4", "mg/kg", "24")), weighing("400", "100", ""), without("height"))},
	{rule: choiceRule, name: "a heavy patient too short for an ideal weight", want: Indeterminate, missing: DosingWeight, change: both(limitedBy(usually("4", "mg/kg", "24")), weighing("400", "100", ""))},
	{rule: choiceRule, name: "a light patient without a height", want: Pass, change: both(limitedBy(usually("4", "mg/kg", "24")), weighing("216", "54", ""), without("height"))},
	{rule: choiceRule, name: "no weight", want: Indeterminate, missing: Weight, change: both(limitedBy(usually("4", "mg/kg", "24")), figures("dose", "400", "mg"))},
	{rule: choiceRule, name: "a disputed dose", want: Indeterminate, missing: Dose, change: both(limitedBy(usually("4", "mg/kg", "24")), weighing("400", "70", "70"), disputing("dose"))},
	{rule: choiceRule, name: "a weight that only follows from the dose is none", want: Indeterminate, missing: Weight, change: both(limitedBy(usually("4", "mg/kg", "24")), figures("dose", "400", "mg", "dosePerKg", "4", "mg/kg"), withNumbers("idealBodyWeight", "70", "kg"))},
	// Amikacin goes by the day: 15 mg/kg, 1,350 mg are 15 per kg of 90 kg and 20.5 of 66.
	{rule: choiceRule, name: "a usual day by weight", want: Found, change: both(limitedBy(usualADay("15", "mg/kg/d")), weighing("1350", "90", "66"))},
}

func TestWeightChoiceRules(t *testing.T) { judged(t, weightChoiceFixtures) }

var roundingFixtures = []fixture{
	// 6 mg/kg of 20 kg are 120 mg. A step of 50 mg makes 126 of it 5 % more.
	{rule: "dose-rounding", name: "rounded by 5 %", want: Pass, change: roundedTo("126", "6", "20")},
	{rule: "dose-rounding", name: "by more", want: Found, says: "126.1 mg", change: roundedTo("126.1", "6", "20")},
	{rule: "dose-rounding", name: "down by 5 %", want: Pass, change: roundedTo("114", "6", "20")},
	{rule: "dose-rounding", name: "down by more", want: Found, change: roundedTo("113.9", "6", "20")},
	{rule: "dose-rounding", name: "S4: 1,215 mg rounded to 1,200", want: Pass, change: roundedTo("1200", "75", "16.2")},
	{rule: "dose-rounding", name: "a range of doses by weight that holds the dose", want: Pass, change: roundedTo("130", "5 to 7", "20")},
	{rule: "dose-rounding", name: "beyond the range", want: Found, change: roundedTo("148", "5 to 7", "20")},
	{rule: "dose-rounding", name: "by surface", want: Found, change: settledFigures("dose", "4700", "mg", "dosePerArea", "2400", "mg/m2", "bodySurfaceArea", "1.829", "m2")},
	{rule: "dose-rounding", name: "by surface, S3", want: Pass, change: settledFigures("dose", "4390", "mg", "dosePerArea", "2400", "mg/m2", "bodySurfaceArea", "1.829", "m2")},
	{rule: "dose-rounding", name: "a fixed dose is not worked out", want: NotApplicable, change: settledFigures("dose", "2", "g")},
	{rule: "dose-rounding", name: "no weight", want: Indeterminate, missing: Weight, change: settledFigures("dose", "120", "mg", "dosePerKg", "6", "mg/kg")},
	{rule: "dose-rounding", name: "a disputed dose", want: Indeterminate, missing: Dose, change: both(roundedTo("126", "6", "20"), disputing("dose"))},
	{rule: "dose-rounding", name: "numbers that conflict are another rule's", want: Pass, change: both(roundedTo("150", "6", "20"), basisOff("1.25"))},
}

// settledFigures are numbers inside the drug's rounding step: nothing
// disputes them.
func settledFigures(list ...string) func(*world) {
	return func(w *world) {
		figures(list...)(w)
		for i := range w.order.Stated {
			s := w.order.Stated[i]
			w.numbers[s.Name] = order.Quantity{Value: s.Quantity.Middle(), Low: s.Quantity.Low, High: s.Quantity.High, Unit: s.Quantity.Unit, Stated: true, Place: s.Place}
		}
		w.agreement.Conflicts = nil
	}
}

func roundedTo(dose, perKg, weight string) func(*world) {
	return settledFigures("dose", dose, "mg", "dosePerKg", perKg, "mg/kg", "dosingWeight", weight, "kg")
}

func TestRoundingRules(t *testing.T) { judged(t, roundingFixtures) }
