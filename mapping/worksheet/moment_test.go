package worksheet_test

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/worksheet"
)

// S3: the end of 46 hours is 13:00 in universal time on 2 November 2026,
// 08:00 of a Monday in New York, an hour after the clocks went back.
func TestAMomentIsWrittenInTheZoneOfTheHome(t *testing.T) {
	w := worksheet.Worksheet{Schedule: worksheet.Schedule{Zone: "America/New_York"}}
	end := w.Moment("2026-11-02T13:00:00Z")
	assert.Contains(t, end, "08:00")
	assert.Contains(t, end, "2 Nov")
	assert.Equal(t, end, w.Moment("2026-11-02T08:00:00-05:00"), "the same instant, the same words")
	assert.Contains(t, w.Moment("2026-10-31T15:00:00Z"), "11:00", "summer time before the change")
	assert.Contains(t, worksheet.Worksheet{}.Moment("2026-11-02T13:00:00Z"), "13:00", "no zone known: as it was sent")
	for _, text := range []string{"", "open", "2026-11-02", "2026-11-02T13:00:00"} {
		assert.Equal(t, text, w.Moment(text), "no instant, nothing made up")
	}
}

func TestWhatWritersNeedStaysOutOfTheAnswer(t *testing.T) {
	w := worksheet.Worksheet{}
	w.Refs.Source.Drug.Name = "kept inside"
	data, err := json.Marshal(w)
	require.NoError(t, err)
	assert.NotContains(t, string(data), "kept inside")
	var keys map[string]any
	require.NoError(t, json.Unmarshal(data, &keys))
	for _, key := range []string{"order", "verdict", "stage", "quantities", "readings", "findings", "notChecked", "schedule", "deliveries", "kit", "tasks", "hazard", "sources"} {
		assert.Contains(t, keys, key, "a key of the contract is never left out")
	}
}
