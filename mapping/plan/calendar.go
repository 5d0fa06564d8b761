package plan

import (
	"slices"
	"time"

	"weir.example/weir/mapping/schedule"
)

// bars are the constraints on an arrival that are in force. A proof lifts
// them one by one.
type bars uint16

const (
	barClock   bars = 1 << iota // what is past cannot be delivered any more
	barWeekday                  // weekdays without delivery
	barHoliday                  // holidays
	barRound                    // the days of the round
	barHours                    // staffed hours
	barTeach                    // teaching before the first dose
	barWarmUp                   // units come cold
	barMaking                   // units are made some time before they arrive
	barKeeping                  // how long a unit lasts

	noBar   bars = 0
	allBars      = barKeeping<<1 - 1
)

// longestPull bounds the search for a day with delivery: so many days before
// the day on which a delivery is due. Common practice, no source.
const longestPull = 14

// calendar knows on which local days and in which hours anything arrives.
type calendar struct {
	zone  schedule.Zone
	rules Rules
	days  map[int]*day // by days since 1 January 1970
}

// day is one local day, of 23 to 25 hours, from its first minute to its last;
// open and close are its staffed hours as instants, so that a clock change
// within them shortens or lengthens them.
type day struct {
	weekday           time.Weekday
	without, holiday  bool // a weekday without delivery; a holiday
	first, last       time.Time
	open, close       time.Time
	year, month, date int
}

func newCalendar(zone schedule.Zone, rules Rules) *calendar {
	return &calendar{zone: zone, rules: rules, days: map[int]*day{}}
}

// number is the day on which an instant falls.
func (c *calendar) number(at time.Time) int {
	y, m, d := at.In(c.zone.Location).Date()
	return int(time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Unix() / 86400)
}

func (c *calendar) day(n int) *day {
	if d, ok := c.days[n]; ok {
		return d
	}
	civil := time.Unix(int64(n)*86400, 0).UTC()
	y, m, date := civil.Date()
	d := &day{weekday: civil.Weekday(), year: y, month: int(m), date: date}
	d.without = slices.Contains(c.rules.NoDelivery, d.weekday)
	d.holiday = slices.Contains(c.rules.Holidays, civil.Format("2006-01-02"))
	d.first, _, _ = c.zone.Wall(y, m, date, 0)
	next, _, _ := c.zone.Wall(y, m, date+1, 0)
	d.last = next.Add(-time.Minute)
	d.open, d.close = d.first, d.last
	if c.rules.OpenUntil > c.rules.OpenFrom {
		d.open, _, _ = c.zone.Wall(y, m, date, c.rules.OpenFrom)
		d.close, _, _ = c.zone.Wall(y, m, date, c.rules.OpenUntil)
	}
	c.days[n] = d
	return d
}

// hours are those in which a delivery may arrive on a day.
func (c *calendar) hours(n int, on bars) (from, until time.Time) {
	d := c.day(n)
	if on&barHours == 0 {
		return d.first, d.last
	}
	return d.open, d.close
}

// closed reports whether nothing is delivered on the local day.
func (c *calendar) closed(n int, on bars) bool {
	d := c.day(n)
	return on&barWeekday != 0 && d.without || on&barHoliday != 0 && d.holiday
}

// onRound reports whether the day is one of the round, or stands in for one
// that is closed: the last open day before it, and so many open days earlier
// as the policy keeps in hand.
func (c *calendar) onRound(n int, on bars) bool {
	for of := n; of <= n+longestPull; of++ {
		if slices.Contains(c.rules.Round, c.day(of).weekday) && c.standIn(of, on) == n {
			return true
		}
	}
	return false
}

func (c *calendar) standIn(n int, on bars) int {
	if !c.closed(n, on) {
		return n
	}
	left := 1 + max(c.rules.DaysInHand, 0)
	for at := n - 1; at >= n-longestPull; at-- {
		if c.closed(at, on) {
			continue
		}
		if left--; left == 0 {
			return at
		}
	}
	return n
}

// bound reports whether an arrival is bound to the round. The first is not:
// the start of care cannot wait for it.
func (c *calendar) bound(on bars, first bool) bool {
	return on&barRound != 0 && len(c.rules.Round) > 0 && !first
}

func (c *calendar) goes(n int, on bars, first bool) bool {
	return !c.closed(n, on) && (!c.bound(on, first) || c.onRound(n, on))
}

// slot is an arrival that the calendar allows.
type slot struct {
	at    time.Time // the latest
	kept  time.Time // on an earlier day, the same time of day; else at
	moved bool      // a day without delivery forced it earlier
}

// latest is the last instant, not after due, at which a delivery may arrive.
func (c *calendar) latest(due time.Time, on bars, first bool) (slot, bool) {
	s, asked := slot{}, time.Time{}
	bound := c.bound(on, first)
	for n, from := c.number(due), c.number(due); n >= from-longestPull; n-- {
		open, close := c.hours(n, on)
		at := close
		if due.Before(close) {
			at = due
		}
		if at.Before(open) {
			continue // too early on that day: the evening before
		}
		if asked.IsZero() {
			asked = at
		}
		weekday := slices.Contains(c.rules.Round, c.day(n).weekday)
		if !c.goes(n, on, first) {
			s.moved = s.moved || c.closed(n, on) && (!bound || weekday)
			continue
		}
		s.at, s.moved = at.In(c.zone.Location), s.moved || bound && !weekday
		s.kept = s.at
		if !at.Equal(asked) {
			d := c.day(n)
			s.kept, _, _ = c.zone.Wall(d.year, time.Month(d.month), d.date, c.zone.SinceMidnight(asked))
			if s.kept.Before(open) || s.kept.After(s.at) {
				s.kept = s.at
			}
		}
		return s, true
	}
	return slot{}, false
}

// earliest is the first instant from low to high at which a delivery may
// arrive.
func (c *calendar) earliest(low, high time.Time, on bars, first bool) (time.Time, bool) {
	for n, end := c.number(low), c.number(high); n <= end; n++ {
		open, close := c.hours(n, on)
		if at := latestOf(low, open); c.goes(n, on, first) && !at.After(close) && !at.After(high) {
			return at.In(c.zone.Location), true
		}
	}
	return time.Time{}, false
}
