package verification

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
)

const (
	companionRule = "therapy-companion-missing"
	companionWarn = "therapy-companion-missing-minor"
	countsRule    = "therapy-lab-threshold"
	monitorRule   = "therapy-monitoring"
	levelRule     = "therapy-level-timing"
	riskRule      = "therapy-risk-unassessed"
	lotRule       = "record-lot-missing"
)

// withCompanions adds two companions with the gate to the row.
func withCompanions(gate string) func(*world) {
	return func(w *world) {
		w.drug.Facts = append(w.drug.Facts, fact("c1", "co_administration", "all", compendium.Value{Text: "with fluid"}))
		w.drug.Companions = []compendium.Companion{{Need: "probenecid", Names: []string{"probenecid"}, RxNorm: "8698", When: "3 h before", Gate: gate, Fact: "c1"},
			{Need: "fluid load", Names: []string{"sodium chloride 0.9 %", "sodium chloride"}, RxNorm: "9863", When: "1 L before", Gate: gate, Fact: "c1"}}
	}
}

// advisedCompanion adds one companion that is advised.
func advisedCompanion(name string) func(*world) {
	return func(w *world) {
		withCompanions("warn")(w)
		w.drug.Companions = []compendium.Companion{{Need: name, Names: []string{name}, When: "at home", Gate: "warn", Fact: "c1"}}
	}
}

func alongside(role, status string, drug order.Concept) func(*world) {
	return func(w *world) {
		w.kase.Related = append(w.kase.Related, order.Order{Role: role, Status: status, Drug: order.Drug{Concept: drug, Name: drug.Text}, Place: place("related")})
	}
}

func taking(status string, drug order.Concept) func(*world) {
	return func(w *world) {
		w.kase.Medicines = append(w.kase.Medicines, order.Medicine{Drug: drug, Status: status, Place: place("statement")})
	}
}

var fluidLoad = alongside("premedication", "active", rxnorm("9863", "saline for infusion"))

// bloodCounts makes an antineoplastic with the counts, in thousands, so many
// days before the first home dose.
func bloodCounts(neutrophils, platelets string, days int) func(*world) {
	return func(w *world) {
		ofKinds("antineoplastic")(w)
		for _, x := range [][2]string{{"neutrophils", neutrophils}, {"platelets", platelets}} {
			if x[1] != "" {
				at := order.Instant{Time: w.plan.FirstHomeDose.Add(-time.Duration(days) * oneDay), Literal: "x"}
				w.kase.Measurements = append(w.kase.Measurements, measured(x[0], x[1], "10*3/uL", at))
			}
		}
	}
}

func wordsSay(text string) func(*world) {
	return func(w *world) { w.order.Lines = []order.Line{{Words: text, Kind: "note", Place: place("note")}} }
}

// asksTests is a drug that asks for the tests every week from its second release
// on, or from the first.
func asksTests(first bool, tests ...string) func(*world) {
	return func(w *world) {
		week := band("1", "", "", "wk")
		w.drug.MonitorBeforeFirstRelease = first
		w.drug.Facts = append(w.drug.Facts, fact("m1", "monitoring", "adult", compendium.Value{Tests: tests, Frequency: &week}))
	}
}

// ordersFor is a laboratory order every so many days.
func ordersFor(days int, tests ...string) order.Service {
	return order.Service{Status: "active", Tests: tests, Every: time.Duration(days) * oneDay}
}

func onDay(at string, tests ...string) order.Service {
	return order.Service{Status: "active", Tests: tests, When: []order.Instant{instant(at)}}
}

// plans sets the laboratory orders without touching the row.
func plans(list ...order.Service) func(*world) {
	return func(w *world) {
		first := w.drug.MonitorBeforeFirstRelease
		laboratories(list...)(w)
		w.drug.MonitorBeforeFirstRelease = first
	}
}

func handedOver(w *world) {
	w.kase.Held.Prepared = []order.Batch{{Units: 21, Lot: "L1", Handed: ago(oneDay), Place: place("dispense")}}
}

