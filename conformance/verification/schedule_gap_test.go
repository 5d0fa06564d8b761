package verification

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/sig"
)

// drips is a drug that may not pause, in bags of 24 hours, whose last bag in
// hospital ran from 09 Nov 22:00 and which begins at home 10 Nov 22:00.
func drips(w *world) {
	flags(noPause)(w)
	withNumbers("duration", "24", "h", "interval", "24", "h")(w)
	w.plan.Duration, w.plan.Interval = 24*time.Hour, 24*time.Hour
	w.kase.Administrations[0].Start = instant("2026-11-09T22:00-05:00")
}

// stopsAt gives the last bag in hospital an end.
func stopsAt(end string) func(*world) {
	return both(drips, func(w *world) { w.kase.Administrations[0].End = instant(end) })
}

// stillRuns leaves it running, with a discharge or none.
func stillRuns(discharge string) func(*world) {
	return both(drips, func(w *world) {
		w.kase.Administrations[0].Status = "in-progress"
		if discharge != "" {
			w.plan.Discharge = day(discharge)
		}
	})
}

// beside is an order given around the infusion.
func beside(role, text string, change ...func(*order.Order)) func(*world) {
	return func(w *world) {
		r := order.Order{Role: role, Status: "active", Drug: order.Drug{Name: "thiamine", Concept: concept("Thiamine")}, Place: place("other"),
			Directions: []order.Direction{{Text: text}}, Lines: []order.Line{{Words: text, Kind: "dosage-text", Place: place("other.text")}}}
		for _, c := range change {
			c(&r)
		}
		w.kase.Related = append(w.kase.Related, r)
	}
}

// linked bases the other order on this one.
func linked(w *world) { w.order.Companions = []string{place("other").Expression} }

// said puts words into the order itself, read as the engine reads them.
func said(text string) func(*world) {
	return func(w *world) {
		l := order.Line{Words: text, Kind: "dosage-text", Place: place("text")}
		w.order.Lines, w.order.Readings = []order.Line{l}, sig.Read(l)
	}
}

