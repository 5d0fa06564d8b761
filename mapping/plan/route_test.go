package plan_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/plan"
	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/schedule"
)

// daily is a dose every so many hours from a start on, so many in all.
func daily(t testing.TB, start string, hours, count int) order.Order {
	o := infusion(t, "cefazolin", start, "", schedule.Timing{Code: fmt.Sprintf("Q%dH", hours)})
	o.Timing.Count, o.Course.Single = count, false
	return o
}

// Scenario S7: a weekly round on Fridays, a day in hand before a holiday. The
// 25th and the 1st are holidays, so Thursday, and a day earlier Wednesday; the
// first delivery does not wait for the round, and the six good units go first.
func TestARoundPutsHolidaysForward(t *testing.T) {
	o, c := daptomycin(t, "2026-12-20T19:30:00-08:00", "2026-12-20T18:00:00-08:00")
	o.Key, c.Orders[0].Key = "placer|D-1", "placer|D-1"
	c.Held.Prepared = []order.Batch{{Units: 8, Lot: "D", Completed: when(t, "2026-12-17T15:00:00-08:00"), BeyondUse: when(t, "2026-12-27T15:00:00-08:00"), OrderRef: "placer|D-1"}}
	r := rules()
	r.Holidays, r.Round, r.DaysInHand = []string{"2026-12-25", "2027-01-01"}, []time.Weekday{time.Friday}, 1
	la, now := zone(t, "America/Los_Angeles"), instant(t, "2026-12-20T18:45:00-08:00")
	p := plan.Draft(o, nil, c, r, la, now)
	at, units, _ := arrivals(p)
	assert.Equal(t, []string{"Mon 2026-12-21T14:00:00-08:00", "Wed 2026-12-23T15:00:00-08:00", "Wed 2026-12-30T15:00:00-08:00", "Fri 2027-01-08T15:00:00-08:00"}, at)
	assert.Equal(t, []int{6, 7, 7, 6}, units)
	assert.Equal(t, []bool{false, true, true, false}, []bool{p.Deliveries[0].Moved, p.Deliveries[1].Moved, p.Deliveries[2].Moved, p.Deliveries[3].Moved})
	r.DaysInHand = 0
	at, _, _ = arrivals(plan.Draft(o, nil, c, r, la, now))
	assert.Equal(t, []string{"Thu 2026-12-24T15:00:00-08:00", "Thu 2026-12-31T15:00:00-08:00"}, at[1:3])
	r.Holidays = nil
	at, _, _ = arrivals(plan.Draft(o, nil, c, r, la, now))
	assert.Equal(t, []string{"Fri 2026-12-25T15:00:00-08:00", "Fri 2027-01-01T15:00:00-08:00"}, at[1:3])
}

// A round that would come before the first delivery is not waited for.
func TestTheSecondDeliveryNeverComesBeforeTheFirst(t *testing.T) {
	r := rules()
	r.LongestDays, r.Round = 2, []time.Weekday{time.Friday}
	p := plan.Draft(daily(t, "2026-11-10T22:00:00-05:00", 24, 8), nil, order.Case{}, r, zone(t, "America/New_York"), instant(t, "2026-11-09T10:00:00-05:00"))
	at, units, _ := arrivals(p)
	assert.Equal(t, []string{"Tue 2026-11-10T18:00:00-05:00", "Thu 2026-11-12T19:00:00-05:00", "Fri 2026-11-13T19:00:00-05:00", "Fri 2026-11-13T19:00:00-05:00"}, at)
	assert.Equal(t, []int{2, 2, 2, 2}, units)
}