// trough is a level of the ordered drug collected at a time.
func trough(at order.Instant) func(*world) {
	return func(w *world) {
		m := measured("trough", "14", "mg/L", at)
		m.Of = "cefazolin"
		w.kase.Measurements = append([]order.Measurement{m}, w.kase.Measurements...)
	}
}

func fromLumen(lumens int, site string) func(*world) {
	return func(w *world) {
		w.order.Lumen, w.kase.Access[0].Lumens, w.kase.Measurements[0].Site = "red", lumens, site
	}
}

func precondition(tests ...string) func(*world) {
	return func(w *world) {
		w.drug.Facts = append(w.drug.Facts, fact("p1", "precondition", "all", compendium.Value{Text: "risk of thrombosis", Tests: tests}))
	}
}

func replied(name, text, focus string) func(*world) {
	return func(w *world) {
		w.kase.Answers = append(w.kase.Answers, order.Answer{Name: name, Text: text, Focus: focus, Place: place("answer")})
	}
}

func prepared(list ...order.Batch) func(*world) {
	return func(w *world) {
		for i := range list {
			list[i].Status, list[i].Place = "preparation", place("dispense")
		}
		w.kase.Held.Prepared = list
	}
}

var careFixtures = []fixture{
	// Companions: clinical review, part 2. Which gate says the table.
	{rule: companionRule, name: "none asked for", want: NotApplicable},
	{rule: companionRule, name: "an advised one is another code", want: NotApplicable, change: withCompanions("warn")},
	{rule: companionRule, name: "none ordered", want: Found, says: "probenecid and fluid load", change: withCompanions("hold")},
	{rule: companionRule, name: "one of two", want: Found, says: "without an order for probenecid", change: both(withCompanions("hold"), fluidLoad)},
	{rule: companionRule, name: "both, one taken at home", want: Pass, change: both(withCompanions("hold"), fluidLoad, taking("active", rxnorm("8698", "tablet")))},
	{rule: companionRule, name: "by exact names", want: Pass, change: both(withCompanions("hold"), alongside("infusion", "active", concept("Sodium chloride 0.9 %")), taking("active", concept("Probenecid")))},
	{rule: companionRule, name: "the same fluid in other words", want: Pass, change: both(withCompanions("hold"), taking("active", concept("probenecid")), alongside("premedication", "active", concept("sodium chloride 0.9 % injection, 500 mL")))},
	{rule: companionRule, name: "another strength of the fluid", want: Found, says: "fluid load", change: both(withCompanions("hold"), taking("active", concept("probenecid")), alongside("premedication", "active", concept("sodium chloride 0.45 % injection")))},
	{rule: companionRule, name: "a longer text is no match", want: Found, change: both(withCompanions("hold"), fluidLoad, taking("active", concept("no probenecid, allergic")))},
	{rule: companionRule, name: "words of the order are no order", want: Found, change: both(withCompanions("hold"), fluidLoad, wordsSay("with probenecid 2 g"))},
	{rule: companionRule, name: "a flush is no fluid load", want: Found, says: "fluid load", change: both(withCompanions("hold"), taking("active", concept("probenecid")), alongside("flush", "active", rxnorm("9863", "")))},
	{rule: companionRule, name: "a stopped order", want: Found, change: both(withCompanions("hold"), fluidLoad, alongside("oral", "stopped", concept("probenecid")))},
	{rule: companionRule, name: "the carrier fluid of the drug", want: Found, says: "fluid load", change: both(withCompanions("hold"), taking("active", concept("probenecid")), func(w *world) {
		w.order.Drug.Ingredients[1].Concept = rxnorm("9863", "sodium chloride")
		w.kase.Orders = []order.Order{w.order}
	})},
	{rule: companionRule, name: "a fact that never gates", want: NotApplicable, change: both(withCompanions("hold"), func(w *world) { w.drug.Facts[len(w.drug.Facts)-1].Gates = false })},
	{rule: companionRule, name: "a drug without a row", want: Indeterminate, missing: DrugRow, change: func(w *world) { w.unlisted = true }},
	{rule: companionWarn, name: "none asked for", want: NotApplicable},
	{rule: companionWarn, name: "none ordered", want: Found, says: "fluid load", change: withCompanions("warn")},
	{rule: companionWarn, name: "naloxone is a safeguard of the opioid pump", want: NotApplicable, change: both(advisedCompanion("naloxone"), ofKinds("opioid"))},
	{rule: companionWarn, name: "naloxone with another drug", want: Found, change: advisedCompanion("naloxone")},
	{rule: companionWarn, name: "both", want: Pass, change: both(withCompanions("warn"), fluidLoad, taking("active", concept("probenecid")))},
	// Counts: policy 1.5 and 100 thousand per microlitre, 3 days.
	{rule: countsRule, name: "no antineoplastic", want: NotApplicable},
	{rule: countsRule, name: "at the limits", want: Pass, change: bloodCounts("1.5", "100", 2)},
	{rule: countsRule, name: "neutrophils below", want: Found, says: "neutrophils 1.49", change: bloodCounts("1.49", "100", 2)},
	{rule: countsRule, name: "platelets below", want: Found, says: "platelets 99", change: bloodCounts("1.5", "99", 2)},
	{rule: countsRule, name: "three days old", want: Pass, change: bloodCounts("2.1", "160", 3)},
	{rule: countsRule, name: "older", want: Found, says: "neutrophils of", change: both(bloodCounts("2.1", "160", 3), func(w *world) { w.plan.FirstHomeDose = w.plan.FirstHomeDose.Add(time.Minute) })},
	{rule: countsRule, name: "of a course that is under way, for its next dose", want: Found, says: "for a dose on 12 Nov 2026", change: both(bloodCounts("2.1", "160", 2), func(w *world) {
		w.plan.FirstHomeDose, w.plan.HomeDoses = w.now.Add(-oneDay), []time.Time{w.now.Add(-oneDay), w.now.Add(2 * oneDay)}
	})},
	{rule: countsRule, name: "of an infusion that runs without a pause, for its start", want: Pass, change: both(bloodCounts("2.1", "160", 2), withNumbers("duration", "24", "h", "interval", "24", "h"), func(w *world) {
		w.plan.FirstHomeDose, w.plan.HomeDoses = w.now.Add(-oneDay), []time.Time{w.now.Add(-oneDay), w.now.Add(2 * oneDay)}
	})},
	{rule: countsRule, name: "of two days every two weeks, for the next of them", want: Found, change: both(bloodCounts("2.1", "160", 2), withNumbers("duration", "46", "h", "interval", "336", "h"), func(w *world) {
		w.plan.FirstHomeDose, w.plan.HomeDoses = w.now.Add(-oneDay), []time.Time{w.now.Add(-oneDay), w.now.Add(13 * oneDay)}
	})},
	{rule: countsRule, name: "none", want: Found, says: "no neutrophils", change: bloodCounts("", "160", 2)},
	{rule: countsRule, name: "without a date", want: Found, says: "without a date", change: both(bloodCounts("2.1", "160", 2), func(w *world) { w.kase.Measurements[3].At = order.Instant{} })},
	{rule: countsRule, name: "the order's own limit is lower", want: Pass, change: both(bloodCounts("1.2", "80", 2), wordsSay("Hold if ANC < 1.0 or platelets < 75"))},
	{rule: countsRule, name: "the order's own limit is higher", want: Found, says: "platelets 120", change: both(bloodCounts("2.1", "120", 2), wordsSay("Give when platelets at least 150,000/uL"))},
	{rule: countsRule, name: "a limit per microlitre", want: Pass, change: both(bloodCounts("1", "100", 2), wordsSay("ANC ≥ 1,000"))},
	{rule: countsRule, name: "a day is no limit", want: Indeterminate, missing: "the order's limit for neutrophils, as a number", change: both(bloodCounts("2.1", "160", 2), wordsSay("Check ANC on day 1"))},
	{rule: countsRule, name: "a limit with its unit", want: Found, says: "neutrophils 0.9", change: both(bloodCounts("0.9", "160", 2), wordsSay("ANC ≥1.0 x10^9/L, platelets >= 75"))},
	{rule: countsRule, name: "a limit that is no number", want: Indeterminate, missing: "the order's limit for neutrophils, as a number", change: both(bloodCounts("2.1", "160", 2), wordsSay("Call if ANC is low"))},
	{rule: countsRule, name: "a result that is no count", want: Indeterminate, missing: "unit of the neutrophils", change: both(bloodCounts("", "160", 2), func(w *world) {
		w.kase.Measurements = append(w.kase.Measurements, measured("neutrophils", "62", "%", ago(oneDay)))
	})},
	{rule: countsRule, name: "an antineoplastic by the hazardous list", want: Found, change: tableOne},
	// Row i6: the tests of the row, often enough.
	{rule: monitorRule, name: "each test, weekly", want: Pass, change: both(asksTests(true, "creatinine", "drug concentration"), plans(ordersFor(7, "creatinine"), ordersFor(7, "drug concentration of cefazolin")))},
	{rule: monitorRule, name: "a level of another drug", want: Found, says: "no order for drug concentration", change: both(asksTests(true, "creatinine", "drug concentration"), plans(ordersFor(7, "creatinine"), ordersFor(7, "drug concentration of gentamicin")))},
	{rule: monitorRule, name: "one test missing", want: Found, says: "no order for creatine kinase", change: both(asksTests(true, "creatinine", "creatine kinase"), plans(ordersFor(7, "creatinine")))},
	{rule: monitorRule, name: "less often", want: Found, says: "less often than asked: creatinine", change: both(asksTests(true, "creatinine"), plans(ordersFor(8, "creatinine")))},
	{rule: monitorRule, name: "more often", want: Pass, change: both(asksTests(true, "creatinine"), plans(ordersFor(3, "creatinine")))},
	{rule: monitorRule, name: "once in a course of weeks", want: Found, says: "less often", change: both(asksTests(true, "creatinine"), plans(onDay("2026-11-16T08:00-05:00", "creatinine")))},
	{rule: monitorRule, name: "once, and the course ends within the week", want: Pass, change: both(asksTests(true, "creatinine"), plans(onDay("2026-11-17T15:00-05:00", "creatinine")), func(w *world) { w.plan.CourseEnd = day("2026-11-25T15:00-05:00") })},
	{rule: monitorRule, name: "no day", want: Found, says: "no day for creatinine", change: both(asksTests(true, "creatinine"), plans(order.Service{Tests: []string{"creatinine"}}))},
	{rule: monitorRule, name: "before the second release it is a task", want: NotEffective, change: both(asksTests(false, "creatinine"), plans())},
	{rule: monitorRule, name: "after the first was handed over", want: Found, change: both(asksTests(false, "creatinine"), plans(), handedOver)},
	{rule: monitorRule, name: "after a dose at home", want: Found, change: both(asksTests(false, "creatinine"), plans(), func(w *world) { w.kase.Administrations[0].Setting = "community" })},
	{rule: monitorRule, name: "six days at home", want: NotEffective, change: both(asksTests(false, "creatinine"), plans(), func(w *world) { w.plan.FirstHomeDose = w.now.Add(-7*oneDay + time.Minute) })},
	{rule: monitorRule, name: "a week at home", want: Found, change: both(asksTests(false, "creatinine"), plans(), func(w *world) { w.plan.FirstHomeDose = w.now.Add(-7 * oneDay) })},
	{rule: monitorRule, name: "a test before the start is no plan", want: NotApplicable, change: func(w *world) {
		w.drug.Facts = append(w.drug.Facts, fact("m2", "monitoring", "all", compendium.Value{Tests: []string{"urea nitrogen"}}))
	}},
	{rule: monitorRule, name: "a drug without a row", want: Indeterminate, missing: DrugRow, change: both(handedOver, func(w *world) { w.unlisted = true; w.plan.FirstHomeDose = w.now.Add(-8 * oneDay) })},
	// Row i7 with scenario S2: the dose of 14:00, and one every 8 hours.
	{rule: levelRule, name: "no level", want: NotApplicable},
	{rule: levelRule, name: "40 minutes before the dose", want: Pass, change: trough(instant("2026-11-10T13:20-05:00"))},
	{rule: levelRule, name: "an hour before", want: Pass, change: trough(instant("2026-11-10T13:00-05:00"))},
	{rule: levelRule, name: "earlier", want: Found, says: "1 hour 1 minute before the dose of 14:00", change: trough(instant("2026-11-10T12:59-05:00"))},
	{rule: levelRule, name: "40 minutes after the dose began", want: Found, says: "40 minutes after the dose of 14:00", change: trough(instant("2026-11-10T14:40-05:00"))},
	{rule: levelRule, name: "a minute before", want: Pass, change: trough(instant("2026-11-10T13:59-05:00"))},
	{rule: levelRule, name: "as the dose began", want: Found, change: trough(instant("2026-11-10T14:00-05:00"))},
	{rule: levelRule, name: "before a dose of the timetable that is not on record", want: Pass, change: trough(instant("2026-11-09T05:20-05:00"))},
	{rule: levelRule, name: "a day without an hour", want: Found, says: "hour of collection", change: trough(order.Instant{Time: day("2026-11-10T00:00Z"), Literal: "2026-11-10", DateOnly: true})},
	{rule: levelRule, name: "no dose known", want: Found, says: "no dose is on record or planned after it", change: both(trough(instant("2026-11-10T13:20-05:00")), func(w *world) {
		w.kase.Administrations, w.plan.FirstHomeDose, w.plan.HomeDoses, w.plan.Interval = nil, time.Time{}, nil, 0
	})},
	{rule: levelRule, name: "doses without an even timetable", want: Found, says: "before the dose of 14:00", change: both(trough(instant("2026-11-10T11:00-05:00")), func(w *world) { w.plan.Interval = 0 })},
	{rule: levelRule, name: "before the second dose", want: Found, says: "before dose 2", change: trough(instant("2026-11-04T05:20-05:00"))},
	{rule: levelRule, name: "before the third dose", want: Found, says: "before dose 3", change: trough(instant("2026-11-04T13:20-05:00"))},
	{rule: levelRule, name: "before the third dose of the order, and more were given before it", want: Pass, change: both(trough(instant("2026-11-04T13:20-05:00")), func(w *world) {
		w.kase.Administrations = append(w.kase.Administrations, order.Administration{Drug: rxnorm("2180", "cefazolin"), Status: "completed", Start: instant("2026-11-02T22:00-05:00")})
	})},
	{rule: levelRule, name: "before the fourth", want: Pass, change: trough(instant("2026-11-04T21:20-05:00"))},
	{rule: levelRule, name: "the lumen of the drug, and another is free", want: Found, says: "another is there", change: both(trough(instant("2026-11-10T13:20-05:00")), fromLumen(2, "Red lumen of PICC"))},
	{rule: levelRule, name: "the other lumen", want: Pass, change: both(trough(instant("2026-11-10T13:20-05:00")), fromLumen(2, "white lumen"))},
	{rule: levelRule, name: "the one lumen there is", want: Pass, change: both(trough(instant("2026-11-10T13:20-05:00")), fromLumen(1, "Red lumen"))},
	{rule: levelRule, name: "a level of another drug", want: NotApplicable, change: both(trough(instant("2026-11-10T14:40-05:00")), func(w *world) { w.kase.Measurements[0].Of = "vancomycin" })},
	// Preconditions that the table names.
	{rule: riskRule, name: "none named", want: NotApplicable},
	{rule: riskRule, name: "not answered", want: Found, says: "risk of thrombosis", change: precondition("thrombosis-risk")},
	{rule: riskRule, name: "answered", want: Pass, change: both(precondition("thrombosis-risk"), replied("thrombosis-risk", "moderate; fluids", ""))},
	{rule: riskRule, name: "answered for this order", want: Pass, change: both(precondition("thrombosis-risk"), replied("thrombosis-risk", "low", "urn:uuid:order-1"))},
	{rule: riskRule, name: "answered for another order", want: Found, change: both(precondition("thrombosis-risk"), replied("thrombosis-risk", "low", "urn:uuid:order-2"))},
	{rule: riskRule, name: "another question answered", want: Found, change: both(precondition("thrombosis-risk"), replied("iga-deficiency", "no", ""))},
	{rule: riskRule, name: "a drug without a row", want: Indeterminate, missing: DrugRow, change: func(w *world) { w.unlisted = true }},
	// Row m16.
	{rule: lotRule, name: "nothing made", want: NotApplicable},
	{rule: lotRule, name: "a lot", want: Pass, change: prepared(order.Batch{Units: 21, Lot: "LL-1"})},
	{rule: lotRule, name: "no lot", want: Found, says: "21 prepared units", change: prepared(order.Batch{Units: 21, Lot: " "})},
	{rule: lotRule, name: "one of two without", want: Found, change: prepared(order.Batch{Units: 7, Lot: "LL-1"}, order.Batch{Units: 7})},
	{rule: lotRule, name: "handed over long ago", want: Pass, change: both(handedOver, func(w *world) { w.kase.Held.Prepared[0].Lot = "" })},
	{rule: lotRule, name: "of another order", want: NotApplicable, change: prepared(order.Batch{Units: 7, OrderRef: "urn:uuid:order-2"})},
}

