package verification

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/order"
)

const opioidRule = "dose-opioid-conversion"

// opioidDaily is an opioid at so many mg in 24 hours.
func opioidDaily(drug, perDay string) func(*world) {
	return both(calledDrug(drug), ofKinds("opioid"), figures("dose", perDay, "mg", "duration", "24", "h", "interval", "24", "h"), directed("Opioid-tolerant patient"))
}

func directed(text string) func(*world) {
	return func(w *world) { w.order.Directions = []order.Direction{{Text: text, Place: place("direction")}} }
}

// had are doses given: drug, mg and hours before the clock, in turn.
func had(list ...string) func(*world) {
	return func(w *world) {
		w.kase.Administrations = nil
		for i := 0; i < len(list); i += 3 {
			d, err := time.ParseDuration(list[i+2] + "h")
			if err != nil {
				panic(err)
			}
			w.kase.Administrations = append(w.kase.Administrations, order.Administration{Drug: concept(list[i]), Status: "completed", Start: ago(d), Route: concept("Intravenous"),
				Dose: []order.Stated{stated("dose", list[i+1], "mg", order.Record)}, Place: place("given")})
		}
	}
}

// ran is one run of the drug from and to so many hours before the clock.
func ran(drug, mg string, from, to time.Duration) func(*world) {
	return func(w *world) {
		w.kase.Administrations = []order.Administration{{Drug: concept(drug), Status: "completed", Start: ago(from * time.Hour), End: ago(to * time.Hour), Route: concept("Intravenous"),
			Dose: []order.Stated{stated("dose", mg, "mg", order.Record)}, Place: place("given")}}
	}
}

