package verification

import (
	"testing"

	"weir.example/weir/mapping/order"
)

// running sets volume in mL, infusion time with its unit and the nominal
// rate in mL per hour.
func running(volume, time, unit, nominal string) func(*world) {
	return func(w *world) {
		w.numbers["volume"], w.numbers["duration"] = settled(volume, "mL"), settled(time, unit)
		w.numbers["interval"] = settled("24", "h")
		w.order.Device.Parameters = []order.Stated{stated("nominalRate", nominal, "mL/h", order.Device)}
	}
}

// intermittent: 100 mL over 30 min needs 200 mL per hour.
func intermittent(nominal string) func(*world) { return running("100", "30", "min", nominal) }

// continuous: 240 mL over 24 h needs 10 mL per hour.
func continuous(nominal string) func(*world) { return running("240", "24", "h", nominal) }

// hazardous: the same short infusion of a listed drug; slower is no comfort.
func hazardous(nominal string) func(*world) {
	return func(w *world) {
		intermittent(nominal)(w)
		w.hazard.Listed = "yes"
	}
}

func unassessed(nominal string) func(*world) {
	return func(w *world) {
		intermittent(nominal)(w)
		w.hazard.Listed = "unassessed"
	}
}

func device(kind string, parameters ...order.Stated) func(*world) {
	return func(w *world) {
		w.order.Device = order.InfusionDevice{Kind: kind, Parameters: parameters, Place: place("device")}
	}
}

