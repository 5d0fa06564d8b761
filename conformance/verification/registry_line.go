package verification

// hazardRules: what a hazardous drug needs.
func hazardRules() []Rule {
	hazard := facts(Order, Case, Hazard)
	return []Rule{
		rule("hazard-listed", facts(Order, Hazard), listed, hazardListed),
		rule("hazard-unassessed", facts(Order, Hazard), nil, hazardUnassessed),
		rule("hazard-closed-transfer", hazard, closedTransferDue("required"), closedTransfer),
		rule("hazard-closed-transfer-policy", hazard, closedTransferByPolicy, closedTransfer),
		rule("hazard-spill-kit", hazard, wasteful, spillKit),
		rule("hazard-waste-route", hazard, wasteful, wasteRoute),
		rule("hazard-disconnect-plan", facts(Order, Case, Hazard, Quantities), hazardousContinuous, disconnectPlan),
	}
}

// accessRules: the line, its tip, its lock and its flush.
func accessRules() []Rule {
	line := facts(Case, Access)
	return []Rule{
		rule("access-dwell", facts(Order, Case, Access, Plan), isMidline, dwell).scoped(Case, Access).lackingUnlessFound(dwellUnknown),
		rule("access-tip-unconfirmed-other", line, central, tipUnconfirmed),
		rule("access-lock-missing", line, hasLine, lockMissing),
		rule("access-lock-strength", facts(Case, Age), heparinLocked, lockStrength).scoped(Case).lacking(lockUnread),
		rule("access-lock-forbidden", facts(Case, Age), anyLock, lockForbidden).scoped(Case).lacking(lockUnread),
		rule("access-removal-plan", facts(Case, Access, Plan), hasLine, removalPlan).notYet(farFromEnd),
	}
}
