package intake

import (
	"bytes"
	"encoding/json"
	"slices"
	"time"

	jsonv2 "github.com/go-json-experiment/json"

	"weir.example/weir/mapping/worksheet"
)

// Much of a worksheet is said as from its clock: work due at once, and the
// limits of units that are not made yet, should they be made now. Judged
// later, the same order would say the same as from then. Two rules keep what
// is stored true: work that was asked for stays due when it was first asked
// for, so that it can become overdue; and a worksheet that differs in nothing
// but instants that went on with the clock is the one that is stored.

// steady puts what is stored of an order in the place of what only the clock
// has moved, and gives what lasts of the worksheet.
func (t *taking) steady(l *line, w *worksheet.Worksheet) ([]byte, error) {
	if l.Sheet == "" {
		return lasting(*w), nil
	}
	list, err := t.Store.Worksheets(t.ctx, l.Key, 1)
	if err != nil || len(list) == 0 {
		return lasting(*w), err
	}
	var was worksheet.Worksheet
	if jsonv2.Unmarshal(list[0].JSON, &was) != nil || was.Order.Version != w.Order.Version || was.Stage != w.Stage {
		return lasting(*w), nil // another form, or another content: nothing of it is known to stand
	}
	now, bad := time.Parse(time.RFC3339, w.Sources.Now)
	then, worse := time.Parse(time.RFC3339, was.Sources.Now)
	if bad != nil || worse != nil {
		return lasting(*w), nil
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
	before, after := lasting(was), lasting(*w)
	if onlyMoved(before, after, then, now) {
		refs := w.Refs
		*w = was
		w.Refs = refs
		return before, nil
	}
	return after, nil
}

// lasting is a worksheet without its clock and the hashes of its sources.
func lasting(w worksheet.Worksheet) []byte {
	w.Sources.Now, w.Sources.Document, w.Sources.Held = "", "", ""
	return encode(w)
}

// onlyMoved reports whether b is a but for instants that went on with the
// clock: by as much as the clock itself, or by as much as something that was
// planned for a time that has passed and is now planned for now.
func onlyMoved(a, b []byte, then, now time.Time) bool {
	list, same := differing(a, b)
	if !same {
		return false
	}
	by := map[time.Duration]bool{now.Sub(then): true}
	moved := make([]time.Duration, 0, len(list))
	for _, x := range list {
		from, bad := time.Parse(time.RFC3339, x[0])
		to, worse := time.Parse(time.RFC3339, x[1])
		if bad != nil || worse != nil {
			return false
		}
		if moved = append(moved, to.Sub(from)); to.Equal(now) && from.Before(now) {
			by[to.Sub(from)] = true
		}
	}
	return !slices.ContainsFunc(moved, func(d time.Duration) bool { return !by[d] })
}

// differing are the texts in which two worksheets differ. False: they differ
// in more than the texts of members. Both are written by the same encoder:
// members stand in one order, and numbers have one form.
func differing(a, b []byte) (list [][2]string, same bool) {
	for len(a) > 0 && len(b) > 0 {
		if a[0] != b[0] {
			return nil, false
		}
		n, m := 1, 1
		if a[0] == '"' {
			n, m = text(a), text(b)
		}
		if !bytes.Equal(a[:n], b[:m]) {
			x, y := decoded(a[:n]), decoded(b[:m])
			if x != y && n < len(a) && a[n] == ':' { // another name of a member
				return nil, false
			}
			if x != y {
				list = append(list, [2]string{x, y})
			}
		}
		a, b = a[n:], b[m:]
	}
	return list, len(a) == len(b)
}

func decoded(text []byte) (s string) {
	if err := json.Unmarshal(text, &s); err != nil {
		panic(err) // a fault of this build: it was encoded just now
	}
	return s
}

// text is the length of the string in JSON that a text begins with.
func text(s []byte) int {
	n := 1
	for ; n < len(s) && s[n] != '"'; n++ {
		if s[n] == '\\' {
			n++
		}
	}
	return min(n+1, len(s))
}
