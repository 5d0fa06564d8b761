package verification

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// of74 is a dose in mg every 24 hours for 74 kg.
func of74(mg string) func(*world) {
	return both(figures("dose", mg, "mg", "interval", "24", "h", "duration", "1", "h", "dosingWeight", "74", "kg"), withNumbers("dailyDose", mg, "mg/d"))
}

// childOf is a child of 4 years and so many kg, dosed in mg every so many hours.
func childOf(kg, mg, hours, day string) func(*world) {
	return both(child, figures("dose", mg, "mg", "interval", hours, "h", "duration", "1", "h", "dosingWeight", kg, "kg"), withNumbers("dailyDose", day, "mg/d"))
}

func withoutTime(w *world) { delete(w.numbers, "duration") }

func cutAt(f compendium.Fact, most string) compendium.Fact {
	f.Value.Max = bandFrom(most, "mg")
	return f
}

func first(dose, unit string) compendium.Fact {
	return fact("", "loading_dose", "adult", compendium.Value{Band: *bandFrom(dose, unit)})
}

// Where the table has no limit of its own, more than twice the highest usual
// dose is found, for a child more than 1.5 times. 12 mg/kg of 74 kg are 888.
var farFixtures = []fixture{
	{rule: singleRule, name: "twice the highest usual dose", want: Indeterminate, missing: TableLimit, change: both(limitedBy(usually("6", "mg/kg", "24"), usually("8 to 12", "mg/kg", "24")), of74("1776"))},
	{rule: singleRule, name: "more than twice", want: Found, says: "1,777 mg", change: both(limitedBy(usually("6", "mg/kg", "24"), usually("8 to 12", "mg/kg", "24")), of74("1777"))},
	{rule: dailyRule, name: "said of one dose, it is not said of the day as well", want: Indeterminate, missing: TableLimit, change: both(limitedBy(usually("6", "mg/kg", "24"), usually("8 to 12", "mg/kg", "24")), of74("1777"))},
	{rule: dailyRule, name: "a usual dose twice as often", want: Indeterminate, missing: TableLimit, change: both(limitedBy(usually("500", "mg", "24")), figures("dose", "500", "mg", "interval", "12", "h"), withNumbers("dailyDose", "1000", "mg/d"))},
	{rule: dailyRule, name: "three times as often", want: Found, change: both(limitedBy(usually("500", "mg", "24")), figures("dose", "500", "mg", "interval", "8", "h"), withNumbers("dailyDose", "1500", "mg/d"))},
	{rule: singleRule, name: "within twice the first dose", want: Indeterminate, missing: TableLimit, change: both(limitedBy(usually("50", "mg", "24"), first("200", "mg")), of74("400"))},
	{rule: singleRule, name: "beyond the first dose", want: Found, change: both(limitedBy(usually("50", "mg", "24"), first("200", "mg")), of74("401"))},
	{rule: singleRule, name: "a limit of the table decides alone", want: Pass, change: both(limitedBy(usually("500", "mg", "8"), single("2000", "mg")), of74("2000"))},
	{rule: dailyRule, name: "that of a day too", want: Pass, change: both(limitedBy(usually("500", "mg", "8"), daily("12", "g")), of74("6000"))},
	{rule: singleRule, name: "a usual dose of another regimen is none", want: Found, change: both(limitedBy(usually("500", "mg", "8"), keyed(usually("3000", "mg", "24"), compendium.Applies{Interval: bandOf("", "12", "h")})), of74("1600"))},
	{rule: singleRule, name: "without an infusion time it may run all day", want: Indeterminate, missing: TableLimit, change: both(limitedBy(usually("2", "g", "4")), figures("dose", "12", "g", "interval", "24", "h"), withoutTime)},
	{rule: singleRule, name: "and twice a usual day is far above that", want: Found, change: both(limitedBy(usually("2", "g", "4")), figures("dose", "24.1", "g", "interval", "24", "h"), withoutTime)},
	{rule: singleRule, name: "with one it does not", want: Found, change: both(limitedBy(usually("2", "g", "4")), figures("dose", "12", "g", "interval", "24", "h", "duration", "1", "h"))},
	{rule: singleRule, name: "per kg without a weight tells nothing", want: Indeterminate, missing: TableLimit, change: both(limitedBy(usually("6", "mg/kg", "24")), figures("dose", "9000", "mg", "interval", "24", "h"))},
	{rule: singleRule, name: "an opioid has no ceiling", want: Indeterminate, missing: TableLimit, change: both(limitedBy(usually("5", "mg", "4")), of74("100"), ofKinds("opioid"))},
	{rule: singleRule, name: "an inotrope is titrated", want: Indeterminate, missing: TableLimit, change: both(limitedBy(usually("5", "mg", "4")), of74("100"), ofKinds("inotrope"))},
	// A child of 12 kg, 100 mg/kg in a day: 1,200 mg; 1.5 times are 1,800.
	{rule: dailyRule, name: "a child at 1.5 times", want: Indeterminate, missing: TableLimit, change: both(limitedBy(of("pediatric", usualADay("100", "mg/kg/d"))), childOf("12", "600", "8", "1800"))},
	{rule: dailyRule, name: "a child beyond it", want: Found, change: both(limitedBy(of("pediatric", usualADay("100", "mg/kg/d"))), childOf("12", "601", "8", "1803"))},
	{rule: singleRule, name: "the dose of an adult for a small child, within the fixed limit of children", want: Found, says: "2,000 mg", change: both(
		limitedBy(of("pediatric", usualADay("100", "mg/kg/d")), of("pediatric", daily("6", "g"))), childOf("12", "2000", "8", "6000"))},
	{rule: dailyRule, name: "a limit of children by weight decides alone", want: Pass, change: both(
		limitedBy(of("pediatric", usualADay("50", "mg/kg/d")), of("pediatric", daily("150", "mg/kg/d")), daily("12", "g")), childOf("12", "600", "8", "1800"))},
	{rule: singleRule, name: "a dose by weight ends where the table cuts it", want: Found, change: both(limitedBy(of("pediatric", cutAt(usually("20", "mg/kg", "24"), "100"))), childOf("12", "151", "24", "151"))},
	{rule: singleRule, name: "and within 1.5 times that", want: Indeterminate, change: both(limitedBy(of("pediatric", cutAt(usually("20", "mg/kg", "24"), "100"))), childOf("12", "150", "24", "150"))},
	{rule: singleRule, name: "no usual dose for a child: that of an adult counts", want: Found, change: both(limitedBy(usually("500", "mg", "8")), childOf("12", "751", "8", "2253"))},
}

