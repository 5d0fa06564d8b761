package verification

// allergyRules: what else the patient reacts to, takes or was given.
func allergyRules() []Rule {
	return []Rule{
		rule("therapy-allergy", facts(Order, Case), nil, sameDrugAllergy).lacking(allergyUnnamed),
		rule("therapy-first-dose", facts(Order, Case), FirstEver, firstDose),
	}
}
