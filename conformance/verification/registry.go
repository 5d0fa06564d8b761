package verification

import (
	"slices"
	"sync"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
)

// rule makes one rule. Policy and clock are facts every rule may read:
// without a site's file the defaults apply, and the clock is always given.
func rule(code finding.Code, needs []Fact, applies func(Facts) bool, check func(Facts) []finding.Finding) Rule {
	return Rule{Code: code, Needs: needs, Uses: []Fact{Policy, Now}, Applies: applies, Check: check}
}

// allOf joins the findings of several checks of one requirement.
func allOf(checks ...func(Facts) []finding.Finding) func(Facts) []finding.Finding {
	return func(f Facts) []finding.Finding {
		var out []finding.Finding
		for _, c := range checks {
			out = append(out, c(f)...)
		}
		return out
	}
}

func (r Rule) using(facts ...Fact) Rule { r.Uses = append(r.Uses, facts...); return r }

// scoped names the facts that tell whether the rule applies, where they are
// not simply its needs.
func (r Rule) scoped(facts ...Fact) Rule { r.Scope = facts; return r }

func (r Rule) lacking(f func(Facts) []Fact) Rule { r.Lacks = f; return r }

// lackingUnlessFound is lacking for facts that are missing in part: what is
// found in the rest stands, and is not softened to "not checked".
func (r Rule) lackingUnlessFound(f func(Facts) []Fact) Rule {
	r.inPart = f
	r.Lacks = func(x Facts) []Fact {
		if len(r.Check(x)) > 0 {
			return nil
		}
		return f(x)
	}
	return r
}

func (r Rule) notYet(f func(Facts) bool) Rule { r.NotYet = f; return r }

func facts(f ...Fact) []Fact { return f }

// Rules lists every rule of this version, in the order of the table. There
// is no registration by side effect: what is not here is not asked. The list
// is made once, for all who ask.
var Rules = sync.OnceValue(func() []Rule {
	var all []Rule
	for _, group := range [][]Rule{
		recordRules(), doseRules(), deviceRules(), scheduleRules(), stabilityRules(), hazardRules(), accessRules(), allergyRules(), careRules(), lumenRules(), specialRules(), peopleRules(),
	} {
		all = append(all, group...)
	}
	return all
})

func recordRules() []Rule {
	both := facts(Order, Case)
	return []Rule{
		rule("record-element-missing", both, nil, elementMissing),
		rule("record-end-missing", facts(Order), nil, endMissing).using(DrugRow),
		rule("record-end-missing-review", facts(Order, Case, DrugRow), noEnd, endMissingReview).scoped(Order),
		rule("record-total-only", facts(Order, Quantities, Hazard), overADay, totalOnly).using(DrugRow).scoped(Quantities).lackingUnlessFound(totalUnknown),
		rule("record-indication-missing", facts(Order), nil, indicationMissing),
		rule("record-not-active", facts(Order), nil, notActive),
		rule("record-not-active-completed", facts(Order), nil, completed),
		rule("record-patient-data-missing", both, sized, patientDataMissing).using(Weight, Height),
		rule("record-patient-data-missing-allergy", facts(Case), nil, allergyMissing),
		rule("record-patient-data-missing-pregnancy", facts(Case, Age, Hazard), mayBePregnant, pregnancyMissing).lackingUnlessFound(pregnancyUnknown),
		rule("record-access-missing", both, nil, accessMissing),
		rule("record-follower-missing", both, nil, followerMissing),
		rule("record-home-contact-missing", facts(Case), nil, contactMissing),
		rule("record-review-missing", both, isAntiInfective, reviewMissing).using(DrugRow).scoped(DrugRow),
		rule("record-age-outside-evidence", facts(Case, Age), nil, ageOutside),
		rule("record-text-contradicts", facts(Order, Case, Agreement, Quantities), nil, textContradicts).using(Plan),
		rule("record-last-dose-unknown", both, nil, lastDoseUnknown),
		rule("record-first-dose-gap", facts(Order, Plan), hasGap, firstDoseGap),
		rule("record-unit-unknown", both, nil, carried("record-unit-unknown")),
		rule("record-number-impossible", both, nil, numberImpossible),
		rule("record-unit-ambiguous", both, nil, carried("record-unit-ambiguous")),
		rule("record-strength-ambiguous", both, nil, carried("record-strength-ambiguous")),
		rule("record-sources-disagree", facts(Order, Case, Agreement), nil, sourcesDisagree),
		rule("record-modifier-unknown", both, nil, modifierUnknown),
		rule("record-reference-unresolved", both, nil, unresolved),
		rule("identity-conflict", both, nil, carried("identity-conflict")),
		rule("identity-name-variant", both, nil, carried("identity-name-variant")),
		rule("identity-name-variant-minor", both, nil, carried("identity-name-variant-minor")),
		rule("identity-duplicate-message", both, nil, carried("identity-duplicate-message")),
		rule("identity-other-patient", both, nil, carried("identity-other-patient")),
	}
}

