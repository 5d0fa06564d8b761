package intake

import (
	"strings"
	"time"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/r4"
	"weir.example/weir/mapping/worksheet"
)

// watch is the next instant at which the clock alone may change what was
// found of an order: a time of the plan passes, a task is overdue, an end
// comes near. Until then an order of which nothing changed need not be judged
// again. It is never later than longestWatch, since some rules look at how
// old a fact is.
func (t *taking) watch(l *line, e *entry, w worksheet.Worksheet) time.Time {
	now, p := t.call.Now, t.Reference.Policy.Night
	next := now.Add(longestWatch)
	at := func(x time.Time, after ...time.Duration) {
		if len(after) == 0 {
			after = []time.Duration{0}
		}
		for _, d := range after {
			for _, y := range []time.Time{x.Add(d), x.Add(d + time.Microsecond)} { // some rules count the instant itself, some do not
				if !x.IsZero() && (d != 0 || !x.Equal(now)) && y.After(now) && y.Before(next) {
					next = y
				}
			}
		}
	}
	text := func(s string, after ...time.Duration) {
		if x, err := time.Parse(time.RFC3339, s); err == nil {
			at(x, after...)
		}
	}
	root := e.document().Root()
	for _, since := range []time.Time{l.Received, r4.Sent(root), authored(root)} {
		at(since, time.Duration(p.UnseenAge))
	}
	if l.turn {
		at(now.Add(time.Microsecond))
	}
	near := -time.Duration(p.EndDays) * 24 * time.Hour
	for _, s := range []string{w.Schedule.LastDose, w.Schedule.EndsAt, w.Schedule.EndsEarliest, w.Schedule.EndsLatest} {
		text(s, near, 0)
	}
	text(w.Schedule.FirstHomeDose)
	text(w.Schedule.FirstHomeEarliest)
	text(w.Schedule.FirstHomeLatest)
	for _, d := range w.Deliveries {
		text(d.Arrival)
		text(d.StartBefore)
		text(d.FinishBy)
		if d.Use != nil {
			text(d.Use.Made)
			for _, x := range d.Use.Limits {
				text(x.Until)
			}
		}
	}
	for _, x := range w.Tasks {
		if strings.HasPrefix(x.Code, "escalate-") {
			continue // never overdue: see reconciliation
		}
		text(x.Due, 0, time.Duration(p.TaskGrace), time.Duration(p.TaskSupervisor), time.Duration(p.TestGrace), time.Duration(p.ResultGrace))
	}
	return next
}

func authored(n element.Node) time.Time {
	at, _ := time.Parse(time.RFC3339, n.Get("authoredOn").Text())
	return at
}

// longestWatch is our own choice: a fact grows old by days.
const longestWatch = 24 * time.Hour
