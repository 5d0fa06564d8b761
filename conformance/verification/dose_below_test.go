package verification

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/order"
)

const lowRule = "dose-below-usual"

// usually is a usual dose of the table: dose, unit, hours; "low to high" is a
// range, no hours a single one.
func usually(dose, unit, hours string) compendium.Fact {
	v := compendium.Value{Dose: bandFrom(dose, unit)}
	if hours != "" {
		v.Interval = bandFrom(hours, "h")
	}
	return fact("", "usual_dose", "adult", v)
}

func usualADay(dose, unit string) compendium.Fact {
	return fact("", "usual_dose", "adult", compendium.Value{DailyDose: bandFrom(dose, unit)})
}

func bandFrom(n, unit string) *compendium.Band {
	b := band(n, "", "", unit)
	if ends, ok := splitRange(n); ok {
		b = band("", ends[0], ends[1], unit)
	}
	return &b
}

// every is one dose every so many hours for 74 kg, of whom 66 are ideal.
func every(dose, unit, hours string, more ...string) func(*world) {
	return both(figures(append([]string{"dose", dose, unit, "interval", hours, "h", "dosingWeight", "74", "kg"}, more...)...), withNumbers("idealBodyWeight", "80", "kg"))
}

func neverGating(f compendium.Fact) compendium.Fact {
	f.Gates, f.Review = false, "keyed by neither"
	return f
}

// renalTo adds a table of the kidneys: the usual dose from 60 mL/min on, half
// of it below.
func renalTo(clearance string) func(*world) {
	return func(w *world) {
		w.drug.Facts = append(w.drug.Facts, renalFact("30", nil, renalBand("60", "", "1", ""), renalBand("30", "59.9", "0.5", "")))
		withNumbers("creatinineClearance", clearance, "mL/min")(w)
	}
}

