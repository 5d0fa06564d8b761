package verification

import (
	"slices"
	"strings"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// longRun is the run from which a long thin catheter is known to hold a
// fixed-flow device back: row d5, more than 24 hours by a PICC (COSA 2015
// abstract 320).
var longRun = quantity.Int(24 * 3600)

// runSeconds is how long one infusion runs.
func runSeconds(f Facts) (quantity.Number, order.Quantity, bool) {
	t, ok := f.quantities()["duration"]
	if !ok || t.Disputed || t.Value.Sign() <= 0 || t.Unit.Dimension() != quantity.Time {
		return quantity.Number{}, t, false
	}
	return t.Unit.ToBase(t.Value), t, true
}

// lineOf is the line the order runs through: the one it names, else the
// newest in use.
func lineOf(f Facts) (order.Access, bool) {
	if ref := f.order().AccessDevice; ref != "" {
		for _, a := range f.kase().Access {
			if a.Ref == ref && a.Removed.Absent() {
				return a, true
			}
		}
		return order.Access{}, false
	}
	return line(f)
}

// conditions: row d5, what in this order changes the flow of a fixed-flow
// device. What every device is told (height, skin, cold) stands beside it, in
// the words of the table.
func conditions(f Facts) []finding.Finding {
	var seen []string
	seconds, _, known := runSeconds(f)
	if a, ok := lineOf(f); known && ok && a.Kind == "picc" && longRun.Less(seconds) {
		seen = append(seen, "it runs "+inWords(seconds)+" through a PICC, whose length and bore hold the flow back")
	}
	for _, x := range fluids(f) {
		if compendium.FluidContains(x.name, "dextrose") {
			seen = append(seen, x.name+" flows more slowly than sodium chloride 0.9 %")
		}
	}
	if len(seen) == 0 {
		return nil
	}
	tolerance := notation.Rounded(f.policy().Device.Tolerance.Mul(hundred), 3)
	x := here(f.order().Device.Place, "the flow of this device will change: "+strings.Join(seen, "; "),
		"the nominal flow within "+tolerance+" %, which holds only at the temperature, with the fluid and at the height of its instructions")
	x[0].Remedy = "Nurse: look half-way how much has run, and tell the patient: " + strings.Join(deviceCautions(f), "; ") + "."
	return x
}

// deviceCautions are those of the device's row, else those of its class.
func deviceCautions(f Facts) []string {
	d, listed := listedDevice(f)
	if rows := compendium.DevicesOf("elastomeric"); !listed && len(rows) > 0 {
		d = rows[0]
	}
	var out []string
	for _, v := range d.Values.All("caution") {
		out = append(out, v.Says)
	}
	return slices.Compact(out)
}

// conditionsUnknown: without run time or line nobody can tell whether the
// line holds the flow back.
func conditionsUnknown(f Facts) []Fact {
	seconds, _, known := runSeconds(f)
	_, lined := lineOf(f)
	switch {
	case !known:
		return []Fact{RunTime}
	case longRun.Less(seconds) && !lined:
		return []Fact{Access}
	}
	return nil
}
