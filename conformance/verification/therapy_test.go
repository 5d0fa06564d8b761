package verification

import (
	"testing"

	"weir.example/weir/mapping/order"
)

func allergic(substance order.Concept, active bool) func(*world) {
	return func(w *world) {
		w.kase.Allergies = []order.Allergy{{Substance: substance, Active: active, Place: place("allergy")}}
	}
}

func neverGiven(w *world) { w.kase.Administrations = nil }

// staffed adds a nurse's visit and an emergency kit.
func staffed(w *world) {
	w.kase.Services = append(w.kase.Services, order.Service{Kind: "visit", Status: "active"})
	w.kase.Supplies = []order.Supply{item("emergency-kit")}
}

func kind(k string) func(*world) { return func(w *world) { w.drug.Kinds = []string{k} } }

func check(kind, ref string, who ...string) order.Check {
	return order.Check{Kind: kind, OrderRef: ref, Who: who, Place: place("task")}
}

// checked is an opioid order with the checks given.
func checked(list ...order.Check) func(*world) {
	return func(w *world) { kind("opioid")(w); w.kase.Checks = list }
}

func laboratories(list ...order.Service) func(*world) {
	return func(w *world) {
		w.drug.MonitorBeforeFirstRelease = true
		for i := range list {
			list[i].Kind, list[i].Place = "laboratory", place("service")
		}
		w.kase.Services = list
	}
}

