package verification

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/compendium"
)

// bands puts other tables of bands in place of the base row's.
func bands(facts ...compendium.Fact) func(*world) {
	return func(w *world) { w.drug.Facts = append(w.drug.Facts[:2:2], append(facts, w.drug.Facts[3:]...)...) }
}

func renalFact(id string, basis *compendium.Basis, list ...compendium.RenalBand) compendium.Fact {
	return fact(id, "renal_dose_adjustment", "adult", compendium.Value{Bands: list, Clearance: basis})
}

// dosed is a band with a dose and an interval.
func dosed(low, high, unit, dose, doseUnit, interval string) compendium.RenalBand {
	d, i := band(dose, "", "", doseUnit), band(interval, "", "", "h")
	return compendium.RenalBand{Crcl: band("", low, high, unit), Dose: &d, Interval: &i}
}

// normalised: ertapenem's table is per 1.73 m²: 1 g a day above 30, 500 mg
// at 30 and below (label, as in the drug table).
func normalised() func(*world) {
	const unit = "mL/min/{1.73_m2}"
	return bands(renalFact("30", &compendium.Basis{Per: compendium.PerSurface, Weight: "not stated"}, dosed("30.01", "", unit, "1", "g", "24"), dosed("", "30", unit, "500", "mg", "24")))
}

// perKilogram: foscarnet's maintenance table is per kg (label table 13).
func clearancePerKilogram() func(*world) {
	const unit = "mL/min/kg"
	return bands(renalFact("31", &compendium.Basis{Per: compendium.PerWeight, Weight: "cancels"}, dosed("1.4", "", unit, "90", "mg/kg", "24"), dosed("1.0", "1.4", unit, "70", "mg/kg", "24")))
}

// dosing sets dose, interval, clearance and the sizes of the patient.
func dosing(dose, unit, interval, clearance string, more ...string) func(*world) {
	return withNumbers(append([]string{"dose", dose, unit, "interval", interval, "h", "creatinineClearance", clearance, "mL/min"}, more...)...)
}

func keyed(f compendium.Fact, a ...compendium.Applies) compendium.Fact {
	f.AppliesTo = a
	return f
}

