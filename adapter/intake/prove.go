package intake

import (
	"bytes"
	"maps"
	"slices"
	"strings"
	"time"

	"weir.example/weir/conformance"
	"weir.example/weir/conformance/reconciliation"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/r4"
	"weir.example/weir/mapping/worksheet"
)

// The watch names the instants of the plan. Rules also look at how old a fact
// is, and some words hold the clock itself. So what is said of a patient is
// judged once more, at the last instant before the watch: whatever begins by
// the clock and stays is seen there. Where it says anything else, the patient
// is judged at every look.

// proof is what a patient's orders were judged with, and what of them was
// found.
type proof struct {
	foreign []*element.Document
	results map[string]*reconciliation.Result
	judged  map[string]bool
	read    *conformance.Read
}

// prove makes the states' Judge and Watch hold, or takes them back: to an
// earlier instant of which it is known, at the last to the clock.
func (t *taking) prove(h *held, states []State, p proof) {
	if t.night == nil || h.here || len(states) == 0 {
		return
	}
	if len(h.older) > 0 { // what came and was put aside is looked at each time it comes
		for i := range states {
			states[i].Judge, states[i].Watch = time.Time{}, t.call.Now
		}
		return
	}
	until := states[0].Judge
	for _, s := range states {
		until = sooner(until, s.Judge)
	}
	holds := func(until time.Time) bool {
		last := until.Add(-time.Microsecond)
		return !last.After(t.call.Now) || t.stays(h, last, p)
	}
	if !holds(until) {
		sure := t.call.Now
		for _, d := range shorter {
			if at := t.call.Now.Add(d); at.Before(until) && holds(at) {
				sure = at
				continue
			}
			break
		}
		until = sure
	}
	for i := range states {
		states[i].Judge, states[i].Watch = until, sooner(until, states[i].Watch)
	}
}

// shorter are tried, one after the other, where a watch does not hold: words
// that hold the clock change at once, an age once in days.
var shorter = []time.Duration{2 * time.Hour, 25 * time.Hour, 73 * time.Hour}

func sooner(a, b time.Time) time.Time {
	if b.Before(a) {
		return b
	}
	return a
}

// stays reports whether a patient's orders say at another clock what they say
// now, but for open tasks that are overdue.
func (t *taking) stays(h *held, at time.Time, p proof) bool {
	next := *t
	next.call.Now, next.states = at, nil
	then := *h
	then.version, then.was, then.before = max(h.version, 1), slices.Clone(h.Resources), h.before
	side := next.side(&then, then.Resources, p.foreign, p.read)
	found := next.compare(&then, side, p.foreign)
	seen := map[string]bool{}
	for i, w := range slices.Concat(side.Sheets, side.Replaced) {
		e := h.find("MedicationRequest", r4.StoredID(w.Refs.Order))
		if e == nil || !p.judged[e.Key] {
			continue
		}
		l := *h.order(e.Key)
		key := reconciliation.Key(w.Refs.Source)
		r, was := found[key], p.results[key]
		if l.said.Stage == "" || r == nil || was == nil || !bytes.Equal(encode(r.NotChecked), encode(was.NotChecked)) {
			return false
		}
		if seen[e.Key] = true; i >= len(side.Sheets) {
			silent(&w)
		}
		said, night, clock := l.said, l.Night, l.Clock
		next.stand(&then, &l, &w, r)
		if !next.hold(&l, night, clock, said, &w) || w.Verdict != said.Verdict || !sameNight(quiet(night), quiet(l.Night)) {
			return false
		}
	}
	return maps.Equal(seen, p.judged)
}

// quiet is what a night says but for overdue tasks.
func quiet(n nightly) nightly {
	n.Findings = slices.DeleteFunc(slices.Clone(n.Findings), func(f worksheet.Finding) bool { return f.Code == overdueCode })
	n.Tasks = slices.DeleteFunc(slices.Clone(n.Tasks), func(x worksheet.Task) bool { return strings.HasPrefix(x.Code, upwards) })
	return n
}
