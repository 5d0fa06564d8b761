package verification

import "weir.example/weir/mapping/finding"

// rule makes one rule. Policy and clock are facts every rule may read:
// without a site's file the defaults apply, and the clock is always given.
func rule(code finding.Code, needs []Fact, applies func(Facts) bool, check func(Facts) []finding.Finding) Rule {
	return Rule{Code: code, Needs: needs, Uses: []Fact{Policy, Now}, Applies: applies, Check: check}
}

func (r Rule) using(facts ...Fact) Rule { r.Uses = append(r.Uses, facts...); return r }

func (r Rule) lacking(f func(Facts) []Fact) Rule { r.Lacks = f; return r }

func (r Rule) notYet(f func(Facts) bool) Rule { r.NotYet = f; return r }

func facts(f ...Fact) []Fact { return f }

// Rules lists every rule of this version, in the order of the table. There
// is no registration by side effect: what is not here is not asked.
func Rules() []Rule {
	var all []Rule
	for _, group := range [][]Rule{recordRules(), doseRules(), deviceRules(), scheduleRules(), handlingRules()} {
		all = append(all, group...)
	}
	return all
}

func recordRules() []Rule {
	both := facts(Order, Case)
	return []Rule{
		rule("record-element-missing", both, nil, elementMissing),
		rule("record-end-missing", facts(Order), nil, endMissing),
		rule("record-indication-missing", facts(Order), nil, indicationMissing),
		rule("record-not-active", facts(Order), nil, notActive),
		rule("record-not-active-completed", facts(Order), nil, completed),
		rule("record-patient-data-missing", both, sized, patientDataMissing).using(Weight, Height),
		rule("record-patient-data-missing-allergy", facts(Case), nil, allergyMissing),
		rule("record-access-missing", both, nil, accessMissing),
		rule("record-follower-missing", both, nil, followerMissing),
		rule("record-home-contact-missing", facts(Case), nil, contactMissing),
		rule("record-review-missing", both, isAntiInfective, reviewMissing).using(DrugRow),
		rule("record-age-outside-evidence", facts(Case, Age), nil, ageOutside),
		rule("record-text-contradicts", facts(Order, Agreement, Quantities), nil, textContradicts).using(Plan),
		rule("record-last-dose-unknown", both, nil, lastDoseUnknown),
		rule("record-first-dose-gap", facts(Order, Plan), nil, firstDoseGap),
		rule("record-unit-unknown", both, nil, carried("record-unit-unknown")),
		rule("record-unit-ambiguous", both, nil, carried("record-unit-ambiguous")),
		rule("record-strength-ambiguous", both, nil, carried("record-strength-ambiguous")),
		rule("record-sources-disagree", facts(Order, Case, Agreement), nil, sourcesDisagree),
		rule("record-modifier-unknown", both, nil, modifierUnknown),
		rule("record-reference-unresolved", both, nil, unresolved),
		rule("identity-conflict", both, nil, carried("identity-conflict")),
		rule("identity-name-variant", both, nil, carried("identity-name-variant")),
		rule("identity-name-variant-minor", both, nil, carried("identity-name-variant-minor")),
		rule("identity-other-patient", both, nil, carried("identity-other-patient")),
	}
}

func doseRules() []Rule {
	agreement := facts(Agreement)
	return []Rule{
		rule("dose-arithmetic", agreement, nil, arithmeticBlock),
		rule("dose-arithmetic-minor", agreement, nil, arithmeticMinor),
		rule("dose-slip", agreement, nil, slips(false)),
		rule("dose-slip-minor", agreement, nil, slips(true)).using(Order, Case),
		rule("dose-basis", agreement, nil, basis(false)),
		rule("dose-basis-minor", agreement, nil, basis(true)),
		rule("dose-weight-implausible", facts(Case), nil, weightImplausible),
		rule("dose-weight-stale", facts(Order, Case, Weight), sized, weightStale),
		rule("dose-daily-above-maximum", facts(Case, Quantities, DrugRow), nil, dailyMaximum).lacking(noDailyLimit),
		rule("dose-renal", facts(Case, Quantities, DrugRow, Creatinine), renallyDosed, renal).lacking(needsClearance),
		rule("dose-renal-stale", facts(Case, DrugRow, Creatinine), renallyDosed, renalStale),
		rule("rate-diluent", facts(Order, DrugRow), diluentListed, diluentForbidden).using(Case),
		rule("rate-diluent-unlisted", facts(Order, DrugRow), diluentListed, diluentUnlisted).using(Case),
		rule("rate-gravity", facts(Order), isGravity, gravityDrug),
		rule("rate-drop-factor-missing", facts(Order), isGravity, dropFactor),
	}
}

