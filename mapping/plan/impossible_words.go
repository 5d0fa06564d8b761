package plan

import (
	"strings"
	"time"

	"weir.example/weir/mapping/notation"
)

// because says one constraint with its numbers.
func (x *proof) because(bar bars) string {
	r, zone := x.rules, x.cal.zone.Location
	switch bar {
	case barClock:
		return "it is " + notation.Instant(x.now.In(zone), "") + " already"
	case barWeekday:
		return "nothing is delivered on " + weekdayList(r.NoDelivery)
	case barHoliday:
		return "nothing is delivered on the holidays of the site" + x.holidays()
	case barRound:
		return "the round goes on " + weekdayList(r.Round)
	case barHours:
		return "deliveries arrive from " + clockOf(r.OpenFrom) + " to " + clockOf(r.OpenUntil)
	case barTeach:
		return "teaching takes " + notation.Duration(r.Teach)
	case barWarmUp:
		return "units must warm up for " + notation.Duration(r.WarmUp)
	case barMaking:
		return "units are made " + notation.Duration(x.ahead) + " before they arrive"
	}
	made := x.madeFor(x.asked(), allBars)
	return "a unit made " + notation.Instant(made.In(zone), "") + " may be started until " + notation.Instant(x.keeps(made).In(zone), "")
}

// asked is the arrival that the calendar has, leaving aside the clock and how
// long units last; the dose itself where it has none.
func (x *proof) asked() time.Time {
	if s, ok := x.served(allBars &^ (barClock | barKeeping)); ok {
		return s.at
	}
	return x.dose
}

// holidays names those on which it could have been delivered.
func (x *proof) holidays() string {
	var names []string
	due := x.cal.number(x.due(x.dose, x.first, allBars))
	for n := due - longestPull; n <= due; n++ {
		if d := x.cal.day(n); d.holiday {
			names = append(names, notation.Date(d.first.In(x.cal.zone.Location)))
		}
	}
	if len(names) == 0 {
		return ""
	}
	return " (" + strings.Join(names, ", ") + ")"
}

// words says one change with its numbers.
func (x *proof) words(bar bars, c Remedy) string {
	at := notation.Instant(c.Arrival, "")
	switch bar {
	case barWeekday, barRound:
		return "a delivery " + at
	case barHoliday:
		return "a delivery on the holiday, " + at
	case barHours:
		return "an arrival outside these hours, " + at
	case barTeach:
		return "teaching of at most " + notation.Duration(c.Needs) + ", or at another time"
	case barWarmUp:
		return "a warm-up of at most " + notation.Duration(c.Needs) + " where the device allows it"
	case barMaking:
		return "units made at most " + notation.Duration(c.Needs) + " before they arrive"
	case barKeeping:
		made := x.madeFor(c.Arrival, allBars)
		return "units that last " + notation.Duration(c.Needs) + " instead of " + notation.Duration(x.keeps(made).Sub(made))
	}
	return "a start no earlier than " + notation.Instant(c.Start, "") + ", agreed with the prescriber"
}

func clockOf(since time.Duration) string {
	return time.Unix(0, 0).UTC().Add(since).Format("15:04")
}

func weekdayList(days []time.Weekday) string {
	var names []string
	for _, d := range days {
		names = append(names, d.String())
	}
	return strings.Join(names, ", ")
}
