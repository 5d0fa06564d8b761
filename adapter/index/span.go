package index

import (
	"regexp"
	"strconv"
	"time"

	"weir.example/weir/adapter"
	"weir.example/weir/mapping/element"
)

var dateForm = regexp.MustCompile(`^(\d{4})(?:-(\d\d)(?:-(\d\d)(?:T(\d\d):(\d\d)(?::(\d\d)(?:\.(\d{1,9}))?)?(Z|[+-]\d\d:\d\d)?)?)?)?$`)

// Span is the time that a date, dateTime or instant stands for, by its
// precision: from low up to, not including, high. 2013 is the whole year.
// Minutes may end it, as search allows. Without a zone, the zone is UTC: on
// both sides the same, whatever clock the server's machine has. False: it is
// no time (https://hl7.org/fhir/R4/search.html#date).
func Span(text string) (low, high time.Time, ok bool) {
	m := dateForm.FindStringSubmatch(text)
	if m == nil {
		return low, high, false
	}
	part := func(i, without int) int {
		if n, err := strconv.Atoi(m[i]); err == nil {
			return n
		}
		return without
	}
	second := part(6, 0)
	if second == 60 { // a leap second counts to the second before it
		second = 59
	}
	zone, ok := offset(m[8])
	low = time.Date(part(1, 0), time.Month(part(2, 1)), part(3, 1), part(4, 0), part(5, 0), second, 0, time.UTC)
	if !ok || low.Year() != part(1, 0) || low.Year() == 0 || int(low.Month()) != part(2, 1) || low.Day() != part(3, 1) || low.Hour() != part(4, 0) || low.Minute() != part(5, 0) || low.Second() != second {
		return low, high, false // a date that the calendar does not have
	}
	switch {
	case m[7] != "":
		step := time.Second
		fraction := time.Duration(0)
		for _, digit := range m[7] {
			step /= 10
			fraction += time.Duration(digit-'0') * step
		}
		low = low.Add(fraction).Truncate(time.Microsecond)
		high = low.Add(max(step, time.Microsecond))
	case m[6] != "":
		high = low.Add(time.Second)
	case m[5] != "":
		high = low.Add(time.Minute)
	case m[3] != "":
		high = low.AddDate(0, 0, 1)
	case m[2] != "":
		high = low.AddDate(0, 1, 0)
	default:
		high = low.AddDate(1, 0, 0)
	}
	low, high = low.Add(-zone), high.Add(-zone)
	if low.Before(adapter.Earliest) {
		low = adapter.Earliest
	}
	return low, high, high.After(low)
}

// offset is that of a zone, at most 14 hours as FHIR allows; none is UTC.
func offset(zone string) (time.Duration, bool) {
	if zone == "" || zone == "Z" {
		return 0, true
	}
	hours, _ := strconv.Atoi(zone[1:3])
	minutes, _ := strconv.Atoi(zone[4:])
	d := time.Duration(hours)*time.Hour + time.Duration(minutes)*time.Minute
	if zone[0] == '-' {
		d = -d
	}
	return d, minutes < 60 && d.Abs() <= 14*time.Hour
}

// dates are the spans of a point in time, a Period or a Timing. A Period
// without an end is open at that end. Of a Timing only its outer limits
// count; one that names none is open at both.
func (r row) dates(n element.Node) []adapter.Value {
	value := func(low, high time.Time) []adapter.Value {
		return []adapter.Value{{Name: r.Name, Low: low, High: high}}
	}
	period := func(n element.Node) []adapter.Value {
		low, high := adapter.Earliest, adapter.Latest
		if n.Get("start").Exists() {
			if from, _, ok := Span(n.Get("start").Text()); ok {
				low = from
			}
		}
		if n.Get("end").Exists() {
			if _, to, ok := Span(n.Get("end").Text()); ok {
				high = to
			}
		}
		if high.Before(low) { // the sender's own contradiction: found by both
			low, high = high, low
		}
		return value(low, high)
	}
	switch {
	case n.Kind() == element.String:
		if low, high, ok := Span(n.Text()); ok {
			return value(low, high)
		}
		return nil
	case n.Kind() != element.Object:
		return nil
	case !n.Get("event").Exists() && !n.Get("repeat").Exists() && !n.Get("code").Exists():
		return period(n)
	}
	var out []adapter.Value
	for _, e := range n.Get("event").Each() {
		if low, high, ok := Span(e.Text()); ok {
			out = append(out, value(low, high)...)
		}
	}
	if bounds := n.Get("repeat").Get("boundsPeriod"); bounds.Exists() || out == nil {
		out = append(out, period(bounds)...)
	}
	return out
}
