package verification

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// tenDaysOld is a newborn.
func tenDaysOld(w *world) {
	w.kase.Patient.BirthDate = instant(baseNow.Add(-10 * oneDay).Format("2006-01-02T15:04Z07:00"))
}

// of puts a fact to another population.
func of(population string, f compendium.Fact) compendium.Fact {
	f.Population = population
	return f
}

// ranged states a number of the order as a range.
func ranged(name, low, high, unit string) func(*world) {
	return func(w *world) {
		l, h := quantity.MustNumber(low), quantity.MustNumber(high)
		w.order.Stated = append(w.order.Stated, order.Stated{Name: name, Witness: order.Coded, Place: place("stated." + name),
			Quantity: quantity.Range(l, h, quantity.MustUnit(unit))})
		x := settled(low, unit)
		x.Value, x.High, x.Stated = l.Add(h).Quo(quantity.Int(2)), h, true
		w.numbers[name] = x
	}
}

// follows is a number worked out of others, with the interval it lies in.
func follows(name, low, value, high, unit string) func(*world) {
	return func(w *world) {
		x := settled(value, unit)
		x.Low, x.High = quantity.MustNumber(low), quantity.MustNumber(high)
		w.numbers[name] = x
	}
}

const dailyRule = "dose-daily-above-maximum"

var dailyFixtures = []fixture{
	// A child below an adult's ceiling is not judged by it alone.
	{rule: dailyRule, name: "a child below the adult's limit, without one of its own", want: Indeterminate, missing: TableLimit, change: func(w *world) {
		child(w)
		w.drug.Facts = w.drug.Facts[:1]
	}},
	{rule: dailyRule, name: "a child below a limit per kg for everybody", want: Pass, change: both(limited("dosingWeight", "16", "1600", of("all", daily("100", "mg/kg/d"))), child)},
	{rule: dailyRule, name: "a child above a limit per kg for everybody", want: Found, change: both(limited("dosingWeight", "16", "1601", of("all", daily("100", "mg/kg/d"))), child)},
	{rule: dailyRule, name: "a child below an adult's limit per kg", want: Indeterminate, missing: TableLimit, change: both(limited("dosingWeight", "16", "1000", daily("100", "mg/kg/d")), child)},
	{rule: dailyRule, name: "a child below a fixed limit for everybody", want: Indeterminate, missing: TableLimit, change: both(limited("", "", "28", of("all", daily("28", "mg/d"))), child)},
	{rule: dailyRule, name: "a newborn below a fixed limit for children", want: Indeterminate, missing: TableLimit, change: tenDaysOld},
	{rule: dailyRule, name: "a newborn above a fixed limit for children", want: Found, change: both(tenDaysOld, withNumbers("dailyDose", "6.1", "g/d"))},
	{rule: dailyRule, name: "a newborn below a limit of its own", want: Pass, change: both(limited("", "", "300", of("neonate", daily("300", "mg/d"))), tenDaysOld)},
	// A stricter limit of which nobody can tell whether it holds.
	{rule: dailyRule, name: "below a limit whose state nobody told, too", want: Pass, change: limited("", "", "2000", daily("12", "g"), keyed(daily("2", "g"), compendium.Applies{Setting: "kidneys and liver impaired"}))},
	{rule: dailyRule, name: "above it", want: Indeterminate, missing: regimen("kidneys and liver impaired"), change: limited("", "", "2001", daily("12", "g"), keyed(daily("2", "g"), compendium.Applies{Setting: "kidneys and liver impaired"}))},
	{rule: dailyRule, name: "above the lax one as well", want: Found, change: limited("", "", "12001", daily("12", "g"), keyed(daily("2", "g"), compendium.Applies{Setting: "kidneys and liver impaired"}))},
	{rule: dailyRule, name: "a limit of an indication that nobody told", want: Indeterminate, missing: Indication, change: func(w *world) {
		limited("", "", "2001", daily("12", "g"), keyed(daily("2", "g"), compendium.Applies{Indication: []string{"meningitis"}}))(w)
		w.order.Indications = nil
	}},
	{rule: dailyRule, name: "only a limit whose state nobody told", want: Indeterminate, missing: TableLimit, change: limited("", "", "1000", keyed(daily("2", "g"), compendium.Applies{Setting: "kidneys and liver impaired"}))},
	{rule: dailyRule, name: "a limit of one component says little of the whole", want: Indeterminate, missing: TableLimit, change: limited("", "", "9000", daily("12", "g"), keyed(daily("4", "g"), compendium.Applies{Component: "sulbactam"}))},
	{rule: dailyRule, name: "and holds the whole below it", want: Pass, change: limited("", "", "4000", daily("12", "g"), keyed(daily("4", "g"), compendium.Applies{Component: "sulbactam"}))},
	// A stricter limit in a unit that cannot be read.
	{rule: dailyRule, name: "below a fixed limit, and one per kg without a weight", want: Indeterminate, missing: Weight, change: limited("", "", "1000", daily("1.5", "g"), daily("15", "mg/kg/d"))},
	{rule: dailyRule, name: "above a fixed limit, and one per kg without a weight", want: Found, change: limited("", "", "1501", daily("1.5", "g"), daily("15", "mg/kg/d"))},
	{rule: dailyRule, name: "one per m² without a surface", want: Indeterminate, missing: Height, change: limited("", "", "1000", daily("1.5", "g"), daily("900", "mg/m2/d"))},
	{rule: dailyRule, name: "one in another kind of unit", want: Indeterminate, missing: TableLimit, change: limited("", "", "1000", daily("1.5", "g"), daily("24", "10*6.[USP'U]"))},
	// A range is held at its high end, printed precision at its value.
	{rule: dailyRule, name: "a range of doses up to the limit", want: Pass, change: both(ranged("dose", "1", "4", "g"), follows("dailyDose", "3", "7.5", "12", "g/d"))},
	{rule: dailyRule, name: "a range of doses that goes above it", want: Found, says: "12.3", change: both(ranged("dose", "1", "4.1", "g"), follows("dailyDose", "3", "7.65", "12.3", "g/d"))},
	{rule: dailyRule, name: "a range of weights on record is no range of doses", want: Pass, change: both(ranged("dosingWeight", "70", "80", "kg"), follows("dailyDose", "11.94", "12", "12.06", "g/d"), func(w *world) {
		w.order.Stated[len(w.order.Stated)-1].Witness = order.Record
	})},
	{rule: dailyRule, name: "a limit the site took away is none that passes", want: Indeterminate, missing: TableLimit, change: func(w *world) {
		w.drug.Facts[0].Gates, w.drug.Facts[0].Override = false, &compendium.Local{By: "a pharmacist", On: "2026-01-02", Gated: true}
	}},
	{rule: dailyRule, name: "a stated range of the dose of a day", want: Found, says: "13", change: ranged("dailyDose", "6", "13", "g/d")},
	{rule: dailyRule, name: "the limit, and its printed precision above it", want: Pass, change: follows("dailyDose", "11.94", "12", "12.06", "g/d")},
	{rule: dailyRule, name: "above the limit, and its printed precision below it", want: Found, change: follows("dailyDose", "11.98", "12.01", "12.04", "g/d")},
}

