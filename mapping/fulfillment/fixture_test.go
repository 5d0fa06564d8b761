package fulfillment_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/fulfillment"
	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/schedule"
)

func at(t testing.TB, text string) time.Time {
	t.Helper()
	v, err := time.Parse(time.RFC3339, text)
	require.NoError(t, err, text)
	return v
}

func zone(t testing.TB, name string) *time.Location {
	t.Helper()
	z, err := schedule.LoadZones().Zone(name)
	require.NoError(t, err)
	return z.Location
}

// elastomericAntibiotic is scenario S1 after the fixes: 2 g every 8 hours by
// elastomeric reservoir, 105 doses at home, five deliveries of 21, a
// laboratory draw on each of five Mondays.
func elastomericAntibiotic(t testing.TB, flags ...string) fulfillment.Situation {
	s := fulfillment.Situation{
		Now: at(t, "2026-11-10T14:20:00-05:00"), Location: zone(t, "America/New_York"), Discharge: at(t, "2026-11-10T15:00:00-05:00"),
		FirstHomeDose: at(t, "2026-11-10T22:00:00-05:00"), LastDose: at(t, "2026-12-15T14:00:00-05:00"), CourseEnd: at(t, "2026-12-15T15:00:00-05:00"),
		WarmUp: 3 * time.Hour, Teach: time.Hour, VisitBefore: time.Hour, SpareRate: quantity.MustNumber("0.1"), SpareLeast: 2,
		OpenFrom: 8 * time.Hour, OpenUntil: 20 * time.Hour, PlanDueDays: 7, BodyFluid: 48 * time.Hour,
		Flags: append([]string{"elastomeric", "intermittent", "line", "laboratory", "refrigerated"}, flags...), Numbers: map[string]string{"rate": "200 mL per hour"},
	}
	for _, day := range []string{"2026-11-10", "2026-11-17", "2026-11-24", "2026-12-01", "2026-12-08"} {
		s.Deliveries = append(s.Deliveries, fulfillment.Load{Arrival: at(t, day+"T18:00:00-05:00"), Doses: 21, DaysSupply: 7, Draws: 1})
	}
	for _, day := range []string{"2026-11-16", "2026-11-23", "2026-11-30", "2026-12-07", "2026-12-14"} {
		s.Draws = append(s.Draws, fulfillment.Draw{Day: at(t, day+"T12:00:00-05:00"), Tests: []string{"blood count", "basic metabolic panel"}})
	}
	return s
}

// hazardousContinuous is scenario S3: one container over 46 hours across the
// autumn clock change, connected and disconnected at home, port, antineoplastic of Table 1.
func hazardousContinuous(t testing.TB, flags ...string) fulfillment.Situation {
	return fulfillment.Situation{
		Now: at(t, "2026-10-30T10:00:00-04:00"), Location: zone(t, "America/New_York"),
		FirstHomeDose: at(t, "2026-10-31T11:00:00-04:00"), LastDose: at(t, "2026-10-31T11:00:00-04:00"), CourseEnd: at(t, "2026-11-02T08:00:00-05:00"),
		EndsAt: at(t, "2026-11-02T08:00:00-05:00"), EndsLatest: at(t, "2026-11-02T16:07:00-05:00"),
		Deliveries: []fulfillment.Load{{Arrival: at(t, "2026-10-31T09:00:00-04:00"), Doses: 1, DaysSupply: 2}},
		WarmUp:     3 * time.Hour, Teach: time.Hour, VisitBefore: time.Hour, SpareRate: quantity.MustNumber("0.1"), SpareLeast: 2,
		OpenFrom: 8 * time.Hour, OpenUntil: 20 * time.Hour, PlanDueDays: 7, BodyFluid: 48 * time.Hour,
		Flags: append([]string{"elastomeric", "continuous", "hazardous", "closed-transfer", "line", "port", "second-check"}, flags...),
	}
}
