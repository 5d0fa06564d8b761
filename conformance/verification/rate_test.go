package verification

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/conformance/arithmetic"
	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

const (
	rateRule = "rate-above-maximum"
	edgeRule = "rate-fast-edge"
)

// figures states the numbers of the order, name, value and unit each, works
// out the others as the engine does, and takes away the device. A value
// "low to high" is a range.
func figures(list ...string) func(*world) {
	return func(w *world) {
		w.order.Stated, w.order.Device = nil, order.InfusionDevice{}
		for i := 0; i < len(list); i += 3 {
			s := order.Stated{Name: list[i], Literal: list[i+1], Witness: order.Coded, Place: place("stated." + list[i])}
			var low, high string
			if n, _ := splitRange(list[i+1]); n != nil {
				low, high = n[0], n[1]
				s.Quantity = quantity.Range(quantity.MustNumber(low), quantity.MustNumber(high), quantity.MustUnit(list[i+2]))
				s.Literal = ""
			} else {
				s.Quantity = q(list[i+1], list[i+2])
			}
			if list[i] == "dosingWeight" {
				s.Witness = order.Record
			}
			w.order.Stated = append(w.order.Stated, s)
		}
		w.agreement = arithmetic.Reconcile(w.order.Stated, arithmetic.Usual{})
		w.numbers = w.agreement.Quantities
	}
}

func splitRange(s string) ([]string, bool) {
	for i := 0; i+4 <= len(s); i++ {
		if s[i:i+4] == " to " {
			return []string{s[:i], s[i+4:]}, true
		}
	}
	return nil, false
}

// limitedBy is the row with only these facts.
func limitedBy(list ...compendium.Fact) func(*world) {
	return func(w *world) {
		w.drug.Facts = nil
		for i, f := range list {
			f.ID = "limit-" + string(rune('a'+i))
			w.drug.Facts = append(w.drug.Facts, f)
		}
	}
}

func mostOf(topic, value, unit string) compendium.Fact {
	return fact("", topic, "adult", compendium.Value{Band: band(value, "", "", unit)})
}

func rateMost(value, unit string) compendium.Fact { return mostOf("infusion_rate_max", value, unit) }

// lowered is the fact with a gate of its own.
func lowered(gate string, f compendium.Fact) compendium.Fact { f.Gate = gate; return f }

func recalled(f compendium.Fact) compendium.Fact { f.Standing = compendium.Memory; return f }

// loosenedTo is the fact with a site's number in its place.
func loosenedTo(value string, f compendium.Fact) compendium.Fact {
	f.Override = &compendium.Local{By: "a pharmacist", On: "2026-01-02", Gated: true, Was: f.Value.Band}
	f.Value.Band.Value = band(value, "", "", "").Value
	return f
}

func elastomeric(nominal string) func(*world) {
	return func(w *world) {
		w.order.Device = order.InfusionDevice{Kind: "elastomeric", Place: place("device")}
		if nominal != "" {
			w.order.Device.Parameters = []order.Stated{stated("nominalRate", nominal, "mL/h", order.Device)}
		}
	}
}

func byPump(w *world) {
	w.order.Device = order.InfusionDevice{Kind: "electronic-pump", Place: place("device")}
}

// ten is vancomycin's limit of the rate (label).
var ten = rateMost("10", "mg/min")

// vanc is 1,250 mg in 250 mL over so many minutes (scenario S2).
func vanc(minutes string, more ...string) func(*world) {
	return figures(append([]string{"dose", "1250", "mg", "volume", "250", "mL", "duration", minutes, "min"}, more...)...)
}

