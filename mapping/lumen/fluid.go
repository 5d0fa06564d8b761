package lumen

import (
	"slices"
	"strings"

	"weir.example/weir/mapping/compendium"
)

// solutes are what carrier fluids are told apart by here; locks are drugs that
// a lock is named by, often without the fluid they are in.
var (
	solutes = []string{"dextrose", "sodium chloride", "calcium"}
	locks   = []string{"heparin", "citrate"}
)

// made lists what a fluid is made of by its name or its code in the tables,
// in any spelling and strength; carrier tells whether the fluid itself is
// named, not only a drug in it. Nothing: the name cannot be read.
func made(name string) (of []string, carrier bool) {
	name = strings.TrimSpace(name)
	if full := compendium.DiluentName(strings.ToUpper(name)); full != strings.ToUpper(name) {
		name = full
	}
	for _, s := range solutes {
		if compendium.FluidContains(name, s) {
			of = append(of, s)
		}
	}
	text := compendium.Fold(name)
	if slices.Contains(of, "calcium") && !slices.Contains(of, "sodium chloride") && !strings.HasPrefix(text, "calcium") {
		of = append(of, "sodium chloride") // Ringer's solutions are made with it
	}
	if _, ok := compendium.Diluent(name); ok && len(of) == 0 {
		of = append(of, "sterile water")
	}
	carrier = len(of) > 0
	for _, l := range locks {
		if strings.Contains(text, l) {
			of = append(of, l)
		}
	}
	return of, carrier
}

// holds tells whether a fluid holds what is avoided, whatever its strength and
// the spelling. Known is false when a name cannot be read: then nothing is
// known of the two. What makes a solution with calcium avoided is the calcium.
func holds(fluid, avoided string) (yes, known bool) {
	if compendium.Fold(fluid) == compendium.Fold(avoided) {
		return true, true
	}
	in, _ := made(fluid)
	no, _ := made(avoided)
	if len(in) == 0 || len(no) == 0 {
		return false, false
	}
	if slices.Contains(no, "calcium") {
		no = []string{"calcium"}
	}
	return !slices.ContainsFunc(no, func(s string) bool { return !slices.Contains(in, s) }), true
}

// checkFluids: of every flush and lock it must be known whether it holds what
// an infusion may not meet. One named by its drug alone is known for that drug
// only, so it may not stand next to the infusion itself.
func (p *Problem) checkFluids(c *checker, a Infusion) {
	if len(a.Avoids) == 0 {
		return
	}
	next := []string{a.Before.last(), a.After.first()}
	var all []string
	add := func(list Steps) {
		for _, f := range list {
			if f.Fluid != "" && f.Fluid != Withdraw && !slices.Contains(all, f.Fluid) {
				all = append(all, f.Fluid)
			}
		}
	}
	add(a.Before)
	add(a.After)
	for _, b := range p.Infusions {
		add(b.Before)
		add(b.After)
	}
	for _, d := range p.Procedures {
		add(d.After)
	}
	for _, avoided := range a.Avoids {
		_, carried := made(avoided)
		for _, fluid := range all {
			yes, known := holds(fluid, avoided)
			if _, carrier := made(fluid); carried && !carrier && !yes && slices.Contains(next, fluid) {
				known = false
			}
			if !known {
				c.say("%s may not meet %q, and whether the flush or lock %q holds it cannot be read", a.Name, avoided, fluid)
			}
		}
	}
}