func TestCareRules(t *testing.T) { judged(t, careFixtures) }

// Every drug of the shipped table that must not be given alone says so, and
// with which gate (clinical review, part 2).
func TestWhichCompanionHoldsSaysTheTable(t *testing.T) {
	for name, want := range map[string]map[string]string{
		"cidofovir": {"probenecid": "hold", "sodium chloride 0.9 %": "hold"}, "foscarnet": {"fluid load": "hold"},
		"acyclovir": {"fluid load": "warn"}, "amphotericin b liposomal": {"fluid load": "warn"},
	} {
		d, why := compendium.Embedded().Find(compendium.Named("", name))
		require.Empty(t, why, name)
		got := map[string]string{}
		for _, c := range d.Companions {
			got[c.Need] = c.Gate
		}
		assert.Equal(t, want, got, name)
	}
}

// Vancomycin, aminoglycosides, foscarnet, amphotericin and nutrition gate
// their first release, and no other (clinical review, part 3).
func TestWhichDrugsAreMonitoredBeforeTheFirstRelease(t *testing.T) {
	var got []string
	for _, d := range compendium.Embedded().Drugs {
		if d.MonitorBeforeFirstRelease {
			got = append(got, d.Name)
		}
	}
	slices.Sort(got)
	assert.Equal(t, []string{"amikacin", "amphotericin b liposomal", "foscarnet", "gentamicin", "parenteral nutrition (dextrose, amino acids, lipid)", "tobramycin", "vancomycin"}, got)
}

func TestHowOftenATestIsAskedFor(t *testing.T) {
	for _, x := range []struct {
		band compendium.Band
		want time.Duration
	}{
		{band("1", "", "", "wk"), 7 * oneDay}, {band("0.5", "", "", "wk"), 84 * time.Hour}, {band("", "48", "72", "h"), 72 * time.Hour},
		{band("", "2", "3", "/wk"), 84 * time.Hour}, {band("", "", "", ""), 0},
	} {
		assert.Equal(t, x.want, spanOf(x.band), "%+v", x.band)
	}
}

func TestTheNewestLevelAloneIsJudged(t *testing.T) {
	w := base()
	trough(instant("2026-11-09T14:40-05:00"))(w) // wrong, and older
	trough(instant("2026-11-10T13:20-05:00"))(w)
	assert.Equal(t, Pass, Run([]Rule{ruleOf(t, levelRule)}, w.facts(), finding.Release)[0].Kind)
}