func doseRules() []Rule {
	agreement := facts(Agreement)
	numbers := facts(Order, Case, Age, Quantities)
	limited := facts(Order, Case, Age, Quantities, DrugRow)
	return []Rule{
		rule("dose-arithmetic", agreement, nil, arithmeticBlock).lackingUnlessFound(tooMany),
		rule("dose-arithmetic-minor", agreement, nil, arithmeticMinor).lackingUnlessFound(tooMany),
		rule("dose-arithmetic-reading", agreement, nil, otherReading),
		rule("dose-slip", agreement, nil, slips(false)).lackingUnlessFound(tooMany),
		rule("dose-slip-minor", agreement, nil, slips(true)).using(Order, Case).lackingUnlessFound(tooMany),
		rule("dose-basis", agreement, nil, basis(false)).lackingUnlessFound(tooMany),
		rule("dose-basis-minor", agreement, nil, basis(true)).lackingUnlessFound(tooMany),
		rule("dose-weight-implausible", facts(Case), nil, allOf(weightImplausible, statedWeightSlip, weightAgainstSize)).using(Order),
		rule("dose-weight-stale", facts(Order, Case, Age, Weight), sized, allOf(weightStale, statedWeightStale)).scoped(Order),
		rule("dose-weight-choice", limited, weightOpen, weightChoice).scoped(Order, Case, Age, DrugRow).lackingUnlessFound(weightChoiceUnknown),
		rule("dose-above-maximum", limited, oneDose, singleMaximum).scoped(Order, Quantities).lackingUnlessFound(singleUnknown),
		rule("dose-daily-above-maximum", facts(Case, Age, Quantities, DrugRow), nil, dailyMaximum).using(Order).lackingUnlessFound(noDailyLimit),
		rule("dose-below-usual", limited, hasFloor, belowUsual).using(Creatinine, Weight).scoped(Order, DrugRow).lackingUnlessFound(lowUnknown),
		rule("dose-renal", facts(Case, Age, Quantities, DrugRow), renallyDosed, renal).using(Order, Creatinine, Weight).scoped(Case, Age, DrugRow).lackingUnlessFound(renalUnknown),
		rule("dose-renal-stale", facts(Case, Age, DrugRow), kidneysMatter, renalStale).using(Creatinine),
		rule("dose-kidney-injury", facts(Order, Case, Age, DrugRow), kidneysWatched, kidneyInjury).scoped(Case, Age, DrugRow).lackingUnlessFound(injuryUnknown),
		rule("dose-renal-replacement", facts(Order, Case, Age, DrugRow), mayNeedKidneys, onReplacement).scoped(Case, Age, DrugRow).lackingUnlessFound(replacementUnknown),
		rule("dose-opioid-conversion", facts(Order, Case, Quantities), isOpioid, opioidConversion).using(DrugRow).scoped(Order, DrugRow).lackingUnlessFound(opioidUnknown),
		rule("dose-rounding", facts(Order, Quantities, Agreement), rounded, roundedBeyond).scoped(Order).lackingUnlessFound(roundedUnknown),
		rule("rate-above-maximum", numbers, nil, rateAbove).using(DrugRow).lackingUnlessFound(uncheckedOf(rateUnchecked)),
		rule("rate-too-short", limited, nil, tooShort).lackingUnlessFound(timeUnchecked),
		rule("rate-too-short-push", numbers, asksPush, pushWithoutData).using(DrugRow).scoped(Order).lackingUnlessFound(pushUnknown),
		rule("rate-fast-edge", numbers, hasFastEnd, fastEdge).using(DrugRow).scoped(Order).lackingUnlessFound(uncheckedOf(fastEdgeUnchecked)),
		rule("rate-concentration-above-maximum", numbers, nil, tooStrong).using(DrugRow).lackingUnlessFound(uncheckedOf(strengthUnchecked)),
		rule("rate-concentration-above-maximum-selected", limited, hasSelected, tooStrongSelected).scoped(DrugRow).lackingUnlessFound(strengthUnchecked),
		rule("rate-steps", numbers, hasSteps, rateSteps).using(DrugRow).scoped(Case, Age, Order, Quantities, DrugRow).lackingUnlessFound(stepsUnknown),
		rule("rate-diluent", facts(Order), nil, diluentForbidden).using(Case, DrugRow).lackingUnlessFound(noDiluent),
		rule("rate-diluent-unlisted", facts(Order, DrugRow), diluentChosen, diluentUnlisted).using(Case).lacking(noGoodDiluent),
		rule("rate-gravity", facts(Order), isGravity, gravityDrug),
		rule("rate-drop-factor-missing", facts(Order), isGravity, dropFactor),
	}
}

