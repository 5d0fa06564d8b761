package verification

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/conformance/arithmetic"
	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// conflict sets a disagreement of a kind with a gap, a ratio and the
// signature of its best explanation.
func conflict(kind arithmetic.Kind, gap, ratio, signature string) func(*world) {
	return func(w *world) {
		w.agreement.Conflicts = []arithmetic.Conflict{{Kind: kind, Gap: quantity.MustNumber(gap), Ratio: quantity.MustNumber(ratio), Formula: "dose = concentration × volume",
			Shown: "2 g is not 20 mg per mL × 10 mL", Places: []finding.Place{place("dose"), place("volume")},
			Culprits: []finding.Culprit{{Name: "dose", Stated: "2", Consistent: "0.2", Unit: "g", Signature: signature, Named: true, Expression: place("dose").Expression, Sentence: "the dose would have to be 0.2 g"}}}}
	}
}

func products(gap string) func(*world) { return conflict(arithmetic.Products, gap, "1.5", "none") }
func basisOff(ratio string) func(*world) {
	return conflict(arithmetic.Basis, "0.04", ratio, "none")
}
func slip(kind arithmetic.Kind, signature string) func(*world) {
	return conflict(kind, "9", "10", signature)
}

// weighed gives the newest weight and the one before, in kg.
func weighed(newest, previous string) func(*world) {
	return func(w *world) {
		perKilogram(w)
		w.kase.Measurements = []order.Measurement{measured("weight", newest, "kg", ago(oneDay)), measured("weight", previous, "kg", ago(60*oneDay))}
	}
}

// aged gives an age in whole years and the age of the only weight in days.
func aged(years, days int) func(*world) {
	return func(w *world) {
		perKilogram(w)
		birth := w.now.AddDate(-years, 0, 0)
		w.kase.Patient.BirthDate = order.Instant{Time: birth, Literal: birth.Format(time.RFC3339), Place: place("birthDate")}
		w.kase.Measurements = []order.Measurement{measured("weight", "74", "kg", ago(time.Duration(days)*oneDay))}
	}
}

func withNumbers(pairs ...string) func(*world) {
	return func(w *world) {
		for i := 0; i < len(pairs); i += 3 {
			w.numbers[pairs[i]] = settled(pairs[i+1], pairs[i+2])
		}
	}
}

func creatinineOf(days int) func(*world) {
	return func(w *world) {
		w.kase.Measurements[2] = measured("creatinine", "0.8", "mg/dL", ago(time.Duration(days)*oneDay))
	}
}

func carrier(names ...string) func(*world) {
	return func(w *world) {
		no := false
		w.order.Drug.Ingredients = w.order.Drug.Ingredients[:1]
		for _, n := range names {
			w.order.Drug.Ingredients = append(w.order.Drug.Ingredients, order.Ingredient{Concept: concept(n), Active: &no, Place: place("ingredient[1]")})
		}
	}
}

func tooManyNumbers(w *world) { w.agreement.TooMany = true }

func child(w *world) { aged(4, 1)(w) }

// readAs sets a disagreement that closes under another reading.
func readAs(gap, reading string) func(*world) {
	return func(w *world) {
		products(gap)(w)
		w.agreement.Conflicts[0].Readings = []finding.Culprit{{Name: "volume", Stated: "100", Unit: "mL", Reading: reading, Expression: place("volume").Expression,
			Sentence: "Is the container changed before it is empty?"}}
	}
}

