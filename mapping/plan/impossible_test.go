package plan_test

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/plan"
	"weir.example/weir/mapping/schedule"
)

var everyBar = []string{plan.ByWeekday, plan.ByHoliday, plan.ByHours, plan.ByTeach, plan.ByWarmUp, plan.ByMaking, plan.ByKeeping, plan.ByClock}

func without(list []string, out ...string) []string {
	return slices.DeleteFunc(slices.Clone(list), func(s string) bool { return slices.Contains(out, s) })
}

// Trying every hour confirms each part of a proof: no delivery serves the
// dose; what stands together forbids it without the rest; without any one of
// it the others do not; and every remedy works and is the smallest.
func TestAProofHoldsWhenEverythingIsTried(t *testing.T) {
	seen := map[string]int{}
	rapid.Check(t, func(rt *rapid.T) {
		s := drawSmall(t, rt, quiet...)
		for _, d := range s.plan().Deliveries {
			if !d.Late {
				continue
			}
			i, x := slices.IndexFunc(s.doses, d.Impossible.Dose.Equal), d.Impossible
			serves := func(drop ...string) bool { _, ok := s.last(i, i+1, drop...); return ok }
			require.False(rt, serves())
			rest := without(everyBar, x.Together...)
			require.NotEmpty(rt, x.Together)
			require.False(rt, serves(rest...), "%v", x.Together)
			for _, one := range x.Together {
				require.True(rt, serves(append(slices.Clone(rest), one)...), "%s of %v", one, x.Together)
			}
			require.Empty(rt, notation.Scan(x.Says), x.Says)
			for _, bar := range everyBar {
				k := slices.IndexFunc(x.Remedies, func(r plan.Remedy) bool { return r.Of == bar })
				if bar != plan.ByClock {
					require.Equal(rt, serves(bar), k >= 0, bar)
				}
				if k >= 0 {
					seen[bar]++
					smallest(rt, s, i, x.Remedies[k])
				}
			}
			if len(x.Remedies) == 0 {
				seen["more than one"]++
				require.GreaterOrEqual(rt, len(x.Both), 2, x.Says)
				require.True(rt, serves(x.Both...))
				for _, one := range x.Both {
					require.False(rt, serves(without(x.Both, one)...), "%s of %v", one, x.Both)
				}
			}
		}
	})
	t.Log(seen)
}

// smallest changes the rules as a remedy says, and then by an hour less.
func smallest(rt *rapid.T, s small, i int, r plan.Remedy) {
	const hour = time.Hour
	serves := func(s small) bool { _, ok := s.last(i, i+1); return ok }
	try := func(change func(*small, time.Duration), step time.Duration) {
		as := func(d time.Duration) small {
			x := s
			x.doses = slices.Clone(s.doses)
			if s.rules.Make != nil {
				m := *s.rules.Make
				x.rules.Make = &m
			}
			change(&x, d)
			return x
		}
		require.True(rt, serves(as(0)), "%+v", r)
		require.False(rt, serves(as(step)), "an hour less than %+v", r)
	}
	switch r.Of {
	case plan.ByTeach:
		try(func(x *small, d time.Duration) { x.rules.Teach = r.Needs + d }, hour)
	case plan.ByWarmUp:
		try(func(x *small, d time.Duration) { x.rules.WarmUp = r.Needs + d }, hour)
	case plan.ByMaking:
		try(func(x *small, d time.Duration) { x.rules.Make.Ahead = r.Needs + d }, hour)
	case plan.ByKeeping:
		try(func(x *small, d time.Duration) { x.rules.ShelfLife = r.Needs + d }, -hour)
	case plan.ByClock:
		require.True(rt, r.Start.After(s.doses[i]))
		try(func(x *small, d time.Duration) { x.doses[i] = r.Start.Add(d) }, -hour)
	case plan.ByHours:
		require.True(rt, s.comes(r.Arrival, i, plan.ByHours) && s.good(r.Arrival, i))
		at := s.zone.SinceMidnight(r.Arrival)
		off := max(s.rules.OpenFrom-at, at-s.rules.OpenUntil)
		require.Positive(rt, off)
		s.rules.OpenFrom, s.rules.OpenUntil = s.rules.OpenFrom-off+hour, s.rules.OpenUntil+off-hour
		require.False(rt, serves(s), "an hour nearer than %+v", r)
	default:
		require.True(rt, s.comes(r.Arrival, i, r.Of) && s.good(r.Arrival, i), "%+v", r)
	}
}

