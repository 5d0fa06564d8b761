package verification

import (
	"testing"
	"time"

	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
)

// between is a laboratory order that repeats from one day to another.
func between(days int, from, to string, tests ...string) order.Service {
	s := ordersFor(days, tests...)
	if from != "" {
		s.From = instant(from)
	}
	if to != "" {
		s.To = instant(to)
	}
	return s
}

func geneTest(text string) func(*world) {
	return func(w *world) {
		w.drug.GenotypeTest = true
		w.kase.Measurements = append(w.kase.Measurements, order.Measurement{Name: "genotype", Text: text, Place: place("genotype")})
	}
}

func hazardousNotAsked(w *world) { w.hazard.Listed = "yes" }

// The course of the base order begins on 10 Nov at 22:00 and ends on 15 Dec at
// 15:00; asked for is a test every week, and a day more is allowed.
var monitoringFixtures = []fixture{
	{rule: monitorRule, name: "the whole course", want: Pass, change: both(asksTests(true, "creatinine"), plans(between(7, "2026-11-16T08:00-05:00", "2026-12-14T08:00-05:00", "creatinine")))},
	{rule: monitorRule, name: "the last a week and a day before the end", want: Pass, change: both(asksTests(true, "creatinine"), plans(between(7, "2026-11-16T08:00-05:00", "2026-12-07T15:00-05:00", "creatinine")))},
	{rule: monitorRule, name: "a minute earlier", want: Found, says: "not until the end of the course: creatinine", change: both(asksTests(true, "creatinine"), plans(between(7, "2026-11-16T08:00-05:00", "2026-12-07T14:59-05:00", "creatinine")))},
	{rule: monitorRule, name: "the first a week and a day after the start", want: Pass, change: both(asksTests(true, "creatinine"), plans(between(7, "2026-11-18T22:00-05:00", "", "creatinine")))},
	{rule: monitorRule, name: "the first a month after the start", want: Found, says: "too long after the start", change: both(asksTests(true, "creatinine"), plans(between(7, "2026-12-07T08:00-05:00", "", "creatinine")))},
	{rule: monitorRule, name: "a gap between two orders", want: Found, says: "a gap between: creatinine", change: both(asksTests(true, "creatinine"), plans(between(7, "2026-11-16T08:00-05:00", "2026-11-18T08:00-05:00", "creatinine"), between(7, "2026-12-01T08:00-05:00", "", "creatinine")))},
	{rule: monitorRule, name: "one order goes on where the other ends", want: Pass, change: both(asksTests(true, "creatinine"), plans(between(7, "2026-11-16T08:00-05:00", "2026-11-25T08:00-05:00", "creatinine"), between(7, "2026-12-01T08:00-05:00", "", "creatinine")))},
	{rule: monitorRule, name: "one order for each draw", want: Pass, change: both(asksTests(true, "creatinine"), plans(onDay("2026-11-16T08:00-05:00", "creatinine"), onDay("2026-11-23T08:00-05:00", "creatinine"),
		onDay("2026-11-30T08:00-05:00", "creatinine"), onDay("2026-12-07T15:00-05:00", "creatinine")))},
	{rule: monitorRule, name: "one order for each draw, and one left out", want: Found, says: "less often", change: both(asksTests(true, "creatinine"), plans(onDay("2026-11-16T08:00-05:00", "creatinine"), onDay("2026-11-30T08:00-05:00", "creatinine"),
		onDay("2026-12-07T15:00-05:00", "creatinine")))},
	{rule: monitorRule, name: "a day that is past", want: Found, says: "less often", change: both(asksTests(true, "creatinine"), plans(onDay("2026-11-09T08:00-05:00", "creatinine")))},
	{rule: monitorRule, name: "in the middle of the course what is left counts", want: Pass, change: both(asksTests(true, "creatinine"), plans(between(7, "2026-12-07T08:00-05:00", "", "creatinine")), func(w *world) { w.now = day("2026-12-01T08:00-05:00") })},
	{rule: monitorRule, name: "a course of days needs no draw within it", want: Pass, change: both(asksTests(true, "creatinine"), plans(between(7, "2026-11-23T08:00-05:00", "", "creatinine")), func(w *world) { w.plan.CourseEnd = day("2026-11-18T22:00-05:00") })},
	{rule: monitorRule, name: "an order that is only drafted", want: Found, says: "no laboratory order that stands", change: both(asksTests(true, "creatinine"), plans(order.Service{Status: "draft", Tests: []string{"creatinine"}, Every: 7 * oneDay}))},
	{rule: monitorRule, name: "an order on hold", want: Found, change: both(asksTests(true, "creatinine"), plans(order.Service{Status: "on-hold", Tests: []string{"creatinine"}, Every: 7 * oneDay}))},
	{rule: monitorRule, name: "every month", want: Found, says: "less often than asked: creatinine", change: both(asksTests(true, "creatinine"), plans(ordersFor(30, "creatinine")))},
	{rule: monitorRule, name: "once within a time", want: Found, says: "less often", change: both(asksTests(true, "creatinine"), plans(order.Service{Status: "active", Tests: []string{"creatinine"}, From: instant("2026-11-16T08:00-05:00"), To: instant("2026-12-14T08:00-05:00")}))},
	{rule: monitorRule, name: "in words without a number", want: Pass, change: both(asksTests(true, "creatinine"), plans(order.Service{Status: "active", Tests: []string{"creatinine"}, Repeats: "by protocol"}))},
	{rule: monitorRule, name: "the end of the course is not known", want: Pass, change: both(asksTests(true, "creatinine"), plans(between(7, "2026-11-16T08:00-05:00", "2026-11-30T08:00-05:00", "creatinine")), func(w *world) { w.plan.CourseEnd = time.Time{} })},

	{rule: "therapy-genotype-result", name: "no test on record is another code", want: NotApplicable, change: func(w *world) { w.drug.GenotypeTest = true }},
	{rule: "therapy-genotype-result", name: "normal", want: Pass, change: geneTest("Normal metabolizer, no variant found")},
	{rule: "therapy-genotype-result", name: "poor", want: Found, says: "poor metabolizer", change: geneTest("Poor metabolizer, *2A/*2A")},
	{rule: "therapy-genotype-result", name: "intermediate", want: Found, change: geneTest("Intermediate metabolizer")},
	{rule: "therapy-genotype-result", name: "not normal", want: Found, change: geneTest("Not normal")},
	{rule: "therapy-genotype-result", name: "words that tell nothing", want: Found, change: geneTest("See report")},
	{rule: "therapy-genotype-result", name: "one of two", want: Found, change: both(geneTest("normal"), geneTest("heterozygous variant"))},
	{rule: "therapy-genotype-result", name: "a drug without a row", want: Indeterminate, missing: DrugRow, change: func(w *world) { w.unlisted = true }},

	{rule: "record-patient-data-missing-pregnancy", name: "without a uterus", want: NotApplicable, at: finding.Start, change: both(hazardousNotAsked, withProblem("Status post total hysterectomy 2019"))},
	{rule: "record-patient-data-missing-pregnancy", name: "an operation that is planned", want: Found, at: finding.Start, change: both(hazardousNotAsked, withProblem("Hysterectomy planned"))},
	{rule: "record-patient-data-missing-pregnancy", name: "by a code", want: NotApplicable, at: finding.Start, change: both(hazardousNotAsked, func(w *world) {
		w.kase.Conditions = []order.Concept{{Codings: []order.Coding{{System: "http://hl7.org/fhir/sid/icd-10-cm", Code: "Z90.710"}}}}
	})},

	// What an order says of a count is a limit only where it compares or decides.
	{rule: countsRule, name: "a result in the words is no limit", want: Found, says: "neutrophils 1", change: both(bloodCounts("1.0", "160", 2), wordsSay("ANC 0.9, plt 160 on 10/29, ok to proceed"))},
	{rule: countsRule, name: "nor one after is", want: Found, says: "neutrophils 1", change: both(bloodCounts("1.0", "160", 2), wordsSay("ANC is 0.9 today"))},
	{rule: countsRule, name: "nor one after an equals sign", want: Found, says: "neutrophils 1", change: both(bloodCounts("1.0", "160", 2), wordsSay("ANC = 0.9 today"))},
	{rule: countsRule, name: "a result beside a limit", want: Found, says: "neutrophils 1", change: both(bloodCounts("1.0", "160", 2), wordsSay("ANC 0.9 on 10/29. Hold if ANC < 1.5"))},
	{rule: countsRule, name: "a limit beside a result", want: Pass, change: both(bloodCounts("1.0", "160", 2), wordsSay("ANC 2.1 on 10/29. Hold if ANC < 0.8"))},
	{rule: countsRule, name: "a limit without a comparison", want: Pass, change: both(bloodCounts("1.2", "80", 2), wordsSay("Hold parameters: ANC 1.0, platelets 75"))},
	{rule: countsRule, name: "compared after the number", want: Pass, change: both(bloodCounts("1.2", "160", 2), wordsSay("ANC 1.0 or greater"))},
}

func TestMonitoringThroughTheCourse(t *testing.T) { judged(t, monitoringFixtures) }
