package intake

import (
	"bytes"
	"cmp"
	"slices"

	"weir.example/weir/conformance"
	"weir.example/weir/conformance/reconciliation"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/r4"
	"weir.example/weir/mapping/worksheet"
)

// A comparison with what was held before is made whenever anything of a known
// patient changes, by whichever door it came. What it finds of two kinds
// stands differently: a change that was seen once stands until the order has
// another content; a state is seen anew each time.

// once are codes of what is seen only when it happens.
var once = map[finding.Code]bool{"nightly-changed": true, "nightly-changed-minor": true, "nightly-patient-changed": true, "nightly-line-changed": true,
	"nightly-discharge-moved": true, "nightly-identity-drift": true, "nightly-older-message": true}

// atNight are codes that need a whole state of the hospital, or that the
// clock brings: a run of the night says them, and takes them back.
var atNight = map[finding.Code]bool{"nightly-unseen": true, "nightly-absent": true, "nightly-surplus-at-home": true, "nightly-short-at-home": true,
	"nightly-beyond-use": true, "nightly-lab-due": true, "nightly-end-passed": true, "nightly-recall": true, "nightly-override-expired": true,
	"nightly-task-overdue": true, "nightly-duplicate": true}

// compare sets what was held beside what came, by order key. Nil: the patient
// is new, and it is no run of the night.
func (t *taking) compare(h *held, now conformance.Side, foreign []*element.Document) map[string]*reconciliation.Result {
	if h.version == 0 && t.night == nil {
		return nil
	}
	var before reconciliation.Side
	switch {
	case h.version > 0 && len(h.older) == 0 && slices.EqualFunc(h.was, h.Resources, sameEntry):
		before = sideOf(now) // nothing else came: the clock is all that may say more
	case h.version > 0:
		before = sideOf(t.side(h, h.was, foreign, nil))
	}
	after := sideOf(now)
	if len(h.older) > 0 || len(h.absent) > 0 {
		after = sideOf(t.side(h, h.tonight(), foreign, nil))
	}
	if len(h.older) > 0 {
		before.Stamps, after.Stamps = stamps(h.was), stamps(h.tonight())
	}
	n := reconciliation.Night{Now: t.call.Now, Reference: t.Reference}
	if t.night != nil {
		n.Recalled = t.night.Recalled
	}
	out := map[string]*reconciliation.Result{}
	for _, r := range reconciliation.Compare(before, after, h.record(t), n) {
		out[r.Key] = &r
	}
	return out
}

func sameEntry(a, b entry) bool {
	return a.place() == b.place() && a.Key == b.Key && a.Order == b.Order && bytes.Equal(a.Body, b.Body)
}

func sideOf(s conformance.Side) reconciliation.Side {
	return reconciliation.Side{Case: s.Case, Sheets: s.Sheets}
}

// tonight are the resources as the hospital has them now: without orders
// that are not there, and with older contents where those came.
func (h *held) tonight() []entry {
	var out []entry
	for _, e := range h.Resources {
		if e.Type == "MedicationRequest" && h.absent[e.ID] {
			continue
		}
		if body, ok := h.older[e.place()]; ok {
			e.Body, e.reading = body, nil
			e.Order = r4.KeyOf(e.document().Root(), "").Version
		}
		out = append(out, e)
	}
	return out
}

func stamps(list []entry) map[string]reconciliation.Stamp {
	out := map[string]reconciliation.Stamp{}
	for i := range list {
		if e := &list[i]; e.Key != "" {
			n := e.document().Root()
			out[e.Key] = reconciliation.Stamp{Updated: r4.Sent(n), Version: n.Get("meta").Get("versionId").Text()}
		}
	}
	return out
}

// record is what is held of the patient besides the case.
func (h *held) record(t *taking) reconciliation.Held {
	out := reconciliation.Held{Orders: map[string]reconciliation.HeldOrder{}}
	for _, l := range h.Orders {
		o := reconciliation.HeldOrder{Received: l.Received, Opened: l.Opened, Told: l.Night.Told}
		for _, code := range l.Standing {
			o.Standing = append(o.Standing, finding.Code(code))
		}
		out.Orders[l.Key] = o
		out.Tasks = append(out.Tasks, l.open()...)
	}
	return out
}

// open are the tasks of an order that somebody is asked to do.
func (l *line) open() (out []reconciliation.OpenTask) {
	for _, x := range l.Outputs {
		if x.Code != "" {
			out = append(out, reconciliation.OpenTask{ID: x.ID, Code: x.Code, Role: x.Role, Order: l.Key, Due: x.Due})
		}
	}
	return out
}

// says is whether this run says a code, and takes it back.
func (t *taking) says(h *held, code finding.Code) bool {
	return !atNight[code] || t.night != nil && (!h.here || code == "nightly-recall")
}

// stand joins what the comparison found, and what still stands of earlier
// ones, into the worksheet.
func (t *taking) stand(h *held, l *line, w *worksheet.Worksheet, r *reconciliation.Result) {
	var findings []finding.Finding
	var fresh nightly
	if r != nil {
		for _, f := range r.Findings {
			if t.says(h, f.Code) {
				findings = append(findings, f.Finding)
			}
		}
		fresh.Findings, fresh.Tasks = conformance.NightLines(*w, t.Reference, findings, r.Tasks)
		if len(findings) == 0 {
			fresh.Tasks = nil
		}
		fresh.Told = r.Told
	}
	kept := false
	for _, f := range l.Night.Findings {
		code := finding.Code(f.Code)
		if r != nil && !once[code] && t.says(h, code) || slices.ContainsFunc(fresh.Findings, func(x worksheet.Finding) bool { return x.Code == f.Code }) {
			continue
		}
		fresh.Findings, kept = append(fresh.Findings, f), true
	}
	for _, old := range l.Night.Tasks {
		i := slices.IndexFunc(fresh.Tasks, func(x worksheet.Task) bool { return x.Code == old.Code })
		switch {
		case i >= 0 && fresh.Tasks[i].Says == old.Says:
			fresh.Tasks[i] = old // asked before, and due when it was asked for
		case i < 0 && kept:
			fresh.Tasks = append(fresh.Tasks, old)
		}
	}
	fresh.Kept = kept
	t.join(l, w, fresh)
}

// join puts what a night left standing into the worksheet.
func (t *taking) join(l *line, w *worksheet.Worksheet, fresh nightly) {
	fresh.sort()
	l.Night = fresh
	if l.Over {
		w.Tasks = []worksheet.Task{} // what has ended is not planned on
	}
	conformance.Join(w, fresh.Findings, fresh.Tasks)
	l.stands(*w)
}

func (n *nightly) sort() {
	slices.SortStableFunc(n.Findings, func(a, b worksheet.Finding) int { return cmp.Compare(a.Code, b.Code) })
	slices.SortStableFunc(n.Tasks, func(a, b worksheet.Task) int { return cmp.Compare(a.Code, b.Code) })
}

// stands notes the codes of all that was found.
func (l *line) stands(w worksheet.Worksheet) {
	l.Standing = nil
	for _, f := range w.Findings {
		l.Standing = append(l.Standing, f.Code)
	}
	slices.Sort(l.Standing)
	l.Standing = slices.Compact(l.Standing)
}
