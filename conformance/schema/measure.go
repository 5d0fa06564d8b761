package schema

import (
	"slices"
	"strings"
	"time"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/quantity"
)

// Constraints on quantities, ratios, ranges and moments.

const ucum = "http://unitsofmeasure.org"

var timeUnits = []string{"s", "min", "h", "d", "wk", "mo", "a", "ms", "us", "ns"}

func notTime(n element.Node) bool {
	return n.Get("system").Text() != ucum || !slices.Contains(timeUnits, n.Get("code").Text())
}

// notDuration reads drt-1 as its text is meant: the published expression lets
// a value without any unit pass, the sentence does not.
func notDuration(n element.Node) element.Node {
	value, code := n.Get("value"), n.Get("code")
	if value.Exists() && notTime(n) || code.Exists() && !stands(n, "value") {
		return n
	}
	return element.Node{}
}

func notAge(n element.Node) element.Node {
	value := n.Get("value")
	if !value.Exists() {
		return element.Node{}
	}
	number, err := quantity.ParseNumber(value.Literal())
	if notTime(n) || err != nil || number.Sign() <= 0 {
		return n
	}
	return element.Node{}
}

func notCount(n element.Node) element.Node {
	value := n.Get("value")
	if value.Exists() && (n.Get("system").Text() != ucum || n.Get("code").Text() != "1" || strings.ContainsAny(value.Literal(), ".eE")) {
		return n
	}
	return element.Node{}
}

func withoutCode(n element.Node) element.Node {
	if n.Get("value").Exists() && (n.Get("system").Text() != ucum || !n.Get("code").Exists()) {
		return n
	}
	return element.Node{}
}

func halfRatio(n element.Node) element.Node {
	above, below := n.Get("numerator").Exists(), n.Get("denominator").Exists()
	if above != below || !above && !n.Get("extension").Exists() {
		return n
	}
	return element.Node{}
}

// reversedRange compares low and high after conversion to one unit, and as
// plain numbers when both carry the same code. Units that cannot be compared
// are no matter of R4.
func reversedRange(n element.Node) element.Node {
	low, high := n.Get("low"), n.Get("high")
	a, errA := quantity.ParseNumber(low.Get("value").Literal())
	b, errB := quantity.ParseNumber(high.Get("value").Literal())
	if errA != nil || errB != nil {
		return element.Node{}
	}
	from, to := low.Get("code").Text(), high.Get("code").Text()
	if from != to {
		one, err1 := quantity.ParseUnit(from)
		other, err2 := quantity.ParseUnit(to)
		if err1 != nil || err2 != nil {
			return element.Node{}
		}
		converted, err := quantity.Quantity{Low: b, High: b, Unit: other}.In(one)
		if err != nil {
			return element.Node{}
		}
		b = converted.High
	}
	if b.Less(a) {
		return n
	}
	return element.Node{}
}

// before: an element whose moment lies wholly before that of an earlier one.
// A date is the whole day in any zone, so a date and a time of one day never
// contradict each other.
func before(late, early string) func(element.Node) element.Node {
	return func(n element.Node) element.Node {
		at := n.Get(late)
		end, start := at.Text(), n.Get(early).Text()
		if len(end) <= 10 && len(start) <= 10 { // dates alone, as far as both go
			if both := min(len(end), len(start)); end[:both] < start[:both] {
				return at
			}
			return element.Node{}
		}
		_, latest, ok := span(end)
		earliest, _, known := span(start)
		if ok && known && latest.Before(earliest) {
			return at
		}
		return element.Node{}
	}
}

// span is the earliest and the latest instant a date or time can mean.
func span(s string) (from, to time.Time, ok bool) {
	if t, err := time.Parse(time.RFC3339Nano, s); err == nil {
		return t, t, true
	}
	layout := map[int]string{4: "2006", 7: "2006-01", 10: time.DateOnly}[len(s)]
	t, err := time.Parse(layout, s)
	if layout == "" || err != nil {
		return time.Time{}, time.Time{}, false
	}
	switch len(s) {
	case 4:
		to = t.AddDate(1, 0, 0)
	case 7:
		to = t.AddDate(0, 1, 0)
	default:
		to = t.AddDate(0, 0, 1)
	}
	return t.Add(-14 * time.Hour), to.Add(12 * time.Hour), true
}
