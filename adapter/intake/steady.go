package intake

import (
	"bytes"
	"cmp"
	"encoding/json"
	"slices"
	"strings"
	"time"

	jsonv2 "github.com/go-json-experiment/json"

	"weir.example/weir/conformance"
	"weir.example/weir/mapping/fulfillment"
	"weir.example/weir/mapping/worksheet"
)

// Much of a worksheet is said as from its clock: work due at once, and the
// limits of units that are not made yet, should they be made now. Judged
// later, the same order would say the same as from then. Two rules keep what
// is stored true: work that was asked for stays due when it was first asked
// for, so that it can become overdue; and a worksheet that differs in nothing
// but instants that went on with the clock is the one that is stored.

// steady puts what is stored of an order in the place of what only the clock
// has moved. What a night says is compared for itself: night is what the
// stored worksheet says of it.
func (t *taking) steady(l *line, night nightly, w *worksheet.Worksheet) error {
	then := l.Clock
	l.Clock = t.call.Now
	if l.Sheet == "" {
		return nil
	}
	list, err := t.Store.Worksheets(t.ctx, l.Key, 1)
	if err != nil || len(list) == 0 {
		return err
	}
	var was worksheet.Worksheet
	if jsonv2.Unmarshal(list[0].JSON, &was) == nil {
		t.hold(l, night, then, was, w)
	}
	return nil
}

// hold is steady with what is stored. It reports whether all but what a night
// says stands as it is stored.
func (t *taking) hold(l *line, night nightly, then time.Time, was worksheet.Worksheet, w *worksheet.Worksheet) bool {
	if was.Order.Version != w.Order.Version || was.Stage != w.Stage {
		return false // another form, or another content: nothing of it is known to stand
	}
	now, bad := time.Parse(time.RFC3339, w.Sources.Now)
	made, worse := time.Parse(time.RFC3339, was.Sources.Now)
	if bad != nil || worse != nil {
		return false
	}
	if then.IsZero() {
		then = made
	}
	old, okOld := based(was, night)
	fresh, okFresh := based(*w, l.Night)
	if !okOld || !okFresh {
		return false
	}
	sameDue(fresh.Tasks, old.Tasks, now)
	base, stands := fresh, onlyMoved(lasting(old), lasting(fresh), then, now, made)
	if stands {
		if l.Clock, base = then, old; !sameNight(night, l.Night) {
			base.Sources = w.Sources
		}
	}
	base.Refs = w.Refs
	conformance.Join(&base, l.Night.Findings, l.Night.Tasks)
	*w = base
	return stands
}

// based is a worksheet without what a night says and the verdict, which
// follows. False: it does not stand where it was put.
func based(w worksheet.Worksheet, n nightly) (worksheet.Worksheet, bool) {
	cut := len(w.Tasks) - len(n.Tasks)
	if cut < 0 || !bytes.Equal(encode(w.Tasks[cut:]), encode(append([]worksheet.Task{}, n.Tasks...))) {
		return w, false
	}
	w.Tasks, w.Verdict = slices.Clone(w.Tasks[:cut]), ""
	w.Findings = slices.DeleteFunc(slices.Clone(w.Findings), func(f worksheet.Finding) bool { return strings.HasPrefix(f.Code, nightCodes) })
	return w, true
}

// nightCodes begins the codes of what comparisons find, and no other's.
const nightCodes = "nightly-"

func sameNight(a, b nightly) bool {
	return bytes.Equal(encode(nightly{Findings: a.Findings, Tasks: a.Tasks}), encode(nightly{Findings: b.Findings, Tasks: b.Tasks}))
}

// sameDue keeps work that was asked for due when it was first asked for: what
// is due now since its usual time has passed. Of several with the same words
// the last ones stand for each other: what is over is left out from the front.
func sameDue(list, was []worksheet.Task, now time.Time) {
	for i := range list {
		x := &list[i]
		due, err := time.Parse(time.RFC3339, x.Due)
		if err != nil || !due.Equal(now) {
			continue
		}
		o := first(list, was, i)
		if o == nil {
			continue
		}
		if before, err := time.Parse(time.RFC3339, o.Due); err == nil && !before.After(now) {
			x.Due, x.Says = o.Due, o.Says
		}
	}
	slices.SortStableFunc(list, func(a, b worksheet.Task) int {
		x, errX := time.Parse(time.RFC3339, a.Due)
		y, errY := time.Parse(time.RFC3339, b.Due)
		if errX != nil || errY != nil {
			return cmp.Compare(btoi(errX != nil), btoi(errY != nil))
		}
		return x.Compare(y)
	})
}

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}

// first is the task that was asked for before in the place of the one at i.
func first(list, was []worksheet.Task, i int) *worksheet.Task {
	same := func(a, b worksheet.Task, words bool) bool {
		return a.Code == b.Code && a.Role == b.Role && a.Title == b.Title && a.Finding == b.Finding && (!words || unhurried(a.Says) == unhurried(b.Says))
	}
	for _, words := range []bool{true, false} {
		behind, before := 0, []int{}
		for k, x := range list {
			if k > i && same(x, list[i], words) {
				behind++
			}
		}
		for k, x := range was {
			if same(x, list[i], words) {
				before = append(before, k)
			}
		}
		if n := len(before) - 1 - behind; n >= 0 && (words || len(before) == 1 && behind == 0) {
			return &was[before[n]]
		}
	}
	return nil
}

// unhurried is what a task says but for its usual time having passed.
func unhurried(says string) string {
	return strings.TrimSuffix(strings.TrimSuffix(says, fulfillment.Passed), "; ")
}

// lasting is a worksheet without its clock and the hashes of its sources.
func lasting(w worksheet.Worksheet) []byte {
	w.Sources = always(w.Sources)
	return encode(w)
}

// lastingText is lasting of a worksheet that is encoded.
func lastingText(text []byte, w worksheet.Worksheet) []byte {
	const name = `"sources":`
	own := append([]byte(name), encode(w.Sources)...)
	at := bytes.Index(text, own)
	if at < 0 || bytes.Count(text, []byte(name)) != 1 {
		return lasting(w)
	}
	out := append(make([]byte, 0, len(text)), text[:at+len(name)]...)
	return append(append(out, encode(always(w.Sources))...), text[at+len(own):]...)
}

// always are the sources but for what is another each time.
func always(s worksheet.Sources) worksheet.Sources {
	s.Now, s.Document, s.Held = "", "", ""
	return s
}

// onlyMoved reports whether b is a but for instants that went on with the
// clock: by as much as the clock itself, or by as much as something that was
// planned for a time that has passed and is now planned for now. Also are
// further clocks that it may have gone on from.
func onlyMoved(a, b []byte, then, now time.Time, also ...time.Time) bool {
	list, same := differing(a, b)
	if !same {
		return false
	}
	by := map[time.Duration]bool{now.Sub(then): true}
	for _, x := range also {
		by[now.Sub(x)] = true
	}
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
