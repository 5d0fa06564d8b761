package verification

// careRules: what must go with the drug, be measured, and be seen by whom.
func careRules() []Rule {
	row := facts(Order, Case, DrugRow)
	return []Rule{
		rule("therapy-companion-missing", row, hasCompanions("hold"), companionMissing("hold")).scoped(Order, DrugRow),
		rule("therapy-companion-missing-minor", row, hasCompanions("warn"), companionMissing("warn")).scoped(Order, DrugRow),
		rule("therapy-lab-threshold", facts(Order, Case, Hazard), suppresses, labThreshold).using(DrugRow, Plan, Quantities).scoped(Hazard, DrugRow).lackingUnlessFound(thresholdUnknown),
		rule("therapy-genotype-unknown", row, genotypeAsked, genotypeUnknown).scoped(DrugRow),
		rule("therapy-genotype-result", row, genotypeKnown, genotypeResult).scoped(Case, DrugRow),
		rule("therapy-monitoring", row, monitored, monitoring).using(Plan).scoped(Case, DrugRow).notYet(firstRelease),
		rule("therapy-monitoring-recipient", facts(Case), hasLaboratory, recipient),
		rule("therapy-level-timing", facts(Order, Case), hasTrough, levelTiming).using(DrugRow, Plan, Access).scoped(Order, Case, DrugRow),
		rule("therapy-risk-unassessed", row, hasPreconditions, riskUnassessed).scoped(Case, DrugRow),
		rule("record-lot-missing", facts(Order, Case), hasPrepared, lotMissing),
	}
}
