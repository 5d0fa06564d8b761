package schedule

import (
	"time"

	"weir.example/weir/mapping/quantity"
)

// Run is how long a volume runs at a rate: volume ÷ rate, exact, then rounded
// down once to the nanosecond. Both are points; the volume is not negative,
// the rate is above zero and a volume per time. The end of an infusion is its
// start plus this elapsed time, whatever the clock on the wall does meanwhile.
func Run(volume, rate quantity.Quantity) (time.Duration, error) {
	v, high := volume.Base()
	r, fast := rate.Base()
	switch {
	case volume.Absent() || rate.Absent() || volume.Unit.Dimension().Per(rate.Unit.Dimension()) != quantity.Time:
		return 0, unplaced("a run needs a volume and a rate in volume per time")
	case !v.Equal(high) || !r.Equal(fast):
		return 0, unplaced("a run needs one volume and one rate, not a range")
	case v.Sign() < 0 || r.Sign() <= 0:
		return 0, unplaced("a run needs a rate above zero and a volume that is not below zero")
	}
	d, ok := nanoseconds(v.Quo(r))
	if !ok {
		return 0, unplaced("the run is longer than a course can be")
	}
	return d, nil
}

// nanoseconds are exact seconds as a Duration, rounded down, up to 146 years.
func nanoseconds(seconds quantity.Number) (time.Duration, bool) {
	n, ok := seconds.Mul(quantity.Int(int64(time.Second))).Floor()
	return time.Duration(n), ok && n >= 0 && n < longestElapsed
}

func elapsedOf(q quantity.Quantity) (time.Duration, bool) {
	if q.Absent() {
		return 0, false
	}
	low, _ := q.Base()
	return nanoseconds(low)
}

// After is the end of a length of time from a start. On the clock, so many
// whole days or weeks end at the same clock time; else they are so many times
// 24 hours: 42 days of a daily dose are 42 days on the calendar, 42 days of a
// dose every 8 hours are 1,008 elapsed hours, so that a clock change neither
// adds a dose nor takes one. Months and years are always those of the
// calendar; one that lacks the day ends on its last. An absent length has no
// end: the zero time. The length is one number.
func (z Zone) After(start time.Time, length quantity.Quantity, onClock bool) (time.Time, error) {
	if length.Absent() {
		return time.Time{}, nil
	}
	if !length.IsPoint() || length.Unit.Dimension() != quantity.Time {
		return time.Time{}, unplaced("the length of the course is no single time")
	}
	if onClock && !z.Known() {
		return time.Time{}, unplaced("a length on the calendar needs a time zone")
	}
	n, ok := length.Low.Floor()
	whole := ok && length.Low.IsInt() && n >= 0 && n <= longestCourse
	months := 0
	switch code := length.Unit.Code(); {
	case code == "mo" || code == "a":
		if code == "a" {
			n *= 12
		}
		if months = int(n); !whole || !z.Known() || n > longestCourse/366*12 {
			return time.Time{}, unplaced("a course of months or years needs a whole number of them, at most a hundred years, and a time zone")
		}
	case whole && onClock && code == "wk" && n*7 <= longestCourse:
		return z.on(start, 0, int(n)*7), nil
	case whole && onClock && code == "d":
		return z.on(start, 0, int(n)), nil
	default:
		d, ok := elapsedOf(length)
		if !ok {
			return time.Time{}, unplaced("the length of the course is not from 0 to 146 years")
		}
		return start.Add(d), nil
	}
	return z.on(start, months, 0), nil
}

// on is the same clock time so many months and days later.
func (z Zone) on(start time.Time, months, days int) time.Time {
	y, m, d := start.In(z.Location).Date()
	if months > 0 {
		first := time.Date(y, m+time.Month(months), 1, 0, 0, 0, 0, time.UTC)
		y, m, d = first.AddDate(0, 0, min(d, first.AddDate(0, 1, -1).Day())-1).Date()
	}
	return z.Place(y, m, d+days, z.SinceMidnight(start)).At
}
