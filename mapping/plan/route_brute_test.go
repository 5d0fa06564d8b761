package plan_test

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/plan"
	"weir.example/weir/mapping/schedule"
)

// small is one small course whose every time is a whole hour, so that trying
// every hour tries everything.
type small struct {
	zone  schedule.Zone
	doses []time.Time
	now   time.Time
	rules plan.Rules
	units int       // already made, for the first doses
	until time.Time // beyond-use instant of these
}

func drawSmall(t *testing.T, rt *rapid.T, bases ...string) small {
	name := rapid.SampledFrom([]string{"America/New_York", "Europe/London", "America/Los_Angeles"}).Draw(rt, "zone")
	draw := func(low, high int, of string) int { return rapid.IntRange(low, high).Draw(rt, of) }
	s := small{zone: zone(t, name)}
	base := instant(t, rapid.SampledFrom(bases).Draw(rt, "base")).Add(time.Duration(draw(0, 47, "hour")) * time.Hour)
	at := map[int]bool{}
	for range draw(1, 8, "doses") {
		at[draw(0, 239, "dose")] = true
	}
	for h := range 240 {
		if at[h] {
			s.doses = append(s.doses, base.Add(time.Duration(h)*time.Hour).In(s.zone.Location))
		}
	}
	s.now = s.doses[0].Add(-time.Duration(draw(0, 72, "notice")) * time.Hour)
	hours := func(low, high int, of string) time.Duration { return time.Duration(draw(low, high, of)) * time.Hour }
	r := plan.Rules{LongestDays: draw(1, 5, "longest"), WarmUp: hours(0, 6, "warm-up"), Teach: hours(0, 3, "teach")}
	for _, d := range rapid.SliceOfNDistinct(rapid.IntRange(0, 6), 0, 3, rapid.ID[int]).Draw(rt, "weekdays") {
		r.NoDelivery = append(r.NoDelivery, time.Weekday(d))
	}
	for range draw(0, 3, "holidays") {
		r.Holidays = append(r.Holidays, s.doses[0].AddDate(0, 0, draw(-3, 10, "holiday")).Format("2006-01-02"))
	}
	if rapid.Bool().Draw(rt, "staffed") {
		r.OpenFrom, r.OpenUntil = hours(5, 12, "open"), hours(13, 22, "close")
	}
	if rapid.Bool().Draw(rt, "dated") {
		r.ShelfLife = hours(4, 96, "lasts")
		r.Make = &plan.Making{Ahead: hours(0, 12, "ahead")}
	}
	if rapid.IntRange(0, 2).Draw(rt, "prepared") == 0 {
		s.units = draw(1, 8, "units")
		s.until = s.doses[0].Add(hours(0, 240, "beyond-use"))
	}
	s.rules = r
	return s
}

func (s small) plan() plan.Plan {
	o := order.Order{Key: "k", Drug: order.Drug{Name: "cefazolin"}, Timing: schedule.Timing{Events: s.doses}, Course: order.Course{Start: order.Instant{Time: s.doses[0], Literal: "x"}}}
	c := order.Case{Orders: []order.Order{o}}
	if s.units > 0 {
		c.Held.Prepared = []order.Batch{{Units: s.units, Lot: "L", Completed: order.Instant{Time: s.now.Add(-time.Hour), Literal: "x"}, BeyondUse: order.Instant{Time: s.until, Literal: "x"}, OrderRef: "k"}}
	}
	return plan.Draft(o, nil, c, s.rules, s.zone, s.now)
}

func (s small) ahead() time.Duration {
	if s.rules.Make == nil {
		return 0
	}
	return s.rules.Make.Ahead
}

// made: a unit of the lot is meant for the dose; good: and may be used.
func (s small) made(i int) bool { return i < s.units && !s.doses[i].After(s.until) }

// comes asks of one instant whether a delivery that begins with dose i may
// arrive then. Constraints named in without do not count.
func (s small) comes(at time.Time, i int, without ...string) bool {
	on := func(of string) bool { return !slices.Contains(without, of) }
	r, due := s.rules, s.doses[i]
	if on(plan.ByWarmUp) {
		due = due.Add(-r.WarmUp)
	}
	if on(plan.ByTeach) && i == 0 {
		due = due.Add(-r.Teach)
	}
	local, day := at.In(s.zone.Location), due.In(s.zone.Location)
	back := time.Date(day.Year(), day.Month(), day.Day(), 0, 0, 0, 0, time.UTC).Sub(time.Date(local.Year(), local.Month(), local.Day(), 0, 0, 0, 0, time.UTC))
	since := time.Duration(local.Hour())*time.Hour + time.Duration(local.Minute())*time.Minute
	switch {
	case at.After(due), back > 14*24*time.Hour,
		on(plan.ByClock) && at.Before(s.now),
		on(plan.ByWeekday) && slices.Contains(r.NoDelivery, local.Weekday()),
		on(plan.ByHoliday) && slices.Contains(r.Holidays, local.Format("2006-01-02")),
		on(plan.ByHours) && r.OpenUntil > 0 && (since < r.OpenFrom || since > r.OpenUntil):
		return false
	}
	return true
}

