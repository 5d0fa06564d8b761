package verification

import (
	"fmt"
	"time"

	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
)

// line is the access device in use: the newest not removed.
func line(f Facts) (order.Access, bool) {
	for _, a := range f.kase().Access {
		if a.Kind != "" && a.Removed.Absent() {
			return a, true
		}
	}
	return order.Access{}, false
}

// central: the table says that the tip of this kind of line lies in a central
// vein; a central line of a kind that nobody states counts as one.
func central(f Facts) bool {
	a, ok := line(f)
	return ok && endsCentral(a)
}

func hasLine(f Facts) bool {
	a, ok := line(f)
	return ok && a.Kind != "subcutaneous"
}

// tipLine is the line whose tip counts: the one the order names, else the
// newest in use.
func tipLine(f Facts) (order.Access, bool) {
	if a, ok := lineOf(f); ok {
		return a, true
	}
	return line(f)
}

func throughCentral(f Facts) bool {
	a, ok := tipLine(f)
	return ok && endsCentral(a)
}

// placing is how long a line takes to be placed, at the most: 2 hours (common
// practice, no source). A tip seen longer before is that of another line.
const placing = 2 * time.Hour

// tipOpen: nothing confirms where the tip lies since the line was placed. A
// confirmation of an earlier day, or of hours before, is of another line.
func tipOpen(a order.Access) (observed string, open bool) {
	apart := placing
	if a.TipAt.DateOnly || a.Placed.DateOnly {
		apart = 24 * time.Hour
	}
	switch {
	case a.TipConfirmed && !a.TipAt.Absent() && !a.Placed.Absent() && a.Placed.Time.Sub(a.TipAt.Time) >= apart:
		return "the tip was confirmed " + shownAt(a.TipAt, apart) + ", and the line was placed " + shownAt(a.Placed, apart), true
	case a.TipConfirmed:
		return "", false
	case a.TipText != "":
		return a.TipText, true
	}
	return "no record that the tip position is confirmed", true
}

// shownAt is a day, with its time where hours decide.
func shownAt(i order.Instant, apart time.Duration) string {
	if apart == placing {
		return notation.Instant(i.Time, "")
	}
	return notation.Date(i.Time)
}

// tipUnconfirmed: row h2, apart for a drug that may only run centrally.
func tipUnconfirmed(f Facts, only bool) []finding.Finding {
	a, _ := tipLine(f)
	observed, open := tipOpen(a)
	if !open || needsCentral(f) != only {
		return nil
	}
	expected := "a confirmed tip position dated on or after the last move of the line"
	if a.BloodReturn == "absent" {
		expected = "blood return seen, or the line looked at for a kink, a clot or a moved tip, and the tip confirmed again"
	}
	return here(a.Place, observed, expected)
}

func tipUnconfirmedOther(f Facts) []finding.Finding { return tipUnconfirmed(f, false) }

func tipUnconfirmedCentral(f Facts) []finding.Finding {
	x := tipUnconfirmed(f, true)
	list, _ := reasons(f)
	if len(x) > 0 {
		says, worst := joined(list)
		x[0].Expected += ": " + says
		x[0].Standing, x[0].AtMost = worst.standing, worst.atMost
	}
	return x
}

// tipUnknown: whether the drug may only run centrally is open, and so is the
// tip. Until it is told the other rule holds.
func tipUnknown(f Facts) []Fact {
	a, _ := tipLine(f)
	if _, open := tipOpen(a); !open {
		return nil
	}
	if needsCentral(f) {
		return nil
	}
	_, lacks := reasons(f)
	return lacks
}

// longestMidline is 14 days: the published guidance for choosing a midline.
const longestMidline = 14

func dwell(f Facts) []finding.Finding {
	a, _ := line(f)
	if a.Placed.Absent() {
		return nil
	}
	limit := a.Placed.Time.AddDate(0, 0, longestMidline)
	end := f.plan().LastDose
	switch {
	case end.IsZero() && endStated(f):
		return nil
	case end.IsZero():
		return here(a.Place, "a midline placed "+notation.Date(a.Placed.Time)+", and no end of the course is known", "an end before "+notation.Date(limit)+" (14 days), or a reason to keep it")
	case !end.After(limit):
		return nil
	}
	const day = 24 * time.Hour
	days := int((end.Sub(a.Placed.Time) + day - 1) / day) // a begun day counts
	return here(a.Place, fmt.Sprintf("the midline would be in place %d days at the last dose", days), "at most 14 days, or a reason to keep it")
}

// endStated: the order says when or after how many doses it ends.
func endStated(f Facts) bool {
	c := f.order().Course
	return !c.End.Absent() || c.Count > 0 || c.Length != nil
}

func isMidline(f Facts) bool {
	a, ok := line(f)
	return ok && a.Kind == "midline"
}

// dwellUnknown: without the day it was placed, or the last dose of a course
// whose end is stated, nobody can count the days between.
func dwellUnknown(f Facts) []Fact {
	var out []Fact
	if a, _ := line(f); a.Placed.Absent() {
		out = append(out, Placed)
	}
	if f.plan().LastDose.IsZero() && endStated(f) {
		out = append(out, CourseEnd)
	}
	return out
}

// removalPlan gates at close from three days before the end; before that it
// is a task.
func removalPlan(f Facts) []finding.Finding {
	for _, s := range f.kase().Services {
		if s.Kind == "access-plan" {
			return nil
		}
	}
	a, _ := line(f)
	return here(a.Place, "no order to remove or to keep the line after the last dose", "an order to remove it, or to maintain it")
}

// farFromEnd: the plan gates only once the end of the course is near.
func farFromEnd(f Facts) bool {
	end := f.plan().CourseEnd
	return end.IsZero() || f.now().Before(end.AddDate(0, 0, -f.policy().Access.PlanGateDays))
}
