package terminal_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/terminal"
	"weir.example/weir/mapping/worksheet"
)

// The page shows what decides, when it must have run, and for what there are
// no data: two instants, never one to throw away after.
func TestTheTableShowsStartBeforeAndFinishByApart(t *testing.T) {
	w := worksheet.Worksheet{Verdict: "ready", Stage: "release"}
	w.Schedule.Zone = "America/New_York"
	w.Schedule.Remaining = []worksheet.Expected{{Of: "half-way", At: "2026-06-02T07:00:00-04:00", Low: "39.1", Value: "46", High: "52.9", Unit: "mL"}}
	w.Deliveries = []worksheet.Delivery{{Arrival: "2026-06-01T18:00:00-04:00", Units: 1, DaysSupply: 2, StartBefore: "2026-06-08T10:00:00-04:00", FinishBy: "2026-06-11T10:00:00-04:00",
		Use: &worksheet.Use{Made: "2026-06-01T10:00:00-04:00", Kind: "prepared", Storage: "room", Running: "worn", StartBefore: "2026-06-08T10:00:00-04:00", Binding: "stability",
			Limits: []worksheet.UseLimit{{Of: "stability", From: "2026-06-01T10:00:00-04:00", Until: "2026-06-08T10:00:00-04:00", Hours: "168", Layer: "label", Standing: "sourced", Source: "example label"},
				{Of: "component", Says: "the expiry of the components is not on record"}},
			InUse: []worksheet.UseLimit{{Of: "in-use", From: "2026-06-08T10:00:00-04:00", Until: "2026-06-11T10:00:00-04:00", Hours: "72", Layer: "data", Standing: "sourced", Source: "example study"}},
			Doses: []worksheet.UseDose{{Start: "2026-06-08T10:00:00-04:00", FinishBy: "2026-06-11T10:00:00-04:00"}}}}}
	show := func() string {
		return strings.Join(strings.Fields(terminal.Table([]adapter.Answer{{Worksheets: []worksheet.Worksheet{w}}}, false)), " ")
	}
	text := show()
	assert.Contains(t, text, "start before Mon 8 Jun 2026 10:00 EDT; finish by Thu 11 Jun 2026 10:00 EDT")
	assert.Contains(t, text, "start Mon 8 Jun 2026 10:00 EDT, stability as kept, 168 hours from Mon 1 Jun 2026 10:00 EDT [label sourced; example label]")
	assert.Contains(t, text, "finish Thu 11 Jun 2026 10:00 EDT, while it runs, 72 hours from Mon 8 Jun 2026 10:00 EDT [data sourced; example study]")
	assert.Contains(t, text, "no data expiry of components")
	assert.Contains(t, text, "left then half-way, Tue 2 Jun 2026 07:00 EDT: 39.1 mL to 52.9 mL, planned 46 mL")

	d := &w.Deliveries[0]
	d.StartBefore, d.FinishBy, d.Use.IfMade = "", "", true
	assert.Contains(t, show(), "kept at room temperature, runs near the body; if made Mon 1 Jun 2026 10:00 EDT: start before Mon 8 Jun 2026 10:00 EDT")
	d.Use.StartBefore, d.Use.Binding = "", ""
	text = show()
	assert.Contains(t, text, "if made Mon 1 Jun 2026 10:00 EDT: start before not dated")
	assert.NotContains(t, text, "example label", "a limit that does not decide is in the worksheet")
}
