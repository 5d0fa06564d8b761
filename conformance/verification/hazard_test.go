package verification

import (
	"testing"
	"time"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/plan"
	"weir.example/weir/mapping/quantity"
)

// listing sets the answer of the hazardous list.
func listing(listed, table, antineoplastic, closed string) func(*world) {
	return func(w *world) {
		w.hazard = compendium.Listing{Listed: listed, Table: table, Antineoplastic: antineoplastic, ClosedTransfer: closed, Edition: "2024", Says: "in neither list"}
	}
}

var (
	tableOne = listing("yes", "1", "yes", "required")
	tableTwo = listing("yes", "2", "no", "by-policy")
	nowhere  = listing("unassessed", "", "unknown", "unassessed")
)

func supplied(hazard func(*world), supplies ...order.Supply) func(*world) {
	return func(w *world) {
		hazard(w)
		w.kase.Supplies = supplies
		w.plan.Deliveries = []plan.Delivery{{Units: 1}}
	}
}

// item is one supply line with two pieces of an item.
func item(code string) order.Supply { return order.Supply{Item: code, Quantity: quantity.Int(2)} }

func inWordsOf(text string, n int64) order.Supply {
	return order.Supply{Text: text, Quantity: quantity.Int(n)}
}

func pieces(code string, n int64) order.Supply {
	return order.Supply{Item: code, Quantity: quantity.Int(n)}
}

// endsBetween is when the infusion of 46 hours ends, from and to.
func endsBetween(from, to time.Duration) func(*world) {
	return func(w *world) {
		w.plan.HomeDoses = w.plan.HomeDoses[:1]
		w.plan.EndsEarliest, w.plan.EndsAt, w.plan.EndsLatest = ago(-from).Time, ago(-(from+to)/2).Time, ago(-to).Time
	}
}

// forty6 is a hazardous infusion of 46 hours, with the visits given.
func forty6(visits ...order.Service) func(*world) {
	return func(w *world) {
		tableOne(w)
		withNumbers("duration", "46", "h")(w)
		w.kase.Services = visits
	}
}

func visit(words, performer string, at ...order.Instant) order.Service {
	return order.Service{Kind: "visit", Code: concept(words), Performer: performer, When: at, Place: place("visit")}
}

