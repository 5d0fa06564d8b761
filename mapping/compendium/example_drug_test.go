package compendium_test

import (
	"fmt"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/quantity"
)

func ExampleTables_Find() {
	tables := compendium.Embedded()
	d, _ := tables.Find(compendium.Named("2180"))
	fmt.Println(d.Name, "by its RxNorm ingredient")
	d, _ = tables.Find(compendium.Asked{Item: compendium.Item{ATC: []string{"J01XX09"}}})
	fmt.Println(d.Name, "by its ATC code")
	d, _ = tables.Find(compendium.Asked{Ingredients: []compendium.Item{{RxNorm: []string{"733"}}, {RxNorm: []string{"10167"}}}})
	fmt.Println(d.Name, "by its two ingredients")
	_, why := tables.Find(compendium.Named("732"))
	fmt.Println(why)
	// Output:
	// cefazolin by its RxNorm ingredient
	// daptomycin by its ATC code
	// ampicillin-sulbactam by its two ingredients
	// the code 732 is ambiguous: amphotericin B of any form
}

func ExampleTables_Hazard() {
	tables := compendium.Embedded()
	for _, name := range []string{"fluorouracil", "ganciclovir", "cefazolin", "thiamine"} {
		l := tables.Hazard(compendium.Named("", name))
		fmt.Println(name+":", l.Listed, l.Table, l.ClosedTransfer)
	}
	// Output:
	// fluorouracil: yes 1 required
	// ganciclovir: yes 1 by-policy
	// cefazolin: no  no
	// thiamine: unassessed  unassessed
}

func ExampleFact_Holds() {
	d, _ := compendium.Embedded().Find(compendium.Named("", "foscarnet"))
	induction, _ := d.Fact("foscarnet-018")
	every := func(hours int64) compendium.Circumstance {
		return compendium.Circumstance{Quantities: map[string]quantity.Quantity{"interval": quantity.Point(quantity.Int(hours), quantity.MustUnit("h"))}}
	}
	for _, c := range []compendium.Circumstance{every(12), every(24), {}} {
		answer, missing := induction.Holds(c)
		fmt.Println(answer == compendium.Yes, answer == compendium.No, missing)
	}
	// Output:
	// true false []
	// false true []
	// false false [interval]
}

func ExampleDate() {
	d, _ := compendium.Embedded().Find(compendium.Named("", "cefazolin"))
	label, data := d.Stability(compendium.Keeping{Kind: compendium.Prepared, Container: "elastomeric", Diluent: "NS", Storage: "refrigerated",
		Concentration: quantity.Point(quantity.Int(20), quantity.MustUnit("mg/mL"))})
	category := &compendium.Lasting{Hours: quantity.Int(96), Layer: compendium.ByCategory}
	dated := compendium.Date(category, nil, data, label)
	fmt.Println(dated.Hours, "hours by the", dated.Layer+"; it cut the", dated.Cut.Hours, "hours of the", dated.Cut.Layer)
	// Output: 96 hours by the category; it cut the 240 hours of the label
}
