package plan_test

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/plan"
	"weir.example/weir/mapping/schedule"
)

func TestArrivalKeepsToStaffedHoursAndDays(t *testing.T) {
	for _, c := range []struct {
		says, first, now string
		holidays         []string
		want             string
		moved, late      bool
	}{
		{"08:00 is staffed", "2026-11-11T12:00:00-05:00", "2026-11-09T10:00:00-05:00", nil, "Wed 2026-11-11T08:00:00-05:00", false, false},
		{"07:59 is not: the evening before", "2026-11-11T11:59:00-05:00", "2026-11-09T10:00:00-05:00", nil, "Tue 2026-11-10T20:00:00-05:00", false, false},
		{"20:00 is staffed", "2026-11-12T00:00:00-05:00", "2026-11-09T10:00:00-05:00", nil, "Wed 2026-11-11T20:00:00-05:00", false, false},
		{"20:01 is not", "2026-11-12T00:01:00-05:00", "2026-11-09T10:00:00-05:00", nil, "Wed 2026-11-11T20:00:00-05:00", false, false},
		{"a holiday is pulled a day earlier", "2026-11-26T22:00:00-05:00", "2026-11-20T10:00:00-05:00", []string{"2026-11-26"}, "Wed 2026-11-25T18:00:00-05:00", true, false},
		{"a holiday after a Sunday is pulled to Saturday", "2026-11-23T22:00:00-05:00", "2026-11-20T10:00:00-05:00", []string{"2026-11-23"}, "Sat 2026-11-21T18:00:00-05:00", true, false},
		{"due now is in time", "2026-11-10T22:00:00-05:00", "2026-11-10T18:00:00-05:00", nil, "Tue 2026-11-10T18:00:00-05:00", false, false},
		{"a second later is late", "2026-11-10T22:00:00-05:00", "2026-11-10T18:00:01-05:00", nil, "Tue 2026-11-10T18:00:00-05:00", false, true},
	} {
		r := rules()
		r.Holidays = c.holidays
		o := infusion(t, "cefazolin", c.first, "", schedule.Timing{Count: 1})
		p := plan.Draft(o, nil, order.Case{}, r, zone(t, "America/New_York"), instant(t, c.now))
		require.Len(t, p.Deliveries, 1, c.says)
		d := p.Deliveries[0]
		assert.Equal(t, c.want, show(d.Arrival), c.says)
		assert.Equal(t, []bool{c.moved, c.late}, []bool{d.Moved, d.Late}, c.says)
		assert.Equal(t, c.moved || c.late, d.Says != "", c.says)
	}
}

func TestNoDayWithDeliveryIsLateAndSaid(t *testing.T) {
	r := rules()
	r.NoDelivery = []time.Weekday{0, 1, 2, 3, 4, 5, 6}
	o := infusion(t, "cefazolin", "2026-11-30T22:00:00-05:00", "", schedule.Timing{Count: 1})
	p := plan.Draft(o, nil, order.Case{}, r, zone(t, "America/New_York"), instant(t, "2026-11-01T10:00:00-05:00"))
	require.Len(t, p.Deliveries, 1)
	assert.True(t, p.Deliveries[0].Late)
	d := p.Deliveries[0]
	assert.Equal(t, []string{plan.ByWeekday}, d.Impossible.Together)
	assert.Equal(t, "no delivery can serve the dose of Mon 30 Nov 2026 22:00 EST in time: nothing is delivered on Sunday, Monday, Tuesday, Wednesday, Thursday, Friday, Saturday; possible with a delivery Mon 30 Nov 2026 18:00 EST", d.Says)
}

// Thanksgiving 2026 is a Thursday. A weekly cycle on Thursdays pulls that one
// to Wednesday; units and doses covered stay.
func TestAHolidayInTheMiddleMovesOnlyItsOwnDelivery(t *testing.T) {
	r := rules()
	r.Holidays = []string{"2026-11-26"}
	o := infusion(t, "cefazolin", "2026-11-12T22:00:00-05:00", "2026-12-03T15:00:00-05:00", schedule.Timing{Frequency: 1, Period: every("8", "h")})
	p := plan.Draft(o, nil, order.Case{}, r, zone(t, "America/New_York"), instant(t, "2026-11-11T10:00:00-05:00"))
	at, units, _ := arrivals(p)
	assert.Equal(t, []string{"Thu 2026-11-12T18:00:00-05:00", "Thu 2026-11-19T19:00:00-05:00", "Wed 2026-11-25T19:00:00-05:00"}, at, "teaching stands before the first delivery alone")
	assert.Equal(t, []int{21, 21, 21}, units)
}