var kidneyFixtures = []fixture{
	// A dose above the band is found, not only an interval below it.
	{rule: "dose-renal", name: "the dose of the band", want: Pass, change: both(bands(renalFact("30", nil, dosed("30", "60", "mL/min", "2", "g", "12"))), dosing("2", "g", "12", "45"))},
	{rule: "dose-renal", name: "a dose above the band", want: Found, says: "45", change: both(bands(renalFact("30", nil, dosed("30", "60", "mL/min", "2", "g", "12"))), dosing("2.01", "g", "12", "45"))},
	{rule: "dose-renal", name: "an interval below the band", want: Found, change: both(bands(renalFact("30", nil, dosed("30", "60", "mL/min", "2", "g", "12"))), dosing("2", "g", "11.9", "45"))},
	{rule: "dose-renal", name: "the dose that the band limits is not known", want: Indeterminate, missing: Dose, change: func(w *world) {
		both(bands(renalFact("30", nil, dosed("30", "60", "mL/min", "2", "g", "12"))), dosing("2", "g", "12", "45"))(w)
		delete(w.numbers, "dose")
	}},
	// A table that speaks only of poor kidneys leaves good ones alone where its source says so.
	{rule: "dose-renal", name: "above a table that begins below", want: Pass, change: both(func(w *world) {
		bands(renalFact("30", nil, dosed("", "29.99", "mL/min", "1125", "mg", "168")))(w)
		unchangedAbove(w)
	}, dosing("1500", "mg", "168", "30"))},
	{rule: "dose-renal", name: "and where it does not, they are not checked", want: Indeterminate, missing: TableLimit, change: both(bands(renalFact("30", nil, dosed("", "29.99", "mL/min", "1125", "mg", "168"))), dosing("1500", "mg", "168", "30"))},
	{rule: "dose-renal", name: "inside a table that begins below", want: Found, change: both(bands(renalFact("30", nil, dosed("", "29.99", "mL/min", "1125", "mg", "168"))), dosing("1500", "mg", "168", "29.9"))},
	// Per 1.73 m²: the clearance is converted first. 35 mL/min in 2.1 m² are
	// 28.8 per 1.73 m²; in 1.73 m² they are 35; in 1.5 m² 26 are 30.0 exactly.
	{rule: "dose-renal", name: "35 mL/min in a large person are below 30 per 1.73 m²", want: Found, says: "28.8", change: both(normalised(), dosing("1", "g", "24", "35", "bodySurfaceArea", "2.1", "m2"))},
	{rule: "dose-renal", name: "35 mL/min in 1.73 m² are 35", want: Pass, change: both(normalised(), dosing("1", "g", "24", "35", "bodySurfaceArea", "1.73", "m2"))},
	{rule: "dose-renal", name: "27 mL/min in a small person are above 30 per 1.73 m²", want: Pass, change: both(normalised(), dosing("1", "g", "24", "27", "bodySurfaceArea", "1.5", "m2"))},
	{rule: "dose-renal", name: "per 1.73 m² without a surface", want: Indeterminate, missing: Height, change: both(normalised(), dosing("1", "g", "24", "35"))},
	// Per kg of the weight on record (74 kg): 103.6 mL/min are 1.4 mL/min/kg, the end of "> 1.0 to 1.4".
	{rule: "dose-renal", name: "103.7 mL/min at 74 kg are above 1.4 per kg", want: Pass, change: both(clearancePerKilogram(), dosing("6660", "mg", "24", "103.7", "dosingWeight", "74", "kg"))},
	{rule: "dose-renal", name: "103.6 mL/min at 74 kg are 1.4 per kg, and the dose is that up to 1.4", want: Pass, change: both(clearancePerKilogram(), dosing("5180", "mg", "24", "103.6", "dosingWeight", "74", "kg"))},
	{rule: "dose-renal", name: "103.5 mL/min at 74 kg are below 1.4 per kg", want: Found, says: "1.4", change: both(clearancePerKilogram(), dosing("6660", "mg", "24", "103.5", "dosingWeight", "74", "kg"))},
	{rule: "dose-renal", name: "a dose by weight may be rounded by a tenth", want: Pass, change: both(clearancePerKilogram(), dosing("5698", "mg", "24", "90", "dosingWeight", "74", "kg"))},
	{rule: "dose-renal", name: "and by no more", want: Found, change: both(clearancePerKilogram(), dosing("5699", "mg", "24", "90", "dosingWeight", "74", "kg"))},
	{rule: "dose-renal", name: "per kg without a weight", want: Indeterminate, missing: Weight, change: func(w *world) {
		both(clearancePerKilogram(), dosing("6660", "mg", "24", "110", "dosingWeight", "74", "kg"))(w)
		w.kase.Measurements = w.kase.Measurements[1:]
	}},
	// Clearance by the ideal weight: 80 mL/min at 74 kg actual, 50 kg ideal, are 54.
	{rule: "dose-renal", name: "the clearance by ideal weight is the lower", want: Found, says: "54", change: both(bands(renalFact("30", &compendium.Basis{Per: compendium.PerMinute, Weight: "ideal, actual if lower"}, dosed("60", "", "mL/min", "10", "mg/kg", "24"), dosed("30", "60", "mL/min", "7.5", "mg/kg", "24"))),
		dosing("740", "mg", "24", "80", "idealBodyWeight", "50", "kg", "dosingWeight", "74", "kg"))},
	{rule: "dose-renal", name: "an ideal weight above the actual one changes nothing", want: Pass, change: both(bands(renalFact("30", &compendium.Basis{Per: compendium.PerMinute, Weight: "ideal, actual if lower"}, dosed("60", "", "mL/min", "10", "mg/kg", "24"), dosed("30", "60", "mL/min", "7.5", "mg/kg", "24"))),
		dosing("740", "mg", "24", "80", "idealBodyWeight", "80", "kg", "dosingWeight", "74", "kg"))},
	{rule: "dose-renal", name: "no ideal weight without a height", want: Indeterminate, missing: Height, change: both(func(w *world) { delete(w.numbers, "idealBodyWeight") }, bands(renalFact("30", &compendium.Basis{Per: compendium.PerMinute, Weight: "ideal, actual if lower"}, dosed("60", "", "mL/min", "10", "mg/kg", "24"))),
		dosing("740", "mg", "24", "80", "dosingWeight", "74", "kg"))},
	// Several tables, and nobody tells which regimen was the usual one.
	{rule: "dose-renal", name: "the dose fits none of them", want: Found, change: both(bands(
		keyed(renalFact("30", nil, dosed("30", "60", "mL/min", "2", "g", "12")), compendium.Applies{Regimen: "2 g every 8 h"}),
		keyed(renalFact("31", nil, dosed("30", "60", "mL/min", "2", "g", "24")), compendium.Applies{Regimen: "2 g every 12 h"})), dosing("2", "g", "8", "45"))},
	{rule: "dose-renal", name: "a table of another interval is not asked", want: Indeterminate, missing: TableLimit, change: both(bands(
		keyed(renalFact("30", nil, dosed("60", "", "mL/min", "7", "mg/kg", "24")), compendium.Applies{Regimen: "extended-interval", Interval: &compendium.Band{Low: "24", Unit: "h"}})), dosing("120", "mg", "8", "90"))},
	// Three times a week is every second day at the closest.
	{rule: "dose-renal", name: "three times a week", want: Pass, change: both(bands(renalFact("30", nil, weekly("3"))), dosing("100", "mg", "48", "20"))},
	{rule: "dose-renal", name: "every day where three times a week is asked", want: Found, change: both(bands(renalFact("30", nil, weekly("3"))), dosing("100", "mg", "47", "20"))},
	{rule: "dose-renal", name: "a band that says something in words is shown", want: Found, change: both(bands(renalFact("30", nil, compendium.RenalBand{Crcl: band("", "", "50", "mL/min"), Note: "avoid the intravenous form"})), dosing("300", "mg", "12", "40"))},
	{rule: "dose-renal-stale", name: "a drug that harms the kidneys, without bands", want: Found, says: "8 days", change: func(w *world) {
		w.drug.Facts, w.drug.Kinds = w.drug.Facts[3:], []string{"nephrotoxic"}
		creatinineOf(8)(w)
	}},
}

