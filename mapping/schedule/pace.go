package schedule

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"weir.example/weir/mapping/quantity"
)

// Pace is how a timing steps from dose to dose. Either Cycle is set and the
// steps are elapsed time, or Days or Weeks is set and they follow the wall
// clock.
type Pace struct {
	Cycle    time.Duration   // elapsed: the period
	PerCycle int             // elapsed: doses in it, evenly spaced
	Days     int             // wall clock: every so many days
	Weeks    int             // wall clock with Weekday: every so many weeks, Monday first
	Times    []time.Duration // wall clock: times of day since midnight, sorted; empty: PerDay from the first dose
	Weekday  []time.Weekday  // wall clock: only on these days
	PerDay   int             // wall clock without times: evenly over the day, from the time of the first dose
	Says     []string        // what was assumed, in words
}

// Elapsed reports whether doses keep their distance when the clocks change.
func (p Pace) Elapsed() bool { return p.Cycle > 0 }

// Interval is the usual distance between doses, rounded down to the
// nanosecond; 0 when days of the week make it uneven.
func (p Pace) Interval() time.Duration {
	switch {
	case p.Cycle > 0:
		return p.Cycle / time.Duration(p.PerCycle)
	case len(p.Weekday) > 0:
		return 0
	}
	return time.Duration(p.Days) * 24 * time.Hour / time.Duration(p.perDay())
}

func (p Pace) perDay() int { return max(len(p.Times), p.PerDay, 1) }

func (p *Pace) say(s string) { p.Says = append(p.Says, s) }

func (p *Pace) sayEvenly() {
	if p.PerDay > 1 && len(p.Times) == 0 {
		p.say(fmt.Sprintf("%d doses a day without clock times: spaced evenly over the day from the first dose", p.PerDay))
	}
}

// Unplaced is the reason why a timing gives no instants.
type Unplaced struct{ Reason string }

func (u *Unplaced) Error() string { return u.Reason }

func unplaced(format string, args ...any) error { return &Unplaced{fmt.Sprintf(format, args...)} }

func elapsedPace(cycle time.Duration, times int) Pace { return Pace{Cycle: cycle, PerCycle: times} }

var weekdays = map[string]time.Weekday{"mon": time.Monday, "tue": time.Tuesday, "wed": time.Wednesday, "thu": time.Thursday,
	"fri": time.Friday, "sat": time.Saturday, "sun": time.Sunday}

// PaceOf reads how a timing repeats. The error is an *Unplaced that says in
// words why the doses cannot be placed: the timing does not say how often,
// leaves a range, or contradicts itself. Nothing is guessed.
func PaceOf(t Timing) (Pace, error) {
	switch {
	case !t.Repeats():
		return Pace{}, unplaced("the order does not say how often a dose is given")
	case t.FrequencyMax > 0 && t.FrequencyMax != max(t.Frequency, 1), !t.PeriodMax.Absent() && !sameTime(t.Period, t.PeriodMax):
		return Pace{}, unplaced("the order leaves a range for how often a dose is given")
	case len(t.When) > 1 || len(t.When) > 0 && (len(t.TimesOfDay) > 0 || t.Frequency > 1):
		return Pace{}, unplaced("the order ties doses to events of the day (%s) and gives no clock times for them", strings.Join(t.When, ", "))
	}
	p, err := paceOfRepeat(t)
	if err != nil || t.Code == "" {
		return p, err
	}
	byCode, err := paceOfCode(t.Code)
	if err != nil {
		if t.Period.Absent() && len(t.DaysOfWeek)+len(t.TimesOfDay) == 0 {
			return Pace{}, err
		}
		return p, nil // a local code beside a full repeat adds nothing
	}
	if p.Days == 0 && p.Cycle == 0 {
		return byCode, nil
	}
	if a, b := p.Interval(), byCode.Interval(); a != b && len(p.Weekday) == 0 {
		return Pace{}, unplaced("the timing code %s and the repeat of the same timing give different times between doses", t.Code)
	}
	return p, nil
}

// paceOfRepeat reads Timing.repeat. The zero Pace without an error means that
// only the code can tell.
func paceOfRepeat(t Timing) (Pace, error) {
	if len(t.TimesOfDay)+len(t.DaysOfWeek) > 0 {
		return paceOfClock(t)
	}
	if !t.Period.Absent() {
		return paceOfPeriod(t)
	}
	if len(t.When) == 1 {
		p := Pace{Days: 1, PerDay: 1}
		p.say("the order names an event of the day (" + t.When[0] + ") and no clock time: the time of day of the first dose is kept")
		return p, nil
	}
	if t.Code != "" {
		return Pace{}, nil
	}
	return Pace{}, unplaced("the order gives a number of doses without the time in which they are given")
}

// paceOfPeriod reads frequency and period. Days and weeks follow the wall
// clock, anything shorter is elapsed time.
func paceOfPeriod(t Timing) (Pace, error) {
	low, high := t.Period.Base()
	frequency := max(t.Frequency, 1)
	if !low.Equal(high) || low.Sign() <= 0 {
		return Pace{}, unplaced("the period between doses is no single time above zero")
	}
	switch code := t.Period.Unit.Code(); code {
	case "mo", "a":
		return Pace{}, unplaced("a month or a year is no fixed distance between doses: the dates are needed")
	case "d", "wk":
		if days, ok := wholeDays(low); ok {
			p := Pace{Days: 1, PerDay: 1}
			switch {
			case frequency%days == 0 && frequency/days <= 24*60:
				p.PerDay = frequency / days
			case days%frequency == 0:
				p.Days = days / frequency
				if frequency > 1 {
					p.say(fmt.Sprintf("%d doses in %d days: spaced evenly", frequency, days))
				}
			default:
				return Pace{}, unplaced("%d doses in %d days, and the order names neither the days nor the times", frequency, days)
			}
			p.sayEvenly()
			return p, nil
		}
	}
	ns, ok := low.Mul(quantity.Int(int64(time.Second))).Floor()
	if !ok || ns < int64(frequency) || frequency > 1_000_000 {
		return Pace{}, unplaced("the period between doses is too short or too long to place doses")
	}
	p := elapsedPace(time.Duration(ns), frequency)
	if frequency > 1 {
		p.say(fmt.Sprintf("%d doses in each period: spaced evenly", frequency))
	}
	return p, nil
}

// wholeDays is a number of seconds as whole days, up to a year.
func wholeDays(seconds quantity.Number) (int, bool) {
	days := seconds.Quo(quantity.Int(86400))
	n, ok := days.Floor()
	return int(n), ok && days.IsInt() && n > 0 && n <= 366
}

func sameTime(a, b quantity.Quantity) bool {
	low, _ := a.Base()
	_, high := b.Base()
	return !a.Absent() && low.Equal(high)
}

func sortedTimes(list []string) ([]time.Duration, error) {
	var out []time.Duration
	for _, s := range list {
		at, err := time.Parse("15:04:05", s)
		if err != nil {
			return nil, unplaced("the time of day %.20q is not a time such as 09:00:00", s)
		}
		out = append(out, time.Duration(at.Hour())*time.Hour+time.Duration(at.Minute())*time.Minute+time.Duration(at.Second())*time.Second)
	}
	slices.Sort(out)
	return slices.Compact(out), nil
}
