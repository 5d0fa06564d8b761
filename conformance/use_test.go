package conformance_test

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/conformance/schema"
	"weir.example/weir/mapping/worksheet"
	"weir.example/weir/testdata/orders"
)

// sheetOf is the worksheet of the one infusion order of a case.
func sheetOf(t *testing.T, name string) worksheet.Worksheet {
	t.Helper()
	for _, f := range orders.All() {
		if f.Name == name {
			j := judge(t, f, "release")
			require.NotEmpty(t, j.Worksheets, name)
			return j.Worksheets[0]
		}
	}
	t.Fatalf("no case %s", name)
	return worksheet.Worksheet{}
}

// Scenario S7: the units made on 17 December may be started until 27 December
// 15:00, by their own record; the site's signed formula of 10 days says the
// same, nothing of the tables is for an elastomeric device, and that is said.
func TestMadeUnitsShowTheirLimitsAndWhatHasNoData(t *testing.T) {
	w := sheetOf(t, "s7-daptomycin-discharge")
	assert.Equal(t, "2026-12-27T15:00:00-08:00", w.Quantities["startBefore"].Value)
	require.NotEmpty(t, w.Deliveries)
	d := w.Deliveries[0]
	require.NotNil(t, d.Use)
	assert.Equal(t, []any{"2026-12-27T15:00:00-08:00", "record", false, "worn"}, []any{d.StartBefore, d.Use.Binding, d.Use.IfMade, d.Use.Running})
	var none []string
	for _, l := range d.Use.Limits {
		if l.Until == "" {
			none = append(none, l.Of)
		}
	}
	assert.Equal(t, []string{"sterility", "component"}, none)
	assert.Contains(t, strings.Join(d.Use.Says, "\n"), "no data on how long it keeps while it runs")
	assert.Empty(t, d.FinishBy)
	assert.True(t, w.Deliveries[1].Use.IfMade)
	assert.Empty(t, w.Deliveries[1].StartBefore, "nothing made: no instant is stated as a fact")
}

// Scenario S3 put right: worn at most 72 hours (Cancer Chemother Pharmacol
// 2000;46:501), so until 3 November 10:00 EST; half-way 46 mL are left, and
// more than 9.2 mL at the end are a call.
func TestAWornReservoirShowsItsLimitAndWhatShouldBeLeft(t *testing.T) {
	w := sheetOf(t, "s3-fixed")
	u := w.Deliveries[0].Use
	require.NotNil(t, u)
	require.NotEmpty(t, u.InUse)
	assert.Equal(t, []string{"2026-11-03T10:00:00-05:00", "72", "data", "in-use"}, []string{u.InUse[0].Until, u.InUse[0].Hours, u.InUse[0].Layer, u.InUse[0].Of})
	assert.False(t, u.Doses[0].TooLong, "54 h 8 min at the slowest")
	require.Len(t, w.Schedule.Remaining, 3)
	half := w.Schedule.Remaining[0]
	assert.Equal(t, []string{"half-way", "2026-11-01T09:00:00-05:00", "46", "mL"}, []string{half.Of, half.At, half.Value, half.Unit})
	assert.Equal(t, "2", w.Schedule.Remaining[2].Value, "what stays in the device is left at the end")
	says := strings.Join(w.Schedule.Says, "\n")
	assert.Contains(t, says, "each 1 mL left is 47.72 mg not given; more than 9.2 mL left after the latest end")
}

// Scenario S5: two tapers are no constant rate, so no volume is foretold.
func TestARampForetellsNoVolume(t *testing.T) {
	w := sheetOf(t, "s5-nutrition-cycle")
	assert.Empty(t, w.Schedule.Remaining)
	assert.Equal(t, "2027-03-14T09:00:00-04:00", w.Quantities["endsAt"].Value)
	require.NotNil(t, w.Deliveries[0].Use)
	assert.Equal(t, "2027-03-14T21:00:00-04:00", w.Deliveries[0].Use.Doses[0].FinishBy, "24 hours from hanging, by elapsed time")
	assert.Empty(t, w.Quantities["finishBy"].Value, "fixed once units are made: the bag that is made holds another amount of magnesium and serves no dose")
	assert.Contains(t, strings.Join(w.Schedule.Says, "\n"), "holds 12 mmol of magnesium (as magnesium sulfate) in each unit, not 8 mmol; it serves no dose")
}

// Every worksheet with these fields keeps to the published schema, and no
// limit is silent.
func TestEveryLimitHasAnInstantOrAWord(t *testing.T) {
	for _, f := range orders.All() {
		for _, w := range judge(t, f, "release").Worksheets {
			data, err := json.Marshal(w)
			require.NoError(t, err)
			assert.NoError(t, schema.Own("worksheet", data), f.Name)
			for _, d := range w.Deliveries {
				if d.Use == nil {
					continue
				}
				for _, l := range append(d.Use.Limits, d.Use.InUse...) {
					assert.True(t, l.Until != "" && l.Source != "" || l.Says != "", "%s: %s", f.Name, l.Of)
				}
				if d.Use.StartBefore != "" {
					assert.NotEmpty(t, d.Use.Binding, f.Name)
				}
			}
		}
	}
}
