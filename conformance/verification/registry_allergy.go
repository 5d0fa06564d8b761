package verification

// allergyRules: what else the patient reacts to, takes or was given.
func allergyRules() []Rule {
	both := facts(Order, Case)
	return []Rule{
		rule("therapy-allergy", both, nil, sameDrugAllergy).using(DrugRow).lackingUnlessFound(notCompared),
		rule("therapy-allergy-class", both, nil, classAllergy).using(DrugRow).lackingUnlessFound(classNotCompared),
		rule("therapy-allergy-class-minor", both, nil, classAllergyMinor).using(DrugRow).lackingUnlessFound(classNotCompared),
		rule("therapy-allergy-supplies", facts(Order, Case, Kit), nil, suppliesAllergy).using(DrugRow).lackingUnlessFound(suppliesUnknown),
		rule("therapy-first-dose", facts(Order, Case), FirstEver, firstDose),
		rule("therapy-duplicate", both, nil, duplicateTherapy).using(DrugRow).lackingUnlessFound(medicineUnnamed),
		rule("therapy-interaction", both, nil, interactions).using(DrugRow, Plan).lackingUnlessFound(interactionsUnknown),
		rule("therapy-pregnancy", facts(Order, Case, Hazard), statedPregnant, hazardInPregnancy).scoped(Case).lacking(hazardOpen),
		rule("therapy-product-differs", facts(Order, Case, DrugRow), isBiologic, productDiffers).scoped(DrugRow).lackingUnlessFound(productUnknown),
	}
}