func deviceRules() []Rule {
	device := facts(Order, Quantities, Hazard)
	reservoir := facts(Order, Quantities)
	whole := facts(Order, Case, Quantities)
	row := facts(Order, Case, Quantities, DrugRow)
	return []Rule{
		rule("device-missing", device, asksDevice, deviceMissing).using(Case, DrugRow),
		rule("device-family", device, hasNominal, deviceFamily).lacking(lacksMatch),
		rule("device-rate", device, hasNominal, deviceRate(false)).lacking(lacksMatch),
		rule("device-rate-slower", device, hasNominal, deviceRate(true)).lacking(lacksMatch),
		rule("device-fill", reservoir, hasReservoir, deviceFill).lackingUnlessFound(fillUnknown),
		rule("device-delivered", reservoir, hasReservoir, deviceDelivered).using(DrugRow).scoped(Order).lackingUnlessFound(undecided(deliveredLimit)),
		rule("device-delivered-minor", facts(Order, Quantities, DrugRow), hasReservoir, deviceDeliveredMinor).scoped(Order).lackingUnlessFound(undecided(minorLimits)),
		rule("device-unsuitable", whole, hasSteadyFlow, deviceUnsuitable).using(DrugRow).scoped(Order).lackingUnlessFound(pumpNeedUnknown),
		rule("device-conditions", whole, hasReservoir, conditions).using(DrugRow).scoped(Order).lackingUnlessFound(conditionsUnknown),
		rule("device-pump-range", reservoir, isPump, pumpRange).lackingUnlessFound(pumpUnknown),
		rule("device-pump-rounding", reservoir, isPump, pumpRounding).lackingUnlessFound(stepUnknown),
		rule("device-sheet-differs", reservoir, hasSheet, sheetDiffers).lackingUnlessFound(sheetUnknown),
		rule("device-backup-missing", row, carries(compendium.SecondPump), backupMissing).lackingUnlessFound(flagUnknown(compendium.SecondPump)),
	}
}

func scheduleRules() []Rule {
	planned := facts(Order, Plan)
	return []Rule{
		rule("schedule-zone-unknown", facts(Case), nil, zoneUnknown).using(Zone),
		rule("schedule-quantity", planned, quantityOrdered, scheduleQuantity).using(DrugRow).lacking(homeUnknown),
		rule("schedule-quantity-explained", planned, quantityOrdered, scheduleQuantityExplained).using(DrugRow).lacking(homeUnknown),
		rule("schedule-quantity-absent", facts(Order), nil, quantityAbsent),
		rule("schedule-start-passed", planned, nil, startPassed),
		rule("schedule-infusion-overlaps", facts(Quantities), repeats, infusionOverlaps),
		rule("schedule-course-ended", planned, nil, courseEnded),
		rule("schedule-as-needed", facts(Order), nil, asNeeded),
		rule("schedule-clock-change", facts(Order, Plan, Case), nil, clockChange),
		rule("schedule-replacement-start", planned, nil, replacementStart),
		rule("schedule-running-gap", facts(Order, Case, Quantities, Plan, DrugRow), runsOn, runningGap).scoped(Quantities).lackingUnlessFound(gapUnknown),
		rule("schedule-relation-missing", facts(Order, Case), nil, relationMissing).using(DrugRow),
		rule("schedule-delivery-late", planned, hasDeliveries, deliveryLate),
		rule("schedule-no-delivery-day", planned, hasDeliveries, deliveryMoved),
	}
}

// Overlaps is the rule about infusion time and interval, which needs nothing
// but the two.
func Overlaps() []Rule {
	return slices.DeleteFunc(scheduleRules(), func(r Rule) bool { return r.Code != "schedule-infusion-overlaps" })
}

// Arithmetic lists the rules that judge numbers alone, as they stand when
// somebody asks for the arithmetic of an order that is not there.
func Arithmetic() []Rule {
	return slices.DeleteFunc(doseRules(), func(r Rule) bool { return !slices.Contains(r.Needs, Agreement) })
}