func deviceRules() []Rule {
	device := facts(Order, Quantities, Hazard)
	return []Rule{
		rule("device-missing", device, needsNominal, deviceMissing),
		rule("device-family", device, hasNominal, deviceFamily).lacking(lacksNeededRate),
		rule("device-rate", device, hasNominal, deviceRate(false)).lacking(lacksNeededRate),
		rule("device-rate-slower", device, hasNominal, deviceRate(true)).lacking(lacksNeededRate),
	}
}

func scheduleRules() []Rule {
	planned := facts(Order, Plan)
	return []Rule{
		rule("schedule-zone-unknown", facts(Case), nil, zoneUnknown).using(Zone),
		rule("schedule-quantity", planned, quantityOrdered, scheduleQuantity).lacking(homeUnknown),
		rule("schedule-quantity-explained", planned, quantityOrdered, scheduleQuantityExplained).lacking(homeUnknown),
		rule("schedule-quantity-absent", facts(Order), nil, quantityAbsent),
		rule("schedule-start-passed", planned, nil, startPassed),
		rule("schedule-clock-change", facts(Order, Plan, Case), nil, clockChange),
		rule("schedule-replacement-start", planned, nil, replacementStart),
		rule("stability-dose-after-discard", facts(Order, Case, Plan), unitsMade, doseAfterDiscard),
		rule("schedule-delivery-late", planned, hasDeliveries, deliveryLate),
		rule("schedule-no-delivery-day", planned, hasDeliveries, deliveryMoved),
	}
}

func handlingRules() []Rule {
	hazard := facts(Order, Case, Hazard)
	line := facts(Case, Access)
	return []Rule{
		rule("hazard-listed", facts(Order, Hazard), listed, hazardListed),
		rule("hazard-unassessed", facts(Order, Hazard), nil, hazardUnassessed),
		rule("hazard-closed-transfer", hazard, closedTransferDue("required"), closedTransfer),
		rule("hazard-closed-transfer-policy", hazard, closedTransferByPolicy, closedTransfer),
		rule("hazard-spill-kit", hazard, wasteful, spillKit),
		rule("hazard-waste-route", hazard, wasteful, wasteRoute),
		rule("hazard-disconnect-plan", facts(Order, Case, Hazard, Quantities), hazardousContinuous, disconnectPlan),
		rule("access-dwell", facts(Case, Access, Plan), isMidline, dwell).lacking(placedUnknown),
		rule("access-tip-unconfirmed-other", line, central, tipUnconfirmed),
		rule("access-lock-missing", line, hasLine, lockMissing),
		rule("access-lock-strength", line, hasLine, lockStrength),
		rule("access-lock-forbidden", line, hasLine, lockForbidden),
		rule("access-removal-plan", facts(Case, Access, Plan), hasLine, removalPlan).notYet(farFromEnd),
		rule("therapy-allergy", facts(Order, Case), nil, sameDrugAllergy),
		rule("therapy-first-dose", facts(Order, Case), FirstEver, firstDose),
		rule("therapy-genotype-unknown", facts(Order, Case, DrugRow), genotypeAsked, genotypeUnknown),
		rule("therapy-monitoring", facts(Order, Case, DrugRow), monitored, monitoring),
		rule("therapy-monitoring-recipient", facts(Case), hasLaboratory, recipient),
		rule("second-check", facts(Order, Case, Hazard), NeedsSecondCheck, secondCheck).using(DrugRow),
	}
}
