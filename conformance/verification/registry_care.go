package verification

// careRules: what must go with the drug, be measured, and be seen by whom.
func careRules() []Rule {
	return []Rule{
		rule("therapy-genotype-unknown", facts(Order, Case, DrugRow), genotypeAsked, genotypeUnknown).scoped(DrugRow),
		rule("therapy-monitoring", facts(Order, Case, DrugRow), monitored, monitoring).scoped(DrugRow),
		rule("therapy-monitoring-recipient", facts(Case), hasLaboratory, recipient),
	}
}
