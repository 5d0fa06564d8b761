package index

import (
	"strconv"
	"time"

	"weir.example/weir/adapter"
	"weir.example/weir/mapping/element"
)

// parts reads YYYY[-MM[-DD[Thh:mm[:ss[.fraction]][zone]]]], with 1 to 9 digits
// of a fraction: year, month, day, hour, minute, second, fraction, zone, the
// ones that are not there empty.
func parts(text string) (p [8]string, ok bool) {
	digits := func(i, least, most int) bool {
		n := 0
		for n < len(text) && n < most && text[n] >= '0' && text[n] <= '9' {
			n++
		}
		p[i], text = text[:n], text[n:]
		return n >= least
	}
	sign := func(c byte) bool {
		if text == "" || text[0] != c {
			return false
		}
		text = text[1:]
		return true
	}
	if !digits(0, 4, 4) {
		return p, false
	}
	for i, before := range []byte("--T:") {
		if text == "" && before != ':' { // no hour without its minute
			return p, true
		}
		if !sign(before) || !digits(i+1, 2, 2) {
			return p, false
		}
	}
	if sign(':') {
		if !digits(5, 2, 2) || sign('.') && !digits(6, 1, 9) {
			return p, false
		}
	}
	p[7] = text
	two := func(s string) bool { return s[0] >= '0' && s[0] <= '9' && s[1] >= '0' && s[1] <= '9' }
	return p, text == "" || text == "Z" ||
		len(text) == 6 && (text[0] == '+' || text[0] == '-') && two(text[1:]) && text[3] == ':' && two(text[4:])
}

// Span is the time that a date, dateTime or instant stands for, by its
// precision: from low up to, not including, high. 2013 is the whole year.
// Minutes may end it, as search allows. Without a zone, the zone is UTC: on
// both sides the same, whatever clock the server's machine has. False: it is
// no time (https://hl7.org/fhir/R4/search.html#date).
func Span(text string) (low, high time.Time, ok bool) {
	m, ok := parts(text)
	if !ok {
		return low, high, false
	}
	part := func(i, without int) int {
		if m[i] == "" {
			return without
		}
		n, _ := strconv.Atoi(m[i])
		return n
	}
	second := part(5, 0)
	if second == 60 { // a leap second counts to the second before it
		second = 59
	}
	zone, ok := offset(m[7])
	year, month, day, hour, minute := part(0, 0), part(1, 1), part(2, 1), part(3, 0), part(4, 0)
	low = time.Date(year, time.Month(month), day, hour, minute, second, 0, time.UTC)
	if !ok || low.Year() != year || low.Year() == 0 || int(low.Month()) != month || low.Day() != day || low.Hour() != hour || low.Minute() != minute || low.Second() != second {
		return low, high, false // a date that the calendar does not have
	}
	switch {
	case m[6] != "":
		step := time.Second
		fraction := time.Duration(0)
		for _, digit := range m[6] {
			step /= 10
			fraction += time.Duration(digit-'0') * step
		}
		low = low.Add(fraction).Truncate(time.Microsecond)
		high = low.Add(max(step, time.Microsecond))
	case m[5] != "":
		high = low.Add(time.Second)
	case m[4] != "":
		high = low.Add(time.Minute)
	case m[2] != "":
		high = low.AddDate(0, 0, 1)
	case m[1] != "":
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
func (r *row) dates(out []adapter.Value, n element.Node) []adapter.Value {
	span := func(low, high time.Time) { out = append(out, adapter.Value{Name: r.Name, Low: low, High: high}) }
	point := func(n element.Node) {
		if low, high, ok := Span(n.Text()); ok {
			span(low, high)
		}
	}
	period := func(n element.Node) {
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
		span(low, high)
	}
	switch {
	case n.Kind() == element.String:
		point(n)
		return out
	case n.Kind() != element.Object:
		return out
	case !n.Get("event").Exists() && !n.Get("repeat").Exists() && !n.Get("code").Exists():
		period(n)
		return out
	}
	before := len(out)
	for e := range n.Get("event").All() {
		point(e)
	}
	if bounds := n.Get("repeat").Get("boundsPeriod"); bounds.Exists() || len(out) == before {
		period(bounds)
	}
	return out
}