func TestAPatientStillInHospitalIsSaid(t *testing.T) {
	o, c := cefazolin(t)
	c.Discharges = []order.Discharge{leaves(t, "2026-11-10T20:00:00-05:00")}
	p := plan.Draft(o, nil, c, rules(), zone(t, "America/New_York"), instant(t, "2026-11-10T14:20:00-05:00"))
	assert.Equal(t, "the patient is still in hospital when it is due: agree where it is handed over", p.Deliveries[0].Says)
	assert.Empty(t, p.Deliveries[1].Says)
}

// A week across a clock change has 21 units of a dose every 8 hours and 7 of a
// daily dose, no more and no fewer.
func TestAClockChangeNeitherAddsNorTakesAUnit(t *testing.T) {
	for _, start := range []string{"2026-10-29T22:00:00-04:00", "2027-03-11T22:00:00-05:00"} {
		for perDay, timing := range map[int]schedule.Timing{1: {Code: "QD"}, 3: {Code: "Q8H"}, 2: {Code: "BID"}} {
			o := infusion(t, "cefazolin", start, "", timing)
			o.Timing.Count = 14 * perDay
			p := plan.Draft(o, nil, order.Case{}, rules(), zone(t, "America/New_York"), instant(t, start).Add(-24*time.Hour))
			_, units, days := arrivals(p)
			assert.Equal(t, []int{7 * perDay, 7 * perDay}, units, "%s %d", start, perDay)
			assert.Equal(t, []int{7, 7}, days, "%s %d", start, perDay)
		}
	}
}

// Whatever the order: deliveries share out all home doses in order, each at
// most the longest stretch, each arriving before it is needed on a day with
// delivery in staffed hours. The same input gives the same plan.
func TestDeliveriesCoverEveryDoseOnce(t *testing.T) {
	r := rules()
	r.Holidays = []string{"2026-11-26", "2026-12-25", "2027-01-01"}
	rapid.Check(t, func(rt *rapid.T) {
		z := zone(t, rapid.SampledFrom([]string{"America/New_York", "America/Denver", "America/Los_Angeles", "Europe/London"}).Draw(rt, "zone"))
		start := time.Unix(rapid.Int64Range(1_790_000_000, 1_811_000_000).Draw(rt, "start")/60*60, 0).In(z.Location)
		hours := rapid.SampledFrom([]int{4, 6, 8, 12, 24, 36, 48}).Draw(rt, "hours")
		days := rapid.IntRange(1, 60).Draw(rt, "days")
		r := r
		r.LongestDays = rapid.IntRange(1, 14).Draw(rt, "longest")
		o := order.Order{Drug: order.Drug{Name: "cefazolin"}, Timing: schedule.Timing{Code: fmt.Sprintf("Q%dH", hours)},
			Course: order.Course{Start: order.Instant{Time: start, Literal: "x"}, End: order.Instant{Time: start.Add(time.Duration(days) * 24 * time.Hour), Literal: "x"}}}
		now := start.Add(-60 * 24 * time.Hour)
		p := plan.Draft(o, nil, order.Case{}, r, z, now)
		next := 0
		for _, d := range p.Deliveries {
			require.True(rt, d.FirstDose.Equal(p.HomeDoses[next]))
			next += d.Units
			require.True(rt, d.LastDose.Equal(p.HomeDoses[next-1]))
			require.Less(rt, d.LastDose.Sub(d.FirstDose), time.Duration(r.LongestDays)*24*time.Hour)
			require.False(rt, d.Arrival.After(d.FirstDose.Add(-3*time.Hour)))
			require.False(rt, slices.Contains(r.NoDelivery, d.Arrival.Weekday()) || slices.Contains(r.Holidays, d.Arrival.Format("2006-01-02")))
			since := z.SinceMidnight(d.Arrival)
			require.True(rt, since >= r.OpenFrom && since <= r.OpenUntil)
			require.LessOrEqual(rt, d.DaysSupply, max(r.LongestDays, 2)+1)
		}
		require.Equal(rt, len(p.HomeDoses), next)
		require.Equal(rt, p, plan.Draft(o, nil, order.Case{}, r, z, now))
	})
}

func BenchmarkDraftSixWeeks(b *testing.B) {
	o, c := cefazolin(b)
	ny, now, q := zone(b, "America/New_York"), instant(b, "2026-11-10T14:20:00-05:00"), lasts("30", "min")
	for b.Loop() {
		if p := plan.Draft(o, q, c, rules(), ny, now); len(p.HomeDoses) != 105 {
			b.Fatal(len(p.HomeDoses))
		}
	}
}