var rateFixtures = []fixture{
	{rule: rateRule, name: "S2: 60 minutes for 1,250 mg", want: Found, says: "20.83 mg per minute", change: both(limitedBy(ten), vanc("60"))},
	{rule: rateRule, name: "one minute too fast", want: Found, says: "10.08 mg per minute", change: both(limitedBy(ten), vanc("124"))},
	{rule: rateRule, name: "just at the limit", want: Pass, change: both(limitedBy(ten), vanc("125"))},
	{rule: rateRule, name: "no limit in the table", want: Indeterminate, missing: TableLimit, change: both(limitedBy(), vanc("60"))},
	{rule: rateRule, name: "a limit in words only", want: Indeterminate, missing: TableLimit, change: both(limitedBy(fact("", "infusion_rate_max", "all", compendium.Value{Text: "slowly"})), vanc("60"))},
	{rule: rateRule, name: "no number tells the rate", want: Indeterminate, missing: Rate, change: both(limitedBy(ten), figures("dose", "1250", "mg"))},
	{rule: rateRule, name: "a rate without a strength", want: Indeterminate, missing: Concentration, change: both(limitedBy(ten), figures("rate", "250", "mL/h"))},
	{rule: rateRule, name: "strength and rate, too fast", want: Found, says: "10.08", change: both(limitedBy(ten), figures("concentration", "5", "mg/mL", "rate", "121", "mL/h"))},
	{rule: rateRule, name: "strength and rate", want: Pass, change: both(limitedBy(ten), figures("concentration", "5", "mg/mL", "rate", "120", "mL/h"))},
	{rule: rateRule, name: "the rate is faster than the time, within what a printed time permits", want: Found, says: "130 mL per hour", change: both(limitedBy(ten), vanc("125", "rate", "130", "mL/h"))},
	{rule: rateRule, name: "the rate is the rounded quotient", want: Pass, change: both(limitedBy(ten), figures("dose", "1050", "mg", "volume", "250", "mL", "duration", "105", "min", "rate", "143", "mL/h"))},
	{rule: rateRule, name: "numbers in dispute count as they are written, the farthest is told", want: Found, says: "100 mg per minute", change: both(limitedBy(ten), vanc("120", "rate", "1200", "mL/h"))},
	{rule: rateRule, name: "numbers in dispute, each of them slow", want: Indeterminate, missing: Rate, change: both(limitedBy(ten), vanc("125", "rate", "12", "mL/h"))},
	{rule: rateRule, name: "a range of rates that ends at the limit", want: Pass, change: both(limitedBy(ten), figures("concentration", "5", "mg/mL", "rate", "60 to 120", "mL/h"))},
	{rule: rateRule, name: "a range of rates that goes above: its middle is set", want: Pass, change: both(limitedBy(ten), figures("concentration", "5", "mg/mL", "rate", "119 to 121", "mL/h"))},
	{rule: rateRule, name: "a range of rates with its middle above", want: Found, change: both(limitedBy(ten), figures("concentration", "5", "mg/mL", "rate", "119 to 122", "mL/h"))},
	{rule: rateRule, name: "a range of times with its middle too short", want: Found, says: "1,250 mg in 120 minutes", change: both(limitedBy(ten), vanc("90 to 150"))},
	{rule: rateRule, name: "a range of doses counts at its high end", want: Found, says: "1,250 mg", change: both(limitedBy(ten), figures("dose", "1000 to 1250", "mg", "duration", "120", "min"))},
	{rule: edgeRule, name: "a range of rates that goes above", want: Found, says: "10.08", change: both(limitedBy(ten), figures("concentration", "5", "mg/mL", "rate", "60 to 121", "mL/h"), byPump)},
	{rule: edgeRule, name: "a range of rates that ends at the limit", want: Pass, change: both(limitedBy(ten), figures("concentration", "5", "mg/mL", "rate", "60 to 120", "mL/h"), byPump)},
	{rule: edgeRule, name: "a range of times that begins too short", want: Found, says: "1,250 mg in 120 minutes", change: both(limitedBy(ten), vanc("120 to 180"), byPump)},
	{rule: edgeRule, name: "a range of times that begins long enough", want: Pass, change: both(limitedBy(ten), vanc("125 to 180"), byPump)},
	{rule: edgeRule, name: "a range that is too fast in its middle is the other rule's", want: Pass, change: both(limitedBy(ten), vanc("60 to 120"), byPump)},
	{rule: edgeRule, name: "a range of times that begins below a least time", want: Found, says: "30 minutes", change: both(limitedBy(sixty), minutes("30 to 90"), byPump)},
	{rule: edgeRule, name: "a range of times that begins at it", want: Indeterminate, missing: TableLimit, change: both(limitedBy(sixty), minutes("60 to 90"), byPump)},
	{rule: rateRule, name: "the nominal rate of the device is too fast", want: Found, says: "nominal", change: both(limitedBy(ten), vanc("125"), elastomeric("121"))},
	{rule: rateRule, name: "the nominal rate of the device", want: Pass, change: both(limitedBy(ten), vanc("125"), elastomeric("120"))},
	{rule: rateRule, name: "a pump has no nominal rate", want: Pass, change: both(limitedBy(ten), vanc("125"), elastomeric("250"), func(w *world) { w.order.Device.Kind = "electronic-pump" })},
	{rule: rateRule, name: "a step goes above", want: Found, says: "step", change: both(limitedBy(rateMost("240", "mL/h")), figures("volume", "500", "mL"), stepping("30", "30", "241", ""))},
	{rule: rateRule, name: "every step is below", want: Pass, change: both(limitedBy(rateMost("240", "mL/h")), figures("volume", "500", "mL"), stepping("30", "30", "240", ""))},
	{rule: rateRule, name: "a step in words goes above", want: Found, says: "in words", change: both(limitedBy(rateMost("240", "mL/h")), figures("volume", "500", "mL"), worded2("30", "241"))},
	{rule: rateRule, name: "every step in words is below", want: Pass, change: both(limitedBy(rateMost("240", "mL/h")), figures("volume", "500", "mL"), worded2("30", "240"))},
	{rule: rateRule, name: "a flow (sodium chloride at home)", want: Found, change: both(limitedBy(rateMost("250", "mL/h")), figures("rate", "251", "mL/h"))},
	{rule: rateRule, name: "a flow at the limit", want: Pass, change: both(limitedBy(rateMost("250", "mL/h")), figures("rate", "250", "mL/h"))},
	{rule: rateRule, name: "a limit of the flow, and only a drug rate", want: Indeterminate, missing: Rate, change: both(limitedBy(rateMost("250", "mL/h")), figures("drugRate", "5", "mg/h"))},
	// By weight: a dose is rounded to what can be drawn up; a rate by weight is not.
	{rule: rateRule, name: "a drip by weight above its limit", want: Found, change: both(limitedBy(rateMost("0.75", "ug/kg/min")), figures("drugRatePerKg", "0.76", "ug/kg/min", "dosingWeight", "70", "kg"))},
	{rule: rateRule, name: "a drip by weight at its limit", want: Pass, change: both(limitedBy(rateMost("0.75", "ug/kg/min")), figures("drugRatePerKg", "0.75", "ug/kg/min", "dosingWeight", "70", "kg"))},
	{rule: rateRule, name: "a limit by weight and a rounded dose, 5 % above", want: Pass, change: both(limitedBy(rateMost("3", "mg/kg/h")), figures("dose", "441", "mg", "duration", "2", "h", "dosingWeight", "70", "kg"))},
	{rule: rateRule, name: "a limit by weight and more than rounding", want: Found, change: both(limitedBy(rateMost("3", "mg/kg/h")), figures("dose", "442", "mg", "duration", "2", "h", "dosingWeight", "70", "kg"))},
	{rule: rateRule, name: "a limit by weight, and no weight", want: Indeterminate, missing: Weight, change: both(limitedBy(rateMost("3", "mg/kg/h")), figures("dose", "420", "mg", "duration", "2", "h"))},
	{rule: rateRule, name: "a drip by weight against a fixed limit", want: Found, change: both(limitedBy(rateMost("3", "mg/h")), figures("drugRatePerKg", "0.75", "ug/kg/min", "dosingWeight", "70", "kg"))},
	{rule: rateRule, name: "the same below it", want: Pass, change: both(limitedBy(rateMost("3.2", "mg/h")), figures("drugRatePerKg", "0.75", "ug/kg/min", "dosingWeight", "70", "kg"))},
	{rule: rateRule, name: "the same without a weight", want: Indeterminate, missing: Weight, change: both(limitedBy(rateMost("3", "mg/h")), figures("drugRatePerKg", "0.75", "ug/kg/min"))},
	// Potassium: a milliequivalent is a millimole.
	{rule: rateRule, name: "potassium in mmol above its limit", want: Found, change: both(limitedBy(rateMost("10", "meq/h")), figures("dose", "41", "mmol", "duration", "4", "h"), potassium)},
	{rule: rateRule, name: "potassium in mmol at its limit", want: Pass, change: both(limitedBy(rateMost("10", "meq/h")), figures("dose", "40", "mmol", "duration", "4", "h"), potassium)},
	{rule: rateRule, name: "calcium has two charges", want: Indeterminate, missing: TableLimit, change: both(limitedBy(rateMost("10", "meq/h")), figures("dose", "41", "mmol", "duration", "4", "h"))},
	{rule: rateRule, name: "potassium by mass is not compared", want: Indeterminate, missing: TableLimit, change: both(limitedBy(rateMost("10", "meq/h")), figures("dose", "3", "g", "duration", "4", "h"), potassium)},
	// The label's own time of a dose, where its rate is rounded: 100 mg in 90 minutes.
	{rule: rateRule, name: "in the label's own time", want: Pass, change: both(limitedBy(rateMost("1.1", "mg/min"), ninety), figures("dose", "100", "mg", "duration", "90", "min"))},
	{rule: rateRule, name: "faster than the label's own time", want: Found, change: both(limitedBy(rateMost("1.1", "mg/min"), ninety), figures("dose", "100", "mg", "duration", "89", "min"))},
	{rule: rateRule, name: "another dose has no time of its own", want: Found, change: both(limitedBy(rateMost("1.1", "mg/min"), ninety), figures("dose", "50", "mg", "duration", "45", "min"))},
	// The dose of one hour (clindamycin: 1,200 mg).
	{rule: rateRule, name: "900 mg in half an hour are 900 mg in an hour", want: Pass, change: both(limitedBy(rateMost("30", "mg/min"), mostOf("max_dose_per_hour", "1200", "mg/h")), figures("dose", "900", "mg", "duration", "30", "min"))},
	{rule: rateRule, name: "1,300 mg in 50 minutes", want: Found, says: "1,300", change: both(limitedBy(rateMost("30", "mg/min"), mostOf("max_dose_per_hour", "1200", "mg/h")), figures("dose", "1300", "mg", "duration", "50", "min"))},
	{rule: rateRule, name: "1,300 mg in 65 minutes", want: Pass, change: both(limitedBy(rateMost("30", "mg/min"), mostOf("max_dose_per_hour", "1200", "mg/h")), figures("dose", "1300", "mg", "duration", "65", "min"))},
	// Regimens and populations.
	{rule: rateRule, name: "a limit of infusions, and nobody says push or infusion", want: Indeterminate, missing: Method, change: both(limitedBy(keyed(rateMost("4", "mg/min"), compendium.Applies{Method: "infusion"})), figures("dose", "40", "mg", "duration", "5", "min"))},
	{rule: rateRule, name: "the same for a pump", want: Found, change: both(limitedBy(keyed(rateMost("4", "mg/min"), compendium.Applies{Method: "infusion"})), figures("dose", "40", "mg", "duration", "5", "min"), byPump)},
	{rule: rateRule, name: "the same for a push", want: Indeterminate, missing: TableLimit, change: both(limitedBy(keyed(rateMost("4", "mg/min"), compendium.Applies{Method: "infusion"})), figures("dose", "40", "mg", "duration", "5", "min"), push)},
	{rule: rateRule, name: "a limit of one route, and another route", want: Indeterminate, missing: Route, change: both(limitedBy(keyed(ten, compendium.Applies{Route: "intravenous"})), vanc("60"), func(w *world) { w.order.Route = concept("by the line") })},
	{rule: rateRule, name: "a child above an adult's limit", want: Found, change: both(child, limitedBy(ten), vanc("60"))},
	{rule: rateRule, name: "a child below an adult's limit only", want: Indeterminate, missing: TableLimit, change: both(child, limitedBy(ten), vanc("125"))},
	{rule: rateRule, name: "a child below a limit of its own", want: Pass, change: both(child, limitedBy(of("pediatric", rateMost("15", "mg/kg/h"))), figures("dose", "240", "mg", "duration", "1", "h", "dosingWeight", "16", "kg"))},

	{rule: edgeRule, name: "S2 by a device of 120 mL per hour", want: Found, says: "11.5 mg per minute", change: both(limitedBy(ten), vanc("125"), elastomeric("120"))},
	{rule: edgeRule, name: "by one of 105", want: Found, says: "10.06", change: both(limitedBy(ten), vanc("143"), elastomeric("105"))},
	{rule: edgeRule, name: "by one of 104", want: Pass, change: both(limitedBy(ten), vanc("145"), elastomeric("104"))},
	{rule: edgeRule, name: "too fast at the nominal rate is the other rule's", want: Pass, change: both(limitedBy(ten), vanc("60"), elastomeric("250"))},
	{rule: edgeRule, name: "a tolerance of the device itself", want: Pass, change: both(limitedBy(ten), vanc("150"), elastomeric("100"), func(w *world) {
		w.order.Device.Parameters = append(w.order.Device.Parameters, stated("rateTolerance", "20", "%", order.Device))
	})},
	{rule: edgeRule, name: "a wider one", want: Found, change: both(limitedBy(ten), vanc("150"), elastomeric("100"), func(w *world) {
		w.order.Device.Parameters = append(w.order.Device.Parameters, stated("rateTolerance", "21", "%", order.Device))
	})},
	{rule: edgeRule, name: "a pump", want: NotApplicable, change: both(limitedBy(ten), vanc("125"), byPump)},
	{rule: edgeRule, name: "no nominal rate", want: Indeterminate, missing: Nominal, change: both(limitedBy(ten), vanc("125"), elastomeric(""))},
	{rule: edgeRule, name: "no strength", want: Indeterminate, missing: Concentration, change: both(limitedBy(ten), figures("duration", "125", "min"), elastomeric("120"))},
	{rule: edgeRule, name: "no limit in the table", want: Indeterminate, missing: TableLimit, change: both(limitedBy(), vanc("125"), elastomeric("120"))},
}

