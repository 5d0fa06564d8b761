package sig

import "strings"

// days reads when the course starts and ends, and clock times. A day without
// a year, and a weekday, stay words: nothing is guessed.
func (r *reader) days() {
	for i := 0; i < len(r.items); i++ {
		x := r.items[i]
		if x.used {
			continue
		}
		switch {
		case x.is("start", "end", "from", "lastGiven"):
			i = r.when(i)
		case x.kind == date && r.item(i-1).is("to", "-", "–") && r.item(i-2).kind == date && r.isStart(i-2):
			r.add("end", x.meaning, "", x.role, i, i+1)
		case x.kind == date:
			r.add("", x.meaning, "", "unclear", i, i+1)
		case x.kind == clock && (r.ofDate(i) || r.strayPace(i) || r.between(i)):
			r.add("", x.meaning, "", "unclear", i, i+1)
		case x.kind == clock:
			r.add("frequency", x.meaning, "", "clock", i, i+1)
		}
	}
}

// isStart: the day at item i was read as the start.
func (r *reader) isStart(i int) bool {
	for _, x := range r.out {
		if x.Field == "start" && x.Place.Span[1] == r.tokens[r.items[i].to-1].end {
			return true
		}
	}
	return false
}

// ofDate: the time at item i is that of the day before it.
func (r *reader) ofDate(i int) bool {
	k := i - 1
	for k >= 0 && (r.items[k].kind == silent || r.items[k].is("at", ",")) {
		k--
	}
	return k >= 0 && r.items[k].kind == date
}

// when reads the day and time after a cue. It returns the last item read.
func (r *reader) when(i int) int {
	to, day, time, weekday := i+1, -1, -1, false
	for k := i + 1; k < len(r.items) && k <= i+2*reach; k++ {
		x := r.items[k]
		switch {
		case x.used:
			k = len(r.items)
			continue
		case x.kind == date && day < 0:
			day, to = k, k+1
		case x.kind == clock && time < 0:
			time, to = k, k+1
		case x.class == "weekday" && !weekday:
			weekday, to = true, k+1
		case x.kind == unknown && r.items[i].is("lastGiven") && day < 0 && time < 0 && k <= i+3: // "last dose given in hospital"
			continue
		case x.is("in") && r.items[i].is("lastGiven"):
			continue
		case x.kind == silent && x.class != "unit", x.is("at", ",", ":", "="), x.meaning == "." && k == i+1:
			if x.is(",") && day >= 0 {
				k = len(r.items)
			}
			continue
		default:
			k = len(r.items)
			continue
		}
	}
	if day < 0 && time < 0 && !weekday {
		return i
	}
	field := map[string]string{"start": "start", "end": "end", "from": "start", "lastGiven": "last-given"}[r.items[i].meaning]
	first := i + 1
	for first < to && (r.items[first].kind == silent || r.items[first].kind == mark || r.items[first].is("at")) {
		first++
	}
	words := r.text(first, to)
	switch {
	case field == "start" && r.items[i].meaning == "from" && day < 0:
		return i // "nightly from 20:00": a clock time of every dose
	case field == "end" && day < 0 && !strings.HasPrefix(r.tokens[r.items[i].from].lower, "until"):
		if weekday && r.tokens[r.items[i].from].lower != "last" {
			r.add(field, "until "+words, "", "words", i, to)
			return to - 1
		}
		r.add("", words, "", "unclear", i, to)
		return to - 1
	case day >= 0 && r.items[day].role != "no-year":
		value := r.items[day].meaning
		if time >= 0 && field != "end" {
			value += "T" + r.items[time].meaning
		}
		r.add(field, value, "", r.items[day].role, i, to)
	case field == "end" && day >= 0:
		r.add(field, r.items[day].meaning, "", "no-year", i, to)
	case field == "end":
		r.add(field, "until "+words, "", "words", i, to)
	case day < 0 && !weekday:
		r.add(field, r.items[time].meaning, "", "clock", i, to)
	default:
		r.add(field, words, "", "words", i, to)
	}
	return to - 1
}
