package verification

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/plan"
	"weir.example/weir/mapping/quantity"
)

var lotMade = day("2026-11-09T12:00-05:00")

// lotOf is one prepared lot that its record dates so long, in the way of the
// plan: kept so, in the category of its own record.
func lotOf(lasts time.Duration, storage, category string, more ...func(*plan.Use)) func(*world) {
	return func(w *world) {
		u := plan.Use{Lot: "L-1", Made: lotMade, Kind: compendium.Prepared, Storage: storage, Starts: []plan.Limit{{Of: plan.OfRecord, From: lotMade, Until: lotMade.Add(lasts)}},
			Keep: compendium.Keeping{Kind: compendium.Prepared, Container: "elastomeric", Diluent: "NS", Storage: storage, Concentration: q("20", "mg/mL")}}
		for _, f := range more {
			f(&u)
		}
		w.plan.Prepared = append(w.plan.Prepared, plan.Prepared{Lot: u.Lot, Units: 8, Completed: u.Made, Use: u})
		w.kase.Held.Prepared = append(w.kase.Held.Prepared, order.Batch{Units: 8, Lot: u.Lot, Storage: storage, Category: category, Place: place("dispense")})
	}
}

// until adds a limit that the plan worked out.
func until(of string, lasts time.Duration, standing string) func(*plan.Use) {
	return func(u *plan.Use) {
		u.Starts = append(u.Starts, plan.Limit{Of: of, From: u.Made, Until: u.Made.Add(lasts), Lasts: lasts, Source: "test table", Standing: standing})
	}
}

func lastingFor(hours, layer string) *compendium.Lasting {
	return &compendium.Lasting{Hours: quantity.MustNumber(hours), Layer: layer, Standing: compendium.Sourced, Source: "test table", Fact: "site formula, by J. Example"}
}

func byFormula(hours string) func(*plan.Use) {
	return func(u *plan.Use) { u.Formula = lastingFor(hours, compendium.ByFormula) }
}

func byData(hours string) func(*plan.Use) {
	return func(u *plan.Use) { u.Data = lastingFor(hours, compendium.ByData) }
}

func labelled(hours string) func(*plan.Use) {
	return func(u *plan.Use) { u.Label = lastingFor(hours, compendium.ByLabel) }
}

func useKind(k compendium.Kind) func(*plan.Use) { return func(u *plan.Use) { u.Kind = k } }
func noNumber(u *plan.Use)                      { u.Lot = "" }
func notMade(u *plan.Use)                       { u.Made = time.Time{} }

// labelOfBags: the table has a label of 48 hours in the refrigerator, in bags.
func labelOfBags(w *world) {
	w.drug.Facts = append(w.drug.Facts, compendium.Fact{ID: "9", Topic: "stability_diluted", Population: "all", Basis: "label", Standing: compendium.Memory, Source: "test label", Gates: true,
		Value: compendium.Value{Storage: "refrigerated", Duration: &compendium.Band{Value: "48", Unit: "h"}, Containers: []string{"bag"}}})
}

// toMake is a delivery whose units are still to be made, and that serves doses
// so long after it arrives. Of "" the plan has no limit.
func toMake(of string, lasts, asks time.Duration, more ...func(*plan.Use)) func(*world) {
	return func(w *world) {
		d := &w.plan.Deliveries[0]
		d.LastDose = d.Arrival.Add(asks)
		d.Use = plan.Use{Assumed: true, Made: d.Arrival.Add(-oneDay), Kind: compendium.Prepared, Storage: "refrigerated", Running: onBody}
		if of != "" {
			until(of, lasts, compendium.Sourced)(&d.Use)
		}
		for _, f := range more {
			f(&d.Use)
		}
	}
}

func siteMakes(category, method, components string) func(*world) {
	return func(w *world) {
		w.policy.Sterility.Category, w.policy.Sterility.Method, w.policy.Sterility.Components = category, method, components
	}
}

func pushedByHand(w *world) { w.plan.Deliveries[0].Use.Kind = compendium.SyringePush }