func TestFarAboveTheUsualDose(t *testing.T) { judged(t, farFixtures) }

// The site chooses how far is far.
func TestFarIsTheSitesChoice(t *testing.T) {
	change := both(limitedBy(usually("500", "mg", "24")), of74("1400"))
	assert.Equal(t, Found, ask(t, singleRule, change).Kind)
	wider := func(w *world) { w.policy.Dose.AboveUsual.Number = quantity.Int(3) }
	assert.Equal(t, Indeterminate, ask(t, singleRule, change, wider).Kind)
}

// An infusion of two days has no day of its own: the whole is compared with
// the usual whole. 2,400 mg/m2 of 1.829 m2 are 4,390 mg.
func TestALongInfusionTenTimesTheUsual(t *testing.T) {
	long := func(mg string) func(*world) {
		x := fact("", "usual_dose", "adult", compendium.Value{Continuous: bandFrom("2400", "mg/m2"), InfusionDuration: bandFrom("46", "h"), Interval: bandFrom("14", "d")})
		return both(limitedBy(x), figures("dose", mg, "mg", "interval", "336", "h", "duration", "46", "h"), withNumbers("bodySurfaceArea", "1.829", "m2"))
	}
	assert.NotEqual(t, Found, ask(t, dailyRule, long("4390")).Kind)
	assert.NotEqual(t, Found, ask(t, dailyRule, long("8779")).Kind)
	o := ask(t, dailyRule, long("43900"))
	require.Len(t, o.Findings, 1)
	assert.Contains(t, o.Findings[0].Expected, "2,400 mg per m²")
}

// obese is weighing with the weight on record.
func obese(dose, actual, ideal string, more ...string) func(*world) {
	return both(weighing(dose, actual, ideal, more...), func(w *world) { w.kase.Measurements[0] = measured("weight", actual, "kg", ago(oneDay)) })
}

