package verification

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
)

const (
	shortRule = "rate-too-short"
	pushRule  = "rate-too-short-push"
)

func timeLeast(value, unit string) compendium.Fact {
	return fact("", "infusion_duration_min", "all", compendium.Value{Band: band(value, "", "", unit)})
}

var (
	sixty    = timeLeast("60", "min")
	pushed3  = keyed(timeLeast("3", "min"), compendium.Applies{Method: "push"})
	advised2 = func() compendium.Fact {
		f := keyed(fact("", "infusion_duration", "adult", compendium.Value{Band: band("2", "", "", "min")}), compendium.Applies{Method: "push"})
		f.Gates, f.Review = false, "recommended"
		return f
	}()
)

func minutes(n string) func(*world) {
	return figures("dose", "500", "mg", "volume", "100", "mL", "duration", n, "min")
}

func neverPush(w *world) {
	w.drug.Flags = []compendium.Flag{{Flag: compendium.NeverPush, Standing: compendium.Sourced, Source: "label text"}}
}

func ofKinds(list ...string) func(*world) { return func(w *world) { w.drug.Kinds = list } }

var rateTimeFixtures = []fixture{
	{rule: shortRule, name: "one minute short", want: Found, says: "59 minutes", change: both(limitedBy(sixty), minutes("59"))},
	{rule: shortRule, name: "the least time", want: Pass, change: both(limitedBy(sixty), minutes("60"))},
	{rule: shortRule, name: "the least time, and its printed precision below it", want: Pass, change: both(limitedBy(sixty), minutes("60"), byPump)},
	{rule: shortRule, name: "at least 30 to 60 minutes, 30", want: Pass, change: both(limitedBy(fact("", "infusion_duration_min", "all", compendium.Value{Band: band("", "30", "60", "min")})), minutes("30"))},
	{rule: shortRule, name: "at least 30 to 60 minutes, 29", want: Found, change: both(limitedBy(fact("", "infusion_duration_min", "all", compendium.Value{Band: band("", "30", "60", "min")})), minutes("29"))},
	{rule: shortRule, name: "a recommended time gates nothing", want: Indeterminate, missing: TableLimit, change: both(limitedBy(advised2), minutes("1"))},
	{rule: shortRule, name: "a time in words", want: Indeterminate, missing: TableLimit, change: both(limitedBy(fact("", "infusion_duration_min", "all", compendium.Value{Text: "slowly"})), minutes("1"))},
	{rule: shortRule, name: "no time at all", want: Indeterminate, missing: RunTime, change: both(limitedBy(sixty), figures("dose", "500", "mg"))},
	{rule: shortRule, name: "by volume and rate, short", want: Found, says: "101 mL per hour", change: both(limitedBy(sixty), figures("volume", "100", "mL", "rate", "101", "mL/h"))},
	{rule: shortRule, name: "by volume and rate", want: Pass, change: both(limitedBy(sixty), figures("volume", "100", "mL", "rate", "100", "mL/h"))},
	{rule: shortRule, name: "the rate is faster than the time", want: Found, says: "110 mL per hour", change: both(limitedBy(sixty), figures("volume", "100", "mL", "duration", "60", "min", "rate", "110", "mL/h"))},
	{rule: shortRule, name: "a range of times with its middle at the least", want: Pass, change: both(limitedBy(sixty), minutes("30 to 90"))},
	{rule: shortRule, name: "a range of times with its middle below", want: Found, change: both(limitedBy(sixty), minutes("30 to 89"))},
	{rule: shortRule, name: "numbers in dispute, each of them long", want: Indeterminate, missing: RunTime, change: both(limitedBy(sixty), figures("volume", "100", "mL", "duration", "90", "min", "rate", "10", "mL/h"))},
	{rule: shortRule, name: "the device is 5 % faster: the time of the order counts", want: Pass, change: both(limitedBy(sixty), minutes("60"), elastomeric("105"))},
	{rule: shortRule, name: "the device is faster than that", want: Found, says: "nominal", change: both(limitedBy(sixty), minutes("60"), elastomeric("106"))},
	{rule: shortRule, name: "only the device tells the time", want: Found, change: both(limitedBy(sixty), figures("dose", "500", "mg", "volume", "100", "mL"), elastomeric("101"))},
	{rule: shortRule, name: "by steps, the last until empty: 60 min + 90 mL at 92 mL per hour", want: Found, says: "by the steps", change: both(limitedBy(timeLeast("2", "h")), figures("volume", "100", "mL"), stepping("10", "60", "92", ""))},
	{rule: shortRule, name: "by steps, 60 min + 90 mL at 90 mL per hour", want: Pass, change: both(limitedBy(timeLeast("2", "h")), figures("volume", "100", "mL"), stepping("10", "60", "90", ""))},
	{rule: shortRule, name: "by steps, and the container is not known", want: Indeterminate, missing: RunTime, change: both(limitedBy(timeLeast("2", "h")), figures("dose", "350", "mg"), stepping("10", "60", "90", ""))},
	// Least times per method.
	{rule: shortRule, name: "a push of a beta-lactam in its time", want: Pass, change: both(limitedBy(sixty, pushed3), ofKinds("beta-lactam"), figures("dose", "2", "g", "duration", "3", "min"), push)},
	{rule: shortRule, name: "a push of a beta-lactam too fast", want: Found, change: both(limitedBy(sixty, pushed3), ofKinds("beta-lactam"), figures("dose", "2", "g", "duration", "2", "min"), push)},
	{rule: shortRule, name: "a push of another drug in less than its infusion", want: Found, change: both(limitedBy(sixty), ofKinds("glycopeptide"), figures("dose", "2", "g", "duration", "3", "min"), push)},
	{rule: shortRule, name: "an infusion is not held by the time of a push", want: Indeterminate, missing: TableLimit, change: both(limitedBy(pushed3), minutes("2"), byPump)},
	{rule: shortRule, name: "nobody says whether it is a push", want: Indeterminate, missing: Method, change: both(limitedBy(pushed3), minutes("2"))},
	{rule: shortRule, name: "nobody says it, and it is long enough for both", want: Indeterminate, missing: TableLimit, change: both(limitedBy(pushed3), minutes("30"))},
	// By dose.
	{rule: shortRule, name: "the time of a larger dose", want: Found, change: both(limitedBy(keyed(timeLeast("40", "min"), compendium.Applies{Dose: bandOf("500.01", "", "mg")})), figures("dose", "1", "g", "duration", "30", "min"))},
	{rule: shortRule, name: "is not that of this one", want: Indeterminate, missing: TableLimit, change: both(limitedBy(keyed(timeLeast("40", "min"), compendium.Applies{Dose: bandOf("500.01", "", "mg")})), figures("dose", "500", "mg", "duration", "30", "min"))},
	{rule: shortRule, name: "and the dose is not told", want: Indeterminate, missing: Dose, change: both(limitedBy(keyed(timeLeast("40", "min"), compendium.Applies{Dose: bandOf("500.01", "", "mg")})), figures("duration", "30", "min"))},
	{rule: shortRule, name: "a newborn has a longer time of its own", want: Found, change: both(tenDaysOld, limitedBy(of("pediatric", timeLeast("30", "min")), of("neonate", timeLeast("60", "min"))), minutes("59"))},
	{rule: shortRule, name: "a child in less than an adult's time", want: Found, change: both(child, limitedBy(of("adult", sixty)), minutes("59"))},
	{rule: shortRule, name: "a child in an adult's time only", want: Indeterminate, missing: TableLimit, change: both(child, limitedBy(of("adult", sixty)), minutes("60"))},
	{rule: shortRule, name: "a time for all holds for a child", want: Pass, change: both(child, limitedBy(sixty), minutes("60"))},

	{rule: pushRule, name: "no push", want: NotApplicable, change: both(limitedBy(sixty), minutes("60"))},
	{rule: pushRule, name: "a flush by push and pause is none", want: NotApplicable, change: func(w *world) {
		w.order.Directions = []order.Direction{{Text: "flush with 10 mL saline push-pause"}}
	}},
	{rule: pushRule, name: "a push without data", want: Found, says: "a push of cefazolin", change: both(limitedBy(sixty), figures("dose", "2", "g", "duration", "5", "min"), push)},
	{rule: pushRule, name: "a push with a least time", want: Pass, change: both(limitedBy(pushed3), figures("dose", "2", "g", "duration", "5", "min"), push)},
	{rule: pushRule, name: "a push with a recommended time", want: Pass, change: both(limitedBy(advised2), figures("dose", "2", "g", "duration", "5", "min"), push)},
	{rule: pushRule, name: "an adult's time is none for a child", want: Found, change: both(child, limitedBy(advised2), figures("dose", "200", "mg", "duration", "5", "min"), push)},
	{rule: pushRule, name: "a drug that is never pushed", want: Found, change: both(neverPush, limitedBy(pushed3), figures("dose", "2", "g", "duration", "5", "min"), push)},
	{rule: pushRule, name: "a drug without a row", want: Found, change: both(figures("dose", "2", "g"), push, func(w *world) { w.unlisted = true })},
	{rule: pushRule, name: "by the name of the route", want: Found, change: both(limitedBy(sixty), func(w *world) { w.order.Route.Text = "IV push" })},
	{rule: pushRule, name: "a time of one dose, and the dose is another", want: Found, change: both(limitedBy(keyed(timeLeast("2", "min"), compendium.Applies{Method: "push", Dose: bandOf("100", "200", "mg")})), figures("dose", "300", "mg"), push)},
	{rule: pushRule, name: "and the dose is not told", want: Indeterminate, missing: Dose, change: both(limitedBy(keyed(timeLeast("2", "min"), compendium.Applies{Method: "push", Dose: bandOf("100", "200", "mg")})), figures("duration", "2", "min"), push)},
}

func TestRateTimeRules(t *testing.T) { judged(t, rateTimeFixtures) }

// A push whose words also name a rate is asked about by both rules.
func TestAPushThatIsAlsoAnInfusion(t *testing.T) {
	change := []func(*world){limitedBy(pushed3), figures("dose", "2", "g", "volume", "20", "mL", "duration", "2", "min"), byPump, push}
	assert.Equal(t, []Fact{Method, TableLimit}, ask(t, shortRule, change...).Missing)
	change[0] = limitedBy(sixty)
	assert.Equal(t, Found, ask(t, pushRule, change...).Kind)
}

// A time whose fact only holds does not block.
func TestATimeThatOnlyHolds(t *testing.T) {
	o := ask(t, shortRule, limitedBy(lowered("hold", sixty)), minutes("59"))
	require.Len(t, o.Findings, 1)
	assert.Equal(t, finding.Hold, o.Findings[0].AtMost)
	assert.Contains(t, o.Findings[0].Expected, "at least 60 minutes")
}
