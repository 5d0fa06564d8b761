package verification

// stabilityRules: until when a prepared unit may be started and finished.
func stabilityRules() []Rule {
	units, run := facts(Order, Case, Plan), facts(Order, Plan)
	table := facts(Order, Case, Plan, DrugRow)
	return []Rule{
		rule("stability-dose-after-discard", units, unitsMade, doseAfterDiscard),
		rule("stability-category", units, hasUnits, categoryLimit).lackingUnlessFound(categoryUnknown),
		rule("stability-beyond-label", table, hasDated, beyondLabel).scoped(Order, Case, Plan).lackingUnlessFound(labelUnknown),
		rule("stability-beyond-label-unsupported", table, hasUnits, beyondLabelUnsupported).scoped(Order, Case, Plan).lackingUnlessFound(supportUnknown),
		rule("stability-run-time", run, nil, allOf(runTime, roomRun)).using(DrugRow).lackingUnlessFound(runUnknown),
		rule("stability-no-data", run, wornDoses, noDataFound(false)).lackingUnlessFound(noDataUnknown),
		rule("stability-no-data-long", run, wornDoses, noDataFound(true)).lackingUnlessFound(noDataUnknown),
		rule("stability-home-additive", facts(Order, Case), hasAdditive, homeAdditive).using(Plan),
	}
}
