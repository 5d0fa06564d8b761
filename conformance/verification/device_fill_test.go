package verification

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/quantity"
)

// reservoir is a fixed-flow device of a nominal volume in mL and rate in mL
// per hour, with so many mL of fill; more are its other parameters.
func reservoir(volume, rate, fill string, more ...order.Stated) func(*world) {
	return func(w *world) {
		w.numbers["volume"] = settled(fill, "mL")
		w.order.Device.Parameters = append([]order.Stated{stated("nominalRate", rate, "mL/h", order.Device)}, more...)
		if volume != "" {
			w.order.Device.Parameters = append(w.order.Device.Parameters, stated("nominalVolume", volume, "mL", order.Device))
		}
	}
}

func least(mL string) order.Stated { return stated("minimumFill", mL, "mL", order.Device) }
func most(mL string) order.Stated  { return stated("maximumFill", mL, "mL", order.Device) }

// listed is the device of the invented pharmacy's catalogue.
var listedReservoir = policy.CatalogueDevice{Name: "reservoir, 100 mL in 30 minutes", Class: "elastomeric", NominalVolume: "100 mL", FillLeast: "60 mL", FillMost: "125 mL",
	Residual: "3 mL", NominalRates: []policy.Amount{"200 mL/h"}, Source: "instructions"}

func catalogue(list ...policy.CatalogueDevice) func(*world) {
	return func(w *world) { w.policy.Catalogue = list }
}

func kinds(k ...string) func(*world) { return func(w *world) { w.drug.Kinds = k } }

func disputed(name string) func(*world) {
	return func(w *world) {
		q := w.numbers[name]
		q.Disputed = true
		w.numbers[name] = q
	}
}

func unlisted(w *world) { w.unlisted = true }

// stays is what stays behind of the fill, in mL.
func stays(fill, residual string) func(*world) {
	return both(withNumbers("volume", fill, "mL"), withNumbers("residual", residual, "mL"))
}

