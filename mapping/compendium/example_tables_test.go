package compendium_test

import (
	"fmt"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/quantity"
)

func ExampleFits() {
	volume := quantity.Point(quantity.Int(100), quantity.MustUnit("mL"))
	rate := quantity.Point(quantity.Int(200), quantity.MustUnit("mL/h"))
	devices, known := compendium.Fits(volume, rate)
	fmt.Println(known)
	for _, d := range devices {
		fmt.Println(d.Class+":", d.Name)
	}
	// Output:
	// true
	// elastomeric: reservoir of 100 to 110 mL, fast
	// electronic-pump: electronic ambulatory pump
}

func ExampleDeviceOf() {
	volume := quantity.Point(quantity.Int(240), quantity.MustUnit("mL"))
	rate := quantity.Point(quantity.Int(10), quantity.MustUnit("mL/h"))
	d, ok := compendium.DeviceOf("elastomeric", volume, rate)
	tolerance, _ := d.Values.One("tolerance", "")
	fmt.Println(ok, d.Name)
	fmt.Println(tolerance.Value, tolerance.Unit, "by", tolerance.Source)
	// Output:
	// true reservoir of 240 to 300 mL, slow
	// 15 % by ISO 28620:2020 clause 5.1
}

func ExampleAccessOf() {
	a, _ := compendium.AccessOf("midline")
	fmt.Println(a.Central() == compendium.No)
	for _, f := range a.Values.All("osmolarityMax") {
		fmt.Println(f.High, f.Unit, "by the", f.By)
	}
	// Output:
	// true
	// 600 mosm/L by the nursing standard
	// 900 mosm/L by the nutrition society
}

func ExampleLock() {
	strength := quantity.Point(quantity.Int(1000), quantity.MustUnit("[USP'U]/mL"))
	atHome, _, _ := compendium.Lock("heparin", "picc", "adult", strength)
	dialysis, _, _ := compendium.Lock("heparin", "dialysis", "adult", strength)
	fmt.Println(atHome.Gate, dialysis.Gate)
	// Output: block hold
}

func ExampleCategoryLimit() {
	f, ok := compendium.CategoryLimit("2", "aseptic", false, "sterile", "refrigerated")
	fmt.Println(f.Value, f.Unit, f.Standing, ok)
	_, ok = compendium.CategoryLimit("1", "aseptic", false, "sterile", "frozen")
	fmt.Println(ok)
	// Output:
	// 10 d sourced true
	// false
}

func ExamplePairOf() {
	p, known := compendium.PairOf("lactated Ringer's", "ceftriaxone")
	fmt.Println(known, p.Verdict)
	_, known = compendium.PairOf("meropenem", "vancomycin")
	fmt.Println(known)
	// Output:
	// true incompatible
	// false
}

func ExampleInteract() {
	for _, i := range compendium.Interact("atorvastatin", "daptomycin") {
		fmt.Println(i.Gate+":", i.Effect)
	}
	// Output: warn: muscle injury, rhabdomyolysis
}

func ExampleSterilityCount() {
	c := compendium.SterilityCount()
	fmt.Println(c.Rows > 0, c.Standing[compendium.Memory])
	// Output: true 0
}
