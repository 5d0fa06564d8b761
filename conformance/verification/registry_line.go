package verification

import "weir.example/weir/mapping/compendium"

// hazardRules: what a hazardous drug needs.
func hazardRules() []Rule {
	hazard := facts(Order, Case, Hazard)
	return []Rule{
		rule("hazard-listed", facts(Order, Hazard), listed, hazardListed),
		rule("hazard-unassessed", facts(Order, Hazard), nil, hazardUnassessed),
		rule("hazard-closed-transfer", hazard, closedTransferDue("required"), closedTransfer).using(Plan),
		rule("hazard-closed-transfer-policy", hazard, closedTransferByPolicy, closedTransfer).using(Plan),
		rule("hazard-spill-kit", hazard, wasteful, spillKit),
		rule("hazard-waste-route", hazard, wasteful, wasteRoute),
		rule("hazard-vesicant-access", facts(Order, Case, Access, Quantities, DrugRow), throughVein, vesicantAccess).scoped(Order, Case, Access).lackingUnlessFound(vesicantUnknown),
		rule("hazard-disconnect-plan", facts(Order, Case, Hazard, Quantities), hazardousContinuous, disconnectPlan).using(Plan),
	}
}

// accessRules: the line, its tip, its lock and its flush.
func accessRules() []Rule {
	line := facts(Case, Access)
	return []Rule{
		rule("access-dwell", facts(Order, Case, Access, Plan), isMidline, dwell).scoped(Case, Access).lackingUnlessFound(dwellUnknown),
		rule("access-unsuitable", facts(Order, Case, Access, Quantities), throughVein, unsuitable).using(DrugRow, LeastOsmolarity, Dextrose).scoped(Order, Case, Access).lackingUnlessFound(unsuitableUnknown),
		rule("access-unsuitable-ph", facts(Order, Case, Access, DrugRow), throughVein, acidity).scoped(Order, Case, Access).lackingUnlessFound(acidityUnknown),
		rule("access-tip-unconfirmed", facts(Order, Case, Access, Quantities), throughCentral, tipUnconfirmedCentral).using(DrugRow, LeastOsmolarity, Dextrose).scoped(Order, Case, Access).lackingUnlessFound(tipUnknown),
		rule("access-tip-unconfirmed-other", facts(Order, Case, Access), throughCentral, tipUnconfirmedOther).using(Quantities, DrugRow, LeastOsmolarity, Dextrose),
		rule("access-lock-missing", line, hasLine, lockMissing),
		rule("access-lock-strength", facts(Case, Age), heparinLocked, lockStrength).scoped(Case).lacking(lockUnread),
		rule("access-lock-citrate", facts(Case, Age), citrateLocked, lockCitrate).scoped(Case).lackingUnlessFound(lockUnread),
		rule("access-lock-forbidden", facts(Case, Age), anyPushed, lockForbidden).scoped(Case).lacking(lockUnread),
		rule("access-lock-forbidden-dialysis", facts(Case, Age), heparinLocked, strongInDialysis).scoped(Case).lacking(lockUnread),
		rule("access-flush-fluid", facts(Order, Case, Quantities, DrugRow), carries(compendium.NeverSaline), flushFluid).lackingUnlessFound(flushFluidUnknown),
		rule("access-flush-bolus", facts(Order, Case, Quantities, DrugRow), carries(compendium.NoBolus), flushBolus).lackingUnlessFound(flushBolusUnknown),
		rule("access-removal-plan", facts(Case, Access, Plan), hasLine, removalPlan).notYet(farFromEnd),
	}
}