var lowFixtures = []fixture{
	{rule: lowRule, name: "the least usual dose", want: Pass, change: both(limitedBy(usually("1 to 2", "g", "8")), every("1", "g", "8"))},
	{rule: lowRule, name: "below it", want: Found, says: "0.99 g", change: both(limitedBy(usually("1 to 2", "g", "8")), every("0.99", "g", "8"))},
	{rule: lowRule, name: "below one usual dose and not below another", want: Pass, change: both(limitedBy(usually("2", "g", "8"), usually("500", "mg", "8")), every("0.5", "g", "8"))},
	{rule: lowRule, name: "below both", want: Found, change: both(limitedBy(usually("2", "g", "8"), usually("500", "mg", "8")), every("0.49", "g", "8"))},
	{rule: lowRule, name: "the same day in more doses", want: Pass, change: both(limitedBy(usually("1", "g", "24")), every("500", "mg", "12"))},
	{rule: lowRule, name: "a usual dose less often is not this rule's", want: Pass, change: both(limitedBy(usually("1", "g", "8")), every("1", "g", "24"))},
	{rule: lowRule, name: "no usual dose in the table", want: Indeterminate, missing: TableLimit, change: both(limitedBy(), every("1", "g", "8"))},
	{rule: lowRule, name: "the dose is not known", want: Indeterminate, missing: Dose, change: both(limitedBy(usually("1", "g", "8")), figures("interval", "8", "h"))},
	// By weight: a tenth for rounding, 74 × 6 × 0.9 = 399.6.
	{rule: lowRule, name: "per kg, rounded down by a tenth", want: Pass, change: both(limitedBy(usually("6", "mg/kg", "24")), every("399.6", "mg", "24"))},
	{rule: lowRule, name: "per kg, by more", want: Found, change: both(limitedBy(usually("6", "mg/kg", "24")), every("399.5", "mg", "24"))},
	{rule: lowRule, name: "per kg without a weight", want: Indeterminate, missing: Weight, change: both(limitedBy(usually("6", "mg/kg", "24")), figures("dose", "300", "mg", "interval", "24", "h"))},
	// An obese patient is dosed by an ideal weight: 50 × 6 × 0.9 = 270.
	{rule: lowRule, name: "per kg of the ideal weight", want: Pass, change: both(limitedBy(usually("6", "mg/kg", "24")), every("270", "mg", "24"), withNumbers("idealBodyWeight", "50", "kg"))},
	{rule: lowRule, name: "below that as well", want: Found, change: both(limitedBy(usually("6", "mg/kg", "24")), every("269", "mg", "24"), withNumbers("idealBodyWeight", "50", "kg"))},
	{rule: lowRule, name: "a dose by weight cut at the most of the table", want: Pass, change: both(limitedBy(usualADay("15", "mg/kg/d"), daily("500", "mg")), every("500", "mg", "24"))},
	{rule: lowRule, name: "a usual day", want: Pass, change: both(limitedBy(usualADay("600 to 1200", "mg/d")), every("300", "mg", "12"))},
	{rule: lowRule, name: "below a usual day", want: Found, change: both(limitedBy(usualADay("600 to 1200", "mg/d")), every("299", "mg", "12"))},
	{rule: lowRule, name: "a usual day, and nobody says how often", want: Indeterminate, missing: DailyDose, change: both(limitedBy(usualADay("600 to 1200", "mg/d")), figures("dose", "100", "mg"))},
	{rule: lowRule, name: "what runs all day goes by the day", want: Pass, change: both(limitedBy(usually("2", "g", "4")), every("12", "g", "24", "duration", "24", "h"))},
	{rule: lowRule, name: "and is found by it", want: Found, change: both(limitedBy(usually("2", "g", "4")), every("11", "g", "24", "duration", "24", "h"))},
	// Never of a drug that is raised from a low start.
	{rule: lowRule, name: "an opioid", want: NotApplicable, change: both(limitedBy(usually("5", "mg", "4")), every("1", "mg", "4"), ofKinds("opioid"))},
	{rule: lowRule, name: "an opioid by its name alone", want: NotApplicable, change: both(limitedBy(usually("5", "mg", "4")), every("1", "mg", "4"), calledDrug("fentanyl"))},
	{rule: lowRule, name: "an inotrope", want: NotApplicable, change: both(limitedBy(usually("5", "mg", "4")), every("1", "mg", "4"), ofKinds("inotrope"))},
	{rule: lowRule, name: "a prostacyclin", want: NotApplicable, change: both(limitedBy(usually("5", "mg", "4")), every("1", "mg", "4"), ofKinds("prostacyclin"))},
	{rule: lowRule, name: "heparin", want: NotApplicable, change: both(limitedBy(usually("5", "mg", "4")), every("1", "mg", "4"), calledDrug("heparin sodium"))},
	{rule: lowRule, name: "insulin", want: NotApplicable, change: both(limitedBy(usually("5", "mg", "4")), every("1", "mg", "4"), calledDrug("insulin regular"))},
	// The kidneys: half the dose is what the table asks for below 60 mL/min.
	{rule: lowRule, name: "a low dose with kidneys that work", want: Found, change: both(limitedBy(usually("1", "g", "8")), every("0.5", "g", "8"), renalTo("60"))},
	{rule: lowRule, name: "a low dose with poor kidneys", want: Indeterminate, missing: TableLimit, change: both(limitedBy(usually("1", "g", "8")), every("0.5", "g", "8"), renalTo("59.9"))},
	{rule: lowRule, name: "a usual dose with poor kidneys is not low", want: Pass, change: both(limitedBy(usually("1", "g", "8")), every("1", "g", "8"), renalTo("40"))},
	{rule: lowRule, name: "a low dose, and no creatinine", want: Indeterminate, missing: Creatinine, change: both(limitedBy(usually("1", "g", "8")), every("0.5", "g", "8"), renalTo("95"), without("creatinine"))},
	{rule: lowRule, name: "a low dose on dialysis", want: Indeterminate, missing: TableLimit, change: both(limitedBy(usually("1", "g", "8")), every("0.5", "g", "8"), renalTo("95"), onHaemodialysis)},
	// Others of the table: a silent one may be reached and asks for nothing.
	{rule: lowRule, name: "a usual dose that never gates is usual, too", want: Pass, change: both(limitedBy(usually("1", "g", "8"), neverGating(usually("300", "mg", "8"))), every("0.3", "g", "8"))},
	{rule: lowRule, name: "and is no floor by itself", want: Indeterminate, missing: TableLimit, change: both(limitedBy(neverGating(usually("300", "mg", "8"))), every("0.2", "g", "8"))},
	{rule: lowRule, name: "the second dose of a series", want: Pass, change: both(limitedBy(withOther(usually("1000", "mg", "168"), "secondDose", "500", "mg")), every("500", "mg", "168"))},
	{rule: lowRule, name: "a total over days is no floor of a dose", want: Indeterminate, missing: TableLimit, change: both(limitedBy(withOther(fact("", "usual_dose", "adult", compendium.Value{}), "totalDose", "2000", "mg")), every("500", "mg", "24"))},
	{rule: lowRule, name: "a child at an adult's dose", want: Pass, change: both(child, limitedBy(of("pediatric", usually("50", "mg/kg", "24")), usually("1", "g", "24")), every("1", "g", "24"))},
	{rule: lowRule, name: "a child below its own", want: Found, change: both(child, limitedBy(of("pediatric", usually("50", "mg/kg", "24")), usually("1", "g", "24")), figures("dose", "700", "mg", "interval", "24", "h", "dosingWeight", "16", "kg"))},
	// By surface over 46 hours (S3): 2,400 × 1.829 × 0.9 = 3,950.64 mg.
	{rule: lowRule, name: "a course by surface", want: Pass, change: both(limitedBy(bySurface), course("3950.7", "46"))},
	{rule: lowRule, name: "below it", want: Found, change: both(limitedBy(bySurface), course("3950.6", "46"))},
	{rule: lowRule, name: "over another time stands in no table", want: Indeterminate, missing: TableLimit, change: both(limitedBy(bySurface), course("4390", "47"))},
	{rule: lowRule, name: "a disputed dose is not checked", want: Indeterminate, missing: Dose, change: both(limitedBy(usually("1", "g", "8")), every("1", "g", "8"), disputing("dose"))},
}