func TestDailyRules(t *testing.T) { judged(t, dailyFixtures) }

// A limit that a site put out of force is one step below, not gone.
func TestALimitTheSiteTookAwayIsStillSaid(t *testing.T) {
	w := base()
	withNumbers("dailyDose", "12.1", "g/d")(w)
	w.drug.Facts[0].Gates, w.drug.Facts[0].Override = false, &compendium.Local{By: "a pharmacist", On: "2026-01-02", Gated: true}
	o := Run([]Rule{ruleOf(t, dailyRule)}, w.facts(), "release")[0]
	require.Len(t, o.Findings, 1)
	assert.Equal(t, LoosenedDetail, o.Findings[0].Detail)
}

// A site's looser number: between the table's and its own is one step below.
func TestBetweenTheTablesLimitAndTheSites(t *testing.T) {
	for dailyDose, want := range map[string]string{"12": "", "12.1": LoosenedDetail, "14": LoosenedDetail, "14.1": "12"} {
		w := base()
		withNumbers("dailyDose", dailyDose, "g/d")(w)
		w.drug.Facts[0].Value.Band = band("14", "", "", "g")
		w.drug.Facts[0].Override = &compendium.Local{By: "a pharmacist", On: "2026-01-02", Gated: true, Was: band("12", "", "", "g")}
		o := Run([]Rule{ruleOf(t, dailyRule)}, w.facts(), "release")[0]
		if want == "" {
			assert.Empty(t, o.Findings, dailyDose)
			continue
		}
		require.Len(t, o.Findings, 1, dailyDose)
		assert.Equal(t, want == LoosenedDetail, o.Findings[0].Detail == LoosenedDetail, dailyDose)
	}
}