// ninety is the least time of 100 mg (anidulafungin).
var ninety = keyed(fact("", "infusion_duration_min", "adult", compendium.Value{Band: band("90", "", "", "min")}), compendium.Applies{Dose: bandOf("100", "100", "mg")})

func bandOf(low, high, unit string) *compendium.Band { b := band("", low, high, unit); return &b }

func potassium(w *world) { w.drug.Name = "potassium chloride" }

func push(w *world) {
	w.order.Directions = []order.Direction{{Text: "give by slow IV push", Place: place("dosageInstruction[0]")}}
}

// stepping gives rates in mL/h with minutes; "" for until empty.
func stepping(list ...string) func(*world) {
	return func(w *world) {
		for i := 0; i < len(list); i += 2 {
			r := stated("rate", list[i], "mL/h", order.Coded)
			s := order.Step{Number: i/2 + 1, Rate: &r, Place: place("step")}
			if list[i+1] != "" {
				d := stated("duration", list[i+1], "min", order.Coded)
				s.Duration = &d
			}
			w.order.Steps = append(w.order.Steps, s)
		}
	}
}

func TestRateRules(t *testing.T) { judged(t, rateFixtures) }

// ask runs one rule on a world.
func ask(t *testing.T, code finding.Code, changes ...func(*world)) Outcome {
	t.Helper()
	w := base()
	both(changes...)(w)
	return Run([]Rule{ruleOf(t, code)}, w.facts(), "release")[0]
}

