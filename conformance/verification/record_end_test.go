package verification

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/order"
)

func endless(w *world) { w.order.Course = order.Course{Start: w.order.Course.Start} }

// longTerm is nutrition without an end.
func longTerm(w *world) { endless(w); w.drug.Kinds = []string{"nutrition"} }

// reviewed adds a service of that name and status at that instant.
func reviewed(name, status string, at order.Instant) func(*world) {
	return func(w *world) {
		longTerm(w)
		w.kase.Services = append(w.kase.Services, order.Service{Kind: "visit", Code: concept(name), Status: status, When: []order.Instant{at}, Place: place("service[2]")})
	}
}

func dateOnly(date string) order.Instant {
	i := instant(date + "T00:00Z")
	i.DateOnly, i.Literal = true, date
	return i
}

// chemotherapy is 4,390 mg over a time: scenario S3.
func chemotherapy(time, unit string) func(*world) {
	return both(kinds("antineoplastic"), withNumbers("dose", "4390", "mg", "duration", time, unit))
}

func also(list ...order.Stated) func(*world) {
	return func(w *world) { w.order.Stated = append(w.order.Stated, list...) }
}

var endFixtures = []fixture{
	// Row a2: chronic therapy needs a review, not an end.
	{rule: "record-end-missing", name: "chronic therapy: the other rule asks for a review", want: Pass, change: longTerm},
	{rule: "record-end-missing", name: "an opioid without an end", want: Found, change: both(endless, kinds("opioid"))},
	{rule: "record-end-missing", name: "a drug without a row and without an end", want: Found, change: both(longTerm, unlisted)},
	{rule: "record-end-missing-review", name: "no chronic therapy", want: Pass, change: endless},
	{rule: "record-end-missing-review", name: "an end needs no review", want: NotApplicable, change: kinds("inotrope")},
	{rule: "record-end-missing-review", name: "neither end nor review", want: Found, change: longTerm},
	{rule: "record-end-missing-review", name: "a review to come", want: Pass, change: reviewed("Review of home nutrition", "active", instant("2027-06-01T09:00-05:00"))},
	{rule: "record-end-missing-review", name: "a review at this moment", want: Found, change: reviewed("Review of home nutrition", "active", instant("2026-11-10T19:20Z"))},
	{rule: "record-end-missing-review", name: "a review a minute from now", want: Pass, change: reviewed("Therapy to be reassessed", "active", instant("2026-11-10T19:21Z"))},
	{rule: "record-end-missing-review", name: "a review today, without a time", want: Pass, change: reviewed("Review", "active", dateOnly("2026-11-10"))},
	{rule: "record-end-missing-review", name: "a review yesterday", want: Found, change: reviewed("Review", "active", dateOnly("2026-11-09"))},
	{rule: "record-end-missing-review", name: "a review that was cancelled", want: Found, change: reviewed("Review", "cancelled", instant("2027-06-01T09:00-05:00"))},
	{rule: "record-end-missing-review", name: "a visit for something else", want: Found, change: reviewed("Dressing change", "active", instant("2027-06-01T09:00-05:00"))},
	{rule: "record-end-missing-review", name: "a review of another order", want: Found, change: both(reviewed("Review", "active", instant("2027-06-01T09:00-05:00")), func(w *world) { w.kase.Services[2].Basis = []string{"urn:uuid:order-2"} })},
	{rule: "record-end-missing-review", name: "a drug without a row", want: Indeterminate, missing: DrugRow, change: both(longTerm, unlisted)},

	// Row d2: more than 24 hours and no dose in 24 hours.
	{rule: "record-total-only", name: "no antineoplastic", want: Pass, change: withNumbers("duration", "46", "h")},
	{rule: "record-total-only", name: "24 hours: the total is the dose of a day", want: NotApplicable, change: chemotherapy("24", "h")},
	{rule: "record-total-only", name: "a minute over 24 hours", want: Found, change: chemotherapy("1441", "min")},
	{rule: "record-total-only", name: "scenario S3: 46 hours", want: Found, says: "4,390 mg over 46 h", change: chemotherapy("46", "h")},
	{rule: "record-total-only", name: "an hourly rate is no dose in 24 hours", want: Found, change: both(chemotherapy("46", "h"), also(stated("drugRate", "95.4", "mg/h", order.Text)))},
	{rule: "record-total-only", name: "the dose in 24 hours beside it", want: Pass, change: both(chemotherapy("46", "h"), also(stated("dailyDose", "2290", "mg/d", order.Coded)))},
	{rule: "record-total-only", name: "the rate given by the day", want: Pass, change: both(chemotherapy("46", "h"), also(stated("drugRate", "2290", "mg/d", order.Coded)))},
	{rule: "record-total-only", name: "the dose in 24 hours by surface, in words", want: Pass, change: both(chemotherapy("46", "h"), reading("dailyDosePerArea", "1200"))},
	{rule: "record-total-only", name: "a dose in 24 hours that only follows", want: Found, change: both(chemotherapy("46", "h"), also(stated("dailyDose", "2290", "mg/d", order.Computed)))},
	{rule: "record-total-only", name: "antineoplastic by the list, without a row", want: Found, change: both(chemotherapy("46", "h"), unlisted, func(w *world) { w.hazard.Antineoplastic = "yes" })},
	{rule: "record-total-only", name: "a drug without a row may be one", want: Indeterminate, missing: DrugRow, change: both(chemotherapy("46", "h"), unlisted)},
	{rule: "record-total-only", name: "another drug and no infusion time", want: Pass, change: func(w *world) { delete(w.numbers, "duration") }},
	{rule: "record-total-only", name: "no infusion time", want: Indeterminate, missing: RunTime, change: both(chemotherapy("46", "h"), func(w *world) { delete(w.numbers, "duration") })},
	{rule: "record-total-only", name: "an infusion time in dispute", want: Indeterminate, missing: RunTime, change: both(chemotherapy("46", "h"), disputed("duration"))},
}

func TestEndRules(t *testing.T) { judged(t, endFixtures) }

// 4,390 mg × 24 ÷ 46 = 2,290.4 mg; a total in dispute gives no number.
func TestATotalIsPrintedByTheDay(t *testing.T) {
	w := base()
	chemotherapy("46", "h")(w)
	o := Run([]Rule{ruleOf(t, "record-total-only")}, w.facts(), "release")[0]
	require.Len(t, o.Findings, 1)
	assert.Equal(t, "about 2,290 mg in 24 hours, for 46 hours, beside the total", o.Findings[0].Expected)
	disputed("dose")(w)
	o = Run([]Rule{ruleOf(t, "record-total-only")}, w.facts(), "release")[0]
	require.Len(t, o.Findings, 1)
	assert.NotContains(t, o.Findings[0].Expected, "2,290")
}
