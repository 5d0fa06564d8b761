package worklist

import (
	"slices"
	"strings"
	"time"

	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/fulfillment"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/worksheet"
)

// task is one thing somebody must do.
type task struct {
	Due                           instant
	Title, Role, State, After     string
	Urgent, Says, Closes, Numbers string
	Finding                       string // address of the finding on the page
	Waits, Done                   bool

	inputs map[string]string // what Numbers says aloud
}

// whole is the code of the task that the others are part of: fulfil the order.
const whole = "fulfill"

func open(status string) bool {
	return !slices.Contains([]string{"completed", "cancelled", "failed", "rejected", "entered-in-error"}, status)
}

// title says what to do. The title of a finding tells what is wrong, so the
// remedy of its code stands behind it.
func title(t worksheet.Task) string {
	if row, ok := finding.Lookup(finding.Code(t.Finding)); ok && t.Finding != "" {
		return t.Title + ". " + row.Remedy
	}
	return t.Title
}

// titleOf is the title of a task that only the record knows.
func titleOf(code string) string {
	for _, r := range fulfillment.TaskRows() {
		if r.Code == code {
			return r.Title
		}
	}
	if row, ok := finding.Lookup(finding.Code(code)); ok {
		return row.Title + ". " + row.Remedy
	}
	return words(shown(code))
}

// merged are the tasks of the record and of the worksheet, each once, by due
// time, those without one last. The record knows their state, the worksheet
// what is to be done.
func merged(h home, w worksheet.Worksheet, list []recorded) []task {
	free := map[string][]recorded{}
	var order []string
	for _, l := range list {
		if l.Code == whole {
			continue
		}
		if free[l.Code] == nil {
			order = append(order, l.Code)
		}
		free[l.Code] = append(free[l.Code], l)
	}
	var out []task
	for _, t := range w.Tasks {
		due := h.read(t.Due)
		one := task{Due: due, Title: title(t), Role: words(t.Role), Says: t.Says, Closes: t.Closes, inputs: t.Inputs, Waits: t.Prepares && w.Verdict != "ready"}
		if t.Priority != "routine" {
			one.Urgent = words(t.Priority)
		}
		one.After = joined(mapped(t.After, words))
		for i, f := range w.Findings {
			if t.Finding != "" && f.Code == t.Finding {
				one.Finding = anchorOf(i)
				break
			}
		}
		if have := free[t.Code]; len(have) > 0 {
			i := max(0, slices.IndexFunc(have, func(l recorded) bool { return l.Due.Equal(due.at) }))
			one.status(have[i].Status)
			free[t.Code] = slices.Delete(slices.Clone(have), i, i+1)
		} else {
			one.status("")
		}
		out = append(out, one)
	}
	for _, code := range order {
		for _, l := range free[code] {
			one := task{Due: h.at(l.Due), Title: l.title(), Role: words(shown(l.Role))}
			one.status(l.Status)
			out = append(out, one)
		}
	}
	slices.SortStableFunc(out, func(a, b task) int {
		switch {
		case a.Due.at.IsZero() != b.Due.at.IsZero():
			return map[bool]int{true: 1, false: -1}[a.Due.at.IsZero()]
		}
		return a.Due.at.Compare(b.Due.at)
	})
	return out
}

func (t *task) status(s string) {
	t.Done = !open(s)
	t.Waits = !t.Done && (t.Waits || s == "draft")
	switch {
	case s == "completed":
		t.State = "done"
	case t.Done:
		t.State = words(s)
	case t.Waits:
		t.State = "waits: the order is not ready"
	case s == "":
		t.State = "to do"
	default:
		t.State = words(shown(s))
	}
}

// next is the open task that is due first; one that waits for the order comes
// only when there is no other.
func next(h home, w worksheet.Worksheet, list []recorded) *nextTask {
	var best *task
	all := merged(h, w, list)
	for i := range all {
		t := &all[i]
		if !t.Done && (best == nil || best.Waits && !t.Waits) {
			best = t
		}
	}
	if best == nil {
		return nil
	}
	return &nextTask{Title: best.Title, Role: best.Role, Due: best.Due, Waits: best.Waits}
}

// inputs are the numbers that stand beside a task, as one reads an order
// aloud. One in dispute is named, so that nobody takes another for it.
func inputs(w worksheet.Worksheet, have map[string]string) string {
	var out []string
	seen := map[string]bool{}
	for _, n := range aloud {
		name := notation.Name(n)
		seen[name] = true
		switch v := have[name]; {
		case v != "":
			out = append(out, name+" "+v)
		case len(have) > 0 && w.Quantities[n].Disputed:
			out = append(out, name+" in dispute: ask")
		}
	}
	var rest []string
	for name, v := range have {
		if !seen[name] {
			rest = append(rest, name+" "+v)
		}
	}
	slices.Sort(rest)
	return strings.Join(append(out, rest...), ", ")
}

func mapped(list []string, f func(string) string) []string {
	out := make([]string, 0, len(list))
	for _, s := range list {
		out = append(out, f(s))
	}
	return out
}

// joined is a list in words.
func joined(list []string) string {
	switch n := len(list); n {
	case 0:
		return ""
	case 1:
		return list[0]
	default:
		return strings.Join(list[:n-1], ", ") + " and " + list[n-1]
	}
}

// soon splits tasks into those due within two days, or undone and undated,
// and the rest.
func soon(h home, list []task) (now, later []task) {
	limit := h.now.Add(48 * time.Hour)
	for _, t := range list {
		if !t.Done && (t.Due.at.IsZero() || !t.Due.at.After(limit)) {
			now = append(now, t)
		} else {
			later = append(later, t)
		}
	}
	return now, later
}