// By hand. A dose on Monday 07:00, warm-up 3 h: due 04:00, so Sunday 20:00,
// and Sunday has no delivery: Saturday 20:00. A unit made then and lasting 24
// h may start until Sunday 20:00; it would need 35 h. On Sunday 20:00 it lasts
// until Monday 20:00. In the night, at 04:00, until Tuesday 04:00; nearest to
// opening at 08:00 is that, 4 h off. Without warm-up Saturday still is the
// last day: 07:00 lies before 08:00.
func TestAProofInNumbersWorkedByHand(t *testing.T) {
	r := rules()
	r.ShelfLife = 24 * time.Hour
	o := infusion(t, "cefazolin", "2026-11-16T07:00:00-05:00", "", schedule.Timing{Events: []time.Time{instant(t, "2026-11-16T07:00:00-05:00"), instant(t, "2026-11-17T07:00:00-05:00")}})
	r.Teach = 0
	p := plan.Draft(o, nil, order.Case{}, r, zone(t, "America/New_York"), instant(t, "2026-11-11T10:00:00-05:00"))
	require.Len(t, p.Deliveries, 2)
	d := p.Deliveries[0]
	require.True(t, d.Late)
	assert.Equal(t, []int{1, 1}, []int{d.Units, p.Deliveries[1].Units}, "the next dose has its own delivery in time")
	assert.False(t, p.Deliveries[1].Late)
	assert.Equal(t, []string{plan.ByWeekday, plan.ByHours, plan.ByKeeping}, d.Impossible.Together)
	assert.Equal(t, "no delivery can serve the dose of Mon 16 Nov 2026 07:00 EST in time: nothing is delivered on Sunday, and deliveries arrive from 08:00 to 20:00, and a unit made Sat 14 Nov 2026 20:00 EST may be started until Sun 15 Nov 2026 20:00 EST"+
		"; possible with any one of these: a delivery Sun 15 Nov 2026 20:00 EST, or an arrival outside these hours, Mon 16 Nov 2026 04:00 EST, or units that last 35 hours instead of 24 hours", d.Says)
	assert.Equal(t, "Sat 2026-11-14T20:00:00-05:00", show(d.Arrival), "when it would have to come, were its units good")
	r.ShelfLife = 35 * time.Hour
	p = plan.Draft(o, nil, order.Case{}, r, zone(t, "America/New_York"), instant(t, "2026-11-11T10:00:00-05:00"))
	assert.False(t, p.Deliveries[0].Late)
	r.ShelfLife = 35*time.Hour - 1
	p = plan.Draft(o, nil, order.Case{}, r, zone(t, "America/New_York"), instant(t, "2026-11-11T10:00:00-05:00"))
	assert.True(t, p.Deliveries[0].Late)
}

// Too late for the clock: due 18:00, and it is 18:00:01. A warm-up or teaching
// a second shorter, or a start a second later, would do.
func TestWhatIsPastIsToldWithTheSoonestStart(t *testing.T) {
	o := infusion(t, "cefazolin", "2026-11-10T22:00:00-05:00", "", schedule.Timing{Count: 1})
	p := plan.Draft(o, nil, order.Case{}, rules(), zone(t, "America/New_York"), instant(t, "2026-11-10T18:00:01-05:00"))
	x := p.Deliveries[0].Impossible
	require.NotNil(t, x)
	assert.Equal(t, []string{plan.ByTeach, plan.ByWarmUp, plan.ByClock}, x.Together)
	require.Len(t, x.Remedies, 3)
	assert.Equal(t, []time.Duration{time.Hour - time.Second, 3*time.Hour - time.Second}, []time.Duration{x.Remedies[0].Needs, x.Remedies[1].Needs})
	assert.Equal(t, "Tue 2026-11-10T22:00:01-05:00", show(x.Remedies[2].Start))
	assert.Equal(t, "Tue 2026-11-10T18:00:00-05:00", show(p.Deliveries[0].Arrival))
}

func TestThreeHolidaysInARowAreNamed(t *testing.T) {
	r := rules()
	r.Holidays = []string{"2026-12-24", "2026-12-25", "2026-12-26"}
	r.ShelfLife = 48 * time.Hour
	o := infusion(t, "cefazolin", "2026-12-27T18:00:00-05:00", "", schedule.Timing{Count: 1})
	p := plan.Draft(o, nil, order.Case{}, r, zone(t, "America/New_York"), instant(t, "2026-12-20T10:00:00-05:00"))
	x := p.Deliveries[0].Impossible
	require.NotNil(t, x)
	assert.Equal(t, []string{plan.ByWeekday, plan.ByHoliday, plan.ByKeeping}, x.Together)
	assert.Contains(t, x.Says, "the holidays of the site (24 Dec 2026, 25 Dec 2026, 26 Dec 2026)")
	assert.Contains(t, x.Says, "a delivery Sun 27 Dec 2026 14:00 EST, or a delivery on the holiday, Sat 26 Dec 2026 20:00 EST, or units that last ")
}
