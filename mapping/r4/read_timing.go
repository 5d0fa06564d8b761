package r4

import (
	"reflect"
	"regexp"
	"strconv"
	"time"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/schedule"
)

// readTiming reads when and how often, and the infusion time of one dose
// (https://hl7.org/fhir/R4/datatypes.html#Timing).
func (o *orderScope) readTiming(n element.Node, i *instruction) {
	if n.Kind() != element.Object {
		return
	}
	t := &i.timing
	events := n.Get("event").Each()
	for k, e := range events {
		at := instantOf(e, n.Get("_event").At(k))
		if at.Absent() {
			continue
		}
		t.Events = append(t.Events, at.Time)
		if i.course.Start.Absent() || at.Time.Before(i.course.Start.Time) {
			i.course.Start = at
		}
	}
	code := n.Get("code")
	if c := concept(code); !c.Absent() {
		t.Code = c.Code(gts)
		o.conceptLines(code, "timing-text")
		if t.Code == "" && len(c.Codings) > 0 {
			o.notUsed(code, "the timing code is not of %s", gts)
		}
	}
	o.readRepeat(n.Get("repeat"), i)
	i.course.Single = len(events) == 1 && t.Frequency == 0 && t.Period.Absent() || t.Count == 1
	i.timed = len(t.Events) > 0 || t.Code != "" || t.Frequency > 0 || !t.Period.Absent() || len(t.DaysOfWeek)+len(t.TimesOfDay)+len(t.When) > 0 || t.Count > 0
	if i.course.Place.Expression == "" {
		i.course.Place = n.Place()
	}
	o.statePace(n, i)
}

func (o *orderScope) readRepeat(n element.Node, i *instruction) {
	if n.Kind() != element.Object {
		return
	}
	t := &i.timing
	t.Count, t.CountMax = o.whole(n, "count"), o.whole(n, "countMax")
	t.Frequency, t.FrequencyMax = o.whole(n, "frequency"), o.whole(n, "frequencyMax")
	if t.Frequency > 0 || !n.Get("frequency").Exists() { // a frequency that is not used leaves no pace
		t.Period, _ = o.timeOf(n, "period", "periodUnit")
	}
	t.PeriodMax, _ = o.timeOf(n, "periodMax", "periodUnit")
	t.DurationMax, _ = o.timeOf(n, "durationMax", "durationUnit")
	for _, d := range n.Get("dayOfWeek").Each() {
		t.DaysOfWeek = append(t.DaysOfWeek, d.Text())
	}
	for _, d := range n.Get("timeOfDay").Each() {
		t.TimesOfDay = append(t.TimesOfDay, d.Text())
	}
	for _, d := range n.Get("when").Each() {
		t.When = append(t.When, d.Text())
	}
	t.Offset = time.Duration(o.whole(n, "offset")) * time.Minute
	o.readBounds(n, i)
	o.readDuration(n, i)
	if t.Count > 0 {
		i.course.Count = t.Count
		if n.Get("countMax").Exists() {
			i.course.Count = t.CountMax
		}
		if q, err := quantity.Parse(n.Get("count").Literal(), "1", quantity.None); err == nil && t.Count > 1 && !n.Get("countMax").Exists() {
			i.pace = append(i.pace, order.Stated{Name: "doseCount", Quantity: q, Literal: n.Get("count").Literal(), Place: n.Get("count").Place(), Witness: order.Coded})
		}
	}
}

// readDuration reads the infusion time of one dose. A time in days, weeks or
// months that is longer than the time between doses is the course, typed
// into the wrong field.
func (o *orderScope) readDuration(n element.Node, i *instruction) {
	q, ok := o.timeOf(n, "duration", "durationUnit")
	if !ok {
		return
	}
	at := n.Get("duration")
	s := order.Stated{Name: "duration", Quantity: q, Literal: at.Literal(), Place: at.Place(), Witness: order.Coded}
	between := timeBetween(i.timing)
	low, _ := q.Base()
	if u := n.Get("durationUnit").Text(); (u == "d" || u == "wk" || u == "mo") && between.Sign() > 0 && between.Less(low) {
		o.said(at, "read as the length of the course: %s %s is longer than the time between doses", at.Literal(), u)
		s.Name = "courseLength"
		if i.course.Length == nil {
			i.course.Length = &s
			i.course.Place = at.Place()
		}
		i.pace = append(i.pace, s)
		return
	}
	if !i.timing.DurationMax.Absent() {
		if most, err := i.timing.DurationMax.In(q.Unit); err == nil {
			s.Quantity, s.Literal = quantity.Range(q.Low, most.Low, q.Unit), ""
		}
	}
	i.timing.Duration = q
	i.duration = &s
}

// timeBetween is the time from one dose to the next in seconds, 0 when the
// timing does not say.
func timeBetween(t schedule.Timing) quantity.Number {
	if !t.Period.Absent() {
		low, _ := t.Period.Base()
		return low.Quo(quantity.Int(int64(max(t.Frequency, 1))))
	}
	if t.Code == monthly {
		low, _ := aMonth().Base()
		return low
	}
	if perDay, hours, ok := codePace(t.Code); ok {
		if hours > 0 {
			return quantity.Int(int64(hours) * 3600)
		}
		return quantity.Int(86400).Quo(quantity.Int(int64(perDay)))
	}
	return quantity.Number{}
}

