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

var centralKinds = map[string]bool{"picc": true, "tunnelled": true, "non-tunnelled": true, "port": true}

func central(f Facts) bool {
	a, ok := line(f)
	return ok && centralKinds[a.Kind]
}

func hasLine(f Facts) bool {
	a, ok := line(f)
	return ok && a.Kind != "subcutaneous"
}

func tipUnconfirmed(f Facts) []finding.Finding {
	a, _ := line(f)
	if a.TipConfirmed {
		return nil
	}
	observed := "no record that the tip position is confirmed"
	if a.TipText != "" {
		observed = a.TipText
	}
	return here(a.Place, observed, "a confirmed tip position dated on or after the last move of the line")
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
