package schedule

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"weir.example/weir/mapping/quantity"
)

// Span is a stretch of time, From included and To excluded. A zero To means
// without end.
type Span struct{ From, To time.Time }

// Pace is how a timing steps from dose to dose.
type Pace struct {
	Every   time.Duration   // elapsed time between doses; 0 when clock-anchored
	Days    int             // clock-anchored: every so many days
	Times   []time.Duration // clock-anchored: times of day since midnight; empty: that of the anchor
	Weekday []time.Weekday  // clock-anchored: only on these days
	PerDay  int             // clock-anchored without times: evenly over the day, from the anchor
}

// abbreviations of v3-GTSAbbreviation
// (http://terminology.hl7.org/CodeSystem/v3-GTSAbbreviation): doses a day.
var abbreviations = map[string]int{"QD": 1, "AM": 1, "PM": 1, "BED": 1, "BID": 2, "TID": 3, "QID": 4}

var weekdays = map[string]time.Weekday{"mon": time.Monday, "tue": time.Tuesday, "wed": time.Wednesday, "thu": time.Thursday,
	"fri": time.Friday, "sat": time.Saturday, "sun": time.Sunday}

// PaceOf reads how a timing repeats. Periods in hours or less are elapsed
// time; periods in days or weeks keep the wall clock (an order "daily" is
// meant for the same time of day, "every 24 hours" for the same distance).
// It fails for a timing that does not say.
func PaceOf(t Timing) (Pace, bool) {
	p := Pace{Days: 1}
	for _, d := range t.DaysOfWeek {
		w, ok := weekdays[strings.ToLower(d)]
		if !ok {
			return Pace{}, false
		}
		p.Weekday = append(p.Weekday, w)
	}
	for _, s := range t.TimesOfDay {
		since, ok := timeOfDay(s)
		if !ok {
			return Pace{}, false
		}
		p.Times = append(p.Times, since)
	}
	slices.Sort(p.Times)
	if len(p.Times) > 0 || len(p.Weekday) > 0 {
		return p, true
	}
	if !t.Period.Absent() {
		return periodic(t, p)
	}
	if n, ok := abbreviations[t.Code]; ok {
		p.PerDay = n
		return p, true
	}
	switch t.Code {
	case "QOD":
		p.Days, p.PerDay = 2, 1
		return p, true
	case "WK":
		p.Days, p.PerDay = 7, 1
		return p, true
	}
	if hours, ok := strings.CutPrefix(t.Code, "Q"); ok {
		if n, err := strconv.Atoi(strings.TrimSuffix(hours, "H")); err == nil && n > 0 && n <= 168 {
			return Pace{Every: time.Duration(n) * time.Hour}, true
		}
	}
	return Pace{}, false
}

func periodic(t Timing, p Pace) (Pace, bool) {
	seconds, _ := t.Period.Base()
	frequency := max(t.Frequency, 1)
	day := quantity.Int(86400)
	switch t.Period.Unit.Code() {
	case "d", "wk":
		days, ok := seconds.Quo(day).Floor()
		whole := seconds.Quo(day).IsInt() && ok && days > 0 && days <= 366
		switch {
		case whole && frequency == 1:
			p.Days, p.PerDay = int(days), 1
			return p, true
		case whole && days == 1 && frequency <= 24:
			p.PerDay = frequency
			return p, true
		}
	}
	each, ok := seconds.Mul(quantity.Int(int64(time.Second))).Quo(quantity.Int(int64(frequency))).Floor()
	if !ok || each <= 0 {
		return Pace{}, false
	}
	return Pace{Every: time.Duration(each)}, true
}

func timeOfDay(s string) (time.Duration, bool) {
	t, err := time.Parse("15:04:05", s)
	if err != nil {
		return 0, false
	}
	return time.Duration(t.Hour())*time.Hour + time.Duration(t.Minute())*time.Minute + time.Duration(t.Second())*time.Second, true
}

// Expand lists the starts of doses in the span, at most limit, in order. The
// span's From is the anchor: the first dose of elapsed and anchor-timed
// paces. complete is false when the end is unknown or the limit cut the
// list. A count ends it too; whichever comes first.
func Expand(t Timing, span Span, zone Zone, limit int) (doses []time.Time, complete bool) {
	inside := func(at time.Time) bool {
		return !at.Before(span.From) && (span.To.IsZero() || at.Before(span.To))
	}
	if t.Count > 0 && t.Count < limit {
		limit = t.Count
	}
	if len(t.Events) > 0 {
		events := slices.Clone(t.Events)
		slices.SortFunc(events, time.Time.Compare)
		for _, e := range events {
			if inside(e) {
				doses = append(doses, e)
			}
		}
		return doses, true
	}
	pace, ok := PaceOf(t)
	if !ok || span.From.IsZero() {
		if t.Count == 1 && !span.From.IsZero() {
			return []time.Time{span.From}, true
		}
		return nil, false
	}
	next := pace.steps(span.From, zone)
	for len(doses) < limit {
		at, more := next()
		if !more || !span.To.IsZero() && !at.Before(span.To) {
			return doses, !span.To.IsZero()
		}
		if inside(at) {
			doses = append(doses, at)
		}
	}
	return doses, t.Count > 0 && len(doses) == t.Count
}

// steps returns a generator of instants from the anchor on.
func (p Pace) steps(anchor time.Time, zone Zone) func() (time.Time, bool) {
	if p.Every > 0 {
		n := -1
		return func() (time.Time, bool) {
			n++
			return anchor.Add(time.Duration(n) * p.Every), true
		}
	}
	if !zone.Known() {
		return func() (time.Time, bool) { return time.Time{}, false }
	}
	times := p.Times
	start := zone.SinceMidnight(anchor)
	if len(times) == 0 {
		for k := range max(p.PerDay, 1) {
			times = append(times, start+time.Duration(k)*24*time.Hour/time.Duration(max(p.PerDay, 1)))
		}
	}
	y, m, d := anchor.In(zone.Location).Date()
	day, k := 0, -1
	const longest = 40 * 366 // days: a guard, no course is longer
	return func() (time.Time, bool) {
		for day < longest {
			k++
			if k == len(times) {
				k, day = 0, day+p.Days
			}
			since := times[k]
			extra := int(since / (24 * time.Hour))
			date := time.Date(y, m, d+day+extra, 0, 0, 0, 0, time.UTC)
			if len(p.Weekday) > 0 && !slices.Contains(p.Weekday, date.Weekday()) {
				continue
			}
			at, _, _ := zone.Wall(date.Year(), date.Month(), date.Day(), since%(24*time.Hour))
			if at.Before(anchor) {
				continue
			}
			return at, true
		}
		return time.Time{}, false
	}
}