var bySurface = fact("", "usual_dose", "adult", compendium.Value{Continuous: bandFrom("2400 to 3000", "mg/m2"), InfusionDuration: bandFrom("46", "h")})

func course(mg, hours string) func(*world) {
	return both(figures("dose", mg, "mg", "duration", hours, "h"), withNumbers("bodySurfaceArea", "1.829", "m2"))
}

func calledDrug(name string) func(*world) {
	return func(w *world) { w.drug.Name, w.order.Drug.Name, w.order.Drug.Concept = name, name, concept(name) }
}

func withOther(f compendium.Fact, name, value, unit string) compendium.Fact {
	f.Value.Other = map[string]compendium.Band{name: band(value, "", "", unit)}
	return f
}

func without(name string) func(*world) {
	return func(w *world) {
		var kept []order.Measurement
		for _, m := range w.kase.Measurements {
			if m.Name != name {
				kept = append(kept, m)
			}
		}
		w.kase.Measurements = kept
	}
}

func onHaemodialysis(w *world) {
	w.kase.Conditions = []order.Concept{concept("end-stage kidney disease on haemodialysis")}
}

func TestLowDoseRules(t *testing.T) { judged(t, lowFixtures) }

// A site's own lower floor is said and stays a warning, never a pass.
func TestASitesOwnFloor(t *testing.T) {
	floor := fact("", "usual_dose", "adult", compendium.Value{Band: band("10", "", "", "mg")})
	floor.Override = &compendium.Local{By: "a pharmacist", On: "2026-01-02", Gated: true, Was: band("20", "", "", "mg")}
	for dose, between := range map[string]bool{"15": true, "9": false} {
		o := ask(t, lowRule, limitedBy(floor), every(dose, "mg", "24"))
		if assert.Len(t, o.Findings, 1, dose) {
			assert.Equal(t, between, o.Findings[0].Detail == LoosenedDetail, dose)
		}
	}
	assert.Empty(t, ask(t, lowRule, limitedBy(floor), every("20", "mg", "24")).Findings)
}
