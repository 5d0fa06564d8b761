package verification

import (
	"testing"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/order"
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
	}
}

func item(code string) order.Supply { return order.Supply{Item: code} }

// forty6 is a hazardous infusion of 46 hours, with the visits given.
func forty6(visits ...order.Service) func(*world) {
	return func(w *world) {
		tableOne(w)
		withNumbers("duration", "46", "h")(w)
		w.kase.Services = visits
	}
}

func visit(words, performer string, at ...order.Instant) order.Service {
	return order.Service{Kind: "visit", Code: concept(words), Performer: performer, When: at}
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
	{rule: "hazard-closed-transfer", name: "connectors in words", want: Pass, change: supplied(tableOne, order.Supply{Text: "Closed-system connector"})},
	{rule: "hazard-closed-transfer", name: "the code of an item outweighs its words", want: Found, change: supplied(tableOne, order.Supply{Item: "waste-bag", Text: "bag for the closed system"})},
	{rule: "hazard-closed-transfer", name: "other supplies only", want: Found, change: supplied(tableOne, item("saline-syringe"))},
	{rule: "hazard-closed-transfer", name: "nothing asked for", want: Found, change: tableOne},
	{rule: "hazard-closed-transfer-policy", name: "required belongs to the other rule", want: NotApplicable, change: tableOne},
	{rule: "hazard-closed-transfer-policy", name: "Table 2 without connectors", want: Found, change: tableTwo},
	{rule: "hazard-closed-transfer-policy", name: "Table 2 with connectors", want: Pass, change: supplied(tableTwo, item("closed-transfer"))},
	{rule: "hazard-closed-transfer-policy", name: "a signed assessment says no", want: NotApplicable, change: func(w *world) { tableTwo(w); w.policy.Hazard.ClosedTransferPolicy = false }},
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
	{rule: "hazard-disconnect-plan", name: "a visit for something else", want: Found, change: forty6(visit("Dressing change", "R. Quill", ago(-oneDay)))},
}

func TestHazardRules(t *testing.T) { judged(t, hazardFixtures) }