// Acyclovir for an obese patient: ideal 60 kg, adjusted 92 kg, actual 140 kg.
var labelWeightFixtures = []fixture{
	{rule: choiceRule, name: "labelled for ideal weight, reckoned by the actual one", want: Found, says: "1,400 mg", change: both(limitedBy(usually("10", "mg/kg", "8"), labelledBy("ideal in obesity")), obese("1400", "140", "60", "dosePerKg", "10", "mg/kg"))},
	{rule: choiceRule, name: "the order says so", want: Found, change: both(limitedBy(usually("10", "mg/kg", "8"), labelledBy("ideal in obesity")), obese("1400", "140", "60", "dosePerKg", "10", "mg/kg"), func(w *world) { w.order.DoseBasis = "actual-weight" })},
	{rule: choiceRule, name: "by the ideal one", want: Pass, change: both(limitedBy(usually("10", "mg/kg", "8"), labelledBy("ideal in obesity")), obese("600", "140", "60", "dosePerKg", "10", "mg/kg"))},
	{rule: choiceRule, name: "the order says the adjusted weight", want: Pass, change: both(limitedBy(usually("10", "mg/kg", "8"), labelledBy("ideal in obesity")), obese("920", "140", "60", "dosePerKg", "10", "mg/kg"), func(w *world) { w.order.DoseBasis = "adjusted-weight" })},
	// 168 cm: a body mass index of 30 is 84.672 kg.
	{rule: choiceRule, name: "heavy and not obese", want: Pass, change: both(limitedBy(usually("10", "mg/kg", "8"), labelledBy("ideal in obesity")), obese("846", "84.6", "60", "dosePerKg", "10", "mg/kg"))},
	{rule: choiceRule, name: "obese", want: Found, change: both(limitedBy(usually("10", "mg/kg", "8"), labelledBy("ideal in obesity")), obese("847", "84.7", "60", "dosePerKg", "10", "mg/kg"))},
	{rule: choiceRule, name: "not heavy", want: Pass, change: both(limitedBy(usually("10", "mg/kg", "8"), labelledBy("ideal in obesity")), obese("700", "70", "60", "dosePerKg", "10", "mg/kg"))},
	{rule: choiceRule, name: "a dose that is usual by the actual weight alone", want: Found, change: both(limitedBy(usually("10", "mg/kg", "8"), labelledBy("ideal in obesity")), obese("1400", "140", "60"))},
	{rule: choiceRule, name: "a dose that is usual by the ideal weight", want: Pass, change: both(limitedBy(usually("10", "mg/kg", "8"), labelledBy("ideal in obesity")), obese("600", "140", "60"))},
	{rule: choiceRule, name: "a heavy patient without a height", want: Indeterminate, missing: Height, change: both(limitedBy(usually("10", "mg/kg", "8"), labelledBy("ideal in obesity")), obese("1400", "140", "", "dosePerKg", "10", "mg/kg"), without("height"))},
}

func TestTheWeightOfTheLabel(t *testing.T) { judged(t, labelWeightFixtures) }

// A container cannot be filled with a range of doses; as needed it is asked
// about with their number, and a dose stated beside the range is the one.
func TestARangeOfDosesIsNoDose(t *testing.T) {
	const missing = "record-element-missing"
	o := ask(t, missing, figures("duration", "30", "min"), ranged("dose", "1", "2", "g"))
	require.Len(t, o.Findings, 1)
	assert.Equal(t, finding.Hold, o.Findings[0].AtMost)
	assert.Equal(t, "a range of doses: 1 g to 2 g", o.Findings[0].Observed)
	assert.Equal(t, Pass, ask(t, missing, figures("duration", "30", "min"), ranged("dose", "1", "2", "g"), directed("as needed"), whenNeeded).Kind)
	assert.Equal(t, Pass, ask(t, missing).Kind)
}

// Two drugs in one container have no row; the row of one may forbid the other.
func TestAnotherDrugInTheContainer(t *testing.T) {
	with := func(names ...string) func(*world) {
		return func(w *world) {
			w.unlisted = true
			w.order.Drug.Ingredients = nil
			for _, n := range names {
				w.order.Drug.Ingredients = append(w.order.Drug.Ingredients, order.Ingredient{Concept: concept(n), Place: place("ingredient")})
			}
		}
	}
	o := ask(t, "rate-diluent", with("ceftriaxone", "calcium gluconate", "sodium chloride 0.9 %"))
	require.Equal(t, Found, o.Kind)
	assert.Equal(t, "calcium gluconate is listed as incompatible with ceftriaxone", o.Findings[0].Observed)
	o = ask(t, "rate-diluent", with("ceftriaxone", "lidocaine", "sodium chloride 0.9 %"))
	assert.Equal(t, []Fact{DrugRow}, o.Missing)
}

