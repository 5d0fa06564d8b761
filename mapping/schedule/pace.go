package schedule

import (
	"fmt"
	"time"

	"weir.example/weir/mapping/quantity"
)

// Pace is how a timing steps from dose to dose. Either Cycle is set and the
// steps are elapsed time, or Days, Weeks or Months is set and they follow the
// wall clock.
type Pace struct {
	Cycle    time.Duration   // elapsed: the period
	PerCycle int             // elapsed: doses in it, evenly spaced
	Days     int             // wall clock: every so many days
	Months   int             // wall clock: every so many months, on the day of the month of the first dose
	Weeks    int             // wall clock with Weekday: every so many weeks, Monday first
	Times    []time.Duration // wall clock: times of day since midnight, sorted; empty: PerDay from the first dose
	Weekday  []time.Weekday  // wall clock: only on these days
	PerDay   int             // wall clock without times: evenly over the day, from the time of the first dose
	Says     []string        // what was assumed, in words
}

// Elapsed reports whether doses keep their distance when the clocks change.
func (p Pace) Elapsed() bool { return p.Cycle > 0 }

// Interval is the usual distance between doses, rounded down to the
// nanosecond; 0 when days of the week or months make it uneven.
func (p Pace) Interval() time.Duration {
	switch {
	case p.Cycle > 0:
		return p.Cycle / time.Duration(p.PerCycle)
	case len(p.Weekday) > 0 || p.Months > 0:
		return 0
	}
	return time.Duration(p.Days) * oneDay / time.Duration(p.perDay())
}

func (p Pace) perDay() int { return max(len(p.Times), p.PerDay, 1) }

func (p *Pace) say(s string) { p.Says = append(p.Says, s) }

func (p *Pace) sayEvenly() {
	if p.PerDay > 1 && len(p.Times) == 0 {
		p.say(fmt.Sprintf("%d doses a day without clock times: spaced evenly over the day from the first dose", p.PerDay))
	}
}

func (p *Pace) sayMonthly() {
	p.say("a month is no fixed distance: each dose is on the day of the month of the first one, in a shorter month on its last day")
}

func elapsedPace(cycle time.Duration, times int) Pace { return Pace{Cycle: cycle, PerCycle: times} }

var weekdays = map[string]time.Weekday{"mon": time.Monday, "tue": time.Tuesday, "wed": time.Wednesday, "thu": time.Thursday,
	"fri": time.Friday, "sat": time.Saturday, "sun": time.Sunday}

// PaceOf reads how a timing repeats, at a site that has set no clock times.
func PaceOf(t Timing) (Pace, error) { return PaceAt(t, nil) }

// PaceAt reads how a timing repeats, with the clock times that the site has
// set. The error is an *Unplaced that says in words why the doses cannot be
// placed: the timing does not say how often, leaves a range, names an event
// without a clock time, or contradicts itself. Nothing is guessed.
func PaceAt(t Timing, clocks Clocks) (Pace, error) {
	if !t.Repeats() {
		return Pace{}, unplaced("the order does not say how often a dose is given")
	}
	if err := t.repeatFault(); err != nil {
		return Pace{}, err
	}
	if err := clocks.fault(); err != nil {
		return Pace{}, err
	}
	if t.Ranged() {
		return Pace{}, unplaced("the order leaves a range for how often a dose is given")
	}
	p, err := paceOfRepeat(t, clocks)
	if err != nil || t.Code == "" {
		return p, err
	}
	shape, known := shapeOfCode(t.Code)
	switch alone := p.Days == 0 && p.Cycle == 0 && p.Months == 0; {
	case !alone && !known:
		return p, nil // a local code beside a full repeat adds nothing
	case !alone && !p.agrees(shape):
		return Pace{}, unplaced("the timing code %s and the repeat of the same timing give different times between doses", t.Code)
	case !alone:
		return p, nil
	case known && t.Frequency > 0 && t.Frequency != max(shape.PerDay, shape.PerCycle):
		return Pace{}, unplaced("the timing code %s and the number of doses beside it differ", t.Code)
	}
	return paceOfCode(t.Code, clocks)
}

// agrees reports whether a timing code asks for the same as the repeat beside
// it. FHIR R4: the code is a complete statement of what the structured data
// say, the bounds apart.
func (p Pace) agrees(code Pace) bool {
	switch {
	case p.Months > 0 || code.Months > 0:
		return p.Months == code.Months && p.perDay() == code.perDay()
	case len(p.Weekday) == 0 && code.Elapsed() && len(p.Times) > 1 && !p.apart(code.Interval()):
		return false
	case len(p.Weekday) == 0:
		return p.Interval() == code.Interval()
	case code.Elapsed():
		return false
	case code.Days == 1: // so many on each of these days
		return p.Weeks == 1 && p.perDay() == code.perDay()
	}
	return code.Days == 7*p.Weeks && len(p.Weekday)*p.perDay() == code.perDay()
}

// paceOfRepeat reads Timing.repeat. The zero Pace without an error means that
// only the code can tell.
func paceOfRepeat(t Timing, clocks Clocks) (Pace, error) {
	times, err := t.clockTimes(clocks)
	switch {
	case err != nil:
		return Pace{}, err
	case len(times)+len(t.DaysOfWeek) > 0:
		return paceOfClock(t, times)
	case !t.Period.Absent():
		return paceOfPeriod(t)
	case t.Code != "":
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
		months, ok := wholeMonths(t.Period)
		if !ok || frequency > 1 {
			return Pace{}, unplaced("a month or a year is no fixed distance between doses: the dates are needed")
		}
		p := Pace{Months: months, PerDay: 1}
		p.sayMonthly()
		return p, nil
	case "d", "wk":
		if days, ok := wholeDays(low); ok {
			p := Pace{Days: 1, PerDay: 1}
			switch {
			case frequency%days == 0 && frequency/days >= hourly:
				p = elapsedPace(time.Duration(days)*oneDay, frequency)
				p.say(fmt.Sprintf("%d doses a day: an hour apart or less, so they keep their distance when the clocks change", frequency/days))
				return p, nil
			case frequency%days == 0:
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

// hourly doses a day are no further apart than the hour that the clocks skip:
// by the wall clock two of them would fall on one instant.
const hourly = 24

// wholeDays is a number of seconds as whole days, up to a year.
func wholeDays(seconds quantity.Number) (int, bool) {
	days := seconds.Quo(quantity.Int(86400))
	n, ok := days.Floor()
	return int(n), ok && days.IsInt() && n > 0 && n <= 366
}

func isOneDay(q quantity.Quantity) bool {
	low, high := q.Base()
	return low.Equal(quantity.Int(86400)) && high.Equal(low)
}

// wholeMonths is a period in months or years as whole months, up to a
// hundred years.
func wholeMonths(q quantity.Quantity) (int, bool) {
	n, fits := q.Low.Floor()
	if !fits || !q.IsPoint() || !q.Low.IsInt() || n < 1 || n > longestCourse/366*12 {
		return 0, false
	}
	switch q.Unit.Code() {
	case "mo":
		return int(n), true
	case "a":
		return int(12 * n), n <= longestCourse/366
	}
	return 0, false
}
