package worksheet

import (
	"time"

	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/schedule"
)

// Moment writes an RFC 3339 instant of the worksheet for people, in the time
// zone of the patient's home when it is known. Text that is no instant comes
// back as it is.
func (w Worksheet) Moment(at string) string {
	t, err := time.Parse(time.RFC3339, at)
	if err != nil {
		return at
	}
	if zone, err := schedule.LoadZones().Zone(w.Schedule.Zone); err == nil {
		t = t.In(zone.Location)
	}
	return notation.Instant(t, "")
}
