package intake

import (
	"encoding/json"
	"slices"
	"time"

	"weir.example/weir/mapping/worksheet"
)

// Much of a worksheet is said as from its clock: work due at once, and the
// limits of units that are not made yet, should they be made now. Judged
// later, the same order would say the same as from then. Two rules keep what
// is stored true: work that was asked for stays due when it was first asked
// for, so that it can become overdue; and a worksheet that differs in nothing
// but instants that went on with the clock is the one that is stored.

// steady puts what is stored of an order in the place of what only the clock
// has moved.
func (t *taking) steady(l *line, w *worksheet.Worksheet) error {
	if l.Sheet == "" {
		return nil
	}
	list, err := t.Store.Worksheets(t.ctx, l.Key, 1)
	if err != nil || len(list) == 0 {
		return err
	}
	var was worksheet.Worksheet
	if json.Unmarshal(list[0].JSON, &was) != nil || was.Order.Version != w.Order.Version || was.Stage != w.Stage {
		return nil // another form, or another content: nothing of it is known to stand
	}
	now, bad := time.Parse(time.RFC3339, w.Sources.Now)
	then, worse := time.Parse(time.RFC3339, was.Sources.Now)
	if bad != nil || worse != nil {
		return nil
	}
	for _, x := range was.Tasks {
		due, err := time.Parse(time.RFC3339, x.Due)
		l.turn = l.turn || err == nil && due.Equal(t.call.Now)
	}
	for i := range w.Tasks {
		x := &w.Tasks[i]
		if slices.ContainsFunc(l.Night.Tasks, func(o worksheet.Task) bool { return o.Code == x.Code && o.Says == x.Says }) {
			continue // see stand
		}
		due, err := time.Parse(time.RFC3339, x.Due)
		if err != nil || !due.Equal(now) {
			continue
		}
		k := slices.IndexFunc(was.Tasks, func(o worksheet.Task) bool {
			return o.Code == x.Code && o.Role == x.Role && o.Title == x.Title && o.Finding == x.Finding
		})
		if k < 0 {
			continue
		}
		if before, err := time.Parse(time.RFC3339, was.Tasks[k].Due); err == nil && before.Before(now) {
			x.Due, x.Says = was.Tasks[k].Due, was.Tasks[k].Says
		}
	}
	a, b := lasting(was), lasting(*w)
	by := map[time.Duration]bool{now.Sub(then): true}
	caught(a, b, now, by)
	if moved(a, b, by) {
		refs := w.Refs
		*w = was
		w.Refs = refs
	}
	return nil
}

// lasting is a worksheet as plain values, without its clock and the hashes of
// its sources.
func lasting(w worksheet.Worksheet) any {
	w.Sources.Now, w.Sources.Document, w.Sources.Held = "", "", ""
	var out any
	if err := json.Unmarshal(encode(w), &out); err != nil {
		panic(err) // a fault of this build: it was encoded just now
	}
	return out
}

// caught notes how far the instants went on that the clock has caught up
// with: what was planned for a time that has passed is planned for now.
func caught(a, b any, now time.Time, by map[time.Duration]bool) {
	switch x := a.(type) {
	case map[string]any:
		if y, ok := b.(map[string]any); ok {
			for k, v := range x {
				caught(v, y[k], now, by)
			}
		}
	case []any:
		if y, ok := b.([]any); ok {
			for i := range min(len(x), len(y)) {
				caught(x[i], y[i], now, by)
			}
		}
	case string:
		y, _ := b.(string)
		from, bad := time.Parse(time.RFC3339, x)
		to, worse := time.Parse(time.RFC3339, y)
		if bad == nil && worse == nil && to.Equal(now) && from.Before(now) {
			by[to.Sub(from)] = true
		}
	}
}

// moved reports whether b is a but for instants later by one of these.
func moved(a, b any, by map[time.Duration]bool) bool {
	switch x := a.(type) {
	case map[string]any:
		y, ok := b.(map[string]any)
		if !ok || len(x) != len(y) {
			return false
		}
		for k, v := range x {
			if other, there := y[k]; !there || !moved(v, other, by) {
				return false
			}
		}
		return true
	case []any:
		y, ok := b.([]any)
		if !ok || len(x) != len(y) {
			return false
		}
		for i := range x {
			if !moved(x[i], y[i], by) {
				return false
			}
		}
		return true
	case string:
		y, ok := b.(string)
		if !ok || x == y {
			return ok
		}
		from, bad := time.Parse(time.RFC3339, x)
		to, worse := time.Parse(time.RFC3339, y)
		return bad == nil && worse == nil && by[to.Sub(from)]
	}
	return a == b
}
