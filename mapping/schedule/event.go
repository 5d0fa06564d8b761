package schedule

import (
	"slices"
	"strings"
	"time"

	"weir.example/weir/mapping/notation"
)

// Clocks are the clock times, since midnight and below 24 hours, that a site
// has set for events of the day (CM, HS …) and for timing codes (BID, AM …),
// by their code. FHIR R4 defines those codes "at institution specified
// times"; without the institution's times no clock time follows from them.
type Clocks map[string][]time.Duration

// event tells where the minutes of an offset are counted from.
type event struct {
	of     string   // the event itself; "" for the code's own time
	parts  []string // the events that a general code stands for
	before bool     // the offset lies before it
}

// events are the codes of the FHIR R4 value set event-timing,
// https://hl7.org/fhir/R4/valueset-event-timing.html, with the meanings of
// v3-TimingEvent. An offset whose code says neither before nor after lies
// after the event (FHIR R4, Timing.repeat.offset); HS is "prior to beginning
// a regular period of extended sleep".
var events = map[string]event{
	"MORN": {}, "MORN.early": {}, "MORN.late": {}, "NOON": {}, "AFT": {}, "AFT.early": {}, "AFT.late": {},
	"EVE": {}, "EVE.early": {}, "EVE.late": {}, "NIGHT": {}, "PHS": {}, "WAKE": {}, "HS": {before: true},
	"C": {parts: []string{"CM", "CD", "CV"}}, "CM": {}, "CD": {}, "CV": {},
	"AC": {of: "C", parts: []string{"ACM", "ACD", "ACV"}, before: true}, "ACM": {of: "CM", before: true}, "ACD": {of: "CD", before: true}, "ACV": {of: "CV", before: true},
	"PC": {of: "C", parts: []string{"PCM", "PCD", "PCV"}}, "PCM": {of: "CM"}, "PCD": {of: "CD"}, "PCV": {of: "CV"},
}

// isMeal reports whether an event is a meal itself, which has no before and
// after (tim-9).
func isMeal(code string) bool { return code == "C" || code == "CM" || code == "CD" || code == "CV" }

// of are the clock times of one code, sorted; nil when the site has set none.
// A general code (C) is its parts when all of them are set.
func (c Clocks) of(code string) []time.Duration {
	if own := c[code]; len(own) > 0 {
		return distinct(own)
	}
	var out []time.Duration
	for _, part := range events[code].parts {
		if len(c[part]) == 0 {
			return nil
		}
		out = append(out, c[part]...)
	}
	return distinct(out)
}

func distinct(list []time.Duration) []time.Duration {
	list = slices.Clone(list)
	slices.Sort(list)
	return slices.Compact(list)
}

// fault names a clock time that no clock shows.
func (c Clocks) fault() error {
	for _, list := range c {
		for _, at := range list {
			if at < 0 || at >= oneDay {
				return unplaced("a clock time set for an event of the day does not lie in a day")
			}
		}
	}
	return nil
}

const oneDay = 24 * time.Hour

// eventTimes are the clock times of the events that the timing names, the
// offset included. An event without a clock time is not placed: nobody knows
// when this household has its breakfast.
func (t Timing) eventTimes(clocks Clocks) ([]time.Duration, error) {
	var out []time.Duration
	for _, code := range t.When {
		e, known := events[code]
		if !known {
			return nil, unplaced("the event of the day %.20q is not one that FHIR R4 lists", code)
		}
		from := code
		if t.Offset > 0 && e.of != "" {
			from = e.of
		}
		times := clocks.of(from)
		if len(times) == 0 {
			return nil, unplaced("the order ties doses to events of the day (%s), and no clock time is set for %q", inWords(t.When), notation.When(from))
		}
		for _, at := range times {
			if e.before {
				at -= t.Offset
			} else {
				at += t.Offset
			}
			if at < 0 || at >= oneDay {
				if len(t.DaysOfWeek) > 0 || !t.Period.Absent() && !isOneDay(t.Period) {
					return nil, unplaced("the minutes from the event of the day move the dose to another day than the order names")
				}
				at = (at%oneDay + oneDay) % oneDay
			}
			out = append(out, at)
		}
	}
	return distinct(out), nil
}

func inWords(codes []string) string {
	var out []string
	for _, c := range codes[:min(len(codes), len(events))] {
		out = append(out, notation.When(c))
	}
	return strings.Join(out, ", ")
}
