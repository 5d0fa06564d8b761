package verification

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/order"
)

// spaced is a band with an interval alone.
func spaced(low, high, interval string) compendium.RenalBand {
	b := dosed(low, high, "mL/min", "1", "g", interval)
	b.Dose = nil
	return b
}

// rated is a band with a rate alone.
func rated(low, rate string) compendium.RenalBand {
	r := band(rate, "", "", "ug/kg/min")
	return compendium.RenalBand{Crcl: band("", low, "", "mL/min"), Rate: &r}
}

// twoGrams is a table of one band, 2 g every 12 h from 30 to 60 mL/min.
func twoGrams() func(*world) {
	return bands(renalFact("30", nil, dosed("30", "60", "mL/min", "2", "g", "12")))
}

// unchangedAbove says that nothing changes above the highest band.
func unchangedAbove(w *world) { w.drug.Facts[2].Value.NoChangeAbove = true }

// runs makes one container run from change to change.
func runs(hours string) func(*world) {
	return withNumbers("duration", hours, "h", "interval", hours, "h")
}

// ganciclovirLike: 5 mg/kg every 12 h from 70 mL/min, half below.
func ganciclovirLike() func(*world) {
	return both(bands(renalFact("30", nil, dosed("70", "", "mL/min", "5", "mg/kg", "12"), dosed("50", "69.99", "mL/min", "2.5", "mg/kg", "12"))),
		withNumbers("dosingWeight", "70", "kg"))
}

// noDay takes the limits of a day out of force.
func noDay(w *world) { w.drug.Facts[0].Gates = false }

// lastPoint is a table of points that ends at 50 mL/min.
func lastPoint(w *world) {
	last := rated("50", "0.43")
	last.Crcl.High = "50"
	bands(renalFact("30", nil, rated("40", "0.38"), last))(w)
}

func withDaily(value, unit string) func(*world) {
	return func(w *world) { w.drug.Facts[0].Value = compendium.Value{Band: band(value, "", "", unit)} }
}

