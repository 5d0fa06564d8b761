package verification

// specialRules: opioids by pump, and parenteral nutrition.
func specialRules() []Rule { return nil }

// peopleRules: the independent second person.
func peopleRules() []Rule {
	return []Rule{
		rule("second-check", facts(Order, Case, Hazard), NeedsSecondCheck, secondCheck).using(DrugRow, Age).scoped(Order, Case, Hazard, Age, DrugRow),
	}
}
