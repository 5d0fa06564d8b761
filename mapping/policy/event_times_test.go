package policy_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/schedule"
)

func TestASitesClockTimesReachTheSchedule(t *testing.T) {
	assert.Nil(t, policy.Default().Clocks(), "nothing is assumed")
	p, err := policy.Load([]byte("eventTimes:\n  HS: [\"22:05\"]\n  BID: [\"00:00\", \"12:30\"]\n  MORN.early: [\"06:00\"]\n"))
	require.NoError(t, err)
	assert.Equal(t, schedule.Clocks{"HS": {22*time.Hour + 5*time.Minute}, "BID": {0, 12*time.Hour + 30*time.Minute}, "MORN.early": {6 * time.Hour}}, p.Clocks())
}

// Every code that a site may set is one that a schedule places by it.
func TestEveryCodeOfASiteIsOneThatDosesFollow(t *testing.T) {
	event := map[string]bool{"MORN.late": true, "NOON": true, "PHS": true, "ACV": true, "PCD": true}
	for code, times := range map[string]string{"MORN.late": `"10:00"`, "NOON": `"12:00"`, "PHS": `"23:00"`, "ACV": `"18:00"`, "PCD": `"13:00"`, "AM": `"08:00"`, "PM": `"17:00"`,
		"BED": `"22:00"`, "QD": `"09:00"`, "BID": `"08:00", "20:00"`, "TID": `"06:00", "14:00", "22:00"`, "QID": `"06:00", "12:00", "18:00", "22:00"`, "QOD": `"09:00"`, "WK": `"09:00"`, "MO": `"09:00"`} {
		p, err := policy.Load([]byte("eventTimes:\n  " + code + ": [" + times + "]\n"))
		require.NoError(t, err, code)
		timing := schedule.Timing{Code: code}
		if event[code] {
			timing = schedule.Timing{When: []string{code}}
		}
		pace, err := schedule.PaceAt(timing, p.Clocks())
		require.NoError(t, err, code)
		assert.Len(t, pace.Times, len(p.EventTimes[code]), code)
	}
}