// The table writes penicillin in units of the pharmacopoeia, orders in
// international ones: they are the same.
func TestUnitsOfPenicillinAreCompared(t *testing.T) {
	order := func(units string) func(*world) {
		return both(limitedBy(usualADay("20 to 24", "10*6.[USP'U]")), figures("dose", units, "[iU]", "interval", "24", "h", "duration", "24", "h"), withNumbers("dailyDose", units, "[iU]/d"), func(w *world) { w.drug.Name = "penicillin g potassium" })
	}
	assert.Equal(t, Pass, ask(t, lowRule, order("24000000")).Kind)
	assert.Equal(t, Found, ask(t, lowRule, order("24000")).Kind)
	assert.NotEqual(t, Found, ask(t, dailyRule, order("48000000")).Kind)
	assert.Equal(t, Found, ask(t, dailyRule, order("240000000")).Kind)
	assert.NotEqual(t, Found, ask(t, lowRule, order("24000"), func(w *world) { w.drug.Name = "another" }).Kind)
}

// An infusion by mouth is none.
func TestARouteByWhichNothingIsInfused(t *testing.T) {
	const missing = "record-element-missing"
	by := func(name, code string) func(*world) {
		return func(w *world) {
			w.order.Route = order.Concept{Text: name, Codings: []order.Coding{{System: "http://snomed.info/sct", Code: code}}, Place: place("route")}
		}
	}
	assert.Equal(t, Found, ask(t, missing, by("Oral", "")).Kind)
	assert.Equal(t, Found, ask(t, missing, by("", "26643006")).Kind)
	for _, name := range []string{"Intravenous", "Subcutaneous", "Epidural", "Intrathecal"} {
		assert.Equal(t, Pass, ask(t, missing, by(name, "")).Kind, name)
	}
}

// A push takes no device; a dose of which nobody says how it is given does.
func TestAPushTakesNoDevice(t *testing.T) {
	none := func(w *world) { w.order.Device.Kind, w.order.Device.Parameters = "", nil }
	assert.Equal(t, Found, ask(t, "device-missing", none).Kind)
	assert.Equal(t, NotApplicable, ask(t, "device-missing", none, directed("IV push over 3 to 5 minutes")).Kind)
	assert.Equal(t, Found, ask(t, "device-missing", none, directed("never as a push")).Kind)
}

// only leaves one weight, of an adult of 168 cm unless a height is given.
func only(kg, cm string) func(*world) {
	return func(w *world) {
		w.kase.Measurements = []order.Measurement{measured("weight", kg, "kg", ago(oneDay)), measured("height", cm, "cm", ago(oneDay))}
	}
}

const implausible = "dose-weight-implausible"

// 50 kg/m2 at 168 cm are 141.12 kg. At 4 years 16 kg are usual by the formula,
// twice that is 32; 2.2 pounds to the kilogram.
var sizeFixtures = []fixture{
	{rule: implausible, name: "a body mass index below 50", want: Pass, change: only("141.1", "168")},
	{rule: implausible, name: "from 50 on a single weight is asked about", want: Found, says: "50", change: only("141.2", "168")},
	{rule: implausible, name: "an earlier weight that agrees answers it", want: Pass, change: both(only("141.2", "168"), func(w *world) {
		w.kase.Measurements = append(w.kase.Measurements, measured("weight", "140", "kg", ago(60*oneDay)))
	})},
	{rule: implausible, name: "an adult of 66 cm", want: Found, says: "66 cm", change: only("74", "66")},
	{rule: implausible, name: "an adult of 100 cm", want: Pass, change: only("35", "100")},
	{rule: implausible, name: "a child of 4 years and less than twice the usual weight", want: Pass, change: both(child, only("31.9", "102"))},
	{rule: implausible, name: "twice the usual weight", want: Found, says: "16 kg", change: both(child, only("32", "102"))},
	{rule: implausible, name: "half of it, as pounds and kilograms exchanged", want: Found, change: both(child, only("7.3", "102"))},
	{rule: implausible, name: "above half of it", want: Pass, change: both(child, only("8.1", "102"))},
}

func TestAWeightAgainstTheBody(t *testing.T) {
	judged(t, sizeFixtures)
	o := ask(t, implausible, only("163", "168"))
	require.Len(t, o.Findings, 1)
	assert.Equal(t, finding.Hold, o.Findings[0].AtMost)
	assert.Contains(t, o.Findings[0].Remedy, "163 pounds would be 73.9 kg")
	assert.Contains(t, ask(t, implausible, only("74", "66")).Findings[0].Remedy, "66 inches would be 168 cm")
}
