package verification

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/quantity"
)

// pump is a pump with its parameters, and the order's rate in mL per hour.
func pump(kind, rate string, parameters ...order.Stated) func(*world) {
	return both(device(kind, parameters...), withNumbers("rate", rate, "mL/h"))
}

func pumpLimit(name, rate string) order.Stated { return stated(name, rate, "mL/h", order.Device) }

// container is a volume that was stated, not one that only follows.
func container(mL string) func(*world) {
	return func(w *world) {
		q := settled(mL, "mL")
		q.Stated = true
		w.numbers["volume"] = q
	}
}

var sitePump = policy.CatalogueDevice{Name: "ambulatory pump", Class: "electronic-pump", RateLeast: "1 mL/h", RateMost: "300 mL/h", RateStep: "0.5 mL/h", Source: "instructions"}

func route(text string) func(*world) { return func(w *world) { w.order.Route = concept(text) } }

func drugCalled(name string) func(*world) {
	return func(w *world) { w.order.Drug.Name, w.drug.Name = name, name }
}

// steps are rates that follow each other, in mL per hour.
func steps(rates ...string) func(*world) {
	return func(w *world) {
		for i, r := range rates {
			s := stated("rate", r, "mL/h", order.Coded)
			w.order.Steps = append(w.order.Steps, order.Step{Number: i + 1, Rate: &s, Place: place("step")})
		}
	}
}

// onDemand is a continuous rate with doses the patient asks for.
func onDemand(basal, unit string) func(*world) {
	return func(w *world) {
		b, d, l := stated("drugRate", basal, unit, order.Coded), stated("dose", "0.5", "mg", order.Coded), stated("lockout", "10", "min", order.Coded)
		w.order.Controlled = &order.PatientControlled{Basal: &b, Demand: &d, Lockout: &l, Place: place("controlled")}
		w.numbers["concentration"] = settled("1", "mg/mL")
	}
}

var (
	electronic = compendium.Flag{Flag: compendium.ElectronicPump, Standing: compendium.Memory, Source: "common practice, no source"}
	byGravity  = compendium.Flag{Flag: compendium.NeverGravity, Standing: compendium.Memory, Source: "common practice, no source"}
	twoPumps   = compendium.Flag{Flag: compendium.SecondPump, Standing: compendium.Memory, Source: "common practice, no source"}
	noPause    = compendium.Flag{Flag: compendium.NeverPause, Standing: compendium.Memory, Source: "common practice, no source"}
)

func flags(list ...compendium.Flag) func(*world) { return func(w *world) { w.drug.Flags = list } }

// unsure rests a flag on a fact that holds for a tolerant patient only, which
// nothing in the order tells.
func unsure(flag compendium.Flag) func(*world) {
	return func(w *world) {
		x := fact("9", "pump_requirement", "all", compendium.Value{Text: "a pump"})
		x.AppliesTo = []compendium.Applies{{Exposure: "tolerant"}}
		w.drug.Facts = append(w.drug.Facts, x)
		flag.Fact = "9"
		w.drug.Flags = []compendium.Flag{flag}
	}
}

func supply(item, text, n string, basis ...string) func(*world) {
	return func(w *world) {
		w.kase.Supplies = append(w.kase.Supplies, order.Supply{Item: item, Text: text, Quantity: quantity.MustNumber(n), Basis: basis})
	}
}

