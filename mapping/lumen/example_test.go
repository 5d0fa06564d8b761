package lumen_test

import (
	"fmt"

	"weir.example/weir/mapping/lumen"
)

// Two drugs and a daily draw on one lumen, an hour allowed round each time.
func ExampleTimetable() {
	flush := lumen.Steps{{Fluid: "sodium chloride 0.9 %", Minutes: 5}}
	p := lumen.Problem{
		Lumens: []lumen.Lumen{{Name: "single lumen", Draws: true}},
		Infusions: []lumen.Infusion{
			{Name: "vancomycin", Times: []int{9 * 60, 21 * 60}, Early: 60, Late: 60, Duration: 120, Before: flush, After: flush},
			{Name: "ertapenem", Times: []int{10 * 60}, Early: 60, Late: 60, Duration: 30, Before: flush, After: flush},
		},
		Procedures: []lumen.Procedure{{Name: "chemistry", Times: []int{8 * 60}, Late: 60, Blood: true, Minutes: 5, After: flush, Stop: 10}},
	}
	r := lumen.Timetable(p)
	fmt.Println(r.Outcome, r.Best, r.Moved)
	for _, line := range p.Lines(r.Blocks) {
		fmt.Println(line)
	}
	// Output:
	// placed true 70
	// single lumen: 08:00 to 08:05, chemistry
	// single lumen: 08:05 to 08:10, flush of sodium chloride 0.9 % for chemistry
	// single lumen: 08:45 to 08:50, flush of sodium chloride 0.9 % for vancomycin
	// single lumen: 08:50 to 10:50, vancomycin
	// single lumen: 10:50 to 10:55, flush of sodium chloride 0.9 % for vancomycin
	// single lumen: 10:55 to 11:00, flush of sodium chloride 0.9 % for ertapenem
	// single lumen: 11:00 to 11:30, ertapenem
	// single lumen: 11:30 to 11:35, flush of sodium chloride 0.9 % for ertapenem
	// single lumen: 20:55 to 21:00, flush of sodium chloride 0.9 % for vancomycin
	// single lumen: 21:00 to 23:00, vancomycin
	// single lumen: 23:00 to 23:05, flush of sodium chloride 0.9 % for vancomycin
}

// A drug that shares its line with nothing, and a second drug: the proof and
// what would help.
func ExampleTimetable_impossible() {
	flush := lumen.Steps{{Fluid: "sodium chloride 0.9 %", Minutes: 5}}
	r := lumen.Timetable(lumen.Problem{
		Lumens: []lumen.Lumen{{Name: "single lumen", Draws: true}},
		Infusions: []lumen.Infusion{
			{Name: "epoprostenol", Continuous: true, OwnLine: true, NoBolus: true},
			{Name: "cefazolin", Times: []int{6 * 60, 14 * 60, 22 * 60}, Early: 60, Late: 60, Duration: 30, Before: flush, After: flush},
		},
	})
	fmt.Println(r.Outcome, r.Conflict.Items, r.Conflict.Minimal)
	for _, rule := range r.Conflict.Rules {
		fmt.Println(rule.Says())
	}
	fmt.Println(r.Change.Says, r.Change.Smallest)
	// Output:
	// impossible [epoprostenol cefazolin] true
	// nothing else runs through the lumen of epoprostenol
	// the line has one lumen more true
}