var fillFixtures = []fixture{
	// Row d4, range of fill. The table (memory): 100 to 110 mL of the fast
	// reservoir of 100 mL, 100 to 130 mL of the slow one.
	{rule: "device-fill", name: "the least of the table", want: Pass, change: reservoir("100", "200", "100")},
	{rule: "device-fill", name: "under the least of the table", want: Found, says: "99.9 mL", change: reservoir("100", "200", "99.9")},
	{rule: "device-fill", name: "the most of the table", want: Pass, change: reservoir("100", "200", "110")},
	{rule: "device-fill", name: "over the most of the table", want: Found, says: "110.1 mL", change: reservoir("100", "200", "110.1")},
	{rule: "device-fill", name: "the most of the slow reservoir", want: Pass, change: reservoir("100", "2", "130")},
	{rule: "device-fill", name: "over the most of the slow reservoir", want: Found, change: reservoir("100", "2", "130.1")},
	{rule: "device-fill", name: "a rate near one of the table is another device", want: Indeterminate, missing: DeviceRow, change: reservoir("100", "199", "100")},
	{rule: "device-fill", name: "no size of the reservoir", want: Indeterminate, missing: DeviceRow},
	{rule: "device-fill", name: "the size in words", want: Pass, change: both(reservoir("", "200", "110"), worded100)},
	{rule: "device-fill", name: "the size in words, overfilled", want: Found, change: both(reservoir("", "200", "111"), worded100)},
	// The device's own range goes before the site's, the site's before the table.
	{rule: "device-fill", name: "the device's own least", want: Pass, change: reservoir("100", "200", "60", least("60"), most("125"))},
	{rule: "device-fill", name: "under the device's own least", want: Found, change: reservoir("100", "200", "59.9", least("60"), most("125"))},
	{rule: "device-fill", name: "the device's own most", want: Pass, change: reservoir("100", "200", "125", least("60"), most("125"))},
	{rule: "device-fill", name: "over the device's own most", want: Found, change: reservoir("100", "200", "125.1", least("60"), most("125"))},
	{rule: "device-fill", name: "under the only end that is known", want: Found, change: reservoir("", "200", "59", least("60"))},
	{rule: "device-fill", name: "above the only end that is known", want: Indeterminate, missing: DeviceRow, change: reservoir("", "200", "70", least("60"))},
	{rule: "device-fill", name: "the site's least", want: Pass, change: both(catalogue(listedReservoir), reservoir("", "200", "60"))},
	{rule: "device-fill", name: "under the site's least", want: Found, says: "60 mL at the least", change: both(catalogue(listedReservoir), reservoir("", "200", "59"))},
	{rule: "device-fill", name: "the site's most", want: Pass, change: both(catalogue(listedReservoir), reservoir("", "200", "125"))},
	{rule: "device-fill", name: "over the site's most", want: Found, change: both(catalogue(listedReservoir), reservoir("", "200", "126"))},
	{rule: "device-fill", name: "the site's device has another rate", want: Indeterminate, missing: DeviceRow, change: both(catalogue(listedReservoir), reservoir("", "100", "60"))},
	{rule: "device-fill", name: "the site's device has another size", want: Indeterminate, missing: DeviceRow, change: both(catalogue(listedReservoir), reservoir("70", "200", "70"))},
	{rule: "device-fill", name: "the site has two with that rate", want: Indeterminate, missing: DeviceRow, change: both(catalogue(listedReservoir, listedReservoir), reservoir("", "200", "60"))},
	{rule: "device-fill", name: "fill stated beside the volume", want: Found, says: "111 mL", change: both(reservoir("100", "200", "100"), withNumbers("fill", "111", "mL"))},
	{rule: "device-fill", name: "the least of a range does not fit", want: Found, says: "90 mL", change: func(w *world) {
		reservoir("100", "200", "97.5")(w)
		w.order.Stated = append(w.order.Stated, order.Stated{Name: "volume", Quantity: quantity.Range(quantity.Int(90), quantity.Int(105), millilitre), Witness: order.Coded, Place: place("volume")})
		v := w.numbers["volume"]
		v.Stated = true
		w.numbers["volume"] = v
	}},
	{rule: "device-fill", name: "no volume", want: Indeterminate, missing: Container, change: func(w *world) { delete(w.numbers, "volume") }},
	{rule: "device-fill", name: "a volume in dispute", want: Indeterminate, missing: Container, change: disputed("volume")},
	{rule: "device-fill", name: "no device: device-missing speaks", want: NotApplicable, change: device("")},
	{rule: "device-fill", name: "a pump has no range of fill", want: NotApplicable, change: device("electronic-pump")},

	// Row d4, share delivered. An anti-infective 90 %: 5 of 50 mL.
	{rule: "device-delivered", name: "anti-infective, 90 %", want: Pass, change: stays("50", "5")},
	{rule: "device-delivered", name: "anti-infective, under 90 %", want: Found, says: "89.8 %", change: stays("50", "5.1")},
	{rule: "device-delivered", name: "antineoplastic, 95 %", want: Pass, change: both(kinds("antineoplastic"), stays("100", "5"))},
	{rule: "device-delivered", name: "antineoplastic, under 95 %", want: Found, says: "94.9 %", change: both(kinds("antineoplastic"), stays("100", "5.1"))},
	{rule: "device-delivered", name: "scenario S3: 2 of 92 mL, 97.8 %", want: Pass, change: both(kinds("antineoplastic"), stays("92", "2"))},
	{rule: "device-delivered", name: "5 of 60 mL, 91.7 %", want: Found, says: "91.7 %", change: both(kinds("antineoplastic"), stays("60", "5"))},
	{rule: "device-delivered", name: "a drug nobody knows has the stricter limit", want: Found, says: "92 %", change: both(unlisted, stays("100", "8"))},
	{rule: "device-delivered", name: "more stays than goes in", want: Found, change: stays("5", "6")},
	{rule: "device-delivered", name: "nobody says what stays", want: Indeterminate, missing: Residual},
	{rule: "device-delivered", name: "the table, on the good side of the limit with both its ends", want: Pass, change: reservoir("50", "100", "50")}, // 1 to 5 of 50 mL
	{rule: "device-delivered", name: "the table, on both sides of the limit", want: Indeterminate, missing: Residual, change: both(kinds("antineoplastic"), reservoir("50", "100", "50"))},
	{rule: "device-delivered", name: "the table, on the bad side with both its ends", want: Found, says: "37.5 % to 87.5 %", change: reservoir("50", "100", "8")},
	{rule: "device-delivered", name: "no volume", want: Indeterminate, missing: Container, change: func(w *world) { delete(w.numbers, "volume") }},
	{rule: "device-delivered", name: "a pump", want: NotApplicable, change: device("syringe-pump")},
	{rule: "device-delivered-minor", name: "95 %", want: Pass, change: stays("100", "5")},
	{rule: "device-delivered-minor", name: "under 95 %", want: Found, says: "94.9 %", change: stays("100", "5.1")},
	{rule: "device-delivered-minor", name: "3 of 50 mL, 94 %", want: Found, says: "94 % of the dose is delivered, 1.88 g of 2 g", change: stays("50", "3")},
	{rule: "device-delivered-minor", name: "90 %", want: Found, change: stays("100", "10")},
	{rule: "device-delivered-minor", name: "under 90 % the other rule warns", want: Pass, change: stays("100", "10.1")},
	{rule: "device-delivered-minor", name: "the table, on both sides of the limit", want: Indeterminate, missing: Residual, change: reservoir("50", "100", "50")},
	{rule: "device-delivered-minor", name: "no anti-infective", want: Pass, change: both(kinds("antineoplastic"), stays("100", "8"))},
	{rule: "device-delivered-minor", name: "a drug without a row may be one", want: Indeterminate, missing: DrugRow, change: both(unlisted, stays("100", "8"))},
	{rule: "device-delivered-minor", name: "a pump", want: NotApplicable, change: device("electronic-pump")},

	// Row d5: more than 24 hours by a PICC; a carrier with dextrose.
	{rule: "device-conditions", name: "half an hour by a PICC", want: Pass},
	{rule: "device-conditions", name: "24 hours by a PICC", want: Pass, change: withNumbers("duration", "24", "h")},
	{rule: "device-conditions", name: "a minute over 24 hours by a PICC", want: Found, says: "24 hours 1 minute", change: withNumbers("duration", "1441", "min")},
	{rule: "device-conditions", name: "46 hours by a port", want: Pass, change: both(withNumbers("duration", "46", "h"), func(w *world) { w.kase.Access[0].Kind = "port" })},
	{rule: "device-conditions", name: "46 hours, the line named is the port", want: Pass, change: both(withNumbers("duration", "46", "h"), func(w *world) {
		w.kase.Access = append(w.kase.Access, order.Access{Kind: "port", Ref: "Device/port", Place: place("port")})
		w.order.AccessDevice = "Device/port"
	})},
	{rule: "device-conditions", name: "46 hours, the line named is not there", want: Indeterminate, missing: Access, change: both(withNumbers("duration", "46", "h"), func(w *world) { w.order.AccessDevice = "Device/port" })},
	{rule: "device-conditions", name: "46 hours and no line on record", want: Indeterminate, missing: Access, change: both(withNumbers("duration", "46", "h"), func(w *world) { w.kase.Access = nil })},
	{rule: "device-conditions", name: "a carrier with dextrose", want: Found, says: "dextrose 5 % in water", change: ingredient("dextrose 5 % in water", new(bool))},
	{rule: "device-conditions", name: "no infusion time", want: Indeterminate, missing: RunTime, change: func(w *world) { delete(w.numbers, "duration") }},
	{rule: "device-conditions", name: "an electronic pump is hardly affected", want: NotApplicable, change: both(withNumbers("duration", "46", "h"), device("electronic-pump"))},
}