var opioidFixtures = []fixture{
	{rule: opioidRule, name: "tolerant, and the same day", want: Pass, change: both(opioidDaily("morphine", "48"), had("morphine", "24", "2", "morphine", "24", "10"))},
	{rule: opioidRule, name: "a quarter more", want: Pass, change: both(opioidDaily("morphine", "60"), had("morphine", "24", "2", "morphine", "24", "10"))},
	{rule: opioidRule, name: "more than that", want: Found, says: "60.1 mg", change: both(opioidDaily("morphine", "60.1"), had("morphine", "24", "2", "morphine", "24", "10"))},
	{rule: opioidRule, name: "half", want: Pass, change: both(opioidDaily("morphine", "24"), had("morphine", "24", "2", "morphine", "24", "10"))},
	{rule: opioidRule, name: "less than that", want: Found, change: both(opioidDaily("morphine", "23.9"), had("morphine", "24", "2", "morphine", "24", "10"))},
	{rule: opioidRule, name: "doses before the last 24 hours do not count", want: Found, change: both(opioidDaily("morphine", "48"), had("morphine", "24", "2", "morphine", "24", "26"))},
	{rule: opioidRule, name: "neither naive nor tolerant", want: Found, says: "neither", change: both(opioidDaily("morphine", "48"), had("morphine", "48", "2"), directed("morphine by pump"))},
	{rule: opioidRule, name: "a denial is no answer", want: Found, says: "neither", change: both(opioidDaily("morphine", "48"), had("morphine", "48", "2"), directed("not opioid-tolerant"))},
	{rule: opioidRule, name: "both", want: Found, says: "both", change: both(opioidDaily("morphine", "48"), had("morphine", "48", "2"), func(w *world) { w.kase.Flags = []order.Concept{concept("opioid naive")} })},
	{rule: opioidRule, name: "tolerant by a record of the patient", want: Pass, change: both(opioidDaily("morphine", "48"), had("morphine", "48", "2"), directed(""), func(w *world) { w.kase.Conditions = []order.Concept{concept("Opioid tolerant")} })},
	{rule: opioidRule, name: "naive has no last 24 hours", want: Pass, change: both(opioidDaily("morphine", "12"), had(), directed("opioid-naive"))},
	// The start of the label for naive patients: 0.1 mg/kg every 4 hours, for 74 kg 44.4 mg in 24 hours.
	{rule: opioidRule, name: "naive, at the most of a start", want: Pass, change: both(opioidDaily("morphine", "44.4"), had(), directed("opioid-naive"), naiveLimit)},
	{rule: opioidRule, name: "naive, above it", want: Found, says: "44.5 mg in 24 hours", change: both(opioidDaily("morphine", "44.5"), had(), directed("opioid-naive"), naiveLimit)},
	{rule: opioidRule, name: "tolerant, above it", want: Pass, change: both(opioidDaily("morphine", "48"), had("morphine", "48", "2"), naiveLimit)},
	{rule: opioidRule, name: "tolerant, and nothing on record", want: Indeterminate, missing: LastDay, change: both(opioidDaily("morphine", "48"), had())},
	{rule: opioidRule, name: "tolerant, and the last dose long ago", want: Indeterminate, missing: LastDay, change: both(opioidDaily("morphine", "48"), had("morphine", "48", "49"))},
	{rule: opioidRule, name: "a dose without an amount", want: Indeterminate, missing: LastDay, change: both(opioidDaily("morphine", "48"), had("morphine", "48", "2"), func(w *world) { w.kase.Administrations[0].Dose = nil })},
	// Half of a run of 48 hours lies in the last 24.
	{rule: opioidRule, name: "a run that began earlier counts in part", want: Pass, change: both(opioidDaily("morphine", "48"), ran("morphine", "96", 49, 1))},
	{rule: opioidRule, name: "and not as a whole", want: Found, change: both(opioidDaily("morphine", "96"), ran("morphine", "96", 49, 1))},
	// Ratio 5 to 7: 70 mg of morphine are 10 to 14 mg of HYDROmorphone.
	{rule: opioidRule, name: "converted", want: Pass, change: both(opioidDaily("hydromorphone", "12"), had("morphine", "70", "2"))},
	{rule: opioidRule, name: "a quarter above the most", want: Pass, change: both(opioidDaily("hydromorphone", "17.5"), had("morphine", "70", "2"))},
	{rule: opioidRule, name: "more than that", want: Found, change: both(opioidDaily("hydromorphone", "17.6"), had("morphine", "70", "2"))},
	{rule: opioidRule, name: "half of the least", want: Pass, change: both(opioidDaily("hydromorphone", "5"), had("morphine", "70", "2"))},
	{rule: opioidRule, name: "less than that", want: Found, change: both(opioidDaily("hydromorphone", "4.9"), had("morphine", "70", "2"))},
	{rule: opioidRule, name: "not converted", want: Found, says: "70 mg", change: both(opioidDaily("hydromorphone", "70"), had("morphine", "70", "2"))},
	{rule: opioidRule, name: "not converted, the other way", want: Found, change: both(opioidDaily("morphine", "10"), had("hydromorphone", "10", "2"))},
	{rule: opioidRule, name: "the other way, converted", want: Pass, change: both(opioidDaily("morphine", "60"), had("hydromorphone", "10", "2"))},
	{rule: opioidRule, name: "an opioid that no table converts", want: Indeterminate, missing: Conversion, change: both(opioidDaily("morphine", "60"), had("fentanyl", "0.6", "2"))},
	{rule: opioidRule, name: "tablets are not compared", want: Indeterminate, missing: Conversion, change: both(opioidDaily("morphine", "60"), had("morphine oral tablet", "60", "2"))},
	{rule: opioidRule, name: "under the skin counts as by vein", want: Pass, change: both(opioidDaily("morphine", "48"), had("morphine", "48", "2"), byRoute("Subcutaneous route"))},
	{rule: opioidRule, name: "the vein by its code alone", want: Pass, change: both(opioidDaily("morphine", "48"), had("morphine", "48", "2"), func(w *world) {
		w.kase.Administrations[0].Route = order.Concept{Codings: []order.Coding{{System: "http://snomed.info/sct", Code: "47625008"}}}
	})},
	{rule: opioidRule, name: "by mouth is not compared", want: Indeterminate, missing: Conversion, change: both(opioidDaily("morphine", "48"), had("morphine", "144", "2"), byRoute("Oral"))},
	{rule: opioidRule, name: "into the spinal canal is not compared", want: Indeterminate, missing: Conversion, change: both(opioidDaily("morphine", "48"), had("morphine", "1", "2"), byRoute("Intrathecal"))},
	{rule: opioidRule, name: "a dose without a route is asked about", want: Indeterminate, missing: Route, change: both(opioidDaily("morphine", "48"), had("morphine", "48", "2"), byRoute(""))},
	{rule: opioidRule, name: "the day of the order is not known", want: Indeterminate, missing: DailyDose, change: both(opioidDaily("morphine", "60"), had("morphine", "60", "2"), figures("dose", "60", "mg"))},
	{rule: opioidRule, name: "never had this drug is not opioid-naive", want: Found, says: "neither", change: both(opioidDaily("hydromorphone", "12"), had("morphine", "70", "2"), directed(""), func(w *world) { w.order.PriorExposure = "never" })},
	{rule: opioidRule, name: "no opioid", want: NotApplicable},
	{rule: opioidRule, name: "an opioid without a row", want: Found, change: both(opioidDaily("fentanyl", "1"), had("fentanyl", "0.5", "2"), func(w *world) { w.unlisted = true })},
	// As needed, the least is nothing: only a fall is found.
	{rule: opioidRule, name: "as needed, more than was used", want: Pass, change: both(opioidDaily("morphine", "96"), had("morphine", "24", "2"), whenNeeded)},
	{rule: opioidRule, name: "as needed, far below what was used", want: Found, change: both(opioidDaily("morphine", "96"), had("morphine", "200", "2"), whenNeeded)},
	// A pump of the patient: 1 mg per hour, and 1 mg every 30 minutes on demand: 24 to 72 mg.
	{rule: opioidRule, name: "a pump of the patient", want: Pass, change: both(opioidDaily("morphine", "1"), byPatient("1", "1", "30"), had("morphine", "48", "2"))},
	{rule: opioidRule, name: "its continuous rate above the last day", want: Found, says: "24 mg to 72 mg", change: both(opioidDaily("morphine", "1"), byPatient("1", "1", "30"), had("morphine", "19", "2"))},
	{rule: opioidRule, name: "all its doses below half of it", want: Found, change: both(opioidDaily("morphine", "1"), byPatient("1", "1", "30"), had("morphine", "145", "2"))},
}

