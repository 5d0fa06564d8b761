package plan

import (
	"fmt"
	"strings"
	"time"

	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/schedule"
)

// partOfDay is what a timing code says of the day, FHIR R4 value set
// timing-abbreviation.
var partOfDay = map[string]string{"AM": " in the morning", "PM": " in the afternoon or evening", "BED": " at bedtime"}

// placeEvents puts the site's clock times in the place of the events of the
// day or the timing code that the order names, and says so.
func (p *Plan) placeEvents() {
	t, pace := &p.timing, p.pace
	if len(pace.Times) == 0 || len(t.TimesOfDay) > 0 {
		return
	}
	var of string
	if len(t.When) > 0 {
		var names []string
		for _, code := range t.When {
			names = append(names, notation.When(code))
		}
		of = strings.Join(names, ", ")
		if t.Offset > 0 {
			of += ", " + notation.Duration(t.Offset) + " from it,"
		}
		t.When, t.Offset = nil, 0
	} else { // the code alone says how often
		part := partOfDay[t.Code]
		t.Code, t.Frequency = "", len(pace.Times)
		if pace.Months > 0 {
			t.Period = quantity.Point(quantity.Int(int64(pace.Months)), quantity.MustUnit("mo"))
		} else {
			t.Period = quantity.Point(quantity.Int(int64(pace.Days)), quantity.MustUnit("d"))
		}
		of = notation.Frequency(t.Frequency, t.Period.Low, t.Period.Unit.Code()) + part
	}
	p.takeTimes(of, pace.Times)
}

// readTiming reads how often. A code that names a part of the day says when
// as well, also where a repeat beside it says how often.
func (p *Plan) readTiming() (schedule.Pace, error) {
	t := p.timing
	pace, err := schedule.PaceAt(t, p.clocks)
	part, named := partOfDay[t.Code]
	if err != nil || !named || len(t.TimesOfDay)+len(t.When) > 0 || t.Period.Absent() && len(t.DaysOfWeek) == 0 {
		return pace, err
	}
	ofCode, err := schedule.PaceAt(schedule.Timing{Code: t.Code}, p.clocks)
	if err != nil { // the repeat alone would place the doses at another time of day
		p.timing.Frequency, p.timing.Period, p.timing.DaysOfWeek = 0, quantity.Quantity{}, nil
		return schedule.Pace{}, err
	}
	p.takeTimes(strings.TrimSpace(part), ofCode.Times)
	return schedule.PaceAt(p.timing, p.clocks)
}

func (p *Plan) takeTimes(of string, times []time.Duration) {
	t := &p.timing
	var shown []string
	for _, at := range times {
		text := fmt.Sprintf("%02d:%02d", at/time.Hour, at%time.Hour/time.Minute)
		t.TimesOfDay, shown = append(t.TimesOfDay, fmt.Sprintf("%s:%02d", text, at%time.Minute/time.Second)), append(shown, text)
	}
	which := "the pharmacy's is taken"
	if len(shown) > 1 {
		which = "the pharmacy's are taken"
	}
	p.say("the order says %s and no clock time: %s, %s", of, which, strings.Join(shown, ", "))
}
