package schedule_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/schedule"
)

// Counts that others have published or that follow by hand. Days are those of
// New York, where a date-only end runs to the next midnight.
func TestCountsAgreeWithPublishedExamples(t *testing.T) {
	for _, c := range []struct {
		says, from, to string
		timing         schedule.Timing
		want           int
	}{
		{"HL7 FHIR R4 example MedicationRequest medrx0339: daily 16 to 18 January 2015, supply 3 days", "2015-01-16T00:00:00-05:00", "2015-01-19T00:00:00-05:00",
			schedule.Timing{Frequency: 1, Period: every("1", "d")}, 3},
		{"HL7 FHIR R4 example MedicationRequest: every 2 days 22 January to 4 February 2016: 22, 24, 26, 28, 30, 1, 3", "2016-01-22T00:00:00-05:00", "2016-02-05T00:00:00-05:00",
			schedule.Timing{Frequency: 1, Period: every("2", "d")}, 7},
		{"every 12 hours for 14 days are 28", "2027-02-01T09:00:00-05:00", "2027-02-15T09:00:00-05:00", schedule.Timing{Code: "Q12H"}, 28},
		{"one bag every 8 hours for 7 days are 21", "2026-11-10T22:00:00-05:00", "2026-11-17T22:00:00-05:00", schedule.Timing{Code: "Q8H"}, 21},
		{"the whole course of 3 November 22:00 to 15 December 15:00 every 8 hours: 1,001 h / 8 = 125.1, so 126", "2026-11-03T22:00:00-05:00", "2026-12-15T15:00:00-05:00",
			schedule.Timing{Frequency: 1, Period: every("8", "h")}, 126},
		{"42 elapsed days over the spring change are 126 doses every 8 hours", "2027-03-01T22:00:00-05:00", "2027-04-12T23:00:00-04:00", schedule.Timing{Code: "Q8H"}, 126},
	} {
		got, complete := schedule.Expand(c.timing, schedule.Span{From: instant(t, c.from), To: instant(t, c.to)}, zone(t, "America/New_York"), 1000)
		assert.True(t, complete, c.says)
		assert.Len(t, got, c.want, c.says)
	}
}

// A course manual for the clock change: the 20:00 and the next 08:00 dose are
// 11 hours apart in spring; a pump run of 24 hours begun at 14:00 ends at
// 15:00.
func TestTheSpringNightIsAnHourShort(t *testing.T) {
	ny := zone(t, "America/New_York")
	got, _ := schedule.Expand(schedule.Timing{TimesOfDay: []string{"08:00:00", "20:00:00"}},
		schedule.Span{From: instant(t, "2026-03-07T20:00:00-05:00"), To: instant(t, "2026-03-08T09:00:00-04:00")}, ny, 9)
	require.Len(t, got, 2)
	assert.Equal(t, 11*time.Hour, got[1].Sub(got[0]))
	assert.Equal(t, "2026-03-08T15:00:00-04:00", instant(t, "2026-03-07T14:00:00-05:00").Add(24*time.Hour).In(ny.Location).Format(time.RFC3339))
}

// A period that no whole number of nanoseconds divides does not drift: 7
// doses in 24 hours are back at the hour after every cycle.
func TestUnevenStepsDoNotDrift(t *testing.T) {
	from := instant(t, "2026-11-10T09:00:00-05:00")
	got, _ := schedule.Expand(schedule.Timing{Frequency: 7, Period: every("24", "h")}, schedule.Span{From: from}, zone(t, "America/New_York"), 4001)
	require.Len(t, got, 4001)
	for i := 0; i < len(got); i += 7 {
		require.True(t, got[i].Equal(from.Add(time.Duration(i/7)*24*time.Hour)), "dose %d", i)
	}
}

func BenchmarkSixWeeksEveryEightHours(b *testing.B) {
	ny := zone(b, "America/New_York")
	span := schedule.Span{From: instant(b, "2026-11-03T22:00:00-05:00"), To: instant(b, "2026-12-15T15:00:00-05:00")}
	timing := schedule.Timing{Frequency: 1, Period: every("8", "h")}
	for b.Loop() {
		if got, _ := schedule.Expand(timing, span, ny, 4400); len(got) != 126 {
			b.Fatal(len(got))
		}
	}
}
