package verification

import (
	"time"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/plan"
	"weir.example/weir/mapping/quantity"
)

// roomLimit is how long a dose that runs near the body keeps in a room, where
// nothing tells how long it keeps worn: a worn device is warmer, so it keeps
// no longer there. The site's signed formula counts before data, data before
// the label. Nil: nothing is known of the room either.
func roomLimit(f Facts, d plan.Delivery) *compendium.Lasting {
	if !f.Has(DrugRow) || d.Use.Running != onBody || !noData(d) {
		return nil
	}
	keep := d.Use.Keep
	keep.Storage = "room"
	label, data := f.drug().Stability(keep)
	formula := f.policy().Formula(f.drug().Name, keep, f.now())
	for _, x := range []*compendium.Lasting{formula, data, label} {
		if x != nil {
			return x
		}
	}
	return nil
}

// roomRun: a run longer than the dose keeps even in a room.
func roomRun(f Facts) []finding.Finding {
	nominal, _ := oneRun(f)
	for _, d := range runningOf(f) {
		limit := roomLimit(f, d)
		if limit == nil || nominal <= 0 {
			continue
		}
		most, ok := elapsed(limit)
		if !ok || nominal <= most {
			continue
		}
		out := here(f.order().TimingPlace, "it runs "+notation.Duration(nominal)+" near the body, and even in a room it keeps "+notation.Duration(most)+": nothing is known of how long it keeps warmer",
			"a run of at most "+notation.Duration(most)+" ("+limit.Source+"), shorter doses, or a study or the site's own signed formula for a worn device")
		out[0].Standing = limit.Standing
		return out
	}
	return nil
}

// elapsed is a limit as elapsed time, rounded down to the second.
func elapsed(x *compendium.Lasting) (time.Duration, bool) {
	seconds, ok := x.Hours.Mul(quantity.Int(3600)).Floor()
	return time.Duration(seconds) * time.Second, ok && seconds > 0
}
