package r4_test

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/schedule"
	"weir.example/weir/mapping/worksheet"
)

// steps is an immune globulin ramp: 25 mL per hour for 30 minutes, 50 for 30
// minutes, then 100 until empty.
func steps() worksheet.Worksheet {
	w := fixed()
	delete(w.Refs.Numbers, "rate")
	w.Refs.Source.Steps = []order.Step{
		{Number: 1, Rate: stated("rate", "25", "mL/h"), Duration: stated("duration", "30", "min"), Volume: stated("volume", "12.5", "mL")},
		{Number: 2, Rate: stated("rate", "50", "mL/h"), Duration: stated("duration", "30", "min")},
		{Number: 3, Rate: stated("rate", "100", "mL/h")},
	}
	return w
}

// controlled is a morphine pump: 1 mg per hour, 0.5 mg on demand, lockout 15
// minutes, at most 6 mg in 4 hours.
func controlled() worksheet.Worksheet {
	w := fixed()
	w.Order.Drug = "morphine"
	w.Refs.Source.Device.Kind = "electronic-pump"
	w.Refs.Source.Controlled = &order.PatientControlled{Basal: stated("drugRate", "1", "mg/h"), Demand: stated("demandDose", "0.5", "mg"),
		Lockout: stated("lockout", "15", "min"), Limit: stated("maxDosePerPeriod", "6", "mg"), Window: stated("limitWindow", "4", "h")}
	return w
}

func dosages(t *testing.T, w worksheet.Worksheet) []any {
	t.Helper()
	d := resources(t, w, "MedicationDispense")
	require.NotEmpty(t, d)
	list, _ := d[0]["dosageInstruction"].([]any)
	require.NotEmpty(t, list)
	return list
}

func TestARampIsWrittenInSequence(t *testing.T) {
	list := dosages(t, steps())
	require.Len(t, list, 3)
	for i, rate := range []string{"25", "50", "100"} {
		assert.Equal(t, json.Number(string(rune('1'+i))), at(list[i], "sequence"))
		assert.Equal(t, json.Number(rate), at(list[i], "doseAndRate", 0, "rateQuantity", "value"))
		assert.Equal(t, "2026-11-10T22:00:00-05:00", at(list[i], "timing", "repeat", "boundsPeriod", "start"))
	}
	assert.Equal(t, json.Number("12.5"), at(list[0], "doseAndRate", 0, "doseQuantity", "value"), "the volume of the step")
	assert.Nil(t, at(list[1], "doseAndRate", 0, "doseQuantity"), "the whole dose is on no step")
	assert.Equal(t, json.Number("30"), at(list[1], "timing", "repeat", "duration"))
	assert.Nil(t, at(list[2], "timing", "repeat", "duration"))
	assert.Equal(t, "Step 3 of 3 at 100 mL per hour until the container is empty", at(list[2], "text"))
}

func TestARampInDisputeHasNoRateAtAll(t *testing.T) {
	w := steps()
	w.Verdict = "block"
	w.Refs.Numbers["rate"] = number("100", "mL/h") // the single rate typed is the top step
	w.Findings = []worksheet.Finding{{Code: "rate-steps", Gate: "block"}}
	list := dosages(t, w)
	require.Len(t, list, 1)
	assert.Nil(t, at(list[0], "doseAndRate", 0, "rateQuantity"))
	assert.Equal(t, json.Number("2"), at(list[0], "doseAndRate", 0, "doseQuantity", "value"))
	assert.NotContains(t, at(list[0], "text"), "100 mL per hour")
}

func TestPatientControlledDosesAreTwoDirections(t *testing.T) {
	list := dosages(t, controlled())
	require.Len(t, list, 2)
	basal, demand := list[0], list[1]
	assert.Equal(t, at(basal, "sequence"), at(demand, "sequence"), "they run together")
	assert.Equal(t, json.Number("1"), at(basal, "doseAndRate", 0, "rateQuantity", "value"))
	assert.Nil(t, at(basal, "asNeededBoolean"))
	assert.Equal(t, true, at(demand, "asNeededBoolean"))
	assert.Equal(t, json.Number("0.5"), at(demand, "doseAndRate", 0, "doseQuantity", "value"))
	assert.Equal(t, json.Number("15"), at(demand, "timing", "repeat", "period"))
	assert.Equal(t, "min", at(demand, "timing", "repeat", "periodUnit"))
	assert.Equal(t, "morphine on demand 0.5 mg, not sooner than 15 minutes after the one before, at most 6 mg in 4 hours", at(demand, "text"))
}

func TestAnOrderedRangeStaysARange(t *testing.T) {
	w := fixed()
	q := number("1.5", "g")
	w.Refs.Numbers["dose"] = q // the middle, as arithmetic keeps it
	w.Refs.Source.Stated = []order.Stated{{Name: "dose", Witness: order.Coded, Quantity: quantity.Range(quantity.Int(1), quantity.Int(2), quantity.MustUnit("g"))}}
	d := dosages(t, w)[0]
	assert.Nil(t, at(d, "doseAndRate", 0, "doseQuantity"))
	assert.Equal(t, json.Number("1"), at(d, "doseAndRate", 0, "doseRange", "low", "value"))
	assert.Equal(t, json.Number("2"), at(d, "doseAndRate", 0, "doseRange", "high", "value"))
	assert.Contains(t, at(d, "text"), "1 g to 2 g")
	assert.NotContains(t, at(d, "text"), "1.5")
}