var doseFixtures = []fixture{
	{rule: "dose-arithmetic", name: "too many numbers, and those compared disagree", want: Found, change: both(products("0.0501"), tooManyNumbers)},
	{rule: "dose-slip", name: "too many numbers, and a slip among those compared", want: Found, change: both(slip(arithmetic.Products, "tenfold"), tooManyNumbers)},
	// Row d1: agree within 1 %; warn 1 to 5 %; block above 5 %.
	{rule: "dose-arithmetic", name: "too many numbers to compare", want: Indeterminate, missing: Comparable, change: func(w *world) { w.agreement.TooMany = true }},
	{rule: "dose-arithmetic-minor", name: "too many numbers to compare", want: Indeterminate, missing: Comparable, change: func(w *world) { w.agreement.TooMany = true }},
	{rule: "dose-slip", name: "too many numbers to compare", want: Indeterminate, missing: Comparable, change: func(w *world) { w.agreement.TooMany = true }},
	{rule: "dose-slip-minor", name: "too many numbers to compare", want: Indeterminate, missing: Comparable, change: func(w *world) { w.agreement.TooMany = true }},
	{rule: "dose-basis", name: "too many numbers to compare", want: Indeterminate, missing: Comparable, change: func(w *world) { w.agreement.TooMany = true }},
	{rule: "dose-basis-minor", name: "too many numbers to compare", want: Indeterminate, missing: Comparable, change: func(w *world) { w.agreement.TooMany = true }},
	{rule: "dose-arithmetic", name: "numbers that agree pass", want: Pass},
	{rule: "dose-arithmetic", name: "5 % apart is not yet a block", want: Pass, change: products("0.05")},
	{rule: "dose-arithmetic", name: "above 5 % apart", want: Found, change: products("0.0501")},
	{rule: "dose-arithmetic", name: "dose against dose per kilogram belongs to the basis", want: Pass, change: conflict(arithmetic.Basis, "0.5", "1.5", "none")},
	{rule: "dose-arithmetic", name: "another reading is asked, not blocked", want: Pass, change: readAs("0.5", arithmetic.ReadRemains)},
	{rule: "dose-arithmetic-reading", name: "numbers that agree pass", want: Pass},
	{rule: "dose-arithmetic-reading", name: "no reading closes them", want: Pass, change: products("0.5")},
	{rule: "dose-arithmetic-reading", name: "a reading closes them", want: Found, change: readAs("0.0501", arithmetic.ReadRemains)},
	{rule: "dose-arithmetic-reading", name: "5 % apart is warned of, not asked", want: Pass, change: readAs("0.05", arithmetic.ReadRemains)},
	{rule: "dose-slip", name: "a slip that another reading excuses is asked", want: Pass, change: both(slip(arithmetic.Products, "tenfold"), readAs("9", arithmetic.ReadVial))},
	{rule: "dose-arithmetic-minor", name: "numbers that agree pass", want: Pass},
	{rule: "dose-arithmetic-minor", name: "1 % apart passes", want: Pass, change: products("0.01")},
	{rule: "dose-arithmetic-minor", name: "above 1 % apart", want: Found, change: products("0.0101")},
	{rule: "dose-arithmetic-minor", name: "5 % apart", want: Found, change: products("0.05")},
	{rule: "dose-arithmetic-minor", name: "above 5 % the other rule blocks", want: Pass, change: products("0.0501")},
	// Row c4: 2.2 and doses per day hold, every other signature blocks.
	{rule: "dose-slip", name: "no disagreement passes", want: Pass},
	{rule: "dose-slip", name: "tenfold", want: Found, change: slip(arithmetic.Products, "tenfold")},
	{rule: "dose-slip", name: "per day as per hour", want: Found, change: slip(arithmetic.Products, "per-day-as-per-hour")},
	{rule: "dose-slip", name: "the whole course as one day", want: Found, change: slip(arithmetic.Products, "course-total-as-one-day")},
	{rule: "dose-slip", name: "the neighbouring field", want: Found, change: slip(arithmetic.Products, "neighbouring-field")},
	{rule: "dose-slip", name: "a disagreement without a signature", want: Pass, change: slip(arithmetic.Products, "none")},
	{rule: "dose-slip", name: "a slip within 5 % is none", want: Pass, change: conflict(arithmetic.Products, "0.05", "1.05", "tenfold")},
	{rule: "dose-slip", name: "two statements of one number belong to the words or the sources", want: Pass, change: slip(arithmetic.Statements, "tenfold")},
	{rule: "dose-slip", name: "a disagreement that nothing explains", want: Pass, change: both(slip(arithmetic.Products, "tenfold"), func(w *world) { w.agreement.Conflicts[0].Culprits = nil })},
	{rule: "dose-slip", name: "pounds belong to the minor rule", want: Pass, change: slip(arithmetic.Products, "pounds-as-kilograms")},
	{rule: "dose-slip-minor", name: "no disagreement passes", want: Pass},
	{rule: "dose-slip-minor", name: "pounds as kilograms", want: Found, change: slip(arithmetic.Basis, "pounds-as-kilograms")},
	{rule: "dose-slip-minor", name: "the daily total as each dose", want: Found, change: slip(arithmetic.Products, "daily-total-each-dose")},
	{rule: "dose-slip-minor", name: "tenfold belongs to the other rule", want: Pass, change: slip(arithmetic.Products, "tenfold")},
	// Scenario S4: 75 mg per kg × 35.7 kg = 2,677.5 mg, ordered 2,650 mg (1 %
	// off), so the dose was worked out from the wrong weight.
	{rule: "dose-slip-minor", name: "a dose worked out from a weight in pounds", want: Found, says: "2,650 mg", change: func(w *world) {
		weighed("35.7", "16.0")(w)
		w.order.Stated = []order.Stated{stated("dose", "2650", "mg", order.Coded), stated("dosePerKg", "75", "mg/kg", order.Coded)}
	}},
	// 75 mg per kg × 16.2 kg = 1,215 mg: the right dose carries no slip.
	{rule: "dose-slip-minor", name: "a dose worked out from the right weight", want: Pass, change: func(w *world) {
		weighed("35.7", "16.0")(w)
		w.order.Stated = []order.Stated{stated("dose", "1215", "mg", order.Coded), stated("dosePerKg", "75", "mg/kg", order.Coded)}
	}},
	// 35.7 kg after 30 kg is growth, not pounds: nothing is carried.
	{rule: "dose-slip-minor", name: "a dose worked out from a plausible weight", want: Pass, change: func(w *world) {
		weighed("35.7", "30")(w)
		w.order.Stated = []order.Stated{stated("dose", "2650", "mg", order.Coded), stated("dosePerKg", "75", "mg/kg", order.Coded)}
	}},
	// Row c2: up to 5 % nothing, 5 to 10 % warn, above 10 % hold, both ways.
	{rule: "dose-basis", name: "no disagreement passes", want: Pass},
	{rule: "dose-basis", name: "10 % above", want: Pass, change: basisOff("1.1")},
	{rule: "dose-basis", name: "over 10 % above", want: Found, change: basisOff("1.1001")},
	{rule: "dose-basis", name: "10 % below", want: Pass, change: basisOff("0.9")},
	{rule: "dose-basis", name: "over 10 % below", want: Found, change: basisOff("0.8999")},
	{rule: "dose-basis-minor", name: "no disagreement passes", want: Pass},
	{rule: "dose-basis-minor", name: "5 % above passes", want: Pass, change: basisOff("1.05")},
	{rule: "dose-basis-minor", name: "over 5 % above", want: Found, change: basisOff("1.0501")},
	{rule: "dose-basis-minor", name: "5 % below passes", want: Pass, change: basisOff("0.95")},
	{rule: "dose-basis-minor", name: "over 5 % below", want: Found, change: basisOff("0.9499")},
	{rule: "dose-basis-minor", name: "10 % above", want: Found, change: basisOff("1.1")},
	{rule: "dose-basis-minor", name: "over 10 % the other rule holds", want: Pass, change: basisOff("1.1001")},
	// Row c1: newest over previous 2.0 to 2.4 or 0.42 to 0.5: pounds; 9 to 11
	// or 0.09 to 0.11: the decimal point.
	{rule: "dose-weight-implausible", name: "one weight has nothing to be compared with", want: Pass},
	{rule: "dose-weight-implausible", name: "1.99 times", want: Pass, change: weighed("19.9", "10")},
	{rule: "dose-weight-implausible", name: "2.0 times", want: Found, says: "pounds", change: weighed("20", "10")},
	{rule: "dose-weight-implausible", name: "2.4 times", want: Found, says: "pounds", change: weighed("24", "10")},
	{rule: "dose-weight-implausible", name: "2.41 times", want: Pass, change: weighed("24.1", "10")},
	{rule: "dose-weight-implausible", name: "0.51 times", want: Pass, change: weighed("5.1", "10")},
	{rule: "dose-weight-implausible", name: "0.5 times", want: Found, says: "pounds", change: weighed("5", "10")},
	{rule: "dose-weight-implausible", name: "0.42 times", want: Found, says: "pounds", change: weighed("4.2", "10")},
	{rule: "dose-weight-implausible", name: "0.41 times", want: Pass, change: weighed("4.1", "10")},
	{rule: "dose-weight-implausible", name: "8.99 times", want: Pass, change: weighed("89.9", "10")},
	{rule: "dose-weight-implausible", name: "9 times", want: Found, says: "decimal", change: weighed("90", "10")},
	{rule: "dose-weight-implausible", name: "11 times", want: Found, says: "decimal", change: weighed("110", "10")},
	{rule: "dose-weight-implausible", name: "11.01 times", want: Pass, change: weighed("110.1", "10")},
	{rule: "dose-weight-implausible", name: "0.112 times", want: Pass, change: weighed("11.2", "100")},
	{rule: "dose-weight-implausible", name: "0.11 times", want: Found, says: "decimal", change: weighed("11", "100")},
	{rule: "dose-weight-implausible", name: "0.09 times", want: Found, says: "decimal", change: weighed("9", "100")},
	{rule: "dose-weight-implausible", name: "0.089 times", want: Pass, change: weighed("8.9", "100")},
	// The base order's patient weighs 74 kg: 148 is 2 times, 740 is 10 times.
	{rule: "dose-weight-implausible", name: "the order's weight is twice the measured one", want: Found, says: "pounds", change: orderedWeight("148", "")},
	{rule: "dose-weight-implausible", name: "the order's weight is ten times the measured one", want: Found, says: "decimal", change: orderedWeight("740", "")},
	{rule: "dose-weight-implausible", name: "the order's weight is 1.99 times the measured one", want: Pass, change: orderedWeight("147.2", "")},
	{rule: "dose-weight-implausible", name: "the earlier weight in pounds is the same weight", want: Pass, change: func(w *world) {
		weighed("70", "70")(w)
		w.kase.Measurements[1].Quantity = q("154.3", "[lb_av]") // 154.3 ÷ 2.20462 = 70.0 kg
	}},
	// Row c1: 7 days under 2 years, 30 in a child, 90 in an adult; 10 % change.
	{rule: "dose-weight-stale", name: "a fixed dose rests on no weight", want: NotApplicable},
	{rule: "dose-weight-stale", name: "no weight", want: Indeterminate, missing: Weight, change: func(w *world) { perKilogram(w); w.kase.Measurements = nil }},
	{rule: "dose-weight-stale", name: "no birth date, so no limit", want: Indeterminate, missing: Age, change: func(w *world) {
		perKilogram(w)
		w.kase.Patient.BirthDate = order.Instant{}
	}},
	{rule: "dose-weight-stale", name: "adult, 90 days", want: Pass, change: aged(18, 90)},
	{rule: "dose-weight-stale", name: "adult, 91 days", want: Found, says: "91 days", change: aged(18, 91)},
	{rule: "dose-weight-stale", name: "17 years, 31 days", want: Found, says: "31 days", change: aged(17, 31)},
	{rule: "dose-weight-stale", name: "2 years, 30 days", want: Pass, change: aged(2, 30)},
	{rule: "dose-weight-stale", name: "1 year, 7 days", want: Pass, change: aged(1, 7)},
	{rule: "dose-weight-stale", name: "1 year, 8 days", want: Found, says: "8 days", change: aged(1, 8)},
	{rule: "dose-weight-stale", name: "under 1 year, 8 days", want: Found, says: "8 days", change: aged(0, 8)},
	{rule: "dose-weight-stale", name: "a fresh height is no fresh weight", want: Found, says: "91 days", change: func(w *world) {
		aged(40, 91)(w)
		w.kase.Measurements = append([]order.Measurement{measured("height", "168", "cm", ago(oneDay))}, w.kase.Measurements...)
	}},
	{rule: "dose-weight-stale", name: "the record's own weight is not compared with itself", want: Pass, change: func(w *world) {
		perKilogram(w)
		w.order.Stated = append(w.order.Stated, stated("dosingWeight", "90", "kg", order.Record))
	}},
	{rule: "dose-weight-stale", name: "a weight without a date", want: Found, says: "without a date", change: func(w *world) { perKilogram(w); w.kase.Measurements[0].At = order.Instant{} }},
	{rule: "dose-weight-stale", name: "10 % more", want: Pass, change: weighed("77", "70")},
	{rule: "dose-weight-stale", name: "over 10 % more", want: Found, says: "10 %", change: weighed("77.1", "70")},
	{rule: "dose-weight-stale", name: "10 % less", want: Pass, change: weighed("63", "70")},
	{rule: "dose-weight-stale", name: "over 10 % less", want: Found, change: weighed("62.9", "70")},
	{rule: "dose-weight-stale", name: "a slip in the weight is the other rule's", want: Pass, change: weighed("154", "70")},
	{rule: "dose-weight-stale", name: "the order's weight is 10 % off the newest", want: Pass, change: orderedWeight("81.4", "")}, // 74 × 1.1 = 81.4
	{rule: "dose-weight-stale", name: "the order's weight is over 10 % off the newest", want: Found, says: "reckons", change: orderedWeight("81.5", "actual-weight")},
	{rule: "dose-weight-stale", name: "a slip in the order's weight is the other rule's", want: Pass, change: orderedWeight("148", "")},
	{rule: "dose-weight-stale", name: "an ideal weight is meant to differ", want: Pass, change: orderedWeight("60", "ideal-weight")},
	// Row c6: only a limit of the table that gates; the adult's cap for children.
	{rule: "dose-daily-above-maximum", name: "12 g a day is the limit", want: Pass, change: withNumbers("dailyDose", "12", "g/d")},
	{rule: "dose-daily-above-maximum", name: "over 12 g a day", want: Found, says: "12.1 g", change: withNumbers("dailyDose", "12.1", "g/d")},
	{rule: "dose-daily-above-maximum", name: "a child at its limit of 6 g", want: Pass, change: child},
	{rule: "dose-daily-above-maximum", name: "a child over its limit", want: Found, change: func(w *world) { child(w); withNumbers("dailyDose", "6.1", "g/d")(w) }},
	{rule: "dose-daily-above-maximum", name: "a child without a limit of its own, over the adult's", want: Found, change: func(w *world) {
		child(w)
		w.drug.Facts = w.drug.Facts[:1]
		withNumbers("dailyDose", "12.1", "g/d")(w)
	}},
	{rule: "dose-daily-above-maximum", name: "no limit in the table", want: Indeterminate, missing: TableLimit, change: func(w *world) { w.drug.Facts = w.drug.Facts[2:] }},
	{rule: "dose-daily-above-maximum", name: "a limit that may not gate is none", want: Indeterminate, missing: TableLimit, change: func(w *world) { w.drug.Facts[0].Gates = false }},
	{rule: "dose-daily-above-maximum", name: "the dose of a day is not known", want: Indeterminate, missing: DailyDose, change: func(w *world) { delete(w.numbers, "dailyDose") }},
	{rule: "dose-daily-above-maximum", name: "the dose of a day is disputed", want: Indeterminate, missing: DailyDose, change: func(w *world) {
		x := w.numbers["dailyDose"]
		x.Disputed = true
		w.numbers["dailyDose"] = x
	}},
	{rule: "dose-daily-above-maximum", name: "the drug has no row", want: Indeterminate, missing: DrugRow, change: func(w *world) { w.unlisted = true }},
	// Row c5 with the bands of the test row: from 55 no change, 35 to 54 every 8 h or more,
	// 11 to 34 half the dose every 12 h.
	{rule: "dose-renal", name: "clearance 95", want: Pass},
	{rule: "dose-renal", name: "clearance 35 with 8 hours between doses: the usual dose itself is not known", want: Indeterminate, missing: TableLimit, change: withNumbers("creatinineClearance", "35", "mL/min")},
	{rule: "dose-renal", name: "clearance 54.5 lies in the gap of the printed bands and takes the lower", want: Found, change: withNumbers("creatinineClearance", "54.5", "mL/min", "interval", "6", "h")},
	{rule: "dose-renal", name: "clearance 35 with 6 hours between doses", want: Found, change: withNumbers("creatinineClearance", "35", "mL/min", "interval", "6", "h")},
	{rule: "dose-renal", name: "clearance 34.9", want: Found, says: "34.9", change: withNumbers("creatinineClearance", "34.9", "mL/min")},
	{rule: "dose-renal", name: "a child's band is a share of the dose of a day", want: Found, says: "95", change: func(w *world) {
		b := renalBand("40", "130", "0.6", "")
		b.DailyDoseFactor, b.DoseFactor = b.DoseFactor, nil
		w.drug.Facts[2].Value.Bands = append(w.drug.Facts[2].Value.Bands[:0:0], b)
	}},
	{rule: "dose-renal", name: "clearance below every band is never a pass", want: Found, says: "below every band", change: withNumbers("creatinineClearance", "10", "mL/min")},
	{rule: "dose-renal", name: "no clearance could be worked out", want: Indeterminate, missing: Clearance, change: func(w *world) { delete(w.numbers, "creatinineClearance") }},
	{rule: "dose-renal", name: "the interval that the band asks for is not known", want: Indeterminate, missing: Interval, change: func(w *world) {
		withNumbers("creatinineClearance", "40", "mL/min")(w)
		delete(w.numbers, "interval")
	}},
	{rule: "dose-renal", name: "no creatinine", want: Indeterminate, missing: Creatinine, change: func(w *world) { w.kase.Measurements = w.kase.Measurements[:2] }},
	{rule: "dose-renal", name: "the table has no entry: not checked, never not applicable", want: Indeterminate, missing: TableLimit, change: func(w *world) { w.drug.Facts = w.drug.Facts[3:] }},
	{rule: "dose-renal", name: "a source says that the kidneys change nothing", want: NotApplicable, change: func(w *world) {
		w.drug.Facts = append(w.drug.Facts[3:], fact("6", "renal_dose_adjustment", "adult", compendium.Value{NoChange: true, Text: "none"}))
	}},
	{rule: "dose-renal", name: "a drug without a row may be renally dosed", want: Indeterminate, missing: DrugRow, change: func(w *world) { w.unlisted = true }},
	{rule: "dose-renal-stale", name: "7 days", want: Pass, change: creatinineOf(7)},
	{rule: "dose-renal-stale", name: "8 days", want: Found, says: "8 days", change: creatinineOf(8)},
	{rule: "dose-renal-stale", name: "no creatinine on record", want: Found, says: "no creatinine on record", change: func(w *world) { w.kase.Measurements = w.kase.Measurements[:2] }},
	{rule: "dose-renal-stale", name: "a creatinine without a date", want: Found, says: "without a date", change: func(w *world) { w.kase.Measurements[2].At = order.Instant{} }},
	{rule: "dose-renal-stale", name: "the table has no entry and the drug does not harm the kidneys", want: NotApplicable, change: func(w *world) { w.drug.Facts = w.drug.Facts[3:] }},
	// Row d11: listed incompatible blocks, not on the list holds.
	{rule: "rate-diluent", name: "a listed fluid", want: Pass},
	{rule: "rate-diluent", name: "an incompatible fluid", want: Found, says: "Ringer", change: carrier("lactated Ringer's")},
	{rule: "rate-diluent", name: "an incompatible fluid beside a listed one", want: Found, change: carrier("sodium chloride 0.9 %", "lactated Ringer's")},
	{rule: "rate-diluent", name: "no fluid named", want: Indeterminate, missing: Diluent, change: carrier()},
	{rule: "rate-diluent", name: "a fluid without its strength is not guessed", want: Indeterminate, missing: Diluent, change: carrier("dextrose")},
	{rule: "rate-diluent-unlisted", name: "a listed fluid", want: Pass},
	{rule: "rate-diluent-unlisted", name: "a fluid on neither list", want: Found, change: carrier("dextrose 10 % in water")},
	{rule: "rate-diluent-unlisted", name: "an incompatible fluid is blocked by the other rule", want: Pass, change: carrier("lactated Ringer's")},
	{rule: "rate-diluent-unlisted", name: "no fluid named: the other rule says so", want: NotApplicable, change: carrier()},
}