var bandFixtures = []fixture{
	// A band without a dose leaves the dose unchecked.
	{rule: "dose-renal", name: "the same dose every 12 h, and every 12 h is ordered", want: Indeterminate, missing: TableLimit, change: both(bands(renalFact("30", nil, renalBand("26", "50", "1", "12"))), dosing("4", "g", "12", "40"))},
	{rule: "dose-renal", name: "the same dose every 12 h, and every 8 h is ordered", want: Found, change: both(bands(renalFact("30", nil, renalBand("26", "50", "1", "12"))), dosing("1", "g", "8", "40"))},
	{rule: "dose-renal", name: "an interval alone", want: Indeterminate, missing: TableLimit, change: both(bands(renalFact("30", nil, spaced("10", "50", "12"))), dosing("2", "g", "12", "40"))},
	{rule: "dose-renal", name: "a dose alone, and it is repeated", want: Indeterminate, missing: TableLimit, change: both(bands(renalFact("30", nil, func() compendium.RenalBand {
		b := dosed("", "29.99", "mL/min", "1125", "mg", "1")
		b.Interval = nil
		return b
	}())), dosing("1125", "mg", "24", "20"))},
	// A larger dose at a longer interval is held by the dose of a day.
	{rule: "dose-renal", name: "twice the dose at twice the interval: that dose at once is in no table", want: Indeterminate, missing: TableLimit, change: both(twoGrams(), dosing("4", "g", "24", "45", "dailyDose", "4", "g/d"))},
	{rule: "dose-renal", name: "more than twice the dose at twice the interval", want: Found, says: "45", change: both(twoGrams(), dosing("4.1", "g", "24", "45", "dailyDose", "4.1", "g/d"))},
	{rule: "dose-renal", name: "half the dose at half the interval is another interval", want: Found, change: both(twoGrams(), dosing("1", "g", "6", "45", "dailyDose", "4", "g/d"))},
	// A container that runs a day is no dose of a day's many.
	{rule: "dose-renal", name: "continuous, 4 g in 24 h where 2 g every 12 h is asked", want: Pass, change: both(twoGrams(), dosing("4", "g", "24", "45", "dailyDose", "4", "g/d"), runs("24"))},
	{rule: "dose-renal", name: "continuous, above it", want: Found, change: both(twoGrams(), dosing("4.1", "g", "24", "45", "dailyDose", "4.1", "g/d"), runs("24"))},
	{rule: "dose-renal", name: "continuous in two containers a day", want: Pass, change: both(twoGrams(), dosing("2", "g", "12", "45", "dailyDose", "4", "g/d"), runs("12"))},
	{rule: "dose-renal", name: "continuous, its dose of a day unknown", want: Indeterminate, missing: DailyDose, change: func(w *world) {
		both(twoGrams(), dosing("4", "g", "24", "45"), runs("24"))(w)
		delete(w.numbers, "dailyDose")
	}},
	{rule: "dose-renal", name: "continuous against an interval", want: Indeterminate, missing: TableLimit, change: both(bands(renalFact("30", nil, renalBand("26", "50", "1", "12"))), dosing("4", "g", "24", "40", "dailyDose", "4", "g/d"), runs("24"))},
	{rule: "dose-renal", name: "the interval is disputed", want: Indeterminate, missing: Interval, change: func(w *world) {
		both(twoGrams(), dosing("2", "g", "8", "45"))(w)
		x := w.numbers["interval"]
		x.Disputed = true
		w.numbers["interval"] = x
	}},
	// A range is held at the end that is less safe.
	{rule: "dose-renal", name: "a range of doses up to the band's", want: Pass, change: both(twoGrams(), dosing("2", "g", "12", "45"), ranged("dose", "1", "2", "g"))},
	{rule: "dose-renal", name: "a range of doses above the band's", want: Found, change: both(twoGrams(), dosing("2", "g", "12", "45"), ranged("dose", "1", "2.1", "g"))},
	{rule: "dose-renal", name: "a range of intervals from the band's", want: Pass, change: both(twoGrams(), dosing("2", "g", "12", "45"), ranged("interval", "12", "18", "h"))},
	{rule: "dose-renal", name: "a range of intervals from below it", want: Found, change: both(twoGrams(), dosing("2", "g", "12", "45"), ranged("interval", "8", "18", "h"))},
	// Above the highest band only the source can say that nothing changes.
	{rule: "dose-renal", name: "above every band", want: Indeterminate, missing: TableLimit, change: both(twoGrams(), dosing("9", "g", "4", "60.1"))},
	{rule: "dose-renal", name: "above every band, and the source says no change there", want: Pass, change: both(twoGrams(), unchangedAbove, dosing("9", "g", "4", "60.1"))},
	{rule: "dose-renal", name: "at the highest band's end", want: Found, change: both(twoGrams(), unchangedAbove, dosing("9", "g", "4", "60"))},
	// The highest band is the usual dose: a daily limit that holds goes before it.
	{rule: "dose-renal", name: "usual dose exceeded, within the limit of a day", want: Pass, change: both(ganciclovirLike(), withDaily("20", "mg/kg/d"), dosing("700", "mg", "12", "100", "dailyDose", "1400", "mg/d"))},
	{rule: "dose-renal", name: "usual dose exceeded, above the limit of a day", want: Found, change: both(ganciclovirLike(), withDaily("19", "mg/kg/d"), dosing("700", "mg", "12", "100", "dailyDose", "1400", "mg/d"))},
	{rule: "dose-renal", name: "usual dose exceeded, and no limit of a day", want: Found, says: "usual dose", change: func(w *world) {
		both(ganciclovirLike(), dosing("700", "mg", "12", "100", "dailyDose", "1400", "mg/d"))(w)
		w.drug.Facts = w.drug.Facts[2:]
	}},
	{rule: "dose-renal", name: "the band below is no usual dose", want: Found, change: both(ganciclovirLike(), withDaily("20", "mg/kg/d"), dosing("350", "mg", "12", "60", "dailyDose", "700", "mg/d"))},
	// Rates by points of clearance: the milrinone label's steps 40 and 50.
	{rule: "dose-renal", name: "between two points the lower one counts", want: Pass, change: both(bands(renalFact("30", nil, rated("40", "0.38"), rated("50", "0.43"))), dosing("20", "mg", "24", "45", "drugRatePerKg", "0.38", "ug/kg/min"), runs("24"))},
	{rule: "dose-renal", name: "above the lower one", want: Found, change: both(bands(renalFact("30", nil, rated("40", "0.38"), rated("50", "0.43"))), dosing("20", "mg", "24", "45", "drugRatePerKg", "0.43", "ug/kg/min"), runs("24"))},
	{rule: "dose-renal", name: "normal kidneys within the limit of a day", want: Pass, change: both(bands(renalFact("30", nil, rated("40", "0.38"), rated("50", "0.43"))), withDaily("1.13", "mg/kg/d"),
		dosing("20", "mg", "24", "110", "drugRatePerKg", "0.5", "ug/kg/min", "dosingWeight", "70", "kg", "dailyDose", "50.4", "mg/d"), runs("24"))},
	{rule: "dose-renal", name: "at the last point", want: Found, change: both(lastPoint, dosing("20", "mg", "24", "50", "drugRatePerKg", "0.5", "ug/kg/min"), runs("24"))},
	{rule: "dose-renal", name: "above the last point, and the source says nothing of it", want: Indeterminate, missing: TableLimit, change: both(lastPoint, dosing("20", "mg", "24", "50.1", "drugRatePerKg", "0.5", "ug/kg/min"), runs("24"))},
	// Two bands that share an end: the foscarnet label says "> 1.0 to 1.4".
	{rule: "dose-renal", name: "103.6 mL/min at 74 kg are 1.4 per kg: the band up to 1.4", want: Found, says: "1.4", change: both(clearancePerKilogram(), dosing("6660", "mg", "24", "103.6", "dosingWeight", "74", "kg"))},
	{rule: "dose-renal", name: "1.0 per kg has no band below and is the lower one's", want: Pass, change: both(clearancePerKilogram(), dosing("5180", "mg", "24", "74", "dosingWeight", "74", "kg"))},
	{rule: "dose-renal", name: "an end that three bands meet at", want: Found, change: both(bands(renalFact("30", nil, dosed("40", "70", "mL/min", "2", "g", "12"), dosed("20", "40", "mL/min", "1", "g", "12"))), dosing("2", "g", "12", "40"))},
	{rule: "dose-renal", name: "just above it", want: Pass, change: both(bands(renalFact("30", nil, dosed("40", "70", "mL/min", "2", "g", "12"), dosed("20", "40", "mL/min", "1", "g", "12"))), dosing("2", "g", "12", "40.0001"))},
	// One table fits, another does not, and nobody told the usual regimen.
	{rule: "dose-renal", name: "it fits one of two regimens", want: Indeterminate, missing: regimen("2 g every 8 h; or 2 g every 12 h"), change: both(bands(
		keyed(renalFact("30", nil, dosed("30", "60", "mL/min", "2", "g", "12")), compendium.Applies{Regimen: "2 g every 8 h"}),
		keyed(renalFact("31", nil, dosed("30", "60", "mL/min", "2", "g", "24")), compendium.Applies{Regimen: "2 g every 12 h"})), dosing("2", "g", "12", "45"))},
	{rule: "dose-renal", name: "it is the usual dose of one of two regimens, with kidneys that work", want: Pass, change: both(bands(
		keyed(renalFact("30", nil, dosed("70", "", "mL/min", "5", "mg/kg", "12")), compendium.Applies{Regimen: "induction"}),
		keyed(renalFact("31", nil, dosed("70", "", "mL/min", "5", "mg/kg", "24")), compendium.Applies{Regimen: "maintenance"})), dosing("370", "mg", "12", "100", "dosingWeight", "74", "kg"), noDay)},
	{rule: "dose-renal", name: "and of none of them", want: Found, says: "usual dose", change: both(bands(
		keyed(renalFact("30", nil, dosed("70", "", "mL/min", "5", "mg/kg", "12")), compendium.Applies{Regimen: "induction"}),
		keyed(renalFact("31", nil, dosed("70", "", "mL/min", "5", "mg/kg", "24")), compendium.Applies{Regimen: "maintenance"})), dosing("370", "mg", "8", "100", "dosingWeight", "74", "kg"), noDay)},
	{rule: "dose-renal", name: "it fits both", want: Pass, change: both(bands(
		keyed(renalFact("30", nil, dosed("30", "60", "mL/min", "2", "g", "12")), compendium.Applies{Regimen: "2 g every 8 h"}),
		keyed(renalFact("31", nil, dosed("30", "60", "mL/min", "2", "g", "24")), compendium.Applies{Regimen: "2 g every 12 h"})), dosing("2", "g", "24", "45"))},
	{rule: "dose-renal", name: "it fits a table that may hold and not the one that does", want: Found, change: both(bands(
		renalFact("30", nil, dosed("30", "60", "mL/min", "1", "g", "12")),
		keyed(renalFact("31", nil, dosed("30", "60", "mL/min", "2", "g", "12")), compendium.Applies{Regimen: "severe"})), dosing("2", "g", "12", "45"))},
	{rule: "dose-renal", name: "it fits the table that holds and not one that may", want: Indeterminate, missing: regimen("mild"), change: both(bands(
		renalFact("30", nil, dosed("30", "60", "mL/min", "2", "g", "12")),
		keyed(renalFact("31", nil, dosed("30", "60", "mL/min", "1", "g", "12")), compendium.Applies{Regimen: "mild"})), dosing("2", "g", "12", "45"))},
}