func weekly(times string) compendium.RenalBand {
	n := band(times, "", "", "/wk")
	d := band("100", "", "", "mg")
	return compendium.RenalBand{Crcl: band("", "", "30", "mL/min"), Dose: &d, TimesPerWeek: &n}
}

// regimenFixtures: a limit holds for its own regimen only.
var regimenFixtures = []fixture{
	{rule: "dose-daily-above-maximum", name: "per kg, at the limit", want: Pass, change: limited("dosingWeight", "74", "370", daily("5", "mg/kg/d"))},
	{rule: "dose-daily-above-maximum", name: "per kg, above it", want: Found, says: "370.1", change: limited("dosingWeight", "74", "370.1", daily("5", "mg/kg/d"))},
	{rule: "dose-daily-above-maximum", name: "per kg without a weight", want: Indeterminate, missing: Weight, change: limited("", "", "370", daily("5", "mg/kg/d"))},
	{rule: "dose-daily-above-maximum", name: "a limit of another interval is no limit", want: Indeterminate, missing: TableLimit, change: limited("dosingWeight", "74", "518",
		keyed(daily("5", "mg/kg/d"), compendium.Applies{Regimen: "extended", Interval: &compendium.Band{Low: "24", Unit: "h"}}))},
	{rule: "dose-daily-above-maximum", name: "a limit of the same interval is one", want: Found, change: limited("dosingWeight", "74", "518",
		keyed(daily("5", "mg/kg/d"), compendium.Applies{Regimen: "conventional", Interval: &compendium.Band{High: "12", Unit: "h"}}))},
	{rule: "dose-daily-above-maximum", name: "a limit whose state nobody told is no limit", want: Indeterminate, missing: TableLimit, change: limited("", "", "4000", keyed(daily("2", "g"), compendium.Applies{Setting: "renal and hepatic impairment together"}))},
	{rule: "dose-daily-above-maximum", name: "a limit that an indication lifts holds for another", want: Found, change: limited("", "", "4000", keyed(daily("2", "g"), compendium.Applies{NotIndication: []string{"meningitis"}}))},
	{rule: "dose-daily-above-maximum", name: "and not for that one", want: Indeterminate, missing: TableLimit, change: func(w *world) {
		limited("", "", "4000", keyed(daily("2", "g"), compendium.Applies{NotIndication: []string{"meningitis"}}))(w)
		w.order.Indications[0].Text = "bacterial Meningitis, second week"
	}},
	{rule: "dose-daily-above-maximum", name: "and holds where no indication is told", want: Found, change: func(w *world) {
		limited("", "", "4000", keyed(daily("2", "g"), compendium.Applies{NotIndication: []string{"meningitis"}}))(w)
		w.order.Indications = nil
	}},
	{rule: "dose-daily-above-maximum", name: "a limit of one age is none below it", want: Pass, change: limited("", "", "110", daily("120", "mg"), keyed(daily("60", "mg"), compendium.Applies{Age: &compendium.Band{Low: "65", Unit: "a"}}))},
	{rule: "dose-daily-above-maximum", name: "and is one from it", want: Found, change: func(w *world) {
		limited("", "", "110", daily("120", "mg"), keyed(daily("60", "mg"), compendium.Applies{Age: &compendium.Band{Low: "65", Unit: "a"}}))(w)
		w.kase.Patient.BirthDate = instant("1960-08-22T00:00Z")
	}},
	// What is written would be given, also while another number denies it.
	{rule: "dose-daily-above-maximum", name: "a disputed dose counts as it is written", want: Found, says: "12,300", change: func(w *world) {
		withNumbers("dose", "4100", "mg", "interval", "8", "h", "dailyDose", "3", "g/d")(w)
		x := w.numbers["dose"]
		x.Disputed, x.Stated = true, true
		w.numbers["dose"] = x
	}},
	{rule: "dose-daily-above-maximum", name: "a disputed dose at the limit", want: Pass, change: func(w *world) {
		withNumbers("dose", "4000", "mg", "interval", "8", "h", "dailyDose", "3", "g/d")(w)
		x := w.numbers["dose"]
		x.Disputed, x.Stated = true, true
		w.numbers["dose"] = x
	}},
	// A fluid is refused by what it is made of, also in a strength without a code.
	{rule: "rate-diluent", name: "dextrose 20 % for a drug that no dextrose may meet", want: Found, says: "dextrose 20 %", change: both(withoutDextrose, carrier("dextrose 20 % in water"))},
	{rule: "rate-diluent", name: "sodium chloride for the same", want: Pass, change: both(withoutDextrose, carrier("sodium chloride 0.9 %"))},
	{rule: "rate-diluent", name: "an ingredient that the row forgives", want: Pass, change: both(func(w *world) {
		withoutDextrose(w)
		w.drug.Facts[len(w.drug.Facts)-1].Gates = false
		w.drug.Facts[len(w.drug.Facts)-1].Review = "local"
	}, carrier("dextrose 5 % in water"))},
}