func orderedWeight(kg, basis string) func(*world) {
	return func(w *world) {
		perKilogram(w)
		w.order.DoseBasis = basis
		w.order.Stated = append(w.order.Stated, stated("dosingWeight", kg, "kg", order.Coded))
	}
}

func TestDoseRules(t *testing.T) { judged(t, doseFixtures) }

// A disagreement that nothing explains still says where, what and what next.
func TestADisagreementWithoutAnExplanationIsStillReported(t *testing.T) {
	w := base()
	products("0.5")(w)
	w.agreement.Conflicts[0].Culprits = nil
	o := Run([]Rule{ruleOf(t, "dose-arithmetic")}, w.facts(), finding.Intake)[0]
	require.Len(t, o.Findings, 1)
	assert.Equal(t, place("dose"), o.Findings[0].Place)
	assert.Contains(t, o.Findings[0].Remedy, "Ask the prescriber")
	assert.Len(t, o.Findings[0].Evidence, 2)
}

// The finding points at the number that is to blame, not at the first one.
func TestADisagreementPointsAtItsCulprit(t *testing.T) {
	for _, code := range []finding.Code{"dose-arithmetic", "dose-slip"} {
		w := base()
		conflict(arithmetic.Products, "9", "10", "tenfold")(w)
		c := &w.agreement.Conflicts[0]
		c.Culprits[0].Name, c.Culprits[0].Expression = "volume", place("volume").Expression
		o := Run([]Rule{ruleOf(t, code)}, w.facts(), finding.Intake)[0]
		require.Len(t, o.Findings, 1, code)
		assert.Equal(t, place("volume"), o.Findings[0].Place, code)
	}
}

// 35.7 pounds ÷ 2.20462 = 16.19 kg, shown with three digits.
func TestAWeightInPoundsShowsWhatItWouldBeInKilograms(t *testing.T) {
	remedy := func(newest, previous string) string {
		w := base()
		weighed(newest, previous)(w)
		o := Run([]Rule{ruleOf(t, "dose-weight-implausible")}, w.facts(), finding.Intake)[0]
		require.Len(t, o.Findings, 1)
		return o.Findings[0].Remedy
	}
	assert.Contains(t, remedy("35.7", "16"), "16.2 kg")
	assert.NotContains(t, remedy("7.2", "16"), "pounds would be", "a weight that fell is not in pounds")
	assert.NotContains(t, remedy("160", "16"), "pounds would be", "a moved point is not in pounds")
}
