package conformance_test

import (
	"bytes"
	"encoding/json"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/conformance"
	"weir.example/weir/conformance/schema"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/r4/googlefhir"
	"weir.example/weir/mapping/worksheet"
	"weir.example/weir/testdata/orders"
)

// retimed is scenario S1 with another repeat (its bounds kept unless the new
// one has its own), judged with more lines in the site's file.
func retimed(t *testing.T, repeat, more string) (conformance.Judgement, worksheet.Worksheet) {
	t.Helper()
	for _, f := range orders.All() {
		if f.Name != "s1-cefazolin-elastomeric" {
			continue
		}
		const old = `"frequency": 1,
                "period": 8,
                "periodUnit": "h"`
		require.Equal(t, 1, bytes.Count(f.Document, []byte(old)))
		document := bytes.Replace(f.Document, []byte(old), []byte(repeat), 1)
		ref := reference(t, f.StandingLock)
		file, err := os.ReadFile("../testdata/orders/policy-lanternlight.yaml")
		require.NoError(t, err)
		ref.Policy, err = policy.Load(append(file, more...))
		require.NoError(t, err)
		s, err := policy.NewSignature("J. Example", "pharmacist", "EX 000000", "2026-09-01", ref.Hashes())
		require.NoError(t, err)
		ref.Signatures = policy.Signatures{s}
		j := conformance.Judge(conformance.Input{Document: document, Now: f.Now, Stage: "release", Judges: []schema.Judge{googlefhir.Judge}, Reference: ref})
		require.NotEmpty(t, j.Worksheets)
		return j, j.Worksheets[0]
	}
	t.Fatal("no scenario S1")
	return conformance.Judgement{}, worksheet.Worksheet{}
}

// fits holds a worksheet against its published schema.
func fits(t *testing.T, w worksheet.Worksheet) {
	t.Helper()
	text, err := json.Marshal(w)
	require.NoError(t, err)
	assert.NoError(t, schema.Own("worksheet", text))
}

// Every 6 to 8 hours: last dose 14:00, so 20:00 to 22:00, and both counts;
// what needs instants is not checked, and none is made up.
func TestARangeIsShownAsARangeAndNothingPasses(t *testing.T) {
	j, w := retimed(t, `"frequency": 1, "period": 6, "periodMax": 8, "periodUnit": "h"`, "")
	s := w.Schedule
	assert.Equal(t, []string{"", "2026-11-10T20:00:00-05:00", "2026-11-10T22:00:00-05:00"}, []string{s.FirstHomeDose, s.FirstHomeEarliest, s.FirstHomeLatest})
	// To 15 December 15:00, end excluded: from 22:00 each 8 hours, as in S1; from 20:00 each 6.
	end, early := time.Date(2026, 12, 15, 20, 0, 0, 0, time.UTC), time.Date(2026, 11, 11, 1, 0, 0, 0, time.UTC)
	assert.Equal(t, []int{105, int((end.Sub(early) + 6*time.Hour - 1) / (6 * time.Hour))}, []int{s.HomeLeast, s.HomeMost})
	assert.False(t, s.Complete)
	assert.Empty(t, s.Doses)
	assert.Empty(t, w.Deliveries)
	assert.NotEqual(t, "ready", w.Verdict)
	_, stated := w.Quantities["homeQuantity"]
	assert.False(t, stated)
	var unchecked []string
	for _, n := range w.NotChecked {
		unchecked = append(unchecked, n.Code)
	}
	assert.Contains(t, unchecked, "schedule-quantity")
	assert.NotEmpty(t, j.Worksheets)
	fits(t, w)
}

// At bedtime: with the site's clock time a course like any other, without it
// not one dose.
func TestBedtimeIsTheSitesOrNobodys(t *testing.T) {
	const bedtime = `"when": ["HS"]`
	// The last dose, 14:00, stands for that of the same evening: 22:30 is less
	// than three quarters of a day later.
	_, w := retimed(t, bedtime, "\neventTimes:\n  HS: [\"22:30\"]\n")
	assert.Equal(t, []any{"2026-11-11T22:30:00-05:00", true, 34}, []any{w.Schedule.FirstHomeDose, w.Schedule.Complete, w.Schedule.DoseCount})
	assert.Contains(t, w.Schedule.Says, "the order says at bedtime and no clock time: the pharmacy's is taken, 22:30")
	fits(t, w)
	_, w = retimed(t, bedtime, "")
	assert.Equal(t, []any{"", false, 0}, []any{w.Schedule.FirstHomeDose, w.Schedule.Complete, w.Schedule.DoseCount})
	assert.Contains(t, strings.Join(w.Schedule.Says, "\n"), "no clock time is set for")
	assert.NotEqual(t, "ready", w.Verdict)
	fits(t, w)
}

// A count as a range: both numbers, listed for the most.
func TestARangeOfCountsShowsBothNumbers(t *testing.T) {
	_, w := retimed(t, `"count": 31, "countMax": 41, "frequency": 1, "period": 8, "periodUnit": "h"`, "")
	s := w.Schedule // 21 were given in hospital
	assert.Equal(t, []any{10, 20, 20, false, ""}, []any{s.HomeLeast, s.HomeMost, s.DoseCount, s.Complete, s.LastDose})
	assert.Len(t, w.Deliveries, 1)
	fits(t, w)
}
