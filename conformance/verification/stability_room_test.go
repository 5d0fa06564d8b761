package verification

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/plan"
)

// roomLabel: the label gives 8 hours in a room, in saline.
func roomLabel(w *world) {
	w.drug.Facts = append(w.drug.Facts, compendium.Fact{ID: "8", Topic: "stability_diluted", Population: "all", Basis: "label", Standing: compendium.Sourced, Source: "test label", Gates: true,
		Value: compendium.Value{Storage: "room", Duration: &compendium.Band{Value: "8", Unit: "h"}, Diluent: []string{"NS"}}})
}

// keptIn: the units of the delivery lie in saline in such a container.
func keptIn(container string) func(*world) {
	return func(w *world) {
		w.plan.Deliveries[0].Use.Keep = compendium.Keeping{Kind: compendium.Prepared, Container: container, Diluent: "NS", Storage: "refrigerated", Concentration: q("20", "mg/mL")}
	}
}

// A worn device is warmer than a room: what does not keep in a room for the
// run keeps no longer worn, whether or not anything was measured there.
var roomFixtures = []fixture{
	{rule: "stability-run-time", name: "worn without data, and longer than it keeps in a room", want: Found, says: "even in a room it keeps 8 hours",
		change: both(dose(onBody, 8*time.Hour+second, 8*time.Hour+second), roomLabel, keptIn("pump-reservoir"))},
	{rule: "stability-run-time", name: "worn without data, and as long as it keeps in a room", want: Indeterminate, missing: TableLimit,
		change: both(dose(onBody, 8*time.Hour, 8*time.Hour), roomLabel, keptIn("pump-reservoir"))},
	{rule: "stability-run-time", name: "worn in a container that is not told, and longer than it keeps in a room", want: Found,
		change: both(dose(onBody, 24*time.Hour, 24*time.Hour), roomLabel, keptIn(""))},
	{rule: "stability-run-time", name: "worn in a syringe, of which the label of a bag says nothing", want: Indeterminate, missing: TableLimit,
		change: both(dose(onBody, 24*time.Hour, 24*time.Hour), roomLabel, keptIn("syringe"))},
	{rule: "stability-run-time", name: "data for the worn device count before the room", want: Pass,
		change: both(dose(onBody, 24*time.Hour, 24*time.Hour, ending(inUse, 30*time.Hour, 0)), roomLabel, keptIn("pump-reservoir"))},
	{rule: "stability-run-time", name: "what the step of the pump adds is no longer run", want: Indeterminate, missing: TableLimit,
		change: both(dose(onBody, 8*time.Hour, 8*time.Hour), roomLabel, keptIn("pump-reservoir"), stepped(8*time.Hour, 8*time.Hour+288*time.Second))},
	{rule: "stability-run-time", name: "more than one hundredth is", want: Found,
		change: both(dose(onBody, 8*time.Hour, 8*time.Hour), roomLabel, keptIn("pump-reservoir"), stepped(8*time.Hour, 8*time.Hour+289*time.Second))},
}

// stepped is the run as ordered, and as the pump can be set.
func stepped(ordered, set time.Duration) func(*world) {
	return func(w *world) { w.plan.Duration, w.plan.RunTime, w.plan.LongestRun = ordered, set, set }
}

// One finding for all deliveries that ask too much, with their number.
func TestDeliveriesThatAskTooMuchAreOneFinding(t *testing.T) {
	w := base()
	toMake(plan.OfStability, 48*time.Hour, 48*time.Hour+second)(w)
	for range 3 {
		found := beyondLabelUnsupported(w.facts())
		require.Len(t, found, 1)
		if n := len(w.plan.Deliveries); n > 1 {
			assert.Contains(t, found[0].Observed, map[int]string{2: "so does 1 further delivery", 3: "so do 2 further deliveries"}[n])
		}
		w.plan.Deliveries = append(w.plan.Deliveries, w.plan.Deliveries[0])
	}
}