var therapyFixtures = []fixture{
	// Row i1: only the ordered drug is this rule's; a class is another's.
	{rule: "therapy-allergy", name: "none known", want: Pass},
	{rule: "therapy-allergy", name: "the ordered drug by code", want: Found, change: allergic(rxnorm("2180", ""), true)},
	{rule: "therapy-allergy", name: "the ordered drug by name", want: Found, says: "cefazolin", change: allergic(concept("Cefazolin"), true)},
	{rule: "therapy-allergy", name: "the ordered drug within a phrase", want: Found, change: allergic(concept("Allergy to cefazolin (finding)"), true)},
	{rule: "therapy-allergy", name: "the ordered drug as a display only", want: Found, change: allergic(order.Concept{Codings: []order.Coding{{System: "urn:x", Code: "1", Display: "cefazolin sodium"}}}, true)},
	{rule: "therapy-allergy", name: "a carrier fluid of the order", want: Found, change: func(w *world) {
		w.order.Drug.Ingredients[1].Concept = rxnorm("4850", "glucose")
		allergic(rxnorm("4850", "dextrose"), true)(w)
	}},
	{rule: "therapy-allergy", name: "another drug", want: Pass, change: allergic(rxnorm("723", "amoxicillin"), true)},
	{rule: "therapy-allergy", name: "an allergy no longer held", want: Pass, change: allergic(concept("Cefazolin"), false)},
	{rule: "therapy-allergy", name: "an allergy to nobody knows what", want: Indeterminate, missing: Substance, change: allergic(order.Concept{}, true)},
	{rule: "therapy-allergy", name: "the ordered drug beside an allergy without a substance", want: Found, change: func(w *world) {
		w.kase.Allergies = []order.Allergy{{Active: true}, {Active: true, Substance: concept("cefazolin"), Place: place("allergy")}}
	}},
	// Rows i2, i3: staff and an emergency kit.
	{rule: "therapy-first-dose", name: "given in hospital", want: NotApplicable},
	{rule: "therapy-first-dose", name: "never given", want: Found, change: neverGiven},
	{rule: "therapy-first-dose", name: "another drug was given", want: Found, change: func(w *world) { w.kase.Administrations[0].Drug = rxnorm("6922", "metronidazole") }},
	{rule: "therapy-first-dose", name: "only the carrier fluid was given", want: Found, change: func(w *world) {
		w.order.Drug.Ingredients[1].Concept = rxnorm("9863", "sodium chloride 0.9 %")
		w.kase.Administrations[0].Drug = rxnorm("9863", "sodium chloride")
	}},
	{rule: "therapy-first-dose", name: "a dose begun but not completed", want: Found, change: func(w *world) { w.kase.Administrations[0].Status = "not-done" }},
	{rule: "therapy-first-dose", name: "the order says tolerated", want: Pass, change: both(neverGiven, func(w *world) { w.order.PriorExposure = "tolerated" })},
	{rule: "therapy-first-dose", name: "the order says reacted", want: Found, change: both(neverGiven, func(w *world) { w.order.PriorExposure = "reacted" })},
	{rule: "therapy-first-dose", name: "staff and kit", want: Pass, change: both(neverGiven, staffed)},
	{rule: "therapy-first-dose", name: "a kit and nobody to use it", want: Found, change: both(neverGiven, func(w *world) { w.kase.Supplies = []order.Supply{item("emergency-kit")} })},
	{rule: "therapy-first-dose", name: "staff without a kit", want: Found, change: both(neverGiven, staffed, func(w *world) { w.kase.Supplies = nil })},
	{rule: "therapy-genotype-unknown", name: "no test asked for", want: NotApplicable},
	{rule: "therapy-genotype-unknown", name: "no result", want: Found, change: func(w *world) { w.drug.GenotypeTest = true }},
	{rule: "therapy-genotype-unknown", name: "a result", want: Pass, change: func(w *world) {
		w.drug.GenotypeTest = true
		w.kase.Measurements = append(w.kase.Measurements, order.Measurement{Name: "genotype", Text: "normal"})
	}},
	{rule: "therapy-genotype-unknown", name: "a drug without a row may ask for it", want: Indeterminate, missing: DrugRow, change: func(w *world) { w.unlisted = true }},
	// Row i6.
	{rule: "therapy-monitoring", name: "not asked for before the first release", want: NotApplicable},
	{rule: "therapy-monitoring", name: "a laboratory order", want: Pass, change: laboratories(order.Service{Status: "active"})},
	{rule: "therapy-monitoring", name: "no laboratory order", want: Found, change: laboratories()},
	{rule: "therapy-monitoring", name: "only one that was revoked", want: Found, change: laboratories(order.Service{Status: "revoked"})},
	{rule: "therapy-monitoring", name: "only one already done", want: Found, change: laboratories(order.Service{Status: "completed"})},
	{rule: "therapy-monitoring-recipient", name: "a recipient", want: Pass},
	{rule: "therapy-monitoring-recipient", name: "nobody", want: Found, change: laboratories(order.Service{})},
	{rule: "therapy-monitoring-recipient", name: "one of two without a recipient", want: Found, change: laboratories(order.Service{Recipients: []string{"clinic"}}, order.Service{})},
	{rule: "therapy-monitoring-recipient", name: "a member of the team receives results", want: Pass, change: both(laboratories(order.Service{}), func(w *world) { w.kase.People[0].Roles = []string{"receives-results"} })},
	{rule: "therapy-monitoring-recipient", name: "no laboratory order", want: NotApplicable, change: func(w *world) { w.kase.Services = nil }},
	// Row o1: two different people, for this order.
	{rule: "second-check", name: "an adult with an ordinary drug", want: NotApplicable},
	{rule: "second-check", name: "a child", want: Found, change: child},
	{rule: "second-check", name: "18 years is no child", want: NotApplicable, change: aged(18, 1)},
	{rule: "second-check", name: "17 years is", want: Found, change: aged(17, 1)},
	{rule: "second-check", name: "a hazardous drug", want: Found, change: tableOne},
	{rule: "second-check", name: "a high-alert drug", want: Found, change: func(w *world) { w.drug.HighAlert = true }},
	{rule: "second-check", name: "no birth date: it may be a child", want: Indeterminate, missing: Age, change: func(w *world) { w.kase.Patient.BirthDate = order.Instant{} }},
	{rule: "second-check", name: "an opioid asks for it whatever the age", want: Found, change: both(kind("opioid"), func(w *world) { w.kase.Patient.BirthDate = order.Instant{} })},
	{rule: "second-check", name: "a drug without a row may be one", want: Indeterminate, missing: DrugRow, change: func(w *world) { w.unlisted = true }},
	{rule: "second-check", name: "a high-alert drug known by its name only", want: Found, change: func(w *world) { w.unlisted = true; w.order.Drug.Name = "Morphine sulfate 10 mg/mL" }},
	{rule: "second-check", name: "two people in one check", want: Pass, change: checked(check("second-check", "urn:uuid:order-1", "A", "B"))},
	{rule: "second-check", name: "two people in two checks", want: Pass, change: checked(check("checker", "urn:uuid:order-1", "A"), check("finalchecker", "urn:orders|A-1", "B"))},
	{rule: "second-check", name: "two verifiers without an order named", want: Pass, change: checked(check("verifier", "", "A"), check("verifier", "", "B"))},
	{rule: "second-check", name: "one person", want: Found, says: "1 ", change: checked(check("second-check", "", "A"))},
	{rule: "second-check", name: "one person twice", want: Found, says: "1 ", change: checked(check("checker", "", "A. Quill"), check("finalchecker", "", "a. quill "))},
	{rule: "second-check", name: "nobody", want: Found, says: "0 ", change: checked(check("second-check", "", "", " "))},
	{rule: "second-check", name: "the second person checked another order", want: Found, says: "1 ", change: checked(check("second-check", "urn:uuid:order-1", "A"), check("second-check", "urn:uuid:order-2", "B"))},
	{rule: "second-check", name: "a check of another kind", want: Found, says: "0 ", change: checked(check("packager", "", "A", "B"))},
}

func TestTherapyRules(t *testing.T) { judged(t, therapyFixtures) }
