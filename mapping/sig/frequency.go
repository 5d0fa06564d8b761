package sig

import (
	"slices"
	"strings"
)

// frequencies reads "daily", "BID", "3 times a week", weekdays and clock
// times. "q8h" and "every 8 hours" are times led by a cue and are read with
// the amounts.
func (r *reader) frequencies() {
	for i := 0; i < len(r.items); i++ {
		x := r.items[i]
		if x.used {
			continue
		}
		switch {
		case x.class == "times" || x.kind == count:
			i = r.timesPer(i)
		case x.class == "interval":
			if r.dailyTotal(i) || r.dailyVolume(i) {
				continue
			}
			value, unit, _ := strings.Cut(x.meaning, " ")
			r.pace("interval", value, unit, i, i+1)
		case x.class == "perDay":
			r.divided(i)
			r.pace("dosesPerDay", x.meaning, "/d", i, i+1)
		case x.class == "perWeek":
			r.pace("frequency", x.meaning, "/wk", i, i+1)
		case x.class == "unclear":
			r.add("", x.meaning, "", "unclear", i, i+1)
		case x.kind == amount && r.item(r.leadAt(i)).is("every") && r.isTime(i):
			r.divided(r.leadAt(i))
			r.paced = true
		case x.class == "civi":
			r.add("route", "intravenous", "", "", i, i+1)
			r.add("frequency", "continuous", "", "", i, i+1)
		case x.class == "continuous":
			r.add("frequency", "continuous", "", "", i, i+1)
		case x.class == "weekday" && !r.startsOrEnds(i):
			i = r.weekdays(i)
		}
	}
}

// divided marks "divided" as understood where the pace follows it.
func (r *reader) divided(i int) {
	if r.item(i - 1).is("divided") {
		r.items[i-1].used = true
	}
}

func (r *reader) leadAt(i int) int {
	_, at := r.lead(i)
	return at
}

func (r *reader) pace(field, value, unit string, from, to int) {
	r.paced = true
	if r.items[from].scope == "" && r.strayPace(from) {
		r.add("", value, unit, "unclear", from, to)
		return
	}
	r.add(field, value, unit, "", from, to)
}

// timesPer reads "3 times a day", "twice weekly", "one dose daily", "once".
// It returns the last item read.
func (r *reader) timesPer(i int) int {
	x := r.items[i]
	value := x.low
	if x.class == "times" {
		value = x.meaning
	} else if x.isRange() || x.odd || strings.Contains(value, ".") {
		return i
	}
	if r.item(i-1).kind == cue && r.item(i-1).meaning == "maximum" {
		return i
	}
	k := i + 1
	times := x.class == "times"
	if n := r.item(k); n.class == "timesWord" || n.is("for") && r.text(k, k+1) != "for" || n.kind == cue && n.meaning == "divided" {
		times, k = true, k+1
	}
	if n := r.item(k); n.class == "noun" && n.meaning == "{dose}" {
		times, k = true, k+1
	}
	n := r.item(k)
	per := ""
	switch {
	case !times:
		return i
	case n.class == "per":
		per = n.meaning
	case n.class == "interval" && strings.HasPrefix(n.meaning, "1 "):
		_, per, _ = strings.Cut(n.meaning, " ")
	case r.item(i + 1).is("divided"): // "in 4 divided doses"
		r.items[i+1].used = true
		r.pace("dosesPerDay", value, "/d", i, k)
		return k - 1
	case x.class == "times" && value == "1" && !r.repeats(k):
		r.add("doseCount", "1", "{dose}", "", i, i+1)
		return i
	default:
		return i
	}
	switch {
	case value == "1":
		r.pace("interval", "1", per, i, k+1)
	case per == "d":
		r.pace("dosesPerDay", value, "/d", i, k+1)
	default:
		r.pace("frequency", value, "/"+per, i, k+1)
	}
	return k
}

// repeats: "once … weekly" or "twice a": the word is part of a pace.
func (r *reader) repeats(k int) bool {
	n := r.item(k)
	return n.class == "interval" || n.class == "per" || n.is("every")
}

// dailyTotal: "12 g daily divided q6h" gives a dose per day; "daily" is then
// no interval.
func (r *reader) dailyTotal(i int) bool {
	if r.items[i].meaning != "1 d" {
		return false
	}
	for k := i + 1; k < len(r.items) && k <= i+4; k++ {
		x := r.items[k]
		if x.is("divided") || x.kind == cue && x.meaning == "total" && k == i+1 {
			if r.markDaily(i) {
				r.items[k].used = true
				return true
			}
			return false
		}
		if x.kind == mark || x.kind == amount {
			break
		}
	}
	return r.item(i-1).kind == cue && r.item(i-1).meaning == "total" && r.markDaily(i)
}

// dailyVolume: "q4h, 600 mL daily": the volume is that of a day.
func (r *reader) dailyVolume(i int) bool {
	if r.items[i].meaning != "1 d" || !r.isVolume(i-1) || r.pacedAt >= i-1 {
		return false
	}
	r.items[i-1].role, r.items[i].used = "daily", true
	return true
}

// markDaily finds the dose the word "daily" belongs to.
func (r *reader) markDaily(i int) bool {
	for k := i - 1; k >= 0 && k >= i-3; k-- {
		if x := r.items[k]; x.kind == amount && isDrug(r.whole(x)) && timePart(x.code) == "" {
			r.items[k].role = "daily"
			r.items[i].used = true
			return true
		} else if x.kind == mark || x.kind == unknown {
			return false
		}
	}
	return false
}

func (r *reader) startsOrEnds(i int) bool {
	for k := i - 1; k >= 0 && k >= i-3; k-- {
		switch x := r.items[k]; {
		case x.is("start", "end"):
			return true
		case x.kind != silent && x.kind != mark:
			return false
		}
	}
	return r.item(i+1).kind == date || r.item(i+2).kind == date && r.item(i+1).is(",")
}

// weekdays reads "Mon, Wed and Fri" as one reading, in FHIR's codes. It
// returns the last item read.
func (r *reader) weekdays(i int) int {
	days, to := []string{}, i
	for k := i; k < len(r.items); k++ {
		x := r.items[k]
		if x.class == "weekday" {
			days, to = append(days, strings.Split(x.meaning, ",")...), k+1
		} else if !(x.is(",", "/", "-", "&") || x.kind == silent && r.tokens[x.from].lower == "and") || k > to+1 {
			break
		}
	}
	slices.SortStableFunc(days, func(a, b string) int { return slices.Index(week, a) - slices.Index(week, b) })
	r.paced = true
	if value := strings.Join(slices.Compact(days), ","); r.items[i].scope == "" && r.strayPace(i) {
		r.add("", value, "", "unclear", i, to)
	} else {
		r.add("frequency", value, "", "weekday", i, to)
	}
	return to - 1
}

var week = []string{"mon", "tue", "wed", "thu", "fri", "sat", "sun"}
