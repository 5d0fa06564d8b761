package verification

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
)

func noLongerActive(w *world) { w.kase.Allergies[0].Active = false }

func onHold(name string) func(*world) {
	return func(w *world) {
		patientTakes(name, "")(w)
		w.kase.Medicines[len(w.kase.Medicines)-1].Status = "on-hold"
	}
}

func dayAlone(at string) order.Instant {
	return order.Instant{Time: day(at), Literal: at[:10], DateOnly: true}
}

var recordedFixtures = []fixture{
	{rule: "therapy-allergy", name: "anaphylaxis in a record that was closed", want: Found, says: "no longer active on record", change: both(allergyTo("cefazolin", "severe", "high", "Anaphylaxis"), noLongerActive)},
	{rule: "therapy-allergy", name: "a rash in a record that was closed", want: Pass, change: both(allergyTo("cefazolin", "mild", "low", "Rash"), noLongerActive)},
	{rule: "therapy-allergy", name: "anaphylaxis to something else in a record that was closed", want: Pass, change: both(allergyTo("vancomycin", "severe", "high", "Anaphylaxis"), noLongerActive)},
	{rule: "therapy-allergy", name: "what the record says is shown", want: Found, says: "not known to be mild (on record: hives, moderate)", change: allergyTo("cefazolin", "moderate", "", "Hives")},
	{rule: "therapy-allergy-class", name: "doses of the ordered drug are told", want: Found, says: "completed doses of it on record: 1, the last on 10 Nov 2026", change: allergyTo("penicillin", "severe", "", "Anaphylaxis")},
	{rule: "therapy-allergy-class", name: "none given", want: Found, says: "reaction severe (on record: anaphylaxis, severe)", change: both(allergyTo("penicillin", "severe", "", "Anaphylaxis"), func(w *world) { w.kase.Administrations = nil })},
	{rule: "therapy-allergy-class", name: "a substance with a code only has its name", want: Found, says: "allergy on record: penicillin g potassium; reaction", change: both(allergyTo("", "severe", "", "Anaphylaxis"), func(w *world) { w.kase.Allergies[0].Substance = rxnorm("7980", "") })},
	{rule: "therapy-allergy-class", name: "cidofovir after a severe reaction to a sulfonamide", want: Found, says: "probenecid", change: both(forDrug("cidofovir"), allergyTo("Sulfa", "severe", "", "Anaphylaxis"))},
	{rule: "therapy-interaction", name: "an opioid antagonist", want: Found, says: "naltrexone", change: both(forDrug("hydromorphone"), patientTakes("naltrexone 50 mg tablet", ""))},
	{rule: "therapy-allergy-supplies", name: "HIT in capital letters in the problem list", want: Found, says: "heparin", change: withProblem("History of HIT 2015")},
	{rule: "therapy-allergy-supplies", name: "hit by a car", want: Pass, change: withProblem("Hit by car 2015")},
	{rule: "therapy-allergy-supplies", name: "HIT ruled out", want: Pass, change: withProblem("HIT ruled out, negative release assay")},
	{rule: "therapy-allergy-supplies", name: "ruled out in full words", want: Pass, change: withProblem("Heparin-induced thrombocytopenia (HIT) was ruled out")},
	{rule: "therapy-allergy-supplies", name: "something else ruled out beside it", want: Found, change: withProblem("Heparin-induced thrombocytopenia, embolism ruled out")},
	{rule: "therapy-allergy-supplies", name: "another allergen beside HIT that was ruled out", want: Found, says: "latex", change: both(withProblem("Latex allergy; HIT ruled out"), kitOf("examination-gloves"))},
	{rule: "therapy-allergy-supplies", name: "no HIT", want: Pass, change: withProblem("No HIT")},
	{rule: "therapy-allergy-supplies", name: "a film dressing", want: Found, says: "adhesive", change: both(allergyTo("Transparent film dressing", "", "", "Blisters"), inCategory("environment"), kitOf("dressing-kit"))},
	{rule: "therapy-allergy-supplies", name: "iodine is in no item of the kit", want: Pass, change: both(allergyTo("Iodine", "mild", "low", "Rash"), kitOf("dressing-kit"))},
	{rule: "therapy-allergy", name: "iodine is known", want: Pass, change: allergyTo("Iodine", "", "", "Hives")},

	{rule: "therapy-duplicate", name: "by mouth from the day of the last dose, as a date", want: Pass, change: alsoOrdered("oral", "cephalexin", "", "", func(o *order.Order) { o.Course.Start = dayAlone("2026-12-15T00:00Z") })},
	{rule: "therapy-duplicate", name: "from the day before", want: Found, change: alsoOrdered("oral", "cephalexin", "", "", func(o *order.Order) { o.Course.Start = dayAlone("2026-12-14T00:00Z") })},
	{rule: "therapy-duplicate", name: "the other is on hold", want: Found, says: "that one is on hold", change: alsoOrdered("infusion", "cefazolin", "", "", func(o *order.Order) { o.Status = "on-hold" })},
	{rule: "therapy-duplicate", name: "an order that is cancelled itself", want: Pass, change: both(alsoOrdered("infusion", "cefazolin", "", "", nil), func(w *world) { w.order.Status = "cancelled" })},
	{rule: "therapy-interaction", name: "a statin that is on hold", want: Found, says: "atorvastatin (on hold on record)", change: both(forDrug("daptomycin"), onHold("atorvastatin"))},
}

func TestWhatTheRecordSays(t *testing.T) { judged(t, recordedFixtures) }

func TestAClosedRecordHoldsAndDoesNotBlock(t *testing.T) {
	w := base()
	both(allergyTo("cefazolin", "severe", "high", "Anaphylaxis"), noLongerActive)(w)
	found := sameDrugAllergy(w.facts())
	require.Len(t, found, 1)
	assert.Equal(t, finding.Hold, found[0].AtMost)
}

// A supervised first dose is no advice where doses were given.
func TestWhatIsAskedForDependsOnDosesGiven(t *testing.T) {
	w := base()
	allergyTo("penicillin", "severe", "", "Anaphylaxis")(w)
	assert.NotContains(t, classAllergy(w.facts())[0].Expected, "first dose")
	w.kase.Administrations = nil
	assert.Contains(t, classAllergy(w.facts())[0].Expected, "a supervised first dose")
}

func TestTwoNamesOfOneMedicineAreOneInteraction(t *testing.T) {
	w := base()
	forDrug("ertapenem")(w)
	c := concept("divalproex sodium 500 mg tablet")
	c.Codings = []order.Coding{{System: "http://www.nlm.nih.gov/research/umls/rxnorm", Code: "40254", Display: "valproate"}}
	w.kase.Medicines = []order.Medicine{{Drug: c, Status: "active", Source: "MedicationStatement", Place: place("statement")}}
	assert.Len(t, interactions(w.facts()), 1)
}
