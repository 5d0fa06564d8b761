package schedule

import (
	"cmp"
	"math/bits"
	"slices"
	"time"
)

type progress int

const (
	more progress = iota
	ended
	unknown
)

type generator func() (Occurrence, progress)

func listed(events []time.Time) generator {
	return func() (Occurrence, progress) {
		if len(events) == 0 {
			return Occurrence{}, ended
		}
		at := events[0]
		events = events[1:]
		return Occurrence{At: at}, more
	}
}

// elapsed steps exactly: dose n lies n × Cycle ÷ PerCycle after the anchor,
// rounded down once to the nanosecond. The first one given is not before
// from: the steps up to it are reckoned, not walked.
func (p Pace) elapsed(anchor, from time.Time) generator {
	per, cycle := uint64(p.PerCycle), uint64(p.Cycle)
	n := uint64(0)
	if skip := from.Sub(anchor); skip > 0 {
		n = ceilOf(uint64(skip), per, cycle)
	}
	return func() (Occurrence, progress) {
		high, low := bits.Mul64(n/per, cycle)
		partHigh, partLow := bits.Mul64(n%per, cycle)
		part, _ := bits.Div64(partHigh, partLow, per) // n % per < per, so the quotient is below cycle
		if high > 0 || low >= longestElapsed || part >= longestElapsed {
			return Occurrence{}, unknown
		}
		n++
		return Occurrence{At: anchor.Add(time.Duration(low + part))}, more
	}
}

// longestElapsed bounds a course in nanoseconds: half of what a Duration can
// hold, 146 years.
const longestElapsed = 1 << 62

// ceilOf is a × b ÷ c rounded up, and the largest number when that is too
// large.
func ceilOf(a, b, c uint64) uint64 {
	high, low := bits.Mul64(a, b)
	if high >= c {
		return 1<<64 - 1
	}
	quo, rem := bits.Div64(high, low, c)
	if rem > 0 {
		quo++
	}
	return quo
}

// longestCourse bounds a search through days without a dose.
const longestCourse = 100 * 366

// calendar is where a wall-clock pace stands: the date of its first day and
// the clock times of each day with a dose.
type calendar struct {
	pace   Pace
	zone   Zone
	anchor time.Time
	year   int
	month  time.Month
	date   int
	slots  []time.Duration
	monday int // days from the Monday of the first week to the first day
}

func (p Pace) calendar(anchor time.Time, zone Zone) calendar {
	c := calendar{pace: p, zone: zone, anchor: anchor, slots: p.slots(zone.SinceMidnight(anchor))}
	local := anchor.In(zone.Location)
	c.year, c.month, c.date = local.Date()
	// Every so many days or months counts from the first day that has a dose.
	if (p.Days > 1 || p.Months > 0) && zone.from(anchor, c.year, c.month, c.date, c.slots[len(c.slots)-1]).At.Before(anchor) {
		c.year, c.month, c.date = local.AddDate(0, 0, 1).Date()
	}
	c.monday = int(local.Weekday()+6) % 7
	return c
}

// day is the date of a step, as UTC midnight, and whether doses fall on it.
func (c calendar) day(step int) (time.Time, bool) {
	if c.pace.Months > 0 {
		first := time.Date(c.year, c.month+time.Month(step*c.pace.Months), 1, 0, 0, 0, 0, time.UTC)
		last := first.AddDate(0, 1, -1).Day()
		return first.AddDate(0, 0, min(c.date, last)-1), true
	}
	days := step * max(c.pace.Days, 1)
	at := time.Date(c.year, c.month, c.date+days, 0, 0, 0, 0, time.UTC)
	holds := len(c.pace.Weekday) == 0 || slices.Contains(c.pace.Weekday, at.Weekday()) && (c.monday+days)/7%max(c.pace.Weeks, 1) == 0
	return at, holds
}

// lastStep bounds the steps: a hundred years.
func (c calendar) lastStep() int {
	if c.pace.Months > 0 {
		return longestCourse / 366 * 12 / c.pace.Months
	}
	return longestCourse / max(c.pace.Days, 1)
}

// stepAt is a step not later than an instant, for a start far from the
// anchor.
func (c calendar) stepAt(from time.Time) int {
	days := int(from.Sub(c.anchor)/oneDay) - 3
	if c.pace.Months > 0 {
		days /= 31 * c.pace.Months
	}
	return max(days/max(c.pace.Days, 1), 0)
}

// wall steps from day to day in the zone. Doses before the anchor are none of
// this order.
func (p Pace) wall(anchor, from time.Time, zone Zone) generator {
	c := p.calendar(anchor, zone)
	step, last := c.stepAt(from), c.lastStep()
	var waiting []Occurrence
	read := 0
	load := func() (gap bool) {
		today, holds := c.day(step)
		step++
		if !holds {
			return false
		}
		for _, since := range c.slots {
			m := zone.from(anchor, today.Year(), today.Month(), today.Day(), since)
			if !m.At.Before(anchor) {
				waiting = append(waiting, Occurrence{At: m.At, Asked: since, Gap: m.Gap, Overlap: m.Overlap, Other: m.Other})
				gap = gap || m.Gap
			}
		}
		return gap
	}
	return func() (Occurrence, progress) {
		for read == len(waiting) {
			if step > last {
				return Occurrence{}, unknown
			}
			waiting, read = waiting[:0], 0
			// A dose moved out of a gap may fall behind one of the next day.
			for load() && step <= last {
			}
			slices.SortStableFunc(waiting, func(a, b Occurrence) int { return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.Asked, b.Asked)) })
		}
		read++
		return waiting[read-1], more
	}
}
