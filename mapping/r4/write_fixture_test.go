package r4_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/schedule"
	"weir.example/weir/mapping/worksheet"
)

const (
	ground = "https://marrowgate.example/fhir/"
	rxnorm = "http://www.nlm.nih.gov/research/umls/rxnorm"
	textAt = "Bundle.entry[14].resource.dosageInstruction[0].text"
)

func number(value, unit string) order.Quantity {
	n := quantity.MustNumber(value)
	return order.Quantity{Value: n, Low: n, High: n, Unit: quantity.MustUnit(unit), Stated: true, Literal: value}
}

func point(value, unit string) quantity.Quantity {
	return quantity.Point(quantity.MustNumber(value), quantity.MustUnit(unit))
}

func stated(name, value, unit string) *order.Stated {
	return &order.Stated{Name: name, Quantity: point(value, unit), Literal: value, Witness: order.Coded}
}

// fixed is scenario S1 as it should have been sent: cefazolin 2 g in 100 mL
// over 30 minutes every 8 hours, so 100 mL ÷ 0.5 h = 200 mL per hour. From
// 2026-11-10 22:00 to 2026-12-15 14:00 are 832 h = 104 steps of 8 h: 105
// doses, five deliveries of 3 × 7 = 21.
func fixed() worksheet.Worksheet {
	yes, no := true, false
	drug := order.Concept{Codings: []order.Coding{{System: rxnorm, Code: "2180", Display: "cefazolin"}}, Text: "cefazolin"}
	w := worksheet.Worksheet{
		Order:    worksheet.Order{Key: "https://marrowgate.example/order|88213007", Version: strings.Repeat("ab", 32), Drug: "cefazolin"},
		Verdict:  "ready",
		Stage:    "release",
		Schedule: worksheet.Schedule{FirstHomeDose: "2026-11-10T22:00:00-05:00", LastDose: "2026-12-15T14:00:00-05:00", DoseCount: 105, Zone: "America/New_York", Complete: true},
		Hazard:   worksheet.Hazard{Listed: "no", ClosedTransfer: "no"},
		Sources: worksheet.Sources{Document: "7f83b1657ff1fc53b92dc18148a1d65dfc2d4b1fa3d677284addd200126d9069", Tables: "sha256:" + strings.Repeat("11", 32) + " unsigned",
			Policy: strings.Repeat("22", 32), Program: "weir 0.1.0 codes sha256:" + strings.Repeat("33", 32), Zones: strings.Repeat("44", 32), Now: "2026-11-10T14:20:00-05:00"},
		Cautions: []string{"Decision support for licensed staff: it does not release anything."},
	}
	for i, day := range []string{"2026-11-10", "2026-11-17", "2026-11-24", "2026-12-01", "2026-12-08"} {
		first, _ := time.Parse("2006-01-02", day)
		w.Deliveries = append(w.Deliveries, worksheet.Delivery{Arrival: day + "T18:00:00-05:00", Units: 21, DaysSupply: 7,
			FirstDose: day + "T22:00:00-05:00", LastDose: first.AddDate(0, 0, 7).Format("2006-01-02") + "T14:00:00-05:00"})
		w.Kit = append(w.Kit, worksheet.KitItem{Item: "saline-syringe", Name: "10 mL sodium chloride 0.9 % syringe", Quantity: 47, Unit: "syringe",
			Formula: "2 a dose × 21 doses = 42; spare 10 % of 42 rounded up, at least 2 = 5; 47 in all", Delivery: i + 1})
	}
	task := func(code, role, due string, after ...string) worksheet.Task {
		return worksheet.Task{Code: code, Role: role, Due: due, Title: "Title of " + code, Priority: "routine", After: after,
			Prepares: code == "prepare", Inputs: map[string]string{"dose": "2 g", "rate": "200 mL per hour", "line": "right arm"}, Closes: "a signature"}
	}
	w.Tasks = []worksheet.Task{
		task("clinical-check", "pharmacist", "2026-11-10T14:20:00-05:00"),
		task("prepare", "technician", "2026-11-10T14:20:00-05:00", "clinical-check"),
		task("first-visit", "nurse", "2026-11-10T21:00:00-05:00"),
		task("laboratory-draw", "nurse", "2026-11-16T12:00:00-05:00"),
		task("result-review", "pharmacist", "2026-11-17T12:00:00-05:00", "laboratory-draw"),
		task("laboratory-draw", "nurse", "2026-11-23T12:00:00-05:00"),
		task("result-review", "pharmacist", "2026-11-24T12:00:00-05:00", "laboratory-draw"),
		task("call-back", "on-call", ""),
	}
	w.Refs = worksheet.References{
		Patient:   order.Reference{Type: "Patient", URL: ground + "Patient/pat-004417", Identifier: order.Identifier{System: "https://marrowgate.example/mrn", Value: "MG-004417"}},
		Order:     order.Reference{Type: "MedicationRequest", URL: ground + "MedicationRequest/mr-cefazolin", Identifier: order.Identifier{System: "https://marrowgate.example/order", Value: "88213007"}},
		Encounter: order.Reference{Type: "Encounter", URL: ground + "Encounter/enc-2026-30418"},
		Pharmacy:  order.Reference{Type: "Organization", URL: ground + "Organization/org-lanternlight"},
		Address:   &order.Address{Use: "home", Lines: []string{"41 Juniper Spit Road"}, City: "Pinemarsh", State: "NY", PostalCode: "12999", Country: "US"},
		Numbers: order.Quantities{"dose": number("2", "g"), "volume": number("100", "mL"), "duration": number("30", "min"), "interval": number("8", "h"),
			"rate": number("200", "mL/h"), "concentration": number("20", "mg/mL"), "nominalRate": number("200", "mL/h"), "orderedQuantity": number("105", "{dose}")},
		Source: order.Order{
			Drug: order.Drug{Name: "cefazolin", Concept: drug, Amount: stated("volume", "100", "mL"), Ingredients: []order.Ingredient{
				{Concept: drug, Active: &yes, Strength: &order.Strength{Numerator: point("2", "g"), Denominator: point("100", "mL")}},
				{Concept: order.Concept{Text: "sodium chloride 0.9 % injection"}, Active: &no}}},
			Route:   order.Concept{Codings: []order.Coding{{System: "http://snomed.info/sct", Code: "47625008", Display: "Intravenous route"}}},
			Timing:  schedule.Timing{Frequency: 1, Period: point("8", "h")},
			Ordered: order.Supplied{Doses: 105},
			Device:  order.InfusionDevice{Kind: "elastomeric"},
		},
	}
	return w
}