func noHomeDoses(w *world) { w.plan.HomeDoses = nil }

// dose is one dose as the plan lays it out, with its limits counted from the
// warm-up before the start, and how long one infusion takes.
func dose(running string, run, slowest time.Duration, ends ...plan.Limit) func(*world) {
	return func(w *world) {
		d := &w.plan.Deliveries[0]
		start := d.FirstDose
		w.plan.Duration, w.plan.RunTime, w.plan.LongestRun = run, run, slowest
		x := plan.DoseUse{Start: start}
		for _, l := range ends {
			l.From = start.Add(-l.Lasts + l.Until.Sub(start))
			x.Ends = append(x.Ends, l)
		}
		d.Use = plan.Use{Made: start.Add(-oneDay), Kind: compendium.Prepared, Storage: "refrigerated", Running: running, Doses: []plan.DoseUse{x}, NoData: len(ends) == 0}
		if len(ends) == 0 {
			d.Use.Says = []string{"made then, 1 of 1 doses would start too late", noDataSays + ": elastomeric, worn"}
		}
	}
}

// ending is a limit of so many hours that begins to count so long before the
// start of the first dose.
func ending(of string, lasts, before time.Duration) plan.Limit {
	start := base().plan.Deliveries[0].FirstDose
	return plan.Limit{Of: of, Until: start.Add(lasts - before), Lasts: lasts, Source: "test table", Standing: compendium.Sourced}
}

// additive is an order to add something, in words.
func additive(words string, basis ...string) func(*world) {
	return func(w *world) {
		w.kase.Related = append(w.kase.Related, order.Order{Role: "additive", Status: "active", Drug: order.Drug{Name: "multivitamin", Concept: concept("multivitamin for infusion")}, Basis: basis,
			Directions: []order.Direction{{Text: words}}, Place: place("additive")})
	}
}

const (
	days   = oneDay
	second = time.Second
	inUse  = plan.OfInUse
)

