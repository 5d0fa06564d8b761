package verification

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
)

// lineAs puts lines of these kinds in place of the base order's.
func lineAs(kinds ...string) func(*world) {
	return func(w *world) {
		w.kase.Access = nil
		for _, k := range kinds {
			w.kase.Access = append(w.kase.Access, order.Access{Kind: k, Ref: "Device/" + k, Placed: instant("2026-11-06T12:00Z"), TipConfirmed: true, Place: place("access." + k)})
		}
	}
}

// flagFact puts a flag on the drug, resting on a fact with this standing and gate.
func flagFact(flag, standing, gate string) func(*world) {
	return func(w *world) {
		w.drug.Flags = append(w.drug.Flags, compendium.Flag{Flag: flag, Standing: standing, Source: "test list", Fact: "f-" + flag})
		w.drug.Facts = append(w.drug.Facts, compendium.Fact{ID: "f-" + flag, Topic: "tissue_injury", Population: "all", Standing: standing, Source: "test list", Gates: true, Gate: gate})
	}
}

func centralOnly(w *world)  { flagFact(compendium.CentralLine, compendium.Sourced, "")(w) }
func isVesicant(w *world)   { flagFact(compendium.Vesicant, compendium.Sourced, "")(w) }
func weakVesicant(w *world) { flagFact(compendium.Vesicant, compendium.Sourced, "warn")(w) }

// byVeinOnly makes the flag for one route of which the order tells nothing.
func byVeinOnly(w *world) {
	for i := range w.drug.Facts {
		if w.drug.Facts[i].ID == "f-"+compendium.CentralLine || w.drug.Facts[i].ID == "f-"+compendium.Vesicant {
			w.drug.Facts[i].AppliesTo = []compendium.Applies{{Route: "intravenous"}}
		}
	}
	w.order.Route = order.Concept{}
}

func runsFor(minutes string) func(*world) {
	return func(w *world) { w.numbers["duration"] = settled(minutes, "min") }
}

func untimedRun(w *world) { delete(w.numbers, "duration") }

// dripping: a rate and no infusion time.
func dripping(w *world) {
	untimedRun(w)
	w.order.Stated = []order.Stated{stated("rate", "5", "mL/h", order.Coded)}
}

func osmolar(value string) func(*world) {
	return func(w *world) { w.numbers["osmolarity"] = settled(value, "mosm/L") }
}

func osmolarityPolicy(most int) func(*world) {
	return func(w *world) { w.policy.Access.OsmolarityMost = most }
}

// nutritionRow: the drug's own limits for a peripheral vein.
func nutritionRow(w *world) {
	w.drug.Kinds = []string{"nutrition"}
	w.drug.Facts = append(w.drug.Facts, fact("20", "osmolarity_max_peripheral", "adult", compendium.Value{Band: band("900", "", "", "mosm/L")}),
		fact("21", "dextrose_final_concentration_peripheral", "adult", compendium.Value{Band: band("", "5", "10", "%")}))
}

func acid(value, low, high string) func(*world) {
	return func(w *world) {
		w.drug.Facts = append(w.drug.Facts, fact("22", "ph", "all", compendium.Value{Band: band(value, low, high, "[pH]")}))
	}
}

func subcutaneous(w *world) { w.order.Route = concept("subcutaneous") }

func namesLine(ref string) func(*world) { return func(w *world) { w.order.AccessDevice = ref } }

func tipOpenAs(text string) func(*world) {
	return func(w *world) { w.kase.Access[0].TipConfirmed, w.kase.Access[0].TipText = false, text }
}

// tipSeen is the day on which the tip was seen; the line is of 6 Nov 12:00.
func tipSeen(at string) func(*world) {
	return func(w *world) { w.kase.Access[0].TipAt = instant(at); w.kase.Access[0].TipAt.DateOnly = true }
}

// tipTimed is the time at which it was seen.
func tipTimed(at string) func(*world) {
	return func(w *world) { w.kase.Access[0].TipAt = instant(at) }
}