var deviceFixtures = []fixture{
	{rule: "device-missing", name: "a nominal rate", want: Pass},
	{rule: "device-missing", name: "no device at all", want: Found, says: "no infusion device", change: device("")},
	{rule: "device-missing", name: "a fixed-flow device without its rate", want: Found, says: "without a nominal rate", change: device("elastomeric")},
	{rule: "device-missing", name: "an electronic pump is set, not matched", want: NotApplicable, change: device("electronic-pump")},
	{rule: "device-missing", name: "a syringe pump is set, not matched", want: NotApplicable, change: device("syringe-pump")},
	{rule: "device-missing", name: "gravity is counted", want: NotApplicable, change: device("gravity")},

	// Row d3 as corrected: too fast is nominal ÷ needed above 1.5 for all:
	// 200 × 1.5 = 300.
	{rule: "device-family", name: "the needed rate", want: Pass},
	{rule: "device-family", name: "1.5 times too fast", want: Pass, change: intermittent("300")},
	{rule: "device-family", name: "over 1.5 times too fast", want: Found, change: intermittent("300.1")},
	// Intermittent and slower: up to 3 times the time (200 ÷ 3 = 66.67).
	{rule: "device-family", name: "intermittent, just under 3 times the time", want: Pass, change: intermittent("66.7")},
	{rule: "device-family", name: "intermittent, exactly 3 times the time", want: Pass, change: running("90", "30", "min", "60")}, // needs 180
	{rule: "device-family", name: "intermittent, over 3 times the time", want: Found, change: intermittent("66.6")},
	{rule: "device-family", name: "scenario S1: 50 mL per hour for 200, four times the time", want: Found, says: "2 hours instead of 30 minutes", change: intermittent("50")},
	// Continuous or hazardous: 0.67. 10 × 0.67 = 6.7; 200 × 0.67 = 134.
	{rule: "device-family", name: "continuous, 0.67 of the rate", want: Pass, change: continuous("6.7")},
	{rule: "device-family", name: "continuous, under 0.67 of the rate", want: Found, change: continuous("6.69")},
	{rule: "device-family", name: "continuous, 1.5 times", want: Pass, change: continuous("15")},
	{rule: "device-family", name: "continuous, over 1.5 times", want: Found, change: continuous("15.1")},
	{rule: "device-family", name: "hazardous, 0.67 of the rate", want: Pass, change: hazardous("134")},
	{rule: "device-family", name: "hazardous, under 0.67 of the rate", want: Found, change: hazardous("133.9")},
	{rule: "device-family", name: "not assessed counts as hazardous", want: Found, change: unassessed("133.9")},
	{rule: "device-family", name: "12 hours is continuous: half the rate is the wrong family", want: Found, change: running("240", "12", "h", "10")},
	{rule: "device-family", name: "11 hours is not: half the rate is twice the time", want: Pass, change: running("220", "11", "h", "10")},
	// S3: 46 h need 2 mL per hour; 250 mL per hour empties it in 22 min.
	{rule: "device-family", name: "scenario S3: 250 mL per hour for 2", want: Found, change: running("92", "46", "h", "250")},
	{rule: "device-family", name: "no fixed-flow device", want: NotApplicable, change: device("electronic-pump", stated("nominalRate", "50", "mL/h", order.Device))},
	{rule: "device-family", name: "a disputed volume gives no needed rate", want: Indeterminate, missing: NeededRate, change: func(w *world) {
		v := w.numbers["volume"]
		v.Disputed = true
		w.numbers["volume"] = v
	}},
	{rule: "device-family", name: "no infusion time gives no needed rate", want: Indeterminate, missing: NeededRate, change: func(w *world) { delete(w.numbers, "duration") }},
	{rule: "device-family", name: "a volume of zero matches nothing", want: Indeterminate, missing: NeededRate, change: withNumbers("volume", "0", "mL")},
	{rule: "device-family", name: "a nominal rate of zero matches nothing", want: Indeterminate, missing: Nominal, change: intermittent("0")},

	// Off by more than 5 %: 200 × 1.05 = 210; 200 × 0.95 = 190.
	{rule: "device-rate", name: "the needed rate", want: Pass},
	{rule: "device-rate", name: "5 % fast", want: Pass, change: intermittent("210")},
	{rule: "device-rate", name: "over 5 % fast", want: Found, change: intermittent("210.1")},
	{rule: "device-rate", name: "1.5 times fast is still a hold", want: Found, change: intermittent("300")},
	{rule: "device-rate", name: "over 1.5 times the family rule blocks", want: Pass, change: intermittent("300.1")},
	{rule: "device-rate", name: "intermittent, twice the time is only a note", want: Pass, change: intermittent("100")},
	{rule: "device-rate", name: "intermittent, over twice the time", want: Found, change: intermittent("99")},
	{rule: "device-rate", name: "continuous, 5 % slow", want: Pass, change: continuous("9.5")},
	{rule: "device-rate", name: "continuous, over 5 % slow", want: Found, change: continuous("9.49")},
	{rule: "device-rate", name: "hazardous, over 5 % slow", want: Found, change: hazardous("189.9")},
	{rule: "device-rate", name: "no needed rate", want: Indeterminate, missing: NeededRate, change: func(w *world) { delete(w.numbers, "volume") }},
	{rule: "device-rate", name: "no device rate: device-missing speaks", want: NotApplicable, change: device("elastomeric")},
	{rule: "device-rate-slower", name: "the needed rate", want: Pass},
	{rule: "device-rate-slower", name: "intermittent, 5 % slow", want: Pass, change: intermittent("190")},
	{rule: "device-rate-slower", name: "intermittent, over 5 % slow", want: Found, change: intermittent("189.9")},
	{rule: "device-rate-slower", name: "intermittent, twice the time", want: Found, says: "1 hour instead of 30 minutes", change: intermittent("100")},
	{rule: "device-rate-slower", name: "intermittent, over twice the time is a hold", want: Pass, change: intermittent("99")},
	{rule: "device-rate-slower", name: "continuous, slow is never a note", want: Pass, change: continuous("9")},
	{rule: "device-rate-slower", name: "hazardous, slow is never a note", want: Pass, change: hazardous("180")},
	{rule: "device-rate-slower", name: "too fast is never a note", want: Pass, change: intermittent("220")},
	{rule: "device-rate-slower", name: "no device rate", want: NotApplicable, change: device("elastomeric")},
	{rule: "device-rate-slower", name: "no needed rate", want: Indeterminate, missing: NeededRate, change: func(w *world) { delete(w.numbers, "volume") }},

	// Row d9.
	{rule: "rate-gravity", name: "a device is no gravity", want: NotApplicable},
	{rule: "rate-gravity", name: "saline by gravity", want: Pass, change: device("gravity")},
	{rule: "rate-gravity", name: "potassium as an ingredient", want: Found, says: "potassium", change: func(w *world) {
		device("gravity")(w)
		w.order.Drug.Ingredients = append(w.order.Drug.Ingredients, order.Ingredient{Concept: concept("Potassium chloride")})
	}},
	{rule: "rate-gravity", name: "potassium as the drug's only name", want: Found, says: "potassium", change: func(w *world) {
		device("gravity")(w)
		w.order.Drug = order.Drug{Concept: concept("Potassium chloride 20 mmol in 1,000 mL"), Place: place("medication")}
	}},
	{rule: "rate-drop-factor-missing", name: "a device is no gravity", want: NotApplicable},
	{rule: "rate-drop-factor-missing", name: "a set with its drop factor", want: Pass, change: device("gravity", stated("dropFactor", "15", "[drp]/mL", order.Device))},
	{rule: "rate-drop-factor-missing", name: "a set without", want: Found, change: device("gravity")},
}

func TestDeviceRules(t *testing.T) { judged(t, deviceFixtures) }