// worked-examples.json, derived cases. Beyond-use is the latest start: the
// dose exactly then is in time, the dose a minute later is not.
func TestDerivedCasesOfDeliveryAndBeyondUse(t *testing.T) {
	ny := zone(t, "America/New_York")
	bare := plan.Rules{LongestDays: 14}
	units := func(o order.Order, r plan.Rules, now string) []int {
		p := plan.Draft(o, nil, order.Case{}, r, ny, instant(t, now))
		for _, d := range p.Deliveries {
			assert.False(t, d.Late, d.Says)
		}
		_, n, _ := arrivals(p)
		return n
	}
	t.Run("DDC-01", func(t *testing.T) { // one every 8 h, 7 days, no overlap: 21
		r := bare
		r.LongestDays = 7
		assert.Equal(t, []int{21, 21}, units(daily(t, "2026-03-16T08:00:00-04:00", 8, 42), r, "2026-03-15T08:00:00-04:00"))
	})
	t.Run("DDC-03", func(t *testing.T) { // 7 daily doses, limit 4 d, first dose on the day of making: 2
		r := bare
		r.ShelfLife = 96 * time.Hour
		assert.Equal(t, []int{5, 2}, units(daily(t, "2026-03-16T08:00:00-04:00", 24, 7), r, "2026-03-15T08:00:00-04:00"), "days 0 to 4, the last of them at the very end")
		r.ShelfLife -= time.Nanosecond
		assert.Equal(t, []int{4, 3}, units(daily(t, "2026-03-16T08:00:00-04:00", 24, 7), r, "2026-03-15T08:00:00-04:00"), "days 0 to 3")
	})
	t.Run("DBU-01", func(t *testing.T) { // made 10:00, 12 h: start until 22:00
		r := bare
		r.ShelfLife = 12 * time.Hour
		r.WarmUp = 12 * time.Hour
		r.OpenFrom, r.OpenUntil = 9*time.Hour, 10*time.Hour // made at closing, 10:00, at the latest
		for start, late := range map[string]bool{"2026-03-02T22:00:00-05:00": false, "2026-03-02T22:01:00-05:00": true} {
			assert.Equal(t, late, plan.Draft(daily(t, start, 24, 1), nil, order.Case{}, r, ny, instant(t, "2026-03-02T09:00:00-05:00")).Deliveries[0].Late, start)
		}
	})
	made := func(t *testing.T, until string, start string, n int) plan.Plan {
		o := daily(t, start, 24, n)
		o.Key = "k"
		c := order.Case{Orders: []order.Order{o}}
		c.Held.Prepared = []order.Batch{{Units: n, Lot: "A", Completed: when(t, "2026-03-02T10:00:00-05:00"), BeyondUse: when(t, until), OrderRef: "k"}}
		return plan.Draft(o, nil, c, bare, ny, instant(t, "2026-03-02T11:00:00-05:00"))
	}
	t.Run("DBU-03", func(t *testing.T) { // made 2 March 10:00, 10 d across the spring change: 12 March 10:00 EDT
		_, n, _ := arrivals(made(t, "2026-03-12T10:00:00-04:00", "2026-03-03T09:00:00-05:00", 10))
		assert.Equal(t, []int{10}, n, "elapsed days: the tenth dose, 12 March 10:00 EDT, starts at the very end")
		p := made(t, "2026-03-12T10:00:00-04:00", "2026-03-03T09:01:00-05:00", 10)
		_, n, _ = arrivals(p)
		assert.Equal(t, []int{9, 1}, n, "a minute later its unit is made again and goes by itself")
		assert.Equal(t, "Thu 2026-03-12T10:00:00-04:00", show(p.Deliveries[0].StartBefore))
	})
	t.Run("DBU-05", func(t *testing.T) { // stability 7 d, sterility 10 d: 7 d
		o, k := once(t, "elastomeric", "2026-06-05T18:00:00-04:00", "2026-06-20", "", "", "", 0)
		r := rules()
		r.LongestDays, r.Make = 14, making(sterileOnly, lasting("cold", "refrigerated", "7", "d", "label"))
		_, n, _ := arrivals(plan.Draft(o, lasts("30", "min"), k, r, ny, instant(t, "2026-06-04T16:00:00-04:00")))
		assert.Equal(t, 7, n[0], "168 h from Friday 14:00 end before the eighth dose, Friday 18:00")
		r.Make = making(sterileOnly, lasting("cold", "refrigerated", "14", "d", "label"))
		_, n, _ = arrivals(plan.Draft(o, lasts("30", "min"), k, r, ny, instant(t, "2026-06-04T16:00:00-04:00")))
		assert.Equal(t, 10, n[0], "the other way round sterility decides: 10 d, ten doses")
	})
}