var lineFixtures = []fixture{
	// Row g9: a vesicant by peripheral access, more than 60 minutes.
	{rule: "hazard-vesicant-access", name: "a central line", want: NotApplicable, change: both(isVesicant, runsFor("1440"))},
	{rule: "hazard-vesicant-access", name: "by the skin", want: NotApplicable, change: both(isVesicant, lineAs("midline"), subcutaneous)},
	{rule: "hazard-vesicant-access", name: "60 minutes by a midline", want: Pass, change: both(isVesicant, lineAs("midline"), runsFor("60"))},
	{rule: "hazard-vesicant-access", name: "61 minutes by a midline", want: Found, says: "a vesicant, runs 1 hour 1 minute through a midline catheter", change: both(isVesicant, lineAs("midline"), runsFor("61"))},
	{rule: "hazard-vesicant-access", name: "61 minutes by a cannula", want: Found, says: "short peripheral cannula", change: both(isVesicant, lineAs("peripheral"), runsFor("61"))},
	{rule: "hazard-vesicant-access", name: "until it is stopped", want: Found, says: "until it is stopped", change: both(isVesicant, lineAs("midline"), dripping)},
	{rule: "hazard-vesicant-access", name: "no vesicant", want: Pass, change: both(lineAs("midline"), runsFor("1440"))},
	{rule: "hazard-vesicant-access", name: "the table only warns of it", want: Pass, change: both(weakVesicant, lineAs("midline"), runsFor("1440"))},
	{rule: "hazard-vesicant-access", name: "how long it runs is not known", want: Indeterminate, missing: RunTime, change: both(isVesicant, lineAs("midline"), untimedRun)},
	{rule: "hazard-vesicant-access", name: "for one route, and the route is not told", want: Indeterminate, missing: "regimen (route)", change: both(isVesicant, byVeinOnly, lineAs("midline"), runsFor("61"))},
	{rule: "hazard-vesicant-access", name: "two lines, and the order names neither", want: Indeterminate, missing: LineUsed, change: both(isVesicant, lineAs("picc", "peripheral"), runsFor("61"))},
	{rule: "hazard-vesicant-access", name: "two lines, and the order names the small one", want: Found, change: both(isVesicant, lineAs("picc", "peripheral"), namesLine("Device/peripheral"), runsFor("61"))},
	{rule: "hazard-vesicant-access", name: "two lines, and the order names the central one", want: NotApplicable, change: both(isVesicant, lineAs("picc", "peripheral"), namesLine("Device/picc"), runsFor("61"))},
	{rule: "hazard-vesicant-access", name: "the line it names is not described", want: Indeterminate, missing: LineUsed, change: both(isVesicant, namesLine("Device/none"), runsFor("61"))},
	{rule: "hazard-vesicant-access", name: "no line", want: Indeterminate, missing: Access, change: both(isVesicant, noAccess)},

	// Row h1.
	{rule: "access-unsuitable", name: "a central line", want: NotApplicable, change: both(centralOnly, osmolar("1500"))},
	{rule: "access-unsuitable", name: "by the skin", want: NotApplicable, change: both(centralOnly, lineAs("subcutaneous"), subcutaneous)},
	{rule: "access-unsuitable", name: "marked for a central line, by a midline", want: Found, says: "midline catheter: cefazolin is marked for a central line only", change: both(centralOnly, lineAs("midline"), osmolar("300"))},
	{rule: "access-unsuitable", name: "marked for a central line, under the skin by the wrong route", want: Found, change: both(centralOnly, lineAs("subcutaneous"), osmolar("300"))},
	{rule: "access-unsuitable", name: "marked for one route, and the route is not told", want: Indeterminate, missing: "regimen (route)", change: both(centralOnly, byVeinOnly, lineAs("midline"), osmolar("300"))},
	{rule: "access-unsuitable", name: "a vesicant for 60 minutes", want: Pass, change: both(isVesicant, lineAs("midline"), runsFor("60"), osmolar("300"))},
	{rule: "access-unsuitable", name: "a vesicant for longer", want: Found, says: "1 hour 1 minute", change: both(isVesicant, lineAs("midline"), runsFor("61"), osmolar("300"))},
	{rule: "access-unsuitable", name: "a vesicant that the table warns of", want: Found, change: both(weakVesicant, lineAs("midline"), runsFor("61"), osmolar("300"))},
	// 0.9 % saline with 20 mmol/L of potassium chloride: 308 + 40 = 348 mOsm/L.
	{rule: "access-unsuitable", name: "saline with potassium", want: Pass, change: both(lineAs("midline"), osmolar("348"))},
	{rule: "access-unsuitable", name: "at the limit of the site", want: Pass, change: both(lineAs("midline"), osmolar("900"))},
	{rule: "access-unsuitable", name: "above it", want: Found, says: "900.1 mOsm per L in a peripheral vein", change: both(lineAs("midline"), osmolar("900.1"))},
	{rule: "access-unsuitable", name: "at the limit of the nursing standard, where the site chose it", want: Pass, change: both(lineAs("midline"), osmolarityPolicy(600), osmolar("600"))},
	{rule: "access-unsuitable", name: "above it", want: Found, says: "601 mOsm per L", change: both(lineAs("midline"), osmolarityPolicy(600), osmolar("601"))},
	{rule: "access-unsuitable", name: "an ingredient is not in the table of solutes", want: Indeterminate, missing: Solutes, change: lineAs("midline")},
	{rule: "access-unsuitable", name: "nutrition of which nobody tells the osmolarity", want: Indeterminate, missing: Osmolarity, change: both(nutritionRow, lineAs("midline"))},
	{rule: "access-unsuitable", name: "no row", want: Indeterminate, missing: DrugRow, change: both(lineAs("midline"), osmolar("300"), func(w *world) { w.unlisted = true })},
	{rule: "access-unsuitable", name: "no row, and too concentrated all the same", want: Found, change: both(lineAs("midline"), osmolar("901"), func(w *world) { w.unlisted = true })},
	{rule: "access-unsuitable", name: "two lines, and the order names neither", want: Indeterminate, missing: LineUsed, change: both(centralOnly, lineAs("port", "midline"), osmolar("300"))},
	{rule: "access-unsuitable", name: "two lines that do not matter", want: Pass, change: both(lineAs("port", "midline"), osmolar("300"))},
	{rule: "access-unsuitable", name: "a line that was taken out does not count", want: NotApplicable, change: both(centralOnly, lineAs("midline", "picc"), func(w *world) { w.kase.Access[0].Removed = instant("2026-11-08T12:00Z") })},

	// Row h1, acidity: below 5 or above 9.
	{rule: "access-unsuitable-ph", name: "a central line", want: NotApplicable, change: acid("2", "", "")},
	{rule: "access-unsuitable-ph", name: "acid", want: Found, says: "pH of 2.5 to 4.5", change: both(lineAs("midline"), acid("", "2.5", "4.5"))},
	{rule: "access-unsuitable-ph", name: "5 is not acid", want: Pass, change: both(lineAs("midline"), acid("5", "", ""))},
	{rule: "access-unsuitable-ph", name: "below 5", want: Found, change: both(lineAs("midline"), acid("4.9", "", ""))},
	{rule: "access-unsuitable-ph", name: "9 is not alkaline", want: Pass, change: both(lineAs("midline"), acid("", "5", "9"))},
	{rule: "access-unsuitable-ph", name: "above 9", want: Found, change: both(lineAs("midline"), acid("", "8", "9.1"))},
	{rule: "access-unsuitable-ph", name: "the table has none", want: Indeterminate, missing: TableLimit, change: lineAs("midline")},
	{rule: "access-unsuitable-ph", name: "no row", want: Indeterminate, missing: DrugRow, change: both(lineAs("midline"), func(w *world) { w.unlisted = true })},

	// Row h2.
	{rule: "access-tip-unconfirmed", name: "no central line", want: NotApplicable, change: both(centralOnly, lineAs("midline"), tipOpenAs(""))},
	{rule: "access-tip-unconfirmed", name: "confirmed", want: Pass, change: centralOnly},
	{rule: "access-tip-unconfirmed", name: "confirmed on the day it was placed", want: Pass, change: both(centralOnly, tipSeen("2026-11-06T00:00Z"))},
	{rule: "access-tip-unconfirmed", name: "confirmed a day before it was placed", want: Found, says: "5 Nov 2026", change: both(centralOnly, tipSeen("2026-11-05T12:00Z"))},
	{rule: "access-tip-unconfirmed", name: "confirmed 1 hour 59 minutes before it was placed", want: Pass, change: both(centralOnly, tipTimed("2026-11-06T10:01Z"))},
	{rule: "access-tip-unconfirmed", name: "confirmed 2 hours before it was placed: an exchange", want: Found, says: "10:00", change: both(centralOnly, tipTimed("2026-11-06T10:00Z"))},
	{rule: "access-tip-unconfirmed", name: "not confirmed", want: Found, says: "no record", change: both(centralOnly, tipOpenAs(""))},
	{rule: "access-tip-unconfirmed", name: "in the words of the record", want: Found, says: "pending", change: both(centralOnly, tipOpenAs("radiograph pending"))},
	{rule: "access-tip-unconfirmed", name: "too concentrated for a small vein", want: Found, change: both(osmolar("901"), tipOpenAs(""))},
	{rule: "access-tip-unconfirmed", name: "a vesicant for longer", want: Found, change: both(isVesicant, runsFor("61"), tipOpenAs(""))},
	{rule: "access-tip-unconfirmed", name: "a drug for any vein", want: Pass, change: both(osmolar("300"), tipOpenAs(""))},
	{rule: "access-tip-unconfirmed", name: "nobody can tell whether it may run elsewhere", want: Indeterminate, missing: Solutes, change: tipOpenAs("")},
	{rule: "access-tip-unconfirmed", name: "no line", want: Indeterminate, missing: Access, change: noAccess},
	{rule: "access-tip-unconfirmed-other", name: "a drug for a central vein only is the other rule's", want: Pass, change: both(centralOnly, tipOpenAs(""))},
	{rule: "access-tip-unconfirmed-other", name: "nobody can tell whether it may run elsewhere", want: Found, change: tipOpenAs("")},
	{rule: "access-tip-unconfirmed-other", name: "the tip of the line that the order names", want: Found, says: "no record", change: both(lineAs("port", "picc"), namesLine("Device/picc"), func(w *world) { w.kase.Access[1].TipConfirmed = false })},
	{rule: "access-tip-unconfirmed-other", name: "the tip of another line", want: Pass, change: both(lineAs("picc", "port"), namesLine("Device/port"), func(w *world) { w.kase.Access[0].TipConfirmed = false })},
	{rule: "access-tip-unconfirmed-other", name: "it names a midline beside a PICC", want: NotApplicable, change: both(lineAs("picc", "midline"), namesLine("Device/midline"), func(w *world) { w.kase.Access[0].TipConfirmed = false })},
	{rule: "access-tip-unconfirmed-other", name: "a central line of a kind that nobody states", want: Found, says: "no record", change: both(lineAs("central"), tipOpenAs(""))},
	{rule: "access-tip-unconfirmed-other", name: "a dialysis catheter", want: Found, says: "no record", change: both(lineAs("dialysis"), tipOpenAs(""))},
	{rule: "access-tip-unconfirmed-other", name: "a tunnelled line of a known bore", want: Found, change: both(lineAs("tunnelled-small"), tipOpenAs(""))},
	{rule: "access-tip-unconfirmed-other", name: "a line that gives no blood", want: Found, says: "no blood return", change: both(tipOpenAs("no blood return at the last look"), func(w *world) { w.kase.Access[0].BloodReturn = "absent" })},
	{rule: "access-tip-unconfirmed-other", name: "no row", want: Found, change: both(tipOpenAs(""), func(w *world) { w.unlisted = true })},
	{rule: "access-tip-unconfirmed-other", name: "confirmed a day before it was placed", want: Found, change: tipSeen("2026-11-05T12:00Z")},
}

