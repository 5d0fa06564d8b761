package plan_test

import (
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

func holds(q order.Quantities, n string) order.Quantities {
	v := quantity.MustNumber(n)
	q["volume"] = order.Quantity{Value: v, Low: v, High: v, Unit: quantity.MustUnit("mL")}
	return q
}

// infused drafts one continuous infusion.
func infused(t testing.TB, start, zoneName string, q order.Quantities, change func(*plan.Rules)) plan.Plan {
	o := infusion(t, "examplemycin", start, "", schedule.Timing{Events: []time.Time{instant(t, start)}, Count: 1})
	r := rules()
	r.Continuous, r.FixedFlow, r.RateError = true, false, quantity.MustNumber("0.05")
	change(&r)
	return plan.Draft(o, q, order.Case{}, r, zone(t, zoneName), instant(t, start).Add(-time.Hour))
}

func steps(step, accuracy string) func(*plan.Rules) {
	return func(r *plan.Rules) {
		r.Pump = &plan.Pump{Step: every(step, "mL/h"), Source: "example pump"}
		if accuracy != "" {
			r.Pump.Accuracy = quantity.MustNumber(accuracy)
		}
	}
}

func nominal(rate string) func(*plan.Rules) {
	return func(r *plan.Rules) { r.FixedFlow, r.Nominal = true, every(rate, "mL/h") }
}

// Worked by hand. 240 mL in 46 h need 5.217 mL/h; set to 5.2 they take 46.1538
// h = 166,153.85 s, so 46 h 9 min 14 s; at 6 % either way 156,748.9 s down and
// 176,759.4 s up. An electronic pump's own claim: IEC 60601-2-24 asks for
// disclosure and sets no limit.
func TestAPumpRunsAtTheRateItCanBeSetTo(t *testing.T) {
	p := infused(t, "2026-06-01T08:00:00-04:00", "America/New_York", holds(lasts("46", "h"), "240"), steps("0.1", "0.06"))
	assert.Equal(t, 46*time.Hour+9*time.Minute+14*time.Second, p.RunTime)
	assert.Equal(t, 46*time.Hour, p.Duration, "as ordered")
	assert.Equal(t, []time.Duration{156748 * time.Second, 176760 * time.Second}, []time.Duration{p.ShortestRun, p.LongestRun})
	assert.Equal(t, "Wed 2026-06-03T06:09:14-04:00", show(p.EndsAt))
	assert.Equal(t, "5.2 mL/h", p.SetRate.Low.Decimal()+" "+p.SetRate.Unit.Code())
	assert.Contains(t, p.Says, "the pump can be set to 5.2 mL per hour and not to 5.217 mL per hour: one infusion takes 46 hours 9 minutes 14 seconds")
	for _, c := range []struct{ says, hours, volume, step, rate string }{
		{"half a step goes up", "20", "105", "0.1", "5.3"},
		{"just under half a step", "20", "104.99", "0.1", "5.2"},
		{"a finer pump", "20", "105", "0.01", "5.25"},
		{"exactly a step", "46", "92", "0.1", "2"},
	} {
		p := infused(t, "2026-06-01T08:00:00-04:00", "America/New_York", holds(lasts(c.hours, "h"), c.volume), steps(c.step, ""))
		assert.Equal(t, c.rate, p.SetRate.Low.Decimal(), c.says)
		assert.True(t, p.EndsEarliest.IsZero(), "no accuracy is known, so no window is")
	}
	p = infused(t, "2026-06-01T08:00:00-04:00", "America/New_York", holds(lasts("100", "h"), "4"), steps("0.1", ""))
	assert.Contains(t, p.Unknown, "the end of the infusion: the pump cannot be set as low as the rate needed")
}

// A device runs at its own nominal rate; one that is off by more than the
// site allows is not planned by, and that is said.
func TestAFixedFlowDeviceRunsAtItsOwnRate(t *testing.T) {
	q := func() order.Quantities { return holds(lasts("46", "h"), "92") }
	p := infused(t, "2026-06-01T08:00:00-04:00", "America/New_York", q(), nominal("2.1"))
	assert.Equal(t, "nominal", p.SetFrom, "5 % is allowed")
	assert.Equal(t, 43*time.Hour+48*time.Minute+34*time.Second, p.RunTime, "92 / 2.1 = 43.8095 h")
	p = infused(t, "2026-06-01T08:00:00-04:00", "America/New_York", q(), nominal("2.11"))
	assert.Equal(t, []any{"", 46 * time.Hour}, []any{p.SetFrom, p.RunTime})
	assert.Contains(t, p.Says, "the device has a nominal rate of 2.11 mL per hour and the order needs 2 mL per hour: the end is planned by the order until that is settled")
	// DEL-01 of the derived cases, by ISO 28620:2020 clause 5.1.
	p = infused(t, "2026-06-01T08:00:00-04:00", "America/New_York", holds(lasts("48", "h"), "240"), nominal("5"))
	assert.Equal(t, "41.74 56.47", quantity.Ratio(int64(p.ShortestRun/time.Second), 3600).Places(2)+" "+quantity.Ratio(int64(p.LongestRun/time.Second), 3600).Places(2))
}

// DST-01 and DST-03 of the derived cases (provincial manual on the clock
// change; the rest arithmetic).
func TestElapsedTimeAcrossTheSpringChange(t *testing.T) {
	p := infused(t, "2026-03-07T14:00:00-05:00", "America/New_York", holds(lasts("24", "h"), "240"), steps("0.1", "0.05"))
	assert.Equal(t, "Sun 2026-03-08T15:00:00-04:00", show(p.EndsAt), "DST-01")
	assert.Equal(t, "Sun 2026-03-08T14:00:00-04:00", show(p.WallEnd), "what the wall clock alone suggests")
	assert.Equal(t, time.Hour, p.EndsLatest.Sub(p.LatestOnWall))
	assert.Equal(t, time.Hour, p.EndsEarliest.Sub(p.EarliestOnWall))
	o := infusion(t, "examplemycin", "2026-03-07T20:00:00-05:00", "2026-03-10", schedule.Timing{Frequency: 2, Period: every("1", "d"), TimesOfDay: []string{"08:00:00", "20:00:00"}})
	p = plan.Draft(o, nil, order.Case{}, rules(), zone(t, "America/New_York"), instant(t, "2026-03-07T10:00:00-05:00"))
	assert.Equal(t, 11*time.Hour, p.HomeDoses[1].Sub(p.HomeDoses[0]), "DST-03")
}

// S3: each end by elapsed time, and what a clock that never changed shows.
func TestBothEndsShowBothClocks(t *testing.T) {
	o, c := fluorouracil(t)
	r := rules()
	r.Continuous = true
	p := plan.Draft(o, lasts("46", "h"), c, r, zone(t, "America/New_York"), instant(t, "2026-10-30T14:10:00-04:00"))
	assert.Equal(t, []string{"Mon 2026-11-02T02:00:00-05:00", "Mon 2026-11-02T03:00:00-05:00"}, []string{show(p.EndsEarliest), show(p.EarliestOnWall)})
	assert.Equal(t, []string{"Mon 2026-11-02T16:07:04-05:00", "Mon 2026-11-02T17:07:04-05:00"}, []string{show(p.EndsLatest), show(p.LatestOnWall)})
}

// The window holds the nominal end, however the numbers fall, and its ends
// are elapsed time from the start.
func TestTheWindowHoldsTheNominalEnd(t *testing.T) {
	zones := []string{"America/New_York", "America/Denver", "America/Phoenix", "Pacific/Honolulu", "America/St_Johns", "Europe/Berlin"}
	rapid.Check(t, func(r *rapid.T) {
		start := instant(t, "2026-01-01T00:00:00Z").Add(time.Duration(rapid.IntRange(0, 366*24*60).Draw(r, "minute")) * time.Minute)
		change := nominal(rapid.StringMatching(`[1-9][0-9]?(\.[1-9])?`).Draw(r, "nominal"))
		if rapid.Bool().Draw(r, "pump") {
			change = steps("0.1", "0.06")
		}
		p := infused(t, start.Format(time.RFC3339), rapid.SampledFrom(zones).Draw(r, "zone"), holds(lasts(rapid.StringMatching(`[1-9][0-9]{0,2}`).Draw(r, "h"), "h"), rapid.StringMatching(`[1-9][0-9]{1,3}`).Draw(r, "mL")), change)
		if p.RunTime <= 0 {
			return
		}
		require.False(t, p.EndsEarliest.IsZero())
		assert.False(t, p.EndsEarliest.After(p.EndsAt) || p.EndsLatest.Before(p.EndsAt))
		assert.Equal(t, []time.Duration{p.ShortestRun, p.RunTime, p.LongestRun}, []time.Duration{p.EndsEarliest.Sub(start), p.EndsAt.Sub(start), p.EndsLatest.Sub(start)})
	})
}
