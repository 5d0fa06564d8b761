package verification

import (
	"testing"
	"time"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/order"
)

const (
	injuryRule      = "dose-kidney-injury"
	replacementRule = "dose-renal-replacement"
)

// results are creatinines, newest first: value in mg/dL and hours before the
// clock, in turn.
func results(list ...string) func(*world) {
	return func(w *world) {
		without("creatinine")(w)
		for i := 0; i < len(list); i += 2 {
			d, err := time.ParseDuration(list[i+1] + "h")
			if err != nil {
				panic(err)
			}
			m := measured("creatinine", list[i], "mg/dL", ago(d))
			w.kase.Measurements = append(w.kase.Measurements, m)
		}
	}
}

func unchangedByKidneys(w *world) {
	w.drug.Facts = []compendium.Fact{fact("3", "renal_dose_adjustment", "adult", compendium.Value{NoChange: true})}
}

var injuryFixtures = []fixture{
	{rule: injuryRule, name: "S2: 1.9 after 0.9", want: Found, says: "2.11 times", change: results("1.9", "1", "0.9", "169")},
	{rule: injuryRule, name: "1.5 times the lowest", want: Found, says: "1.5 times", change: results("1.35", "1", "0.9", "200")},
	{rule: injuryRule, name: "just below that", want: Pass, change: results("1.349", "1", "0.9", "200")},
	{rule: injuryRule, name: "the lowest counts, not the last", want: Found, change: results("1.5", "1", "1.4", "80", "1.0", "400")},
	{rule: injuryRule, name: "0.3 within 48 hours", want: Found, says: "risen by 0.3 mg per dL", change: results("1.5", "1", "1.2", "49")},
	{rule: injuryRule, name: "just below 0.3", want: Pass, change: results("1.499", "1", "1.2", "49")},
	{rule: injuryRule, name: "0.3 in more than 48 hours", want: Pass, change: results("1.5", "1", "1.2", "49.1")},
	{rule: injuryRule, name: "a lowest of 90 days ago", want: Found, change: both(shortCourse, results("1.8", "1", "0.9", "2161"))},
	{rule: injuryRule, name: "an older one, before the course", want: Pass, change: both(shortCourse, results("1.8", "1", "0.9", "2162"))},
	{rule: injuryRule, name: "an older one since the start of the course", want: Found, change: both(longCourse, results("1.8", "1", "0.9", "2400"))},
	{rule: injuryRule, name: "worse and better again", want: Pass, change: results("1.3", "1", "1.9", "60", "0.9", "200")},
	{rule: injuryRule, name: "in µmol/L: 168 after 80", want: Found, change: func(w *world) {
		without("creatinine")(w)
		w.kase.Measurements = append(w.kase.Measurements, measured("creatinine", "168", "umol/L", ago(time.Hour)), measured("creatinine", "80", "umol/L", ago(100*time.Hour)))
	}},
	{rule: injuryRule, name: "an earlier one with a date alone may be of that evening", want: Found, change: both(results("1.5", "1", "1.2", "70"), func(w *world) {
		w.kase.Measurements[len(w.kase.Measurements)-1].At.DateOnly = true
	})},
	{rule: injuryRule, name: "one result tells no change", want: Indeterminate, missing: EarlierCreatinine},
	{rule: injuryRule, name: "no result", want: Indeterminate, missing: Creatinine, change: without("creatinine")},
	{rule: injuryRule, name: "a result without a date", want: Indeterminate, missing: CreatinineDate, change: both(results("1.2", "1", "1.1", "49"), func(w *world) {
		w.kase.Measurements = append(w.kase.Measurements, order.Measurement{Name: "creatinine", Quantity: q("0.7", "mg/dL")})
	})},
	{rule: injuryRule, name: "a drug that the kidneys do not change", want: NotApplicable, change: both(unchangedByKidneys, results("1.9", "1", "0.9", "169"))},
	{rule: injuryRule, name: "one that harms them", want: Found, change: both(unchangedByKidneys, ofKinds("nephrotoxic"), results("1.9", "1", "0.9", "169"))},
	{rule: injuryRule, name: "on dialysis a creatinine tells the dialysis", want: NotApplicable, change: both(onHaemodialysis, results("1.9", "1", "0.9", "169"))},
	{rule: injuryRule, name: "a child's kidneys, too", want: Found, change: both(child, func(w *world) { w.drug.Kinds = []string{"nephrotoxic"} }, results("0.6", "1", "0.4", "169"))},

	{rule: replacementRule, name: "not on dialysis", want: Pass},
	{rule: replacementRule, name: "on dialysis", want: Found, says: "on dialysis", change: onHaemodialysis},
	{rule: replacementRule, name: "not on dialysis, and the record says so", want: Pass, change: func(w *world) {
		w.kase.Conditions = []order.Concept{concept("chronic kidney disease, not on dialysis")}
	}},
	{rule: replacementRule, name: "timed to the sessions", want: Pass, change: both(onHaemodialysis, directed("2 g after each session, three times weekly"))},
	{rule: replacementRule, name: "not to them", want: Found, change: both(onHaemodialysis, directed("2 g every 8 hours, patient is on dialysis"))},
	{rule: replacementRule, name: "a refusal is no timing", want: Found, change: both(onHaemodialysis, directed("2 g every 8 hours, not after dialysis"))},
	{rule: replacementRule, name: "a drug that the kidneys do not change", want: NotApplicable, change: both(unchangedByKidneys, onHaemodialysis)},
	{rule: replacementRule, name: "a drug without an entry", want: Indeterminate, missing: TableLimit, change: both(limitedBy(), onHaemodialysis)},
	{rule: replacementRule, name: "a drug without an entry that harms them", want: Found, change: both(limitedBy(), ofKinds("nephrotoxic"), onHaemodialysis)},
}

func shortCourse(w *world) { w.order.Course.Start = ago(10 * oneDay) }
func longCourse(w *world)  { w.order.Course.Start = ago(120 * oneDay) }

func TestKidneyInjuryRules(t *testing.T) { judged(t, injuryFixtures) }
