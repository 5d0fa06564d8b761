package terminal_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/terminal"
	"weir.example/weir/mapping/worksheet"
)

// Of a range the page shows the least and the most, never the one alone.
func TestTheTableShowsBothEndsOfARange(t *testing.T) {
	w := worksheet.Worksheet{Verdict: "indeterminate", Stage: "release"}
	w.Schedule.Zone = "America/New_York"
	show := func() string {
		return strings.Join(strings.Fields(terminal.Table([]adapter.Answer{{Worksheets: []worksheet.Worksheet{w}}}, false)), " ")
	}
	assert.Contains(t, show(), "first dose not known")
	s := &w.Schedule
	s.FirstHomeEarliest, s.FirstHomeLatest, s.HomeLeast, s.HomeMost = "2026-11-10T18:00:00-05:00", "2026-11-10T20:00:00-05:00", 10, 14
	text := show()
	assert.Contains(t, text, "first home Tue 10 Nov 2026 18:00 EST to Tue 10 Nov 2026 20:00 EST")
	assert.Contains(t, text, "doses 10 to 14 at home")
	assert.NotContains(t, text, "first dose not known")
	s.FirstHomeLatest, s.HomeLeast = s.FirstHomeEarliest, 0
	text = show()
	assert.Contains(t, text, "first home Tue 10 Nov 2026 18:00 EST")
	assert.NotContains(t, text, "18:00 EST to")
	assert.Contains(t, text, "doses 0 to 14 at home")
	s.HomeLeast = 14
	assert.Contains(t, show(), "doses 14 at home")
	*s = worksheet.Schedule{Zone: s.Zone, FirstHomeDose: s.FirstHomeEarliest, DoseCount: 3, Doses: []string{}}
	assert.Contains(t, show(), "doses 3 at home")
}
