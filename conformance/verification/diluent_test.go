package verification

import (
	"testing"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/order"
)

// ingredient adds an ingredient that is said to be active.
func ingredient(name string, active *bool) func(*world) {
	return func(w *world) {
		w.order.Drug.Ingredients = append(w.order.Drug.Ingredients, order.Ingredient{Concept: concept(name), Active: active, Place: place("ingredient[2]")})
	}
}

func worded(field, value string) func(*world) {
	return func(w *world) {
		w.order.Readings = append(w.order.Readings, order.Reading{Field: field, Value: value, Place: place("text")})
	}
}

func truth() *bool { yes := true; return &yes }

var diluentFixtures = []fixture{
	{rule: "rate-diluent", name: "no list in the table", want: Indeterminate, missing: TableLimit, change: func(w *world) { w.drug.Facts = w.drug.Facts[:3] }},
	{rule: "rate-diluent", name: "no list in the table and no fluid", want: Indeterminate, missing: TableLimit, change: func(w *world) { w.drug.Facts = w.drug.Facts[:3]; carrier()(w) }},
	{rule: "rate-diluent", name: "a list in words alone", want: Indeterminate, missing: TableLimit, change: func(w *world) {
		w.drug.Facts = append(w.drug.Facts[:3], fact("4", "diluent_compatible", "all", compendium.Value{Others: []string{"the maker's own diluent"}}))
	}},
	{rule: "rate-diluent-unlisted", name: "no list in the table: the other rule says so", want: NotApplicable, change: func(w *world) { w.drug.Facts = w.drug.Facts[:3] }},
	{rule: "rate-diluent-unlisted", name: "nothing but incompatible fluids listed", want: Indeterminate, missing: TableLimit, change: func(w *world) {
		w.drug.Facts = append(w.drug.Facts[:3], w.drug.Facts[4])
	}},
	{rule: "rate-diluent", name: "nothing but compatible fluids listed, and one of them", want: Pass, change: func(w *world) { w.drug.Facts = w.drug.Facts[:4] }},
	{rule: "rate-diluent", name: "nothing but compatible fluids listed, and another", want: Indeterminate, missing: TableLimit, change: func(w *world) {
		w.drug.Facts = w.drug.Facts[:4]
		carrier("lactated Ringer's")(w)
	}},
	{rule: "rate-diluent", name: "a fluid on neither list is the other rule's", want: Pass, change: carrier("dextrose 10 % in water")},
	{rule: "rate-diluent-unlisted", name: "a forbidden fluid without a code is the other rule's", want: Pass, change: both(withoutDextrose, carrier("dextrose 20 % in water"))},
	// Every carrier counts, whatever it is said to be.
	{rule: "rate-diluent", name: "an incompatible fluid said to be active", want: Found, says: "Ringer", change: ingredient("lactated Ringer's", truth())},
	{rule: "rate-diluent", name: "a forbidden solute said to be active", want: Found, says: "dextrose", change: both(withoutDextrose, ingredient("dextrose 5 %", truth()))},
	{rule: "rate-diluent-unlisted", name: "an unlisted fluid said to be active", want: Found, says: "dextrose 10 %", change: ingredient("dextrose 10 % in water", truth())},
	{rule: "rate-diluent-unlisted", name: "a fluid without a code beside a listed one", want: Found, says: "dextrose 20 %", change: carrier("sodium chloride 0.9 %", "dextrose 20 % in water")},
	{rule: "rate-diluent-unlisted", name: "the acetated Ringer's solution is no listed fluid", want: Found, says: "acetate", change: carrier("sodium chloride 0.9 %", "Ringer's acetate")},
	{rule: "rate-diluent", name: "a fluid without its strength beside a listed one", want: Indeterminate, missing: Diluent, change: carrier("sodium chloride 0.9 %", "dextrose")},
	{rule: "rate-diluent", name: "an inactive ingredient that nobody knows beside a listed fluid", want: Indeterminate, missing: Diluent, change: carrier("sodium chloride 0.9 %", "carrier solution")},
	{rule: "rate-diluent", name: "a drug added is no carrier", want: Pass, change: ingredient("famotidine", truth())},
	{rule: "rate-diluent", name: "the drug itself is no carrier", want: Pass, change: func(w *world) {
		w.drug.Also = []string{"cefazolin sodium"}
		ingredient("Cefazolin  sodium", new(bool))(w)
	}},
	// Words name a carrier too; they alone block nothing.
	{rule: "rate-diluent", name: "words name the coded fluid", want: Pass, change: worded("diluent", "NS")},
	{rule: "rate-diluent", name: "words name another listed fluid", want: Pass, change: worded("diluent", "D5W")},
	{rule: "rate-diluent", name: "words name a fluid that is not listed", want: Indeterminate, missing: Diluent, change: worded("diluent", "LR")},
	{rule: "rate-diluent", name: "words of a flush", want: Pass, change: func(w *world) {
		worded("diluent", "LR")(w)
		w.order.Readings[0].Role = "flush"
	}},
}

func TestDiluentRules(t *testing.T) { judged(t, diluentFixtures) }