var stabilityFixtures = []fixture{
	// Row f2, limits of USP <797> of 2023 as Wis. Admin. Code Phar 15.37
	// restates them: Category 1 refrigerated 24 h; Category 2, aseptic, only
	// sterile components, refrigerated 10 d.
	{rule: "stability-category", name: "nothing is made and nothing to be made", want: NotApplicable},
	{rule: "stability-category", name: "no doses at home", want: Indeterminate, missing: HomeDoses, change: noHomeDoses},
	{rule: "stability-category", name: "at the limit of its row", want: Pass, change: lotOf(10*days, "refrigerated", "2", until(plan.OfSterility, 10*days, compendium.Sourced))},
	{rule: "stability-category", name: "beyond the limit of its row", want: Found, says: "240 hours 1 second", change: lotOf(10*days+second, "refrigerated", "2", until(plan.OfSterility, 10*days, compendium.Sourced))},
	{rule: "stability-category", name: "Category 1, whatever its parts", want: Pass, change: lotOf(oneDay, "refrigerated", "1")},
	{rule: "stability-category", name: "Category 1 for longer", want: Found, says: "24 hours 1 second", change: lotOf(oneDay+second, "refrigerated", "1")},
	{rule: "stability-category", name: "Category 1 at room temperature, 12 hours", want: Pass, change: lotOf(12*time.Hour, "room", "1")},
	{rule: "stability-category", name: "Category 1 at room temperature, longer", want: Found, says: "kept at room temperature", change: lotOf(12*time.Hour+second, "room", "1")},
	{rule: "stability-category", name: "Category 1 is never frozen", want: Found, says: "frozen", change: lotOf(oneDay, "frozen", "1")},
	{rule: "stability-category", name: "Category 2 however it is made", want: Pass, change: lotOf(4*days, "refrigerated", "2")},
	{rule: "stability-category", name: "Category 2 and longer than some of its rows", want: Indeterminate, missing: SterilityRow, change: lotOf(4*days+second, "refrigerated", "2")},
	{rule: "stability-category", name: "Category 2 and as long as the longest of its rows", want: Indeterminate, missing: SterilityRow, change: lotOf(60*days, "refrigerated", "2")},
	{rule: "stability-category", name: "Category 2 and longer than any of its rows", want: Found, says: "1,440 hours 1 second", change: lotOf(60*days+second, "refrigerated", "2")},
	{rule: "stability-category", name: "as the site makes it, at its limit", want: Pass, change: both(siteMakes("2", "aseptic", "sterile"), lotOf(10*days, "refrigerated", ""))},
	{rule: "stability-category", name: "as the site makes it, longer", want: Found, says: "240 hours 1 second", change: both(siteMakes("2", "aseptic", "sterile"), lotOf(10*days+second, "refrigerated", ""))},
	{rule: "stability-category", name: "its own record before the site's way", want: Found, change: both(siteMakes("2", "aseptic", "sterile"), lotOf(2*days, "refrigerated", "1"))},
	{rule: "stability-category", name: "two records without a number, one made in Category 1", want: Indeterminate, missing: SterilityRow, change: both(lotOf(2*days, "refrigerated", "1", noNumber), lotOf(2*days, "refrigerated", "2", noNumber))},
	{rule: "stability-category", name: "two records without a number, kept in two ways", want: Found, says: "frozen", change: both(lotOf(2*days, "frozen", "1", noNumber), lotOf(2*days, "refrigerated", "2", noNumber))},
	{rule: "stability-category", name: "no category at all", want: Indeterminate, missing: SterilityRow, change: lotOf(10*days, "refrigerated", "")},
	{rule: "stability-category", name: "longer than any category", want: Found, says: "2,880 hours 1 second", change: lotOf(120*days+second, "refrigerated", "")},
	{rule: "stability-category", name: "when it was made is not on record", want: Indeterminate, missing: Made, change: lotOf(days, "refrigerated", "1", notMade)},
	{rule: "stability-category", name: "how it is kept is not on record", want: Indeterminate, missing: Storage, change: lotOf(days, "", "1")},
	{rule: "stability-category", name: "a storage that no table knows", want: Indeterminate, missing: Storage, change: lotOf(days, "cellar", "1")},
	{rule: "stability-category", name: "mixed at home just before it runs", want: NotApplicable, change: lotOf(400*days, "room", "1", useKind(compendium.MixedAtUse))},
	{rule: "stability-category", name: "thawed, and not compounded", want: Pass, change: lotOf(30*days, "refrigerated", "1", useKind(compendium.Premix))},
	{rule: "stability-category", name: "to be made, and fresh enough on arrival", want: Pass, change: toMake(plan.OfSterility, oneDay, oneDay)},
	{rule: "stability-category", name: "to be made, and too old however fresh on arrival", want: Found, says: "24 hours 1 second", change: toMake(plan.OfSterility, oneDay, oneDay+second)},
	{rule: "stability-category", name: "to be made in no category that is told", want: Indeterminate, missing: SterilityRow, change: toMake("", 0, oneDay)},

	// Row f1: a signed formula before data before the label.
	{rule: "stability-beyond-label", name: "nothing is dated", want: NotApplicable},
	{rule: "stability-beyond-label", name: "as the label says", want: Pass, change: lotOf(48*time.Hour, "refrigerated", "2", labelled("48"), byFormula("240"))},
	{rule: "stability-beyond-label", name: "longer, on a signed formula", want: Found, says: "240 hours", change: lotOf(10*days, "refrigerated", "2", labelled("48"), byFormula("240"))},
	{rule: "stability-beyond-label", name: "longer than the formula too", want: Pass, change: lotOf(10*days+second, "refrigerated", "2", labelled("48"), byFormula("240"))},
	{rule: "stability-beyond-label", name: "no label, on a signed formula", want: Found, change: lotOf(10*days, "refrigerated", "2", byFormula("240"))},
	{rule: "stability-beyond-label", name: "another container's label, on a signed formula", want: Found, change: both(labelOfBags, lotOf(10*days, "refrigerated", "2", byFormula("240")))},
	{rule: "stability-beyond-label", name: "nothing tells how long it keeps", want: Indeterminate, missing: TableLimit, change: lotOf(10*days, "refrigerated", "2")},
	{rule: "stability-beyond-label", name: "when it was made is not on record", want: Indeterminate, missing: Made, change: lotOf(days, "refrigerated", "2", notMade, labelled("48"))},
	{rule: "stability-beyond-label", name: "the drug has no row", want: Indeterminate, missing: DrugRow, change: both(lotOf(days, "refrigerated", "2"), func(w *world) { w.unlisted = true })},

	{rule: "stability-beyond-label-unsupported", name: "nothing to date", want: NotApplicable},
	{rule: "stability-beyond-label-unsupported", name: "as the label says", want: Pass, change: lotOf(48*time.Hour, "refrigerated", "2", labelled("48"))},
	{rule: "stability-beyond-label-unsupported", name: "longer, and no formula", want: Found, says: "48 hours 1 second", change: lotOf(48*time.Hour+second, "refrigerated", "2", labelled("48"))},
	{rule: "stability-beyond-label-unsupported", name: "longer, with data and no formula", want: Found, change: lotOf(9*days, "refrigerated", "2", labelled("48"), byData("240"))},
	{rule: "stability-beyond-label-unsupported", name: "data alone, and no formula", want: Found, change: lotOf(9*days, "refrigerated", "2", byData("240"))},
	{rule: "stability-beyond-label-unsupported", name: "longer than data that are shorter than the label", want: Found, change: lotOf(48*time.Hour, "refrigerated", "2", labelled("240"), byData("24"))},
	{rule: "stability-beyond-label-unsupported", name: "on a signed formula", want: Pass, change: lotOf(10*days, "refrigerated", "2", labelled("48"), byFormula("240"))},
	{rule: "stability-beyond-label-unsupported", name: "longer than the signed formula", want: Found, says: "240 hours 1 second", change: lotOf(10*days+second, "refrigerated", "2", labelled("48"), byFormula("240"))},
	{rule: "stability-beyond-label-unsupported", name: "a formula shorter than the label counts", want: Found, change: lotOf(2*days, "refrigerated", "2", labelled("240"), byFormula("24"))},
	{rule: "stability-beyond-label-unsupported", name: "longer than the label of another container", want: Found, says: "48 hours 1 second", change: both(labelOfBags, lotOf(48*time.Hour+second, "refrigerated", "2"))},
	{rule: "stability-beyond-label-unsupported", name: "within the label of another container", want: Indeterminate, missing: TableLimit, change: both(labelOfBags, lotOf(48*time.Hour, "refrigerated", "2"))},
	{rule: "stability-beyond-label-unsupported", name: "how it is kept is not on record", want: Indeterminate, missing: Storage, change: lotOf(days, "", "2")},
	{rule: "stability-beyond-label-unsupported", name: "to be made, and fresh enough on arrival", want: Pass, change: toMake(plan.OfStability, 48*time.Hour, 48*time.Hour)},
	{rule: "stability-beyond-label-unsupported", name: "to be made, and longer than it keeps however fresh", want: Found, change: toMake(plan.OfStability, 48*time.Hour, 48*time.Hour+second)},
	{rule: "stability-beyond-label-unsupported", name: "to be made, without data", want: Indeterminate, missing: TableLimit, change: toMake("", 0, oneDay)},

	// Row f3: 3 h of warm-up and 9 h of run are 12.
	{rule: "stability-run-time", name: "warm-up and run at the limit", want: Pass, change: dose(onBody, 9*time.Hour, 9*time.Hour, ending(inUse, 12*time.Hour, 3*time.Hour))},
	{rule: "stability-run-time", name: "longer", want: Found, says: "9 hours 1 second", change: dose(onBody, 9*time.Hour+second, 9*time.Hour+second, ending(inUse, 12*time.Hour, 3*time.Hour))},
	{rule: "stability-run-time", name: "fluorouracil for 46 hours, 54 at the slowest, keeps 72", want: Pass, change: dose(onBody, 46*time.Hour, 54*time.Hour, ending(inUse, 72*time.Hour, 0))},
	{rule: "stability-run-time", name: "at the slow end of the tolerance alone", want: Found, says: "at the slowest 54 hours", change: dose(onBody, 46*time.Hour, 54*time.Hour, ending(inUse, 54*time.Hour-second, 0))},
	{rule: "stability-run-time", name: "in a room, longer than it keeps there", want: Found, change: dose("room", 13*time.Hour, 13*time.Hour, ending(inUse, 12*time.Hour, 0))},
	{rule: "stability-run-time", name: "longer than a container may hang", want: Found, change: dose(onBody, 25*time.Hour, 25*time.Hour, ending(plan.OfHang, 24*time.Hour, 0))},
	{rule: "stability-run-time", name: "not yet made: its storage takes nothing of the run", want: Pass, change: both(dose("room", 10*time.Hour, 10*time.Hour, ending(inUse, 12*time.Hour, oneDay)), func(w *world) { w.plan.Deliveries[0].Use.Assumed = true })},
	{rule: "stability-run-time", name: "made: its storage comes out of the same time", want: Found, change: dose("room", 10*time.Hour, 10*time.Hour, ending(inUse, 30*time.Hour, oneDay))},
	{rule: "stability-run-time", name: "no data", want: Indeterminate, missing: TableLimit, change: dose(onBody, 30*time.Minute, 30*time.Minute)},
	{rule: "stability-run-time", name: "the device is not known", want: Indeterminate, missing: Warmth, change: dose("", 30*time.Minute, 30*time.Minute)},
	{rule: "stability-run-time", name: "a push has no device", want: Indeterminate, missing: TableLimit, change: both(dose("", 5*time.Minute, 5*time.Minute), pushedByHand)},
	{rule: "stability-run-time", name: "how long it runs is not known", want: Indeterminate, missing: RunTime, change: dose(onBody, 0, 0, ending(inUse, 12*time.Hour, 0))},
	{rule: "stability-run-time", name: "no doses at home", want: Indeterminate, missing: HomeDoses, change: noHomeDoses},
	{rule: "stability-run-time", name: "nothing is left to date", want: Indeterminate, missing: Dating},

	// 2 hours part the note from the warning.
	{rule: "stability-no-data", name: "a short run", want: Found, says: "2 hours near the body", change: dose(onBody, 2*time.Hour, 3*time.Hour)},
	{rule: "stability-no-data", name: "a longer run is the other rule's", want: Pass, change: dose(onBody, 2*time.Hour+second, 3*time.Hour)},
	{rule: "stability-no-data", name: "data", want: Pass, change: dose(onBody, 2*time.Hour, 2*time.Hour, ending(inUse, 12*time.Hour, 0))},
	{rule: "stability-no-data", name: "how long it may hang is a limit too", want: Pass, change: dose(onBody, 2*time.Hour, 2*time.Hour, ending(plan.OfHang, 12*time.Hour, 0))},
	{rule: "stability-no-data", name: "a push has no device", want: NotApplicable, change: both(dose("", 5*time.Minute, 5*time.Minute), pushedByHand)},
	{rule: "stability-no-data", name: "not worn", want: NotApplicable, change: dose("room", 2*time.Hour, 2*time.Hour)},
	{rule: "stability-no-data", name: "the device is not known", want: Indeterminate, missing: Warmth, change: dose("", 30*time.Minute, 30*time.Minute)},
	{rule: "stability-no-data", name: "how long it runs is not known", want: Indeterminate, missing: RunTime, change: dose(onBody, 0, 0)},
	{rule: "stability-no-data-long", name: "a short run is the other rule's", want: Pass, change: dose(onBody, 2*time.Hour, 3*time.Hour)},
	{rule: "stability-no-data-long", name: "a long run", want: Found, says: "2 hours 1 second near the body", change: dose(onBody, 2*time.Hour+second, 3*time.Hour)},
	{rule: "stability-no-data-long", name: "data", want: Pass, change: dose(onBody, oneDay, oneDay, ending(inUse, oneDay, 0))},
	{rule: "stability-no-data-long", name: "not worn", want: NotApplicable, change: dose("room", oneDay, oneDay)},
	{rule: "stability-no-data-long", name: "no doses at home", want: Indeterminate, missing: HomeDoses, change: noHomeDoses},

	// Row f7.
	{rule: "stability-home-additive", name: "nothing is added", want: NotApplicable},
	{rule: "stability-home-additive", name: "by the pharmacy", want: Pass, change: additive("Added to each bag by the pharmacy and dated there")},
	{rule: "stability-home-additive", name: "at home", want: Found, says: "multivitamin for infusion is added at home", change: additive("Add 10 mL to each bag at home just before hanging")},
	{rule: "stability-home-additive", name: "nobody says where", want: Found, says: "nothing says that the pharmacy does it", change: additive("10 mL to each bag")},
	{rule: "stability-home-additive", name: "not by the pharmacy", want: Found, change: additive("Not added by the pharmacy")},
	{rule: "stability-home-additive", name: "for another infusion", want: NotApplicable, change: additive("Add 10 mL at home", "MedicationRequest/other")},
	{rule: "stability-home-additive", name: "the additive is stopped", want: NotApplicable, change: both(additive("Add 10 mL at home"), func(w *world) { w.kase.Related[1].Status = "stopped" })},
	{rule: "stability-home-additive", name: "in the words of the order", want: Found, says: "something is added at home", change: func(w *world) {
		w.order.Lines = []order.Line{{Words: "Infuse nightly; add 10 mL multivitamin just before use", Place: place("text")}}
	}},
	{rule: "stability-home-additive", name: "words that forbid it", want: NotApplicable, change: func(w *world) {
		w.order.Lines = []order.Line{{Words: "Never add anything at home", Place: place("text")}}
	}},
}