var pumpFixtures = []fixture{
	// Row d6.
	{rule: "device-unsuitable", name: "cefazolin in a fixed-flow device", want: Pass},
	{rule: "device-unsuitable", name: "a drug that needs a pump", want: Found, says: "cefazolin by a fixed-flow device", change: flags(electronic)},
	{rule: "device-unsuitable", name: "a drug that needs a pump, by gravity", want: Found, says: "by gravity", change: both(device("gravity"), flags(electronic))},
	{rule: "device-unsuitable", name: "advised against by gravity: rate-gravity speaks", want: Pass, change: both(device("gravity"), flags(electronic, byGravity))},
	{rule: "device-unsuitable", name: "the same drug in a fixed-flow device", want: Found, change: flags(electronic, byGravity)},
	{rule: "device-unsuitable", name: "one step is one rate", want: Pass, change: steps("50")},
	{rule: "device-unsuitable", name: "two steps", want: Found, change: steps("50", "100")},
	{rule: "device-unsuitable", name: "tapers in words", want: Found, change: reading("taper", "1")},
	{rule: "device-unsuitable", name: "doses on demand", want: Found, change: onDemand("1", "mg/h")},
	{rule: "device-unsuitable", name: "a nominal rate and no kind", want: Found, change: both(device("", stated("nominalRate", "10", "mL/h", order.Text)), flags(electronic))},
	{rule: "device-unsuitable", name: "an electronic pump", want: NotApplicable, change: both(device("electronic-pump"), flags(electronic))},
	{rule: "device-unsuitable", name: "no device: device-missing speaks", want: NotApplicable, change: both(device(""), flags(electronic))},
	{rule: "device-unsuitable", name: "a drug without a row", want: Indeterminate, missing: DrugRow, change: unlisted},
	{rule: "device-unsuitable", name: "a drug without a row, with steps", want: Found, change: both(unlisted, steps("50", "100"))},
	{rule: "device-unsuitable", name: "nobody can tell whether the flag holds", want: Indeterminate, missing: regimen("opioid exposure"), change: unsure(electronic)},

	// Row d7. The table (memory): 0.1 to 500 mL per hour, syringe pump to 200.
	{rule: "device-pump-range", name: "the slowest of the table", want: Pass, change: pump("electronic-pump", "0.1")},
	{rule: "device-pump-range", name: "under the slowest of the table", want: Found, says: "0.09 mL per hour", change: pump("electronic-pump", "0.09")},
	{rule: "device-pump-range", name: "the fastest of the table", want: Pass, change: pump("electronic-pump", "500")},
	{rule: "device-pump-range", name: "over the fastest of the table", want: Found, change: pump("electronic-pump", "500.1")},
	{rule: "device-pump-range", name: "the fastest syringe pump", want: Pass, change: both(pump("syringe-pump", "200"), container("60"))},
	{rule: "device-pump-range", name: "over the fastest syringe pump", want: Found, change: both(pump("syringe-pump", "200.1"), container("60"))},
	{rule: "device-pump-range", name: "the slowest of the pump itself", want: Pass, change: pump("electronic-pump", "0.5", pumpLimit("rateMinimum", "0.5"))},
	{rule: "device-pump-range", name: "under the slowest of the pump itself", want: Found, change: pump("electronic-pump", "0.49", pumpLimit("rateMinimum", "0.5"))},
	{rule: "device-pump-range", name: "the fastest of the pump itself", want: Pass, change: pump("electronic-pump", "400", pumpLimit("rateMaximum", "400"))},
	{rule: "device-pump-range", name: "over the fastest of the pump itself", want: Found, says: "400.1 mL per hour", change: pump("electronic-pump", "400.1", pumpLimit("rateMaximum", "400"))},
	{rule: "device-pump-range", name: "the site's one pump", want: Pass, change: both(catalogue(sitePump), pump("electronic-pump", "300"))},
	{rule: "device-pump-range", name: "over the site's one pump", want: Found, change: both(catalogue(sitePump), pump("electronic-pump", "300.1"))},
	{rule: "device-pump-range", name: "under the site's one pump", want: Found, change: both(catalogue(sitePump), pump("electronic-pump", "0.9"))},
	{rule: "device-pump-range", name: "of two pumps nobody knows which: the table", want: Pass, change: both(catalogue(sitePump, sitePump), pump("electronic-pump", "300.1"))},
	{rule: "device-pump-range", name: "the rate from volume and time", want: Found, change: both(device("electronic-pump", pumpLimit("rateMaximum", "199")), container("100"))},
	{rule: "device-pump-range", name: "the small pump for this drug under the skin has no range in the table", want: Indeterminate, missing: DeviceRow, change: both(
		pump("electronic-pump", "0.02"), drugCalled("treprostinil"), route("subcutaneous"))},
	{rule: "device-pump-range", name: "the same drug by vein", want: Found, change: both(pump("electronic-pump", "0.02"), drugCalled("treprostinil"))},
	{rule: "device-pump-range", name: "one end of a range of rates", want: Found, says: "450 mL per hour", change: func(w *world) {
		pump("electronic-pump", "425", pumpLimit("rateMaximum", "440"))(w)
		r := w.numbers["rate"]
		r.Stated = true
		w.numbers["rate"] = r
		w.order.Stated = append(w.order.Stated, order.Stated{Name: "rate", Quantity: quantity.Range(quantity.Int(400), quantity.Int(450), millilitrePerHour), Witness: order.Coded})
	}},
	{rule: "device-pump-range", name: "one of the steps", want: Found, says: "0.05 mL per hour", change: both(device("electronic-pump"), steps("0.05", "10"))},
	{rule: "device-pump-range", name: "every step inside", want: Pass, change: both(device("electronic-pump"), steps("0.1", "500"))},
	{rule: "device-pump-range", name: "a step without a rate", want: Indeterminate, missing: Rate, change: both(device("electronic-pump"), func(w *world) { w.order.Steps = make([]order.Step, 2) })},
	{rule: "device-pump-range", name: "a continuous rate of drug, 0.1 mL per hour", want: Pass, change: both(device("electronic-pump"), onDemand("0.1", "mg/h"))},
	{rule: "device-pump-range", name: "a continuous rate of drug, under 0.1 mL per hour", want: Found, change: both(device("electronic-pump"), onDemand("0.09", "mg/h"))},
	{rule: "device-pump-range", name: "a continuous rate of drug and no concentration", want: Indeterminate, missing: Rate, change: both(
		device("electronic-pump"), onDemand("1", "mg/h"), func(w *world) { delete(w.numbers, "concentration") })},
	{rule: "device-pump-range", name: "no rate", want: Indeterminate, missing: Rate, change: both(device("electronic-pump"), func(w *world) { delete(w.numbers, "duration") })},
	{rule: "device-pump-range", name: "a rate in dispute", want: Indeterminate, missing: Rate, change: both(pump("electronic-pump", "600"), disputed("rate"))},
	{rule: "device-pump-range", name: "a fixed-flow device", want: NotApplicable},
	// The container: syringes to 60 mL, bags to 4,000 mL (table, memory).
	{rule: "device-pump-range", name: "the largest syringe", want: Pass, change: both(pump("syringe-pump", "60"), container("60"))},
	{rule: "device-pump-range", name: "over the largest syringe", want: Found, says: "a container of 60.1 mL", change: both(pump("syringe-pump", "60"), container("60.1"))},
	{rule: "device-pump-range", name: "a volume that only follows is no container", want: Indeterminate, missing: Container, change: both(pump("syringe-pump", "60"), withNumbers("volume", "66.25", "mL"))},
	{rule: "device-pump-range", name: "a volume that only follows and fits", want: Pass, change: both(pump("syringe-pump", "60"), withNumbers("volume", "60", "mL"))},
	{rule: "device-pump-range", name: "the largest bag", want: Pass, change: both(pump("electronic-pump", "400"), container("4000"))},
	{rule: "device-pump-range", name: "over the largest bag", want: Found, change: both(pump("electronic-pump", "400"), container("4001"))},
	{rule: "device-pump-range", name: "the reservoir as ordered", want: Pass, change: both(pump("electronic-pump", "4", stated("nominalVolume", "100", "mL", order.Device)), container("100"))},
	{rule: "device-pump-range", name: "over the reservoir as ordered", want: Found, change: both(pump("electronic-pump", "4", stated("nominalVolume", "100", "mL", order.Device)), container("101"))},

	// Rounding: 1 % either way is nothing anybody could act on. A step of 101
	// makes 101 of 100, exactly 1 %.
	{rule: "device-pump-rounding", name: "2 mL per hour in steps of 0.1", want: Pass, change: pump("electronic-pump", "2")},
	{rule: "device-pump-rounding", name: "1.23 becomes 1.2", want: Found, says: "1.23 mL per hour becomes 1.2 mL per hour in steps of 0.1 mL per hour: 2.4 % less", change: pump("electronic-pump", "1.23")},
	{rule: "device-pump-rounding", name: "half a step goes up", want: Found, says: "1.3 mL per hour", change: pump("electronic-pump", "1.25")},
	{rule: "device-pump-rounding", name: "1 % more", want: Pass, change: pump("electronic-pump", "100", pumpLimit("rateIncrement", "101"))},
	{rule: "device-pump-rounding", name: "over 1 % more", want: Found, says: "more", change: pump("electronic-pump", "99.9", pumpLimit("rateIncrement", "101"))},
	{rule: "device-pump-rounding", name: "less than half a step is none at all", want: Found, says: "becomes 0 mL per hour", change: pump("electronic-pump", "0.04")},
	{rule: "device-pump-rounding", name: "the site's step", want: Found, says: "steps of 0.5", change: both(catalogue(sitePump), pump("electronic-pump", "2.2"))},
	{rule: "device-pump-rounding", name: "one of the steps", want: Found, says: "1.23", change: both(device("electronic-pump"), steps("10", "1.23"))},
	{rule: "device-pump-rounding", name: "a step of zero is none", want: Indeterminate, missing: DeviceRow, change: pump("electronic-pump", "2", pumpLimit("rateIncrement", "0"))},
	{rule: "device-pump-rounding", name: "no rate", want: Indeterminate, missing: Rate, change: both(device("electronic-pump"), func(w *world) { delete(w.numbers, "volume") })},
	{rule: "device-pump-rounding", name: "a fixed-flow device", want: NotApplicable},

	// Row d7a.
	{rule: "device-backup-missing", name: "a drug that bears a pause", want: NotApplicable, change: device("electronic-pump")},
	{rule: "device-backup-missing", name: "one pump", want: Found, says: "one pump", change: both(device("electronic-pump"), flags(twoPumps))},
	{rule: "device-backup-missing", name: "no device at all", want: Found, change: both(device(""), flags(twoPumps))},
	{rule: "device-backup-missing", name: "two requests", want: Pass, change: both(device("electronic-pump"), flags(twoPumps), func(w *world) { w.order.Device.Requests = 2 })},
	{rule: "device-backup-missing", name: "a quantity of two", want: Pass, change: both(device("electronic-pump", stated("quantity", "2", "{pump}", order.Device)), flags(twoPumps))},
	{rule: "device-backup-missing", name: "a quantity of one", want: Found, change: both(device("electronic-pump", stated("quantity", "1", "{pump}", order.Device)), flags(twoPumps))},
	{rule: "device-backup-missing", name: "two pumps among the supplies", want: Pass, change: both(device("electronic-pump"), flags(twoPumps), supply("infusion-pump", "", "2"))},
	{rule: "device-backup-missing", name: "one pump among the supplies may be the first", want: Found, change: both(device("electronic-pump"), flags(twoPumps), supply("infusion-pump", "", "1"))},
	{rule: "device-backup-missing", name: "a second pump in words", want: Pass, change: both(device("electronic-pump"), flags(twoPumps), supply("", "Backup pump with batteries", "1"))},
	{rule: "device-backup-missing", name: "two pumps for this order", want: Pass, change: both(device("electronic-pump"), flags(twoPumps), supply("infusion-pump", "", "2", "urn:uuid:order-1"))},
	{rule: "device-backup-missing", name: "two pumps for another order", want: Found, change: both(device("electronic-pump"), flags(twoPumps), supply("infusion-pump", "", "2", "urn:uuid:order-2"))},
	{rule: "device-backup-missing", name: "two pumps and two infusions, for neither of them by name", want: Found, change: both(device("electronic-pump"), flags(twoPumps),
		supply("infusion-pump", "", "2"), func(w *world) { w.kase.Orders = make([]order.Order, 2) })},
	{rule: "device-backup-missing", name: "nobody can tell whether the flag holds", want: Indeterminate, missing: regimen("opioid exposure"), change: unsure(twoPumps)},
	{rule: "device-backup-missing", name: "a drug without a row", want: Indeterminate, missing: DrugRow, change: unlisted},
	{rule: "device-backup-missing", name: "before dispatch it is a task", want: NotEffective, at: "release", change: both(device("electronic-pump"), flags(twoPumps))},
}

func TestPumpRules(t *testing.T) { judged(t, pumpFixtures) }

// The true rate stands in the finding, as flow and as drug.
func TestARoundedRateSaysWhatItGives(t *testing.T) {
	w := base()
	pump("electronic-pump", "1.23")(w)
	w.numbers["concentration"] = settled("0.2", "mg/mL")
	w.numbers["drugRate"] = settled("0.246", "mg/h")
	o := Run([]Rule{ruleOf(t, "device-pump-rounding")}, w.facts(), "release")[0]
	require.Len(t, o.Findings, 1)
	assert.Contains(t, o.Findings[0].Expected, "1.2 mL per hour, 0.24 mg per hour") // 1.2 × 0.2
}

// A drug that needs a pump is not answered with a fixed flow to look for.
func TestAMissingDeviceForADrugThatNeedsAPump(t *testing.T) {
	w := base()
	both(device(""), flags(electronic))(w)
	o := Run([]Rule{ruleOf(t, "device-missing")}, w.facts(), "release")[0]
	require.Len(t, o.Findings, 1)
	assert.Contains(t, o.Findings[0].Expected, "an electronic pump")
}
