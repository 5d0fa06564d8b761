package verification

import (
	"testing"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/order"
)

const stepRule = "rate-steps"

// globulin is 400 mL by 30, 60 and 120 mL per hour for 30 minutes each and
// 240 until empty: 105 mL by the first three.
func globulin(last string) func(*world) {
	return both(figures("volume", "400", "mL"), stepping("30", "30", "60", "30", "120", "30", "240", last))
}

func oneRate(value string) func(*world) {
	return func(w *world) { w.order.Stated = append(w.order.Stated, stated("rate", value, "mL/h", order.Coded)) }
}

func worded2(rates ...string) func(*world) {
	return func(w *world) {
		for _, r := range rates {
			w.order.Readings = append(w.order.Readings, order.Reading{Field: "step", Role: "rate", Value: r, Unit: "mL/h", Place: place("text")})
		}
	}
}

// slowly is the first rate of immune globulin (label, several products): it
// gates nothing by itself.
func slowly(w *world) {
	f := fact("first", "infusion_rate_initial", "all", compendium.Value{Band: band("0.5", "", "", "mg/kg/min")})
	f.Gates, f.Review = false, "limit of the named product"
	w.drug.Facts = []compendium.Fact{f}
}

func staysBehind(value string) func(*world) {
	return func(w *world) { w.numbers["residual"] = settled(value, "mL") }
}

func stepVolumes(list ...string) func(*world) {
	return func(w *world) {
		for i, v := range list {
			if v != "" {
				s := stated("volume", v, "mL", order.Coded)
				w.order.Steps[i].Volume = &s
			}
		}
	}
}

var rateStepFixtures = []fixture{
	{rule: stepRule, name: "one constant rate of a drug without a first rate", want: NotApplicable, change: figures("volume", "100", "mL", "rate", "200", "mL/h")},
	{rule: stepRule, name: "the last step runs until empty", want: Pass, change: globulin("")},
	{rule: stepRule, name: "every step has its time: 105 + 240 × 73.75 min", want: Pass, change: globulin("73.75")},
	{rule: stepRule, name: "1 % less", want: Pass, change: globulin("72.75")},
	{rule: stepRule, name: "more than 1 % less", want: Found, says: "395.8 mL of 400 mL", change: globulin("72.7")},
	{rule: stepRule, name: "1 % more", want: Pass, change: globulin("74.75")},
	{rule: stepRule, name: "more than 1 % more", want: Found, says: "404.2 mL", change: globulin("74.8")},
	{rule: stepRule, name: "what stays in the device is not left over", want: Pass, change: both(globulin("71.5"), staysBehind("10"))},
	{rule: stepRule, name: "less than that", want: Found, change: both(globulin("70"), staysBehind("10"))},
	{rule: stepRule, name: "the last step is never reached", want: Found, says: "never reached", change: both(globulin(""), figures("volume", "105", "mL"))},
	{rule: stepRule, name: "the last step is just reached", want: Pass, change: both(globulin(""), figures("volume", "106", "mL"))},
	{rule: stepRule, name: "the one coded rate is the top step", want: Found, says: "which is the top of the steps", change: both(globulin(""), oneRate("240"))},
	{rule: stepRule, name: "the one coded rate is above the top", want: Found, change: both(globulin(""), oneRate("250"))},
	{rule: stepRule, name: "the one coded rate is above the first step", want: Found, says: "the first step is 30", change: both(globulin(""), oneRate("31"))},
	{rule: stepRule, name: "steps of a drug without a row", want: Found, change: both(globulin("60"), func(w *world) { w.unlisted = true })},
	{rule: stepRule, name: "the one coded rate is the first step", want: Pass, change: both(globulin(""), oneRate("30"))},
	{rule: stepRule, name: "steps in words, and their top as the one coded rate", want: Found, change: both(figures("volume", "400", "mL"), oneRate("240"), worded2("30", "60", "120", "240"))},
	{rule: stepRule, name: "steps in words only", want: Indeterminate, missing: Steps, change: both(figures("volume", "400", "mL"), worded2("30", "60"))},
	{rule: stepRule, name: "a step before the last without a time", want: Indeterminate, missing: Steps, change: both(figures("volume", "400", "mL"), stepping("30", "", "60", ""))},
	{rule: stepRule, name: "a step before the last with a volume instead", want: Pass, change: both(figures("volume", "400", "mL"), stepping("30", "", "60", ""), stepVolumes("15"))},
	{rule: stepRule, name: "rate, time and volume of a step agree", want: Pass, change: both(globulin(""), stepVolumes("15"))},
	{rule: stepRule, name: "they do not", want: Found, says: "gives 15 mL", change: both(globulin(""), stepVolumes("16"))},
	{rule: stepRule, name: "the container is not known", want: Indeterminate, missing: Container, change: both(figures("dose", "40", "g"), stepping("30", "30", "60", ""))},
	// A drug that starts slowly (immune globulin, 100 mg/mL, 70 kg: 0.5 mg/kg/min are 21 mL per hour).
	{rule: stepRule, name: "one constant rate from the first minute", want: Indeterminate, missing: Steps, change: both(slowly, figures("dose", "40", "g", "volume", "400", "mL", "rate", "240", "mL/h", "dosingWeight", "70", "kg"))},
	{rule: stepRule, name: "one constant rate no faster than the first", want: Pass, change: both(slowly, figures("dose", "20", "g", "volume", "200", "mL", "rate", "21", "mL/h", "dosingWeight", "70", "kg"))},
	{rule: stepRule, name: "one constant rate, and no weight to tell", want: Indeterminate, missing: Steps, change: both(slowly, figures("dose", "20", "g", "volume", "200", "mL", "rate", "21", "mL/h"))},
	{rule: stepRule, name: "what runs all day has found its rate", want: NotApplicable, change: both(slowly, figures("dose", "40", "g", "volume", "400", "mL", "duration", "24", "h", "dosingWeight", "70", "kg"))},
}

func TestRateStepRules(t *testing.T) { judged(t, rateStepFixtures) }