var gapFixtures = []fixture{
	{rule: "schedule-running-gap", name: "a drug that bears a pause", want: Pass, change: both(drips, flags())},
	{rule: "schedule-running-gap", name: "given in doses", want: NotApplicable, change: flags(noPause)},
	{rule: "schedule-running-gap", name: "just under 12 hours and shorter than the interval is given in doses", want: NotApplicable, change: both(drips, withNumbers("duration", "719", "min"))},
	{rule: "schedule-running-gap", name: "the bag ends as the home infusion begins", want: Pass, change: drips},
	{rule: "schedule-running-gap", name: "ends as the home infusion begins", want: Pass, change: stopsAt("2026-11-10T22:00-05:00")},
	{rule: "schedule-running-gap", name: "ends a minute before", want: Found, says: "1 minute without cefazolin", change: stopsAt("2026-11-10T21:59-05:00")},
	{rule: "schedule-running-gap", name: "ends at 11:00, home at 22:00", want: Found, says: "11 hours without cefazolin", change: stopsAt("2026-11-10T11:00-05:00")},
	{rule: "schedule-running-gap", name: "ends after the home infusion begins", want: Pass, change: stopsAt("2026-11-10T23:00-05:00")},
	{rule: "schedule-running-gap", name: "still runs, discharge as the home infusion begins", want: Pass, change: stillRuns("2026-11-10T22:00-05:00")},
	{rule: "schedule-running-gap", name: "still runs, discharge three hours before", want: Found, says: "3 hours without", change: stillRuns("2026-11-10T19:00-05:00")},
	{rule: "schedule-running-gap", name: "still runs, nobody says until when", want: Indeterminate, missing: Discharge, change: stillRuns("")},
	{rule: "schedule-running-gap", name: "no dose in hospital on record", want: Indeterminate, missing: Discharge, change: both(drips, func(w *world) { w.kase.Administrations = nil })},
	{rule: "schedule-running-gap", name: "only a dose of another drug", want: Indeterminate, missing: Discharge, change: both(drips, func(w *world) { w.kase.Administrations[0].Drug = rxnorm("6922", "metronidazole") })},
	{rule: "schedule-running-gap", name: "a day without a time tells no end", want: Indeterminate, missing: Discharge, change: both(drips, func(w *world) { w.kase.Administrations[0].Start.DateOnly = true })},
	{rule: "schedule-running-gap", name: "never given before: nothing to bridge", want: Pass, change: both(drips, func(w *world) { w.kase.Administrations, w.order.PriorExposure = nil, "never" })},
	{rule: "schedule-running-gap", name: "no start at home", want: Indeterminate, missing: HomeDoses, change: both(drips, func(w *world) { w.plan.FirstHomeDose = time.Time{} })},
	{rule: "schedule-running-gap", name: "neither interval nor end: it runs on", want: Pass, change: both(drips, func(w *world) { delete(w.numbers, "interval") })},
	{rule: "schedule-running-gap", name: "bags of 23 hours every 24", want: Found, says: "1 hour without cefazolin each time", change: both(
		stopsAt("2026-11-10T22:00-05:00"), withNumbers("duration", "23", "h"))},
	{rule: "schedule-running-gap", name: "nobody can tell whether the flag holds", want: Indeterminate, missing: regimen("opioid exposure"), change: both(drips, unsure(noPause))},
	{rule: "schedule-running-gap", name: "a drug without a row", want: Indeterminate, missing: DrugRow, change: both(drips, unlisted)},

	{rule: "schedule-relation-missing", name: "nothing beside the infusion", want: Pass},
	{rule: "schedule-relation-missing", name: "scenario S6: before each bag", want: Found, says: "thiamine is ordered beside the infusion", change: both(linked, beside("premedication", "Thiamine 100 mg IV before each bag"))},
	{rule: "schedule-relation-missing", name: "30 minutes before", want: Pass, change: both(linked, beside("premedication", "25 mg 30 minutes before each infusion"))},
	{rule: "schedule-relation-missing", name: "30 to 60 min prior", want: Pass, change: both(linked, beside("premedication", "25 mg 30-60 min prior to infusion"))},
	{rule: "schedule-relation-missing", name: "one hour before", want: Pass, change: both(linked, beside("premedication", "20 mg one hour before the first dose"))},
	{rule: "schedule-relation-missing", name: "immediately before", want: Pass, change: both(linked, beside("premedication", "100 mg immediately before each bag"))},
	{rule: "schedule-relation-missing", name: "over 30 minutes is no relation", want: Found, change: both(linked, beside("premedication", "100 mg over 30 minutes before each bag"))},
	{rule: "schedule-relation-missing", name: "over 15 minutes, 30 minutes before", want: Pass, change: both(linked, beside("premedication", "100 mg over 15 minutes, 30 minutes before each bag"))},
	{rule: "schedule-relation-missing", name: "over 15 minutes 30 minutes before", want: Pass, change: both(linked, beside("premedication", "100 mg over 15 minutes 30 minutes before each bag"))},
	{rule: "schedule-relation-missing", name: "no words at all", want: Found, change: both(linked, beside("premedication", ""))},
	{rule: "schedule-relation-missing", name: "clock times of its own", want: Pass, change: both(linked, beside("premedication", "before each bag", func(r *order.Order) { r.Timing.TimesOfDay = []string{"17:30:00"} }))},
	{rule: "schedule-relation-missing", name: "stopped", want: Pass, change: both(linked, beside("premedication", "before each bag", func(r *order.Order) { r.Status = "stopped" }))},
	{rule: "schedule-relation-missing", name: "as needed", want: Pass, change: both(linked, beside("premedication", "before each bag", func(r *order.Order) { r.Directions[0].AsNeeded = true }))},
	{rule: "schedule-relation-missing", name: "of another infusion", want: Pass, change: beside("premedication", "before each bag", func(r *order.Order) { r.Basis = []string{"urn:uuid:order-2"} })},
	{rule: "schedule-relation-missing", name: "of no infusion by name: it may be this one's", want: Found, change: beside("premedication", "before each bag")},
	{rule: "schedule-relation-missing", name: "by mouth and based on this order", want: Found, change: both(linked, beside("oral", "2 g by mouth"))},
	{rule: "schedule-relation-missing", name: "by mouth and nothing to do with it", want: Pass, change: beside("oral", "100 mg daily")},
	{rule: "schedule-relation-missing", name: "by mouth and named by the drug's row", want: Found, change: both(beside("oral", "100 mg by mouth"), func(w *world) { w.drug.Companions = []compendium.Companion{{Names: []string{"thiamine"}}} })},
	{rule: "schedule-relation-missing", name: "a flush follows the line's protocol", want: Pass, change: both(linked, beside("flush", "10 mL before and after"))},
	{rule: "schedule-relation-missing", name: "in words of the order, without a time", want: Found, says: "pre-medication", change: said("Premedicate with acetaminophen 650 mg by mouth")},
	{rule: "schedule-relation-missing", name: "in words of the order, with a time", want: Pass, change: said("Premedicate with acetaminophen 650 mg by mouth 30 minutes before the infusion")},
}

func TestGapRules(t *testing.T) { judged(t, gapFixtures) }

func TestAGapSaysWhoDecides(t *testing.T) {
	w := base()
	stopsAt("2026-11-10T11:00-05:00")(w)
	o := Run([]Rule{ruleOf(t, "schedule-running-gap")}, w.facts(), "release")[0]
	require.Len(t, o.Findings, 1)
	assert.Contains(t, o.Findings[0].Expected, "running by Tue 10 Nov 2026 11:00 EST")
	assert.Contains(t, o.Findings[0].Remedy, "the prescriber says what bridges the time")
	assert.Equal(t, compendium.Memory, o.Findings[0].Standing)
}
