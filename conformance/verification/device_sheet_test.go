package verification

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/order"
)

// sheet is a pump with one setting, and the concentration of the container.
func sheet(name, value, unit string, more ...order.Stated) func(*world) {
	return func(w *world) {
		device("electronic-pump", append(more, stated(name, value, unit, order.Device))...)(w)
		w.numbers["concentration"] = settled("5", "mg/mL")
		w.numbers["rate"] = settled("2", "mL/h")
	}
}

func contains(value, unit string) func(*world) { return withNumbers("concentration", value, unit) }

var sheetFixtures = []fixture{
	// Row d8. Half of the last digit, at most 2 %: 5 is 4.9 to 5.1, 47.7 is
	// 47.65 to 47.75.
	{rule: "device-sheet-differs", name: "equal", want: Pass, change: sheet("concentration", "5", "mg/mL")},
	{rule: "device-sheet-differs", name: "equal in another unit", want: Pass, change: sheet("concentration", "0.5", "g/dL")},
	{rule: "device-sheet-differs", name: "1 on the sheet, 5 in the container", want: Found, says: "concentration on the pump sheet 1 mg per mL, of the container 5 mg per mL", change: sheet("concentration", "1", "mg/mL")},
	{rule: "device-sheet-differs", name: "2 % above", want: Pass, change: both(sheet("concentration", "5", "mg/mL"), contains("5.1", "mg/mL"))},
	{rule: "device-sheet-differs", name: "over 2 % above", want: Found, change: both(sheet("concentration", "5", "mg/mL"), contains("5.11", "mg/mL"))},
	{rule: "device-sheet-differs", name: "2 % below", want: Pass, change: both(sheet("concentration", "5", "mg/mL"), contains("4.9", "mg/mL"))},
	{rule: "device-sheet-differs", name: "over 2 % below", want: Found, change: both(sheet("concentration", "5", "mg/mL"), contains("4.89", "mg/mL"))},
	{rule: "device-sheet-differs", name: "half of the last digit", want: Pass, change: both(sheet("concentration", "47.7", "mg/mL"), contains("47.75", "mg/mL"))},
	{rule: "device-sheet-differs", name: "over half of the last digit", want: Found, change: both(sheet("concentration", "47.7", "mg/mL"), contains("47.76", "mg/mL"))},
	{rule: "device-sheet-differs", name: "another kind of unit", want: Indeterminate, missing: Concentration, change: sheet("concentration", "5", "meq/mL")},
	{rule: "device-sheet-differs", name: "no concentration of the container", want: Indeterminate, missing: Concentration, change: both(
		sheet("concentration", "5", "mg/mL"), func(w *world) { delete(w.numbers, "concentration") })},
	{rule: "device-sheet-differs", name: "a concentration in dispute", want: Indeterminate, missing: Concentration, change: both(sheet("concentration", "5", "mg/mL"), disputed("concentration"))},
	{rule: "device-sheet-differs", name: "no sheet yet", want: NotApplicable, change: device("electronic-pump")},
	// The set rate, half a step away at the most (table: steps of 0.1).
	{rule: "device-sheet-differs", name: "the rate as ordered", want: Pass, change: sheet("setRate", "2.0", "mL/h")},
	{rule: "device-sheet-differs", name: "a rate half a step away", want: Pass, change: both(sheet("setRate", "2.0", "mL/h"), withNumbers("rate", "2.05", "mL/h"))},
	{rule: "device-sheet-differs", name: "a rate over half a step away", want: Found, change: both(sheet("setRate", "2.0", "mL/h"), withNumbers("rate", "2.06", "mL/h"))},
	{rule: "device-sheet-differs", name: "a tenfold rate", want: Found, says: "rate on the pump sheet 20 mL per hour", change: sheet("setRate", "20", "mL/h")},
	{rule: "device-sheet-differs", name: "a rate of drug", want: Found, change: both(sheet("setRate", "12", "mg/h"), withNumbers("drugRate", "10", "mg/h"))},
	{rule: "device-sheet-differs", name: "no rate in the order", want: Indeterminate, missing: Rate, change: both(sheet("setRate", "2", "mL/h"), func(w *world) { delete(w.numbers, "rate") })},
	{rule: "device-sheet-differs", name: "one of the steps", want: Pass, change: both(sheet("setRate", "50", "mL/h"), steps("25", "50"))},
	{rule: "device-sheet-differs", name: "none of the steps", want: Found, change: both(sheet("setRate", "75", "mL/h"), steps("25", "50"))},
	// Doses on demand: 1 mg per hour, 0.5 mg, 10 min at 1 mg/mL.
	{rule: "device-sheet-differs", name: "the continuous rate as a flow", want: Pass, change: both(sheet("basalRate", "1", "mL/h"), onDemand("1", "mg/h"))},
	{rule: "device-sheet-differs", name: "another continuous rate", want: Found, says: "continuous rate", change: both(sheet("basalRate", "2", "mL/h"), onDemand("1", "mg/h"))},
	{rule: "device-sheet-differs", name: "another dose on demand", want: Found, says: "dose on demand", change: both(sheet("demandDose", "5", "mg"), onDemand("1", "mg/h"))},
	{rule: "device-sheet-differs", name: "the dose on demand as a volume", want: Pass, change: both(sheet("demandDose", "0.5", "mL"), onDemand("1", "mg/h"))},
	{rule: "device-sheet-differs", name: "another lockout", want: Found, says: "lockout", change: both(sheet("lockout", "1", "min"), onDemand("1", "mg/h"))},
	{rule: "device-sheet-differs", name: "the lockout in another unit", want: Pass, change: both(sheet("lockout", "600", "s"), onDemand("1", "mg/h"))},
	{rule: "device-sheet-differs", name: "a limit that the order does not have", want: Indeterminate, missing: Settings, change: both(sheet("doseLimit", "10", "mg"), onDemand("1", "mg/h"))},
	{rule: "device-sheet-differs", name: "one differs and one cannot be compared", want: Found, change: both(
		sheet("doseLimit", "10", "mg", stated("concentration", "5", "mg/mL", order.Device)), onDemand("1", "mg/h"))},
}

func TestSheetRules(t *testing.T) { judged(t, sheetFixtures) }

func TestADifferentSheetNamesBothPlaces(t *testing.T) {
	w := base()
	sheet("concentration", "1", "mg/mL")(w)
	o := Run([]Rule{ruleOf(t, "device-sheet-differs")}, w.facts(), "release")[0]
	require.Len(t, o.Findings, 1)
	assert.Equal(t, place("stated.device.concentration"), o.Findings[0].Place)
	assert.Equal(t, []string{w.numbers["concentration"].Place.Expression}, o.Findings[0].Evidence)
	assert.Contains(t, o.Findings[0].Remedy, "new sheet with a new number")
}