// timeOf reads a decimal with its code of s, min, h, d, wk, mo, a.
func (o *orderScope) timeOf(n element.Node, value, unit string) (quantity.Quantity, bool) {
	v, u := n.Get(value), n.Get(unit)
	if !v.Exists() {
		return quantity.Quantity{}, false
	}
	q, err := quantity.Parse(v.Literal(), u.Text(), quantity.Time)
	if err != nil {
		o.fault("record-unit-unknown", v, v.Literal()+" "+u.Text(), "a time with unit s, min, h, d, wk, mo or a", "a time has no unit that is one of time")
		return quantity.Quantity{}, false
	}
	return q, true
}

// mostTimes is above any count, frequency or offset in minutes of a course.
const mostTimes = 100_000

// whole is a whole number, 0 when it is absent; one that cannot be meant is
// said and not used.
func (n *notes) whole(at element.Node, name string) int {
	v, ok := whole(at, name)
	if !ok {
		n.impossible(at.Get(name), name+" "+at.Get(name).Literal(), "a whole number from 0 to 100,000")
	}
	return v
}

// whole is a whole number that can be meant; one that is absent is 0.
func whole(n element.Node, name string) (int, bool) {
	at := n.Get(name)
	if !at.Exists() {
		return 0, true
	}
	v, err := strconv.Atoi(at.Literal())
	if err != nil || v < 0 || v > mostTimes {
		return 0, false
	}
	return v, true
}

// statePace states how often: once every so long, or so many a day.
func (o *orderScope) statePace(n element.Node, i *instruction) {
	t := i.timing
	repeat := n.Get("repeat")
	at := repeat.Get("period")
	switch {
	case i.asNeeded && len(t.Events) == 0:
	case len(t.DaysOfWeek) > 0, len(t.When) > 1:
		// Days of the week have no even interval.
	case !t.Period.Absent() && t.PeriodMax.Absent() && t.FrequencyMax == 0 && len(t.TimesOfDay) <= max(t.Frequency, 1):
		i.pace = append(i.pace, evenly(t.Period, max(t.Frequency, 1), at))
	case len(t.TimesOfDay) > 0 && (t.Period.Absent() || isOneDay(t.Period)):
		i.pace = append(i.pace, evenly(quantity.Point(quantity.Int(1), day), len(t.TimesOfDay), repeat.Get("timeOfDay")))
	}
	if t.Code == monthly && !i.asNeeded {
		i.pace = append(i.pace, evenly(aMonth(), 1, n.Get("code")))
	}
	if perDay, hours, ok := codePace(t.Code); ok && !i.asNeeded {
		if hours > 0 {
			i.pace = append(i.pace, evenly(quantity.Point(quantity.Int(int64(hours)), hour), 1, n.Get("code")))
		} else {
			i.pace = append(i.pace, evenly(quantity.Point(quantity.Int(1), day), perDay, n.Get("code")))
		}
	}
}

var (
	day  = quantity.MustUnit("d")
	hour = quantity.MustUnit("h")
)

func isOneDay(q quantity.Quantity) bool {
	low, high := q.Base()
	return low.Equal(quantity.Int(86400)) && high.Equal(low)
}

// evenly states an interval for one dose in a period, doses per day for
// several.
func evenly(period quantity.Quantity, times int, at element.Node) order.Stated {
	s := order.Stated{Name: "interval", Quantity: period, Place: at.Place(), Witness: order.Coded}
	if times == 1 {
		if at.Kind() == element.Number {
			s.Literal = at.Literal()
		}
		return s
	}
	u := quantity.MustUnit("/d")
	low, _ := period.Base()
	perDay := quantity.Int(int64(times)).Mul(quantity.Int(86400)).Quo(low)
	s.Name, s.Quantity = "dosesPerDay", quantity.Point(perDay, u)
	return s
}

var everyHours = regexp.MustCompile(`^Q([1-9][0-9]?)H$`)

// monthly is the code for once a month, which has no fixed number of hours.
const monthly = "MO"

func aMonth() quantity.Quantity {
	return quantity.Point(quantity.Int(1), quantity.MustUnit("mo"))
}

// codePace reads v3-GTSAbbreviation: doses per day, or hours between doses.
func codePace(code string) (perDay, hours int, ok bool) {
	switch code {
	case "QD", "AM", "PM", "BED":
		return 1, 0, true
	case "BID":
		return 2, 0, true
	case "TID":
		return 3, 0, true
	case "QID":
		return 4, 0, true
	case "QOD":
		return 0, 48, true
	case "WK":
		return 0, 7 * 24, true
	}
	if m := everyHours.FindStringSubmatch(code); m != nil {
		h, _ := strconv.Atoi(m[1])
		return 0, h, true
	}
	return 0, 0, false
}

// sameTiming compares two timings by what they ask for, the infusion time and
// the bounds apart: the course of an order reaches from its earliest start to
// its latest end.
func sameTiming(a, b schedule.Timing) bool {
	a.Bounds, b.Bounds = schedule.Bounds{}, schedule.Bounds{}
	a.Duration, b.Duration, a.DurationMax, b.DurationMax = quantity.Quantity{}, quantity.Quantity{}, quantity.Quantity{}, quantity.Quantity{}
	return reflect.DeepEqual(a, b)
}