func TestLineRules(t *testing.T) { judged(t, lineFixtures) }

// The gate of the fact lowers the rule's, and several reasons are one finding
// with the gravest of them.
func TestOneLineIsOneFinding(t *testing.T) {
	x := onlyFinding(t, "access-unsuitable", both(weakVesicant, lineAs("midline"), runsFor("61"), osmolar("300")))
	assert.Equal(t, finding.Warn, x.AtMost)
	x = onlyFinding(t, "access-unsuitable", both(weakVesicant, flagFact(compendium.CentralLine, compendium.Memory, ""), lineAs("midline"), runsFor("61"), osmolar("901")))
	assert.Empty(t, x.AtMost)
	assert.Empty(t, x.Standing, "what is reckoned rests on no table that is recalled")
	assert.Contains(t, x.Observed, "marked for a central line only; cefazolin, a vesicant, runs 1 hour 1 minute; 901 mOsm per L in a peripheral vein")
	assert.Contains(t, x.Expected, "nursing standard 600 mOsm per L, nutrition society 900 mOsm per L")
	x = onlyFinding(t, "access-unsuitable", both(flagFact(compendium.CentralLine, compendium.Memory, ""), lineAs("midline"), osmolar("300")))
	assert.Equal(t, compendium.Memory, x.Standing)
}

