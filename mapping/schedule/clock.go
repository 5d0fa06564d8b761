package schedule

import (
	"slices"
	"strings"
	"time"
)

// mostPerDay bounds the clock times of a day: one a minute.
const mostPerDay = 24 * 60

// clockTimes are the times of day that the timing states, or those of the
// events of the day that it names.
func (t Timing) clockTimes(clocks Clocks) ([]time.Duration, error) {
	if len(t.TimesOfDay) > mostPerDay || len(t.When) > mostPerDay {
		return nil, unplaced("the order names more than %d times of day", mostPerDay)
	}
	if len(t.When) > 0 {
		return t.eventTimes(clocks)
	}
	return sortedTimes(t.TimesOfDay)
}

// sortedTimes reads FHIR times. One digit for the hour, 24:00 and a second
// 60 are no time of day.
func sortedTimes(list []string) ([]time.Duration, error) {
	var out []time.Duration
	for _, s := range list {
		at, err := time.Parse("15:04:05", s)
		if err != nil || s[2] != ':' || strings.Contains(s, ",") {
			return nil, unplaced("the time of day %.20q is not a time such as 09:00:00", s)
		}
		out = append(out, at.Sub(at.Truncate(oneDay)))
	}
	return distinct(out), nil
}

// paceOfClock reads times of day and days of the week. FHIR R4 infers "every
// day, as filtered by dayOfWeek" from timeOfDay; a frequency and period sent
// beside them must say the same, or else nobody knows which is meant.
func paceOfClock(t Timing, times []time.Duration) (Pace, error) {
	p := Pace{Days: 1, Times: times}
	var err error
	for _, d := range t.DaysOfWeek {
		w, ok := weekdays[strings.ToLower(d)]
		if !ok {
			return Pace{}, unplaced("the day of the week %.20q is not one of mon, tue, wed, thu, fri, sat, sun", d)
		}
		if !slices.Contains(p.Weekday, w) {
			p.Weekday = append(p.Weekday, w)
		}
	}
	if len(p.Weekday) > 0 {
		err = p.onWeekdays(t)
	} else {
		err = p.atTimes(t)
	}
	if err != nil {
		return Pace{}, err
	}
	p.sayEvenly()
	return p, nil
}

// atTimes checks frequency and period against the times of day and finds
// every how many days they hold.
func (p *Pace) atTimes(t Timing) error {
	if t.Period.Absent() {
		return p.atMost(t.Frequency, len(p.Times))
	}
	low, _ := t.Period.Base()
	if days, ok := wholeDays(low); ok {
		p.Days = days
		return p.atMost(t.Frequency, len(p.Times))
	}
	if months, ok := wholeMonths(t.Period); ok {
		p.Days, p.Months = 0, months
		p.sayMonthly()
		return p.atMost(t.Frequency, len(p.Times))
	}
	// "Every 8 hours at 06:00, 14:00 and 22:00": the times must fill the day.
	n, _ := low.Floor()
	each := int64(max(t.Frequency, 1))
	if n > 0 && low.IsInt() && 86400%n == 0 && int64(len(p.Times)) == 86400/n*each && p.apart(time.Duration(n)*time.Second/time.Duration(each)) {
		return nil
	}
	return unplaced("the order names %d times of day, which do not fit the period beside them", len(p.Times))
}

// apart reports whether the times of day lie one interval from each other,
// the last from the first of the next day too. A quarter of the interval
// either way is what rounds of a ward make of it (common practice, no
// source); 06:00 and 07:00 are not every 12 hours.
func (p Pace) apart(interval time.Duration) bool {
	for i, at := range p.Times {
		next := p.Times[(i+1)%len(p.Times)]
		if i+1 == len(p.Times) {
			next += oneDay
		}
		if off := next - at - interval; off > interval/4 || off < -interval/4 {
			return false
		}
	}
	return true
}

func (p *Pace) atMost(frequency, times int) error {
	if frequency == 0 || frequency == times {
		return nil
	}
	return unplaced("the order says %d doses and names %d times of day", frequency, times)
}

// onWeekdays checks frequency and period against the days of the week.
func (p *Pace) onWeekdays(t Timing) error {
	p.Weeks = 1
	days := len(p.Weekday)
	times := max(len(p.Times), 1)
	if t.Period.Absent() {
		if t.Frequency > 0 && t.Frequency != times && t.Frequency != days*times {
			return unplaced("the order says %d doses and names %d days of the week with %d times", t.Frequency, days, times)
		}
		if len(p.Times) == 0 {
			p.PerDay = 1
		}
		return nil
	}
	low, _ := t.Period.Base()
	period, ok := wholeDays(low)
	frequency := t.Frequency
	switch {
	case ok && period == 1: // so many on each of these days
		if len(p.Times) == 0 {
			p.PerDay = max(frequency, 1)
			return nil
		}
		return p.atMost(frequency, len(p.Times))
	case ok && period%7 == 0:
		p.Weeks = period / 7
		switch {
		case frequency == 0 || frequency == days*times:
			if len(p.Times) == 0 {
				p.PerDay = 1
			}
			return nil
		case len(p.Times) == 0 && frequency%days == 0:
			p.PerDay = frequency / days
			return nil
		}
	}
	return unplaced("the order names %d days of the week, which do not fit the frequency and period beside them", days)
}

// slots are the times of day of a wall-clock pace whose first dose is so long
// after midnight.
func (p Pace) slots(first time.Duration) []time.Duration {
	if len(p.Times) > 0 {
		return p.Times
	}
	n := time.Duration(p.perDay())
	var out []time.Duration
	for k := range n {
		out = append(out, (first+k*oneDay/n)%oneDay)
	}
	slices.Sort(out)
	return out
}