func TestNumbersAreExactAndPlain(t *testing.T) {
	for _, c := range []struct{ sent, written string }{{"1.50", "1.5"}, {"0.1", "0.1"}, {"4390", "4390"}, {"0.000375", "0.000375"}, {"1e3", "1000"}} {
		w := fixed()
		w.Refs.Numbers["dose"] = number(c.sent, "mg")
		assert.Equal(t, json.Number(c.written), at(dosages(t, w)[0], "doseAndRate", 0, "doseQuantity", "value"))
	}
	w := fixed() // 250 mL ÷ 1.5 h does not end: six significant digits, and the words say about
	third := number("1", "mL/h")
	third.Value = quantity.Ratio(500, 3)
	w.Refs.Numbers["rate"] = third
	d := dosages(t, w)[0]
	assert.Equal(t, json.Number("166.667"), at(d, "doseAndRate", 0, "rateQuantity", "value"))
	assert.Contains(t, at(d, "text"), "at about 166.67 mL per hour")
}

func TestLimitsAndAsNeededAreKept(t *testing.T) {
	w := fixed()
	w.Refs.Source.Directions = []order.Direction{{AsNeeded: true}}
	w.Refs.Source.Caps = []order.Stated{*stated("maxDosePerAdministration", "2", "g"), *stated("maxDosePerPeriod", "6", "g"), *stated("limitWindow", "24", "h")}
	w.Refs.Source.Lumen, w.Refs.Source.AccessDevice = "red", "Device/7"
	d := dosages(t, w)[0]
	assert.Equal(t, true, at(d, "asNeededBoolean"))
	assert.Contains(t, at(d, "text"), "as needed")
	assert.Equal(t, json.Number("2"), at(d, "maxDosePerAdministration", "value"))
	assert.Equal(t, json.Number("6"), at(d, "maxDosePerPeriod", "numerator", "value"))
	assert.Equal(t, json.Number("24"), at(d, "maxDosePerPeriod", "denominator", "value"))
	lumen := part(d, "access-lumen")
	assert.Equal(t, "red", part(lumen, "lumen"))
	assert.Nil(t, part(lumen, "device"), "a relative reference is never written")
}

// 31 Oct 11:00 EDT + 46 h = 2 Nov 08:00 EST; by the offset of the start it
// would be shown as 09:00.
func TestAcrossTheClockChangeTheEndIsShownByTheClockAtHome(t *testing.T) {
	d := dosages(t, surface())[0]
	assert.Equal(t, "2026-10-31T11:00:00-04:00", at(d, "timing", "event", 0))
	assert.Equal(t, "2026-11-02T08:00:00-05:00", at(d, "timing", "repeat", "boundsPeriod", "end"))
	assert.Nil(t, at(d, "doseAndRate", 0, "rateQuantity"), "a rate in dispute is not given as drug per hour either")
}

// A period's end belongs to it. One bag a day over 24 hours: the last of
// seven ends when the next delivery begins, so the bounds stop before.
func TestTheBoundsNeverReachTheNextDelivery(t *testing.T) {
	for _, c := range []struct{ duration, end string }{
		{"24", "2026-11-17T21:59:59-05:00"}, {"23.5", "2026-11-17T21:30:00-05:00"}, {"30", "2026-11-17T21:59:59-05:00"},
	} {
		w := fixed()
		w.Refs.Source.Timing = schedule.Timing{Frequency: 1, Period: point("1", "d")}
		w.Refs.Numbers["interval"], w.Refs.Numbers["duration"] = number("24", "h"), number(c.duration, "h")
		w.Deliveries[0].LastDose = "2026-11-16T22:00:00-05:00"
		assert.Equal(t, c.end, at(dosages(t, w)[0], "timing", "repeat", "boundsPeriod", "end"), c.duration)
	}
}

func TestHowOftenIsWrittenAsOrdered(t *testing.T) {
	for _, c := range []struct {
		name   string
		timing schedule.Timing
		want   value
		words  string
	}{
		{"3 times a day", schedule.Timing{Frequency: 3, Period: point("1", "d")}, value{"frequency": json.Number("3"), "period": json.Number("1"), "periodUnit": "d"}, "3 times daily"},
		{"days of the week", schedule.Timing{Frequency: 1, Period: point("1", "wk"), DaysOfWeek: []string{"mon", "thu"}}, value{"dayOfWeek": []any{"mon", "thu"}, "periodUnit": "wk"}, "weekly"},
		{"clock times win over events of the day", schedule.Timing{Frequency: 2, Period: point("1", "d"), TimesOfDay: []string{"09:00:00", "21:00:00"}, When: []string{"HS"}}, value{"timeOfDay": []any{"09:00:00", "21:00:00"}, "when": nil}, "2 times daily"},
		{"only words gave the interval", schedule.Timing{}, value{"frequency": json.Number("1"), "period": json.Number("8"), "periodUnit": "h"}, "every 8 hours"},
		{"a code alone", schedule.Timing{Code: "Q8H"}, value{"period": nil}, "every 8 hours"},
	} {
		w := fixed()
		w.Refs.Source.Timing = c.timing
		d := dosages(t, w)[0]
		for name, v := range c.want {
			assert.Equal(t, v, at(d, "timing", "repeat", name), "%s: %s", c.name, name)
		}
		assert.Contains(t, at(d, "text"), c.words, c.name)
	}
}