func (s small) good(at time.Time, j int, without ...string) bool {
	if s.made(j) || s.rules.ShelfLife == 0 || slices.Contains(without, plan.ByKeeping) {
		return true
	}
	made := at
	if !slices.Contains(without, plan.ByMaking) {
		made = made.Add(-s.ahead())
		if made.Before(s.now) && !slices.Contains(without, plan.ByClock) {
			made = s.now
		}
	}
	return !s.doses[j].After(made.Add(s.rules.ShelfLife))
}

// last tries every hour and the minute before it, which is the last of a day,
// latest first.
func (s small) last(i, to int, without ...string) (time.Time, bool) {
	step := time.Minute
	for at := s.doses[i]; !at.Before(s.doses[i].Add(-17 * 24 * time.Hour)); at, step = at.Add(-step), time.Hour-step {
		fine := s.comes(at, i, without...)
		for j := i; fine && j < to; j++ {
			fine = s.good(at, j, without...)
		}
		if fine {
			return at, true
		}
	}
	return time.Time{}, false
}

func (s small) short(i, j int) bool {
	y, m, d := s.doses[i].Date()
	until, _, _ := s.zone.Wall(y, m, d+s.rules.LongestDays, s.zone.SinceMidnight(s.doses[i]))
	return s.doses[j].Before(until)
}

type answer struct {
	units, wasted []int
	arrivals      []time.Time
}

// best tries every way to cut the doses.
func (s small) best() (best answer, found bool) {
	n := len(s.doses)
	for cuts := range 1 << (n - 1) {
		var a answer
		fine, from := true, 0
		for j := 1; j <= n && fine; j++ {
			if j < n && cuts&(1<<(j-1)) == 0 {
				continue
			}
			at, ok := s.last(from, j)
			fine = ok && s.short(from, j-1)
			waste := 0
			for k := from + 1; k < j && s.made(from); k++ {
				alone, _ := s.last(k, k, plan.ByClock)
				first, _ := s.last(from, from, plan.ByClock)
				if k < s.units && !s.made(k) && alone.After(first) {
					waste++
				}
			}
			a.units, a.wasted, a.arrivals, from = append(a.units, j-from), append(a.wasted, waste), append(a.arrivals, at), j
		}
		if fine && (!found || a.before(best)) {
			best, found = a, true
		}
	}
	return best, found
}

func sum(list []int) (n int) {
	for _, x := range list {
		n += x
	}
	return n
}

func (a answer) before(b answer) bool {
	if x, y := sum(a.wasted), sum(b.wasted); x != y {
		return x < y
	}
	if len(a.units) != len(b.units) {
		return len(a.units) < len(b.units)
	}
	if c := slices.CompareFunc(a.arrivals, b.arrivals, time.Time.Compare); c != 0 {
		return c > 0
	}
	return slices.Compare(a.units, b.units) > 0
}

// quiet and noisy are times without and with a clock change.
var (
	quiet = []string{"2026-06-01T00:00:00Z", "2026-12-19T00:00:00Z"}
	noisy = []string{"2026-10-22T00:00:00Z", "2026-10-28T00:00:00Z", "2027-03-10T00:00:00Z", "2027-03-24T00:00:00Z", "2026-06-01T00:00:00Z"}
)

// The planner finds a plan where, and only where, trying every cut and every
// hour finds one, and it is the best by the stated order.
func TestThePlanIsTheOneThatTryingEverythingFinds(t *testing.T) {
	tried := map[bool]int{}
	rapid.Check(t, func(rt *rapid.T) {
		s := drawSmall(t, rt, noisy...)
		p := s.plan()
		require.Len(rt, p.HomeDoses, len(s.doses))
		want, found := s.best()
		tried[found]++
		late := slices.ContainsFunc(p.Deliveries, func(d plan.Delivery) bool { return d.Late })
		require.Equal(rt, found, !late)
		from := 0
		var units []int
		for k, d := range p.Deliveries {
			units = append(units, d.Units)
			if k > 0 && !late {
				require.False(rt, d.Arrival.Before(p.Deliveries[k-1].Arrival), "arrivals in order")
			}
			if d.Late {
				require.NotNil(rt, d.Impossible)
				require.Equal(rt, d.Impossible.Says, d.Says)
			} else {
				require.True(rt, s.comes(d.Arrival, from), "%s", d.Arrival)
				for j := from; j < from+d.Units; j++ {
					require.True(rt, s.good(d.Arrival, j), "dose %d", j)
				}
			}
			from += d.Units
		}
		require.Equal(rt, len(s.doses), from)
		if !found {
			return
		}
		require.Equal(rt, want.units, units)
		for k, d := range p.Deliveries {
			require.Equal(rt, want.arrivals[k].In(s.zone.Location).Format("2006-01-02"), d.Arrival.Format("2006-01-02"))
		}
	})
	t.Log("possible, impossible:", tried[true], tried[false])
	require.Positive(t, tried[true])
	require.Positive(t, tried[false])
}
