package verification

// specialRules: opioids by pump, and parenteral nutrition.
func specialRules() []Rule {
	bag := facts(Order, Quantities, DrugRow)
	rates := facts(Order, Case, Age, Quantities, DrugRow)
	return []Rule{
		rule("opioid-safeguards", facts(Order, Case), isOpioid, opioidSafeguards).using(DrugRow).scoped(Order, DrugRow),
		rule("opioid-limit", facts(Order, Quantities), demandsOpioid, opioidLimit).using(DrugRow).scoped(Order, DrugRow).lackingUnlessFound(opioidLimitUnknown),
		rule("nutrition-cycle", bag, cycles, nutritionCycle).scoped(Order, DrugRow).lackingUnlessFound(cycleUnknown),
		rule("nutrition-rate", rates, isNutrition, nutritionRate).using(Weight).scoped(DrugRow).lackingUnlessFound(nutritionRateUnknown),
		rule("nutrition-rate-minor", rates, isNutrition, nutritionRateMinor).using(Weight).scoped(DrugRow).lackingUnlessFound(glucoseUnknown),
		rule("nutrition-calcium-phosphate", facts(Order, Case, DrugRow), calciumAndPhosphate, solubilityUnchecked).scoped(Order, DrugRow).lackingUnlessFound(componentsUnknown),
		rule("nutrition-compounding", facts(Order, Case, Quantities, DrugRow), madeNutrition, nutritionCompounding).scoped(Order, Case, DrugRow).lackingUnlessFound(compoundingUnknown),
	}
}

// peopleRules: the independent second person.
func peopleRules() []Rule {
	return []Rule{
		rule("second-check", facts(Order, Case, Hazard), NeedsSecondCheck, secondCheck).using(DrugRow, Age).scoped(Order, Case, Hazard, Age, DrugRow),
	}
}
