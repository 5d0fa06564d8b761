package notation

import (
	"fmt"
	"strings"
	"time"
)

// Instant writes a moment with weekday, date, 24-hour clock and the zone as
// a word: "Tue 10 Nov 2026 22:00 EST". zoneName, when given, is the IANA
// name added in brackets. A zone without an abbreviation is written as its
// distance from UTC in words.
func Instant(t time.Time, zoneName string) string {
	s := t.Format("Mon 2 Jan 2006 15:04") + " " + zoneWord(t)
	if zoneName != "" {
		s += " (" + zoneName + ")"
	}
	return s
}

func zoneWord(t time.Time) string {
	abbreviation, offset := t.Zone()
	if abbreviation != "" && !strings.HasPrefix(abbreviation, "+") && !strings.HasPrefix(abbreviation, "-") {
		return abbreviation
	}
	sign := "plus"
	if offset < 0 {
		sign, offset = "minus", -offset
	}
	return fmt.Sprintf("UTC %s %d:%02d", sign, offset/3600, offset%3600/60)
}

// Date writes "10 Nov 2026". Months are words, because 11/10 is two dates.
func Date(t time.Time) string { return t.Format("2 Jan 2006") }

// Clock writes "22:00 EST".
func Clock(t time.Time) string { return t.Format("15:04") + " " + zoneWord(t) }

// Duration writes elapsed time in words: "2 hours 30 minutes", "46 hours".
// Days are not used, since a day may have 23 or 25 hours. Parts of a second
// are rounded half up.
func Duration(d time.Duration) string {
	if d < 0 {
		return "minus " + Duration(-d)
	}
	d = d.Round(time.Second)
	var parts []string
	add := func(n time.Duration, one string) {
		if n == 1 {
			parts = append(parts, "1 "+one)
		} else if n > 1 {
			parts = append(parts, grouped(fmt.Sprint(int64(n)))+" "+one+"s")
		}
	}
	add(d/time.Hour, "hour")
	add(d%time.Hour/time.Minute, "minute")
	add(d%time.Minute/time.Second, "second")
	if parts == nil {
		return "0 minutes"
	}
	return strings.Join(parts, " ")
}

// Window writes two moments: "Mon 2 Nov 2026 02:00 to 16:07 EST" on one day
// of one zone, else both in full.
func Window(from, to time.Time) string {
	if Date(from) == Date(to) && zoneWord(from) == zoneWord(to) {
		return from.Format("Mon 2 Jan 2006 15:04") + " to " + Clock(to)
	}
	return Instant(from, "") + " to " + Instant(to, "")
}