// What is known of a part of the ingredients is a least: above the limit it is
// enough, below it nothing is known. Dextrose of 15 % is above the 10 % of the
// row of nutrition; 10 % is not.
func TestAPartMayBeEnough(t *testing.T) {
	w := base()
	both(nutritionRow, lineAs("midline"))(w)
	ask := func(least, dextrose string) Outcome {
		f := w.facts()
		if least != "" {
			f = f.With(LeastOsmolarity, settled(least, "mosm/L"))
		}
		if dextrose != "" {
			f = f.With(Dextrose, settled(dextrose, "g/mL"))
		}
		return Run([]Rule{ruleOf(t, "access-unsuitable")}, f, finding.Release)[0]
	}
	assert.Equal(t, Indeterminate, ask("900", "").Kind)
	assert.Equal(t, Indeterminate, ask("", "0.1").Kind)
	o := ask("901", "")
	require.Equal(t, Found, o.Kind)
	assert.Contains(t, o.Findings[0].Observed, "at least 901 mOsm per L")
	o = ask("800", "0.15")
	require.Equal(t, Found, o.Kind)
	assert.Contains(t, o.Findings[0].Observed, "dextrose 15 % in a peripheral vein")
	assert.Contains(t, o.Findings[0].Expected, "at most 10 %")
	assert.Equal(t, Found, ask("", "0.101").Kind)
}