// The gravest limit wins: one that only holds does not stand before the one
// that blocks, whichever is the less, and a recalled one not before one of
// the label.
func TestTheGravestLimitWins(t *testing.T) {
	hold, block := lowered("hold", rateMost("20", "mg/min")), rateMost("40", "mg/min")
	for minutes, want := range map[string]finding.Gate{"63": "none", "62": finding.Hold, "32": finding.Hold, "31": finding.NoGate} {
		o := ask(t, rateRule, limitedBy(hold, block), figures("dose", "1250", "mg", "duration", minutes, "min"))
		if want == "none" {
			assert.Empty(t, o.Findings, minutes)
			continue
		}
		require.Len(t, o.Findings, 1, minutes)
		assert.Equal(t, want, o.Findings[0].AtMost, minutes)
	}
	o := ask(t, rateRule, limitedBy(recalled(rateMost("5", "mg/min")), ten), vanc("60"))
	require.Len(t, o.Findings, 1)
	assert.Equal(t, compendium.Sourced, o.Findings[0].Standing)
	o = ask(t, rateRule, limitedBy(recalled(rateMost("5", "mg/min")), ten), vanc("130"))
	require.Len(t, o.Findings, 1)
	assert.Equal(t, compendium.Memory, o.Findings[0].Standing)
}