func TestStabilityRules(t *testing.T) { judged(t, stabilityFixtures) }

func onlyFinding(t *testing.T, code finding.Code, change func(*world)) finding.Finding {
	w := base()
	change(w)
	o := Run([]Rule{ruleOf(t, code)}, w.facts(), finding.Release)[0]
	require.Len(t, o.Findings, 1, "%+v", o)
	return o.Findings[0]
}

// A number that was seen in one weak source holds and does not block, and so
// does what only the slow end of a tolerance passes.
func TestWhatRestsOnWeakGroundDoesNotBlock(t *testing.T) {
	assert.Equal(t, finding.Hold, onlyFinding(t, "stability-category", lotOf(60*days+second, "refrigerated", "2")).AtMost)
	assert.Empty(t, onlyFinding(t, "stability-category", lotOf(oneDay+second, "refrigerated", "1")).AtMost)
	slow := dose(onBody, 46*time.Hour, 54*time.Hour, ending(inUse, 50*time.Hour, 0))
	assert.Equal(t, finding.Warn, onlyFinding(t, "stability-run-time", slow).AtMost)
	assert.Empty(t, onlyFinding(t, "stability-run-time", dose(onBody, 51*time.Hour, 54*time.Hour, ending(inUse, 50*time.Hour, 0))).AtMost)
}

// The place is that of the lot, and the words name what counts.
func TestADatingNamesItsLotAndWhatItRestsOn(t *testing.T) {
	x := onlyFinding(t, "stability-beyond-label", lotOf(10*days, "refrigerated", "2", labelled("48"), byFormula("240")))
	assert.Equal(t, place("dispense"), x.Place)
	assert.Contains(t, x.Expected, "48 hours (test table); the signed formula 240 hours (site formula, by J. Example; test table)")
	x = onlyFinding(t, "stability-beyond-label-unsupported", lotOf(9*days, "refrigerated", "2", labelled("48"), byData("240")))
	assert.Contains(t, x.Expected, "data for this container and strength 240 hours (test table), and no formula is signed")
	x = onlyFinding(t, "stability-home-additive", both(additive("Add 10 mL at home"), dose(onBody, 12*time.Hour, 12*time.Hour, ending(plan.OfHang, 24*time.Hour, 0))))
	assert.Contains(t, x.Expected, "within 24 hours of hanging (test table)")
}