var hazardFixtures = []fixture{
	{rule: "hazard-listed", name: "not listed", want: NotApplicable},
	{rule: "hazard-listed", name: "listed", want: Found, says: "table 1", change: tableOne},
	{rule: "hazard-unassessed", name: "reviewed and not listed", want: Pass},
	{rule: "hazard-unassessed", name: "listed", want: Pass, change: tableOne},
	{rule: "hazard-unassessed", name: "in neither list", want: Found, says: "neither", change: nowhere},
	// Row g2: required for an antineoplastic of Table 1, else by policy.
	{rule: "hazard-closed-transfer", name: "not required", want: NotApplicable, change: tableTwo},
	{rule: "hazard-closed-transfer", name: "connectors in the kit", want: Pass, change: supplied(tableOne, item("closed-transfer"))},
	{rule: "hazard-closed-transfer", name: "connectors in words", want: Pass, change: supplied(tableOne, inWordsOf("Closed-system connector", 2))},
	{rule: "hazard-closed-transfer", name: "the code of an item outweighs its words", want: Found, change: supplied(tableOne, order.Supply{Item: "waste-bag", Text: "bag for the closed system"})},
	{rule: "hazard-closed-transfer", name: "other supplies only", want: Found, change: supplied(tableOne, item("saline-syringe"))},
	{rule: "hazard-closed-transfer", name: "nothing asked for", want: Found, change: tableOne},
	{rule: "hazard-closed-transfer-policy", name: "required belongs to the other rule", want: NotApplicable, change: tableOne},
	{rule: "hazard-closed-transfer-policy", name: "Table 2 without connectors", want: Found, change: tableTwo},
	{rule: "hazard-closed-transfer-policy", name: "Table 2 with connectors", want: Pass, change: supplied(tableTwo, item("closed-transfer"))},
	{rule: "hazard-closed-transfer-policy", name: "a signed assessment says no", want: NotApplicable, change: func(w *world) { tableTwo(w); w.policy.Hazard.ClosedTransferPolicy = false }},
	// One at connect and one at disconnect, for each dose of the delivery.
	{rule: "hazard-closed-transfer", name: "one connector", want: Found, says: "1 closed-system connector", change: supplied(tableOne, pieces("closed-transfer", 1))},
	{rule: "hazard-closed-transfer", name: "two lines of one connector", want: Pass, change: supplied(tableOne, pieces("closed-transfer", 1), inWordsOf("closed system connector, patient side", 1))},
	{rule: "hazard-closed-transfer", name: "two for two doses", want: Found, says: "2 closed-system connectors", change: both(supplied(tableOne, pieces("closed-transfer", 2)), func(w *world) { w.plan.Deliveries[0].Units = 2 })},
	{rule: "hazard-closed-transfer", name: "four for two doses", want: Pass, change: both(supplied(tableOne, pieces("closed-transfer", 4)), func(w *world) { w.plan.Deliveries[0].Units = 2 })},
	{rule: "hazard-closed-transfer", name: "none of them", want: Found, says: "no closed-system", change: supplied(tableOne, pieces("closed-transfer", 0))},
	{rule: "hazard-closed-transfer", name: "a pair is two", want: Pass, change: supplied(tableOne, inWordsOf("Closed system transfer device, line side and patient side", 1))},
	{rule: "hazard-closed-transfer", name: "the words say none", want: Found, change: supplied(tableOne, inWordsOf("no closed-system connector needed", 2))},
	{rule: "hazard-spill-kit", name: "a kit in other words", want: Pass, change: supplied(tableOne, inWordsOf("Chemotherapy spill clean-up pack", 1))},
	{rule: "hazard-spill-kit", name: "the words say none", want: Found, change: supplied(tableOne, inWordsOf("no spill kit needed", 1))},
	{rule: "hazard-spill-kit", name: "none of it", want: Found, change: supplied(tableOne, pieces("spill-kit", 0))},
	{rule: "hazard-spill-kit", name: "a pad against spills is no kit", want: Found, change: supplied(tableOne, inWordsOf("spill pad", 4))},
	{rule: "hazard-waste-route", name: "a household bin", want: Found, change: supplied(tableOne, inWordsOf("Household waste container", 1))},
	{rule: "hazard-waste-route", name: "a bin in other words", want: Pass, change: supplied(tableOne, inWordsOf("Cytotoxic waste bin, rigid, 8 L", 1))},
	{rule: "hazard-waste-route", name: "bags only", want: Found, change: supplied(tableOne, inWordsOf("hazardous waste bag", 5))},
	// Rows g6, g7: Table 1 or antineoplastic; Table 2 by assessment.
	{rule: "hazard-spill-kit", name: "not hazardous", want: NotApplicable},
	{rule: "hazard-spill-kit", name: "Table 2, no antineoplastic", want: NotApplicable, change: tableTwo},
	{rule: "hazard-spill-kit", name: "Table 2, antineoplastic", want: Found, change: listing("yes", "2", "yes", "by-policy")},
	{rule: "hazard-spill-kit", name: "a table nobody is sure of counts as Table 1", want: Found, change: listing("yes", "unknown", "no", "by-policy")},
	{rule: "hazard-spill-kit", name: "no kit", want: Found, change: tableOne},
	{rule: "hazard-spill-kit", name: "a kit", want: Pass, change: supplied(tableOne, item("spill-kit"))},
	{rule: "hazard-waste-route", name: "Table 2, no antineoplastic", want: NotApplicable, change: tableTwo},
	{rule: "hazard-waste-route", name: "no container", want: Found, change: tableOne},
	{rule: "hazard-waste-route", name: "a container", want: Pass, change: supplied(tableOne, item("hazardous-waste-container"))},
	// A named trained person and a time.
	{rule: "hazard-disconnect-plan", name: "not hazardous", want: NotApplicable},
	{rule: "hazard-disconnect-plan", name: "hazardous and short", want: NotApplicable, change: tableOne},
	{rule: "hazard-disconnect-plan", name: "46 hours and no visit", want: Found, change: forty6()},
	{rule: "hazard-disconnect-plan", name: "46 hours and a named visit", want: Pass, change: forty6(visit("Disconnect at home", "R. Quill", ago(-oneDay)))},
	{rule: "hazard-disconnect-plan", name: "a visit that nobody makes", want: Found, change: forty6(visit("Disconnect at home", "", ago(-oneDay)))},
	{rule: "hazard-disconnect-plan", name: "a visit without a time", want: Found, change: forty6(visit("Disconnect at home", "R. Quill"))},
	{rule: "hazard-disconnect-plan", name: "in other words", want: Pass, change: forty6(visit("Take down the infusion and de-access the port", "R. Quill", ago(-oneDay)))},
	{rule: "hazard-disconnect-plan", name: "at the earliest end", want: Pass, change: both(forty6(visit("Disconnect", "R. Quill", ago(-40*time.Hour))), endsBetween(40*time.Hour, 54*time.Hour))},
	{rule: "hazard-disconnect-plan", name: "before the earliest end", want: Found, says: "before", change: both(forty6(visit("Disconnect", "R. Quill", ago(-39*time.Hour))), endsBetween(40*time.Hour, 54*time.Hour))},
	{rule: "hazard-disconnect-plan", name: "12 hours after the latest end", want: Pass, change: both(forty6(visit("Disconnect", "R. Quill", ago(-66*time.Hour))), endsBetween(40*time.Hour, 54*time.Hour))},
	{rule: "hazard-disconnect-plan", name: "more than 12 hours after the latest end", want: Found, says: "after", change: both(forty6(visit("Disconnect", "R. Quill", ago(-67*time.Hour))), endsBetween(40*time.Hour, 54*time.Hour))},
	{rule: "hazard-disconnect-plan", name: "one at the wrong time and one at the right", want: Pass, change: both(forty6(visit("Disconnect", "R. Quill", ago(-10*time.Hour)), visit("Disconnect", "R. Quill", ago(-46*time.Hour))), endsBetween(40*time.Hour, 54*time.Hour))},
	{rule: "hazard-disconnect-plan", name: "a visit for something else", want: Found, change: forty6(visit("Dressing change", "R. Quill", ago(-oneDay)))},
}

func TestHazardRules(t *testing.T) { judged(t, hazardFixtures) }