// naiveLimit is the start of morphine for 74 kg, keyed by exposure.
func naiveLimit(w *world) {
	w.drug.Facts = append(w.drug.Facts, keyed(usually("0.05 to 0.1", "mg/kg", "4"), compendium.Applies{Exposure: "naive"}))
	withNumbers("dosingWeight", "74", "kg")(w)
}

// byRoute sets the route of the first dose given, "" for none.
func byRoute(name string) func(*world) {
	return func(w *world) { w.kase.Administrations[0].Route = order.Concept{Text: name} }
}

func whenNeeded(w *world) { w.order.Directions[0].AsNeeded = true }

func byPatient(basal, demand, lockout string) func(*world) {
	return func(w *world) {
		b, d, l := stated("basal", basal, "mg/h", order.Coded), stated("demand", demand, "mg", order.Coded), stated("lockout", lockout, "min", order.Coded)
		w.order.Controlled = &order.PatientControlled{Basal: &b, Demand: &d, Lockout: &l, Place: place("controlled")}
	}
}

func TestOpioidRules(t *testing.T) { judged(t, opioidFixtures) }

// The pattern of a swap is named, and only there; what rests on a recalled
// ratio says so.
func TestAnExchangeOfOpioidsIsNamed(t *testing.T) {
	for name, x := range map[string]struct {
		drug, day string
		had       func(*world)
		names     bool
		standing  string
	}{
		"not converted":       {"hydromorphone", "70", had("morphine", "70", "2"), true, compendium.Memory},
		"other way":           {"morphine", "10", had("hydromorphone", "10", "2"), true, compendium.Memory},
		"same drug, 6 times":  {"morphine", "60", had("morphine", "10", "2"), true, ""},
		"same drug, a sixth":  {"morphine", "10", had("morphine", "60", "2"), true, ""},
		"same drug, 5 times":  {"morphine", "50", had("morphine", "10", "2"), true, ""},
		"same drug, 4.9":      {"morphine", "49", had("morphine", "10", "2"), false, ""},
		"same drug, 7 times":  {"morphine", "70", had("morphine", "10", "2"), true, ""},
		"same drug, 7.1":      {"morphine", "71", had("morphine", "10", "2"), false, ""},
		"another opioid by 6": {"fentanyl", "6", had("fentanyl", "1", "2"), false, ""},
	} {
		o := ask(t, opioidRule, opioidDaily(x.drug, x.day), x.had)
		require.Len(t, o.Findings, 1, name)
		assert.Equal(t, x.names, o.Findings[0].Remedy != "", name)
		assert.Equal(t, x.standing, o.Findings[0].Standing, name)
	}
}