// Dobutamine of the table: above 20 at home holds, above 40 nobody passes.
func TestDobutamineHoldsAndBlocks(t *testing.T) {
	for rate, want := range map[string]finding.Gate{"20": "none", "20.5": finding.Hold, "40": finding.Hold, "40.5": finding.NoGate} {
		o := ask(t, rateRule, figures("drugRatePerKg", rate, "ug/kg/min", "dosingWeight", "70", "kg"), func(w *world) { w.drug = rowNamed(t, "dobutamine") })
		if want == "none" {
			assert.Empty(t, o.Findings, rate)
			continue
		}
		require.Len(t, o.Findings, 1, rate)
		assert.Equal(t, want, o.Findings[0].AtMost, rate)
	}
}

// A site's looser number passes nothing in silence, and the table's own
// blocks beyond it.
func TestARateBetweenTheTablesNumberAndTheSites(t *testing.T) {
	for minutes, want := range map[string]string{"125": "", "124": LoosenedDetail, "105": LoosenedDetail, "104": "block"} {
		o := ask(t, rateRule, limitedBy(loosenedTo("12", ten)), vanc(minutes))
		if want == "" {
			assert.Empty(t, o.Findings, minutes)
			continue
		}
		require.Len(t, o.Findings, 1, minutes)
		assert.Equal(t, want == LoosenedDetail, o.Findings[0].Detail == LoosenedDetail, minutes)
	}
}

// The least time of the dose is told, in whole minutes upward.
func TestTheLeastTimeIsTold(t *testing.T) {
	o := ask(t, rateRule, limitedBy(ten), figures("dose", "1255", "mg", "duration", "60", "min"))
	require.Len(t, o.Findings, 1)
	assert.Contains(t, o.Findings[0].Remedy, "126 minutes")
	assert.Contains(t, o.Findings[0].Expected, "at most 10 mg per minute")
}
