package intake

import (
	"time"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/r4"
	"weir.example/weir/mapping/worksheet"
)

// watch is the next instant by the plan at which the clock alone may change
// what was found of an order, but for open tasks that are overdue: a dose, a
// draw or a delivery of the plan comes, a limit passes, an end comes near. Until
// then an order of which nothing changed need not be judged again, should prove
// find that nothing else hangs on the clock. It is never later than
// longestWatch.
func (t *taking) watch(h *held, l *line, e *entry, w worksheet.Worksheet) time.Time {
	now, p := t.call.Now, t.Reference.Policy.Night
	next := now.Add(longestWatch)
	at := func(x time.Time, after ...time.Duration) {
		if len(after) == 0 {
			after = []time.Duration{0}
		}
		for _, d := range after {
			for _, y := range []time.Time{x.Add(d), x.Add(d + time.Microsecond)} { // some rules count the instant itself, some do not
				if !x.IsZero() && !x.Add(d).Equal(now) && y.After(now) && y.Before(next) { // what comes right behind now, prove sees
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
	near := -time.Duration(p.EndDays) * 24 * time.Hour
	for _, s := range []string{w.Schedule.LastDose, w.Schedule.EndsAt, w.Schedule.EndsEarliest, w.Schedule.EndsLatest} {
		text(s, near, 0)
	}
	text(w.Schedule.FirstHomeDose)
	text(w.Schedule.FirstHomeEarliest)
	text(w.Schedule.FirstHomeLatest)
	for _, d := range w.Deliveries {
		for _, s := range []string{d.Arrival, d.FirstDose, d.StartBefore, d.FinishBy} {
			text(s)
		}
		if d.Use != nil {
			for _, x := range d.Use.Limits {
				text(x.Until)
			}
		}
	}
	for _, x := range h.draws {
		at(x, 0, time.Duration(p.TestGrace))
	}
	return next
}

func authored(n element.Node) time.Time {
	at, _ := time.Parse(time.RFC3339, n.Get("authoredOn").Text())
	return at
}

// longestWatch is our own choice: what grows old by days is looked at so
// often at least.
const longestWatch = 10 * 24 * time.Hour