func withoutDextrose(w *world) {
	w.drug.Facts[len(w.drug.Facts)-1].Value = compendium.Value{List: []string{"LR"}, Containing: []string{"dextrose"}}
}

func daily(value, unit string) compendium.Fact {
	return fact("40", "max_daily_dose", "adult", compendium.Value{Band: compendium.Band{Value: json.Number(value), Unit: unit}})
}

// limited puts limits in place of the base row's, and a daily dose in mg.
func limited(size, weight, dailyDose string, facts ...compendium.Fact) func(*world) {
	return func(w *world) {
		for i := range facts {
			facts[i].ID += string(rune('a' + i))
		}
		w.drug.Facts = append(facts, w.drug.Facts[2:]...)
		if size != "" {
			withNumbers(size, weight, "kg")(w)
		}
		withNumbers("dailyDose", dailyDose, "mg/d")(w)
	}
}

func TestKidneyRules(t *testing.T)  { judged(t, kidneyFixtures) }
func TestRegimenRules(t *testing.T) { judged(t, regimenFixtures) }

// What rests on a recalled number says so, so that a block can hold instead.
func TestAFindingCarriesTheStandingOfItsFact(t *testing.T) {
	w := base()
	carrier("lactated Ringer's")(w)
	w.drug.Facts[4].Standing = compendium.Memory
	o := Run([]Rule{ruleOf(t, "rate-diluent")}, w.facts(), "release")[0]
	require.Len(t, o.Findings, 1)
	assert.Equal(t, compendium.Memory, o.Findings[0].Standing)
}