// blocked is S1 as sent: the words name a 50 mL per hour device, the count is
// that of the whole course, no lock is ordered.
func blocked() worksheet.Worksheet {
	w := fixed()
	w.Verdict = "block"
	w.Refs.Source.Ordered.Doses = 126
	w.Refs.Numbers["orderedQuantity"] = number("126", "{dose}")
	w.Refs.Numbers["nominalRate"] = number("50", "mL/h")
	w.Findings = []worksheet.Finding{
		{Code: "device-family", Gate: "block", Severity: "high", Title: "The device belongs to another family of rates", Expression: textAt,
			Observed: "nominal 50 mL per hour; 200 mL per hour is needed", Expected: "a nominal rate of 200 mL per hour",
			Remedy: "Choose a device with a nominal rate of 200 mL per hour.", Citation: "ISO 28620:2020 clause 5", Evidence: []string{textAt, "Bundle.entry[14].resource.dosageInstruction[0].timing"}},
		{Code: "record-text-contradicts", Gate: "hold", Severity: "moderate", Title: "The words and the coded fields disagree", Expression: textAt,
			Observed: "words: 50 mL per hour", Expected: "coded: 200 mL per hour", Remedy: "Ask the prescriber which is meant.", Citation: "JAMA Intern Med 2016;176:463"},
		{Code: "access-lock-missing", Gate: "hold", Severity: "moderate", Title: "No lock is ordered", Expression: "Bundle.entry[14].resource",
			Observed: "no lock order", Expected: "a lock order", Remedy: "Ask for one lock order.", Citation: "Nurs Res Pract 2015, 985686"},
		{Code: "schedule-quantity-explained", Gate: "warn", Severity: "moderate", Title: "The surplus is the doses given in hospital",
			Expression: "Bundle.entry[14].resource.dispenseRequest.quantity", Observed: "126 doses ordered", Expected: "105 doses at home",
			Remedy: "Dispense the home count.", Citation: "common practice, no source"},
	}
	return w
}