func TestBandRules(t *testing.T) { judged(t, bandFixtures) }

// silent is a table whose source names no weight: it sets the weights the clearance could be worked out with.
func silent(actual, ideal, clearance string, basis *compendium.Basis) func(*world) {
	return func(w *world) {
		bands(renalFact("30", basis, dosed("50.01", "", "mL/min", "2", "g", "8"), dosed("30", "50", "mL/min", "2", "g", "12")))(w)
		dosing("2", "g", "8", clearance, "dosingWeight", actual, "kg")(w)
		w.kase.Measurements[0] = measured("weight", actual, "kg", ago(2*oneDay))
		w.drug.Facts[0].Gates = false // no limit of a day goes before the highest band
		delete(w.numbers, "idealBodyWeight")
		if ideal != "" {
			withNumbers("idealBodyWeight", ideal, "kg")(w)
		}
	}
}

func condition(c order.Concept) func(*world) {
	return func(w *world) { w.kase.Conditions = append(w.kase.Conditions, c) }
}

var clearanceFixtures = []fixture{
	// 120 kg on an ideal weight of 70: 70 mL/min are 40.8 by the ideal weight.
	{rule: "dose-renal", name: "far above the ideal weight, and the source is silent", want: Found, says: "40.8 mL per minute by the ideal body weight", change: silent("120", "70", "70", nil)},
	// 50 mL/min by the actual weight asks as well: the lowest that asks is shown.
	{rule: "dose-renal", name: "it asks by every weight", want: Found, says: "29.2 mL per minute by the ideal", change: silent("120", "70", "50", nil)},
	// 100 kg on 70: 82 by the adjusted weight, 70 by the ideal.
	{rule: "dose-renal", name: "far above it, and the ideal weight alone asks", want: Found, says: "49 mL per minute by the ideal", change: silent("100", "70", "70", nil)},
	{rule: "dose-renal", name: "far above it, and high enough by every weight", want: Pass, change: silent("120", "70", "90", nil)},
	{rule: "dose-renal", name: "far above it, and the source says the actual weight", want: Pass, change: silent("120", "70", "70", &compendium.Basis{Per: compendium.PerMinute, Weight: "actual"})},
	{rule: "dose-renal", name: "1.2 times the ideal weight", want: Pass, change: silent("84", "70", "55", nil)},
	{rule: "dose-renal", name: "just above 1.2 times", want: Found, change: silent("84.1", "70", "55", nil)},
	{rule: "dose-renal", name: "no height, and the body may be far above its ideal weight", want: Indeterminate, missing: Height, change: func(w *world) {
		silent("120", "", "70", nil)(w)
		w.kase.Measurements = append(w.kase.Measurements[:1:1], w.kase.Measurements[2])
	}},
	{rule: "dose-renal", name: "no height, and the clearance is high by the least ideal weight", want: Pass, change: func(w *world) {
		silent("90", "", "105", nil)(w) // 105 × 45.5 ÷ 90 = 53.1
		w.kase.Measurements = append(w.kase.Measurements[:1:1], w.kase.Measurements[2])
	}},
	{rule: "dose-renal", name: "no height, and no more than 1.2 times the least ideal weight", want: Pass, change: func(w *world) {
		silent("54.6", "", "55", nil)(w)
		w.kase.Measurements = append(w.kase.Measurements[:1:1], w.kase.Measurements[2])
	}},
	{rule: "dose-renal", name: "no height, and no more than 1.2 times the least ideal weight of a man", want: Pass, change: func(w *world) {
		silent("60", "", "55", nil)(w)
		w.kase.Patient.Gender = "male"
		w.kase.Measurements = append(w.kase.Measurements[:1:1], w.kase.Measurements[2])
	}},
	{rule: "dose-renal", name: "no height, and above it for a woman", want: Indeterminate, missing: Height, change: func(w *world) {
		silent("60", "", "55", nil)(w)
		w.kase.Measurements = append(w.kase.Measurements[:1:1], w.kase.Measurements[2])
	}},
	{rule: "dose-renal", name: "a height that has no ideal weight", want: Indeterminate, missing: ClearanceWeight, change: silent("120", "", "70", nil)},
	// On dialysis no clearance is worked out from creatinine.
	{rule: "dose-renal", name: "dialysis in words", want: Indeterminate, missing: Dialysis, change: condition(concept("End-stage kidney disease, on haemodialysis three times a week"))},
	{rule: "dose-renal", name: "dialysis in American words", want: Indeterminate, missing: Dialysis, change: condition(concept("Hemodialysis-dependent"))},
	{rule: "dose-renal", name: "dialysis by its code", want: Indeterminate, missing: Dialysis, change: condition(order.Concept{Codings: []order.Coding{{System: "http://hl7.org/fhir/sid/icd-10-cm", Code: "Z99.2"}}})},
	{rule: "dose-renal", name: "no dialysis", want: Pass, change: condition(concept("chronic kidney disease, not on dialysis"))},
	{rule: "dose-renal", name: "dialysis, and the kidneys change nothing", want: NotApplicable, change: func(w *world) {
		condition(concept("peritoneal dialysis"))(w)
		w.drug.Facts = append(w.drug.Facts[3:], fact("6", "renal_dose_adjustment", "adult", compendium.Value{NoChange: true, Text: "none"}))
	}},
}

func TestClearanceRules(t *testing.T) { judged(t, clearanceFixtures) }

// An order may already hold the share that the band asks for: nobody can
// tell, and the finding says so.
func TestAShareOfTheUsualDoseSaysWhatCannotBeKnown(t *testing.T) {
	w := base()
	dosing("500", "mg", "12", "20")(w)
	o := Run([]Rule{ruleOf(t, "dose-renal")}, w.facts(), "release")[0]
	require.Len(t, o.Findings, 1)
	assert.Contains(t, o.Findings[0].Expected, "50 % of the usual dose")
	assert.Contains(t, o.Findings[0].Expected, "the order does not tell whether 500 mg is that share already")
}

// A table that a site put out of force is one step below, not gone.
func TestABandTheSiteTookAwayIsStillSaid(t *testing.T) {
	w := base()
	dosing("2", "g", "8", "20")(w)
	w.drug.Facts[2].Gates, w.drug.Facts[2].Override = false, &compendium.Local{By: "a pharmacist", On: "2026-01-02", Gated: true}
	o := Run([]Rule{ruleOf(t, "dose-renal")}, w.facts(), "release")[0]
	require.Len(t, o.Findings, 1)
	assert.Equal(t, LoosenedDetail, o.Findings[0].Detail)
}