// By the shipped tables: which drugs are for a central vein only, and which
// are vesicants, as the list of 2016 has them.
func TestWhichDrugsNeedACentralLine(t *testing.T) {
	flagged := map[string][]string{}
	for _, d := range compendium.Embedded().Drugs {
		for _, f := range d.Flags {
			if f.Flag == compendium.CentralLine || f.Flag == compendium.Vesicant {
				flagged[f.Flag] = append(flagged[f.Flag], d.Name)
			}
		}
	}
	assert.ElementsMatch(t, []string{"dobutamine", "epoprostenol", "fluorouracil", "treprostinil"}, flagged[compendium.CentralLine])
	assert.ElementsMatch(t, []string{"dobutamine", "acyclovir", "nafcillin"}, flagged[compendium.Vesicant])
	for _, name := range []string{"acyclovir", "nafcillin"} {
		d, _ := compendium.Embedded().Find(compendium.Named("", name))
		w := base()
		both(lineAs("midline"), runsFor("1440"), osmolar("300"))(w)
		w.drug, w.order.Drug.Name = d, name
		assert.Equal(t, Pass, Run([]Rule{ruleOf(t, "hazard-vesicant-access")}, w.facts(), finding.Release)[0].Kind, name)
		o := Run([]Rule{ruleOf(t, "access-unsuitable")}, w.facts(), finding.Release)[0]
		require.Len(t, o.Findings, 1, name)
		assert.Equal(t, finding.Warn, o.Findings[0].AtMost, name)
	}
}