// Both sides of each boundary of an arrival.
func TestAnArrivalAtTheVeryLastMoment(t *testing.T) {
	ny := zone(t, "America/New_York")
	draft := func(first string, r plan.Rules, now string) plan.Delivery {
		return plan.Draft(daily(t, first, 24, 1), nil, order.Case{}, r, ny, instant(t, now)).Deliveries[0]
	}
	r := plan.Rules{LongestDays: 7, WarmUp: 3 * time.Hour}
	assert.False(t, draft("2026-11-10T22:00:00-05:00", r, "2026-11-10T19:00:00-05:00").Late, "exactly dose minus warm-up")
	assert.True(t, draft("2026-11-10T22:00:00-05:00", r, "2026-11-10T19:00:01-05:00").Late)
	r.OpenFrom, r.OpenUntil = 8*time.Hour, 19*time.Hour
	assert.Equal(t, "Tue 2026-11-10T19:00:00-05:00", show(draft("2026-11-10T22:00:00-05:00", r, "2026-11-10T08:00:00-05:00").Arrival))
	assert.Equal(t, "Tue 2026-11-10T19:00:00-05:00", show(draft("2026-11-10T22:00:01-05:00", r, "2026-11-10T08:00:00-05:00").Arrival))
	assert.Equal(t, "Tue 2026-11-10T08:00:00-05:00", show(draft("2026-11-10T11:00:00-05:00", r, "2026-11-09T08:00:00-05:00").Arrival))
	assert.Equal(t, "Mon 2026-11-09T19:00:00-05:00", show(draft("2026-11-10T10:59:59-05:00", r, "2026-11-09T08:00:00-05:00").Arrival))
	assert.False(t, draft("2026-11-10T10:59:59-05:00", r, "2026-11-09T08:00:00-05:00").Moved, "too early in the day is not a day without delivery")
}

// Twelve hours before 09:00 on the day of a change are elapsed hours: 20:00
// the evening before in spring, 22:00 in autumn. Staffed hours are those of
// the clock on the wall.
func TestArrivalsAcrossBothClockChanges(t *testing.T) {
	r := plan.Rules{LongestDays: 7, WarmUp: 12 * time.Hour, OpenFrom: 8 * time.Hour, OpenUntil: 22 * time.Hour}
	arrives := func(first string, r plan.Rules) string {
		return show(plan.Draft(daily(t, first, 24, 1), nil, order.Case{}, r, zone(t, "America/New_York"), instant(t, first).Add(-72*time.Hour)).Deliveries[0].Arrival)
	}
	assert.Equal(t, "Sat 2027-03-13T20:00:00-05:00", arrives("2027-03-14T09:00:00-04:00", r))
	assert.Equal(t, "Sat 2026-10-31T22:00:00-04:00", arrives("2026-11-01T09:00:00-05:00", r))
	assert.Equal(t, "Sat 2026-10-31T22:00:00-04:00", arrives("2026-11-01T09:30:00-05:00", r), "22:30 is past closing")
	assert.Equal(t, "Sun 2027-03-14T08:00:00-04:00", arrives("2027-03-14T20:00:00-04:00", r), "opening is the new 08:00")
	assert.Equal(t, "Sat 2027-03-13T22:00:00-05:00", arrives("2027-03-14T19:59:00-04:00", r))
	assert.Equal(t, "Sun 2026-11-01T08:00:00-05:00", arrives("2026-11-01T20:00:00-05:00", r))
	// Closed on Sunday: pulled to Saturday at the same time on the wall.
	r.NoDelivery = []time.Weekday{time.Sunday}
	assert.Equal(t, "Sat 2026-10-31T08:30:00-04:00", arrives("2026-11-01T20:30:00-05:00", r))
}

// Pulled to Saturday, 14:00 would be the usual time; units of 29 hours must
// come later that day: made 20:00, good until Sunday 20:00 and five hours more.
func TestThePulledDeliveryComesLaterWhereItsUnitsMustBeFresh(t *testing.T) {
	r := rules()
	first, now := "2026-11-15T18:00:00-05:00", "2026-11-11T10:00:00-05:00"
	arrives := func(lasting time.Duration) plan.Delivery {
		r.ShelfLife = lasting
		return plan.Draft(daily(t, first, 24, 1), nil, order.Case{}, r, zone(t, "America/New_York"), instant(t, now)).Deliveries[0]
	}
	assert.Equal(t, "Sat 2026-11-14T14:00:00-05:00", show(arrives(28*time.Hour).Arrival))
	assert.Equal(t, "Sat 2026-11-14T20:00:00-05:00", show(arrives(28*time.Hour-1).Arrival))
	assert.Equal(t, "Sat 2026-11-14T20:00:00-05:00", show(arrives(22*time.Hour).Arrival))
	assert.True(t, arrives(22*time.Hour-1).Late)
	assert.False(t, arrives(22*time.Hour).NoData)
	assert.True(t, arrives(0).NoData, "nothing tells how long they last: only the length bounds it")
}

