package verification

import (
	"slices"
	"time"

	"weir.example/weir/mapping/order"
)

// What may be wrong with the orders for one test.
const (
	drawsMissing = "no order for "
	drawsUndated = "no day for "
	drawsSeldom  = "less often than asked: "
	drawsLate    = "the first too long after the start, or a gap between: "
	drawsEnd     = "not until the end of the course: "
)

// isDated: the order names a day, or how often.
func isDated(s order.Service) bool {
	return len(s.When) > 0 || s.Every > 0 || s.EveryDays > 0 || s.Repeats != "" || !s.From.Absent()
}

// stretch is a time in which a test is drawn often enough: one day, or from
// the first to the last of an order that repeats. Open is one without an end.
type stretch struct {
	from, to time.Time
	open     bool
}

// stretches are those of an order, none where it comes too seldom. A time
// without a number ("by protocol") is taken as often enough.
func stretches(s order.Service, every time.Duration) []stretch {
	often := s.Every
	if often == 0 {
		often = time.Duration(s.EveryDays) * 24 * time.Hour
	}
	var out []stretch
	for _, at := range s.When {
		out = append(out, stretch{from: at.Time, to: dayEnd(at)})
	}
	switch {
	case often > every || len(s.When) > 0:
	case often > 0 || s.Repeats != "":
		out = append(out, stretch{from: s.From.Time, to: dayEnd(s.To), open: s.To.Absent()})
	default: // once, within a time
		out = append(out, stretch{from: s.From.Time, to: dayEnd(s.From)})
	}
	return out
}

// dayEnd is an instant, and of a date alone the end of its day.
func dayEnd(at order.Instant) time.Time {
	if at.DateOnly {
		return at.Time.AddDate(0, 0, 1)
	}
	return at.Time
}

// drawnThrough tells what keeps the orders for a test from being drawn as
// often as asked through the course; "" is nothing. Between the start, two
// draws and the end may lie the time asked for and one day. What was drawn
// before the start or the clock does not count.
func drawnThrough(f Facts, list []order.Service, every time.Duration) string {
	if every == 0 {
		return ""
	}
	var all []stretch
	repeats := false
	for _, s := range list {
		found := stretches(s, every)
		all = append(all, found...)
		repeats = repeats || len(found) > 0 && len(s.When) == 0 && (s.Every > 0 || s.EveryDays > 0 || s.Repeats != "")
	}
	slices.SortFunc(all, func(a, b stretch) int { return a.from.Compare(b.from) })
	at, gap := f.plan().FirstHomeDose, every+24*time.Hour
	if at.Before(f.now()) {
		at = f.now()
	}
	end, start := f.plan().CourseEnd, at
	for _, s := range all {
		switch {
		case s.from.After(at.Add(gap)):
			if !repeats || !end.IsZero() && !end.After(at.Add(gap)) {
				continue
			}
			return drawsLate
		case s.open:
			return ""
		case s.to.After(at):
			at = s.to
		}
	}
	switch {
	case len(all) == 0:
		return drawsSeldom
	case end.IsZero() && at.After(start), !end.IsZero() && !end.After(at.Add(gap)):
		return ""
	case !repeats:
		return drawsSeldom
	}
	return drawsEnd
}