// surface is S3: 92 mL over 46 hours from Sat 31 Oct 11:00 EDT, the night of
// the clock change; the rate 47.7 mL per hour is named as the fault.
func surface() worksheet.Worksheet {
	w := fixed()
	w.Verdict = "block"
	w.Order = worksheet.Order{Key: "https://fenwicktarn.example/order|ONC-3304518", Version: strings.Repeat("ef", 32), Drug: "fluorouracil"}
	w.Hazard = worksheet.Hazard{Listed: "yes", ClosedTransfer: "required"}
	w.Schedule = worksheet.Schedule{FirstHomeDose: "2026-10-31T11:00:00-04:00", LastDose: "2026-10-31T11:00:00-04:00", EndsAt: "2026-11-02T08:00:00-05:00",
		DoseCount: 1, Zone: "America/New_York", Complete: true}
	w.Deliveries = []worksheet.Delivery{{Arrival: "2026-10-30T20:00:00-04:00", Units: 1, DaysSupply: 2, FirstDose: "2026-10-31T11:00:00-04:00", LastDose: "2026-10-31T11:00:00-04:00"}}
	w.Kit = w.Kit[:1]
	start, _ := time.Parse(time.RFC3339, "2026-10-31T11:00:00-04:00")
	w.Refs.Source.Timing = schedule.Timing{Events: []time.Time{start}, Count: 1}
	w.Refs.Source.Ordered = order.Supplied{Doses: 1}
	rate := number("47.7", "mL/h")
	rate.Disputed = true
	w.Refs.Numbers = order.Quantities{"dose": number("4390", "mg"), "volume": number("92", "mL"), "duration": number("46", "h"), "rate": rate, "drugRate": number("95.4", "mg/h")}
	w.Findings = []worksheet.Finding{{Code: "dose-arithmetic", Gate: "block", Severity: "high", Title: "The stated numbers cannot all be true", Expression: "Bundle.entry[3].resource.dosageInstruction[0].doseAndRate[0].rateQuantity",
		Observed: "47.7 mL per hour × 46 hours is 2,194.2 mL, stated as 92 mL", Expected: "volume = rate × infusion time", Remedy: "Correct the rate to 2 mL per hour.",
		Sentence: "47.7 is the concentration (mg per mL) typed as the rate.", Citation: "CMAJ 2008;178:42",
		Culprits: []worksheet.Culprit{{Name: "rate", Stated: "47.7", Consistent: "2", Unit: "mL/h", Signature: "neighbouring-field", Named: true},
			{Name: "volume", With: []string{"duration"}, Stated: "92", Consistent: "2194.2", Unit: "mL", Signature: "none", Reading: "volume per day"}}}}
	w.NotChecked = []worksheet.NotChecked{{Code: "dose-renal", Gate: "hold", Missing: []string{"creatinine"}}, {Code: "dose-arithmetic", Name: "drugRatePerKg"}}
	return w
}

func all() map[string]worksheet.Worksheet {
	bare := worksheet.Worksheet{Verdict: "indeterminate", Stage: "release", Sources: worksheet.Sources{Now: "2026-11-10T14:20:00-05:00"}}
	bare.Refs.Order.Display = "an order without address or identifier"
	return map[string]worksheet.Worksheet{"S1 as sent": blocked(), "S1 as it should be": fixed(), "S3 as sent": surface(), "nothing known": bare,
		"steps": steps(), "patient-controlled": controlled()}
}

func named(t *testing.T, code string, list []worksheet.Finding) *worksheet.Finding {
	t.Helper()
	for i := range list {
		if list[i].Code == code {
			return &list[i]
		}
	}
	require.Fail(t, fmt.Sprintf("no finding %s", code))
	return nil
}