// Fifteen holidays in a row: a dose on the last of them has no day in the two
// weeks before it, the next one has. A day of the fourteen that is open serves.
func TestTwoWeeksWithoutADay(t *testing.T) {
	r := plan.Rules{LongestDays: 7}
	for d := 2; d <= 16; d++ {
		r.Holidays = append(r.Holidays, fmt.Sprintf("2026-11-%02d", d))
	}
	o := daily(t, "2026-11-16T12:00:00-05:00", 48, 2)
	draft := func() plan.Plan {
		return plan.Draft(o, nil, order.Case{}, r, zone(t, "America/New_York"), instant(t, "2026-10-25T10:00:00-04:00"))
	}
	p := draft()
	require.Len(t, p.Deliveries, 2, "what can be served is not left to the late delivery")
	assert.Equal(t, []bool{true, false}, []bool{p.Deliveries[0].Late, p.Deliveries[1].Late})
	assert.Equal(t, []string{plan.ByHoliday}, p.Deliveries[0].Impossible.Together)
	assert.Equal(t, "Wed 2026-11-18T12:00:00-05:00", show(p.Deliveries[1].Arrival))
	r.Holidays = r.Holidays[1:]
	p = draft()
	require.Len(t, p.Deliveries, 1)
	assert.Equal(t, "Mon 2026-11-02T12:00:00-05:00", show(p.Deliveries[0].Arrival), "pulled fourteen days, at the time of day it was due")
}

// The clock stands between two doses of a lot whose second unit is too old: a
// unit made again did not go with a delivery that is past.
func TestWhatMustBeMadeAgainIsNotTakenForDelivered(t *testing.T) {
	o := daily(t, "2026-11-10T22:00:00-05:00", 24, 2)
	o.Key = "k"
	c := order.Case{Orders: []order.Order{o}, Administrations: []order.Administration{given(t, "cefazolin", "2026-11-10T22:00:00-05:00", "community")}}
	c.Held.Prepared = []order.Batch{{Units: 2, Lot: "A", Completed: when(t, "2026-11-10T08:00:00-05:00"), BeyondUse: when(t, "2026-11-11T10:00:00-05:00"), OrderRef: "k"}}
	p := plan.Draft(o, nil, c, rules(), zone(t, "America/New_York"), instant(t, "2026-11-11T20:00:00-05:00"))
	require.Len(t, p.Deliveries, 2)
	assert.True(t, p.Deliveries[0].Past)
	assert.True(t, p.Deliveries[1].Late)
	assert.Equal(t, []string{plan.ByWarmUp, plan.ByClock}, p.Deliveries[1].Impossible.Together)
}

// A unit of 26 hours on a dose every 8 hours: four doses a delivery, 0 to 24 h
// after the first; two with 23 h, since it comes 7 h earlier.
func TestShortShelfLifeMakesMoreDeliveries(t *testing.T) {
	r := plan.Rules{LongestDays: 7, WarmUp: 2 * time.Hour}
	units := func(lasting time.Duration) []int {
		r.ShelfLife = lasting
		_, n, _ := arrivals(plan.Draft(daily(t, "2026-11-10T22:00:00-05:00", 8, 9), nil, order.Case{}, r, zone(t, "America/New_York"), instant(t, "2026-11-09T10:00:00-05:00")))
		return n
	}
	assert.Equal(t, []int{4, 4, 1}, units(26*time.Hour))
	assert.Equal(t, []int{3, 3, 3}, units(26*time.Hour-1))
	assert.Equal(t, []int{1, 1, 1, 1, 1, 1, 1, 1, 1}, units(2*time.Hour))
}

func TestSparesFollowThePolicyAndNeverRiskyDrugs(t *testing.T) {
	spares := func(s plan.SpareRules) (n []int, says string) {
		r := rules()
		r.Spare = s
		p := plan.Draft(daily(t, "2026-11-10T22:00:00-05:00", 8, 26), nil, order.Case{}, r, zone(t, "America/New_York"), instant(t, "2026-11-09T10:00:00-05:00"))
		for _, d := range p.Deliveries {
			n, says = append(n, d.Spares), d.SparesSay
		}
		_, units, _ := arrivals(p)
		assert.Equal(t, []int{21, 5}, units, "spares are no doses")
		return n, says
	}
	rate := quantity.MustNumber("0.1")
	for _, c := range []struct {
		rules plan.SpareRules
		want  []int
		says  string
	}{
		{plan.SpareRules{}, []int{0, 0}, ""},
		{plan.SpareRules{Units: 1}, []int{1, 1}, ""},
		{plan.SpareRules{Rate: rate}, []int{3, 1}, ""}, // 2.1 and 0.5, rounded up
		{plan.SpareRules{Units: 2, Rate: rate}, []int{3, 2}, ""},
		{plan.SpareRules{Units: 1, Controlled: true}, []int{0, 0}, "no spare unit: the drug is a controlled substance"},
		{plan.SpareRules{Units: 1, Hazardous: true}, []int{0, 0}, "no spare unit: the drug is hazardous or not assessed"},
		{plan.SpareRules{Units: 1, Controlled: true, Hazardous: true, Always: true}, []int{1, 1}, ""},
		{plan.SpareRules{Hazardous: true}, []int{0, 0}, ""},
	} {
		n, says := spares(c.rules)
		assert.Equal(t, c.want, n, "%+v", c.rules)
		assert.Equal(t, c.says, says, "%+v", c.rules)
	}
}

