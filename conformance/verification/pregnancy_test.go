package verification

import (
	"testing"
	"time"

	"weir.example/weir/mapping/order"
)

const pregnancyRule = "record-patient-data-missing-pregnancy"

func hazardousFor(gender string) func(*world) {
	return func(w *world) { w.hazard.Listed, w.kase.Patient.Gender = "yes", gender }
}

func pregnancyOf(status string, before time.Duration) func(*world) {
	return func(w *world) {
		w.kase.Pregnancy = order.Pregnancy{Status: status, At: ago(before), Place: place("pregnancy")}
	}
}

var pregnancyFixtures = []fixture{
	{rule: pregnancyRule, name: "nothing stated", want: Found, says: "nothing says", change: hazardousFor("female")},
	{rule: pregnancyRule, name: "before the start it is a task", want: NotEffective, at: "release", change: hazardousFor("female")},
	{rule: pregnancyRule, name: "not pregnant, 28 days ago", want: Pass, change: both(hazardousFor("female"), pregnancyOf("not-pregnant", 28*oneDay))},
	{rule: pregnancyRule, name: "not pregnant, longer ago", want: Found, says: "more than 28 days", change: both(hazardousFor("female"), pregnancyOf("not-pregnant", 28*oneDay+time.Second))},
	{rule: pregnancyRule, name: "not pregnant, without a date", want: Found, says: "without a date", change: both(hazardousFor("female"), func(w *world) {
		w.kase.Pregnancy = order.Pregnancy{Status: "not-pregnant", Place: place("pregnancy")}
	})},
	{rule: pregnancyRule, name: "recorded as unknown", want: Found, says: "unknown", change: both(hazardousFor("female"), pregnancyOf("unknown", oneDay))},
	{rule: pregnancyRule, name: "pregnant is an answer", want: Pass, change: both(hazardousFor("female"), pregnancyOf("pregnant", 60*oneDay))},
	{rule: pregnancyRule, name: "no hazardous drug", want: NotApplicable},
	{rule: pregnancyRule, name: "a hazard nobody assessed", want: Indeterminate, missing: Hazard, change: both(hazardousFor("female"), func(w *world) { w.hazard.Listed = "unassessed" })},
	{rule: pregnancyRule, name: "male", want: NotApplicable, change: hazardousFor("male")},
	{rule: pregnancyRule, name: "a gender not told excludes nothing", want: Found, change: hazardousFor("")},
	{rule: pregnancyRule, name: "another gender", want: Found, change: hazardousFor("other")},
	{rule: pregnancyRule, name: "11 years", want: NotApplicable, change: both(hazardousFor("female"), aged(11, 1))},
	{rule: pregnancyRule, name: "12 years", want: Found, change: both(hazardousFor("female"), aged(12, 1))},
	{rule: pregnancyRule, name: "55 years", want: Found, change: both(hazardousFor("female"), aged(55, 1))},
	{rule: pregnancyRule, name: "56 years", want: NotApplicable, change: both(hazardousFor("female"), aged(56, 1))},
}

func TestPregnancyRules(t *testing.T) { judged(t, pregnancyFixtures) }