func worded100(w *world) {
	w.order.Readings = []order.Reading{{Field: "volume", Role: "device", Value: "100", Unit: "mL", Place: place("text")}}
}

func TestFillRules(t *testing.T) { judged(t, fillFixtures) }

// A finding carries the standing of what it rests on, so that a recalled
// number never does more than hold.
func TestAFindingAboutADeviceHasTheStandingOfItsNumber(t *testing.T) {
	for _, c := range []struct {
		rule, name, want string
		change           func(*world)
	}{
		{"device-fill", "table", compendium.Memory, reservoir("100", "200", "111")},
		{"device-fill", "catalogue", compendium.LocalStanding, both(catalogue(listedReservoir), reservoir("", "200", "126"))},
		{"device-fill", "the device itself", "", reservoir("", "200", "126", most("125"))},
		{"device-delivered", "table", compendium.Memory, reservoir("50", "100", "8")},
		{"device-delivered", "stated", "", func(w *world) {
			stays("50", "6")(w)
			q := w.numbers["residual"]
			q.Stated = true
			w.numbers["residual"] = q
		}},
		{"device-pump-range", "table", compendium.Memory, pump("electronic-pump", "500.1")},
		{"device-pump-range", "the device itself", "", pump("electronic-pump", "400.1", pumpLimit("rateMaximum", "400"))},
		{"device-unsuitable", "flag", compendium.Memory, flags(electronic)},
		{"device-unsuitable", "the order itself", "", func(w *world) { w.order.Steps = make([]order.Step, 2) }},
	} {
		w := base()
		c.change(w)
		o := Run([]Rule{ruleOf(t, finding.Code(c.rule))}, w.facts(), "release")[0]
		require.Len(t, o.Findings, 1, "%s, %s", c.rule, c.name)
		assert.Equal(t, c.want, o.Findings[0].Standing, "%s, %s", c.rule, c.name)
	}
}

// What to do next has the numbers filled in.
func TestAFillThatIsWrongSaysWhatToFill(t *testing.T) {
	w := base()
	stays("50", "6")(w)
	o := Run([]Rule{ruleOf(t, "device-delivered")}, w.facts(), "release")[0]
	require.Len(t, o.Findings, 1)
	assert.Contains(t, o.Findings[0].Remedy, "fill 56 mL at the same concentration")
	assert.Contains(t, o.Findings[0].Observed, "1.76 g of 2 g") // 44 of 50 mL
	assert.Equal(t, "at least 90 % of the dose", o.Findings[0].Expected)
}