// Whatever the order and the rules: each dose goes with one delivery, which
// came before it by the warm-up; no unit starts after it may; arrivals stand
// in order and in staffed hours; the same input gives the same plan.
func TestNoGapAndNoUnitTooOld(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		z := zone(t, rapid.SampledFrom([]string{"America/New_York", "America/Denver", "Europe/London", "Australia/Lord_Howe", "UTC"}).Draw(rt, "zone"))
		start := time.Unix(rapid.Int64Range(1_790_000_000, 1_811_000_000).Draw(rt, "start"), 0).In(z.Location)
		hours := rapid.SampledFrom([]int{4, 6, 8, 12, 24, 48}).Draw(rt, "hours")
		length := func(most int, of string) time.Duration {
			return time.Duration(rapid.IntRange(0, most).Draw(rt, of)) * time.Minute
		}
		r := plan.Rules{LongestDays: rapid.IntRange(1, 14).Draw(rt, "longest"), WarmUp: length(720, "warm-up"), Teach: length(240, "teach"), OpenFrom: length(600, "open")}
		r.OpenUntil = r.OpenFrom + time.Minute + length(800, "staffed")
		r.NoDelivery = []time.Weekday{time.Weekday(rapid.IntRange(0, 6).Draw(rt, "closed"))}
		r.ShelfLife = time.Hour + length(20_000, "lasts")
		if rapid.Bool().Draw(rt, "round") {
			r.Round = []time.Weekday{time.Weekday(rapid.IntRange(0, 6).Draw(rt, "day"))}
			r.DaysInHand = rapid.IntRange(0, 2).Draw(rt, "in hand")
		}
		o := order.Order{Drug: order.Drug{Name: "cefazolin"}, Timing: schedule.Timing{Code: fmt.Sprintf("Q%dH", hours), Count: rapid.IntRange(1, 150).Draw(rt, "count")}, Course: order.Course{Start: order.Instant{Time: start, Literal: "x"}}}
		now := start.Add(-length(6000, "notice"))
		p := plan.Draft(o, nil, order.Case{}, r, z, now)
		covered, before := 0, time.Time{}
		for i, d := range p.Deliveries {
			require.True(rt, d.FirstDose.Equal(p.HomeDoses[covered]))
			covered += d.Units
			require.True(rt, d.LastDose.Equal(p.HomeDoses[covered-1]))
			if d.Late {
				require.NotEmpty(rt, d.Impossible.Together)
				require.True(rt, d.Impossible.Dose.Equal(d.FirstDose))
				continue
			}
			due := d.FirstDose.Add(-r.WarmUp)
			if i == 0 {
				due = due.Add(-r.Teach)
			}
			require.False(rt, d.Arrival.After(due) || d.Arrival.Before(now))
			require.False(rt, d.LastDose.After(d.Arrival.Add(r.ShelfLife)), "%s made, %s last", d.Arrival, d.LastDose)
			// By instants: hours that the clock of that day does not show end where
			// they would have without the change.
			year, month, day := d.Arrival.In(z.Location).Date()
			opens, _, _ := z.Wall(year, month, day, r.OpenFrom)
			closes, _, _ := z.Wall(year, month, day, r.OpenUntil)
			require.False(rt, d.Arrival.Before(opens) || d.Arrival.After(closes), "%s", d.Arrival)
			require.NotEqual(rt, r.NoDelivery[0], d.Arrival.Weekday())
			require.False(rt, d.Arrival.Before(before), "%s before %s", d.Arrival, before)
			before = d.Arrival
		}
		require.Equal(rt, len(p.HomeDoses), covered)
		require.Equal(rt, p, plan.Draft(o, nil, order.Case{}, r, z, now))
	})
}
