package alertload_test

import (
	"encoding/json"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/conformance"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/r4"
	"weir.example/weir/mapping/worksheet"
)

// What leaves says what went in: each dispense, put back as an order with its
// own Medication and read by our reader, gives the same dose, volume, rate,
// infusion time and interval; the dispenses together hold every dose at home;
// findings, tasks and supplies are those of the worksheet.
func TestWhatLeavesIsReadAsWhatWentIn(t *testing.T) {
	ref := reference(t)
	for i := range 400 {
		o := draw(i * 5)
		w := judge(t, ref, o, o.resources(), finding.Release)
		var answer struct {
			Entry []struct{ Resource map[string]any }
		}
		require.NoError(t, json.Unmarshal(r4.WriteBundle(w), &answer))
		kinds := map[string][]map[string]any{}
		for _, e := range answer.Entry {
			kind := e.Resource["resourceType"].(string)
			kinds[kind] = append(kinds[kind], e.Resource)
		}
		units := 0
		for _, d := range kinds["MedicationDispense"] {
			units += int(d["quantity"].(map[string]any)["value"].(float64))
			same(t, w, o.again(t, ref, d), o.name())
		}
		require.Equal(t, o.doses, units, o.name())
		require.Len(t, kinds["DetectedIssue"], len(w.Findings)+gated(w), o.name())
		require.Len(t, kinds["Task"], len(w.Tasks)+1, o.name())
		for i, task := range kinds["Task"][1:] {
			require.Equal(t, w.Tasks[i].Code, task["code"].(map[string]any)["coding"].([]any)[0].(map[string]any)["code"], o.name())
		}
		supplies := 0
		for _, k := range w.Kit {
			if k.Quantity > 0 {
				require.Equal(t, strconv.Itoa(k.Quantity), number(kinds["SupplyRequest"][supplies]["quantity"].(map[string]any)["value"].(float64)), o.name())
				supplies++
			}
		}
		require.Len(t, kinds["SupplyRequest"], supplies, o.name())
	}
}

func gated(w worksheet.Worksheet) int {
	n := 0
	for _, x := range w.NotChecked {
		if x.Gate != "" {
			n++
		}
	}
	return n
}

// again judges the same documents with the order replaced by what a dispense
// says.
func (o complete) again(t *testing.T, ref policy.Reference, dispense map[string]any) worksheet.Worksheet {
	list := o.resources()
	for i, r := range list {
		switch r["id"] {
		case "order":
			list[i]["dosageInstruction"] = dispense["dosageInstruction"]
		case "bag":
			bag := dispense["contained"].([]any)[0].(map[string]any)
			bag["id"] = "bag"
			list[i] = bag
		}
	}
	j := conformance.Judge(conformance.Input{Document: bundle(list), Now: o.now, Stage: finding.Release, Reference: ref})
	require.Empty(t, j.Faults, o.name())
	require.Len(t, j.Worksheets, 1, o.name())
	return j.Worksheets[0]
}

func same(t *testing.T, before, after worksheet.Worksheet, name string) {
	for _, n := range []string{"dose", "volume", "concentration", "rate", "duration", "interval"} {
		a, b := before.Quantities[n], after.Quantities[n]
		require.NotEmpty(t, b.Value, "%s: %s", name, n)
		have := quantity.MustNumber(b.Value)
		if a.Unit != b.Unit {
			have = quantity.MustUnit(a.Unit).FromBase(quantity.MustUnit(b.Unit).ToBase(have))
		}
		want := quantity.MustNumber(a.Value)
		assert.True(t, have.Equal(want) || have.Significant(5) == want.Significant(5), "%s: %s was %s %s and is %s %s", name, n, a.Value, a.Unit, b.Value, b.Unit)
		assert.False(t, b.Disputed, "%s: %s", name, n)
	}
}
