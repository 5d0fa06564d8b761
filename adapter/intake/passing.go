package intake

import (
	"slices"
	"strings"
	"time"

	jsonv2 "github.com/go-json-experiment/json"

	"weir.example/weir/adapter"
	"weir.example/weir/conformance"
	"weir.example/weir/conformance/reconciliation"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/r4"
	"weir.example/weir/mapping/schedule"
	"weir.example/weir/mapping/worksheet"
)

// When nothing of a patient changed and no instant of his plan has come, the
// clock can only have made open tasks overdue. That is said from what is kept:
// no resource is read, nothing is worked out, no rule is asked. What is written
// is what the whole judgement would write; where that cannot be told from what
// is kept, the whole judgement is made.

const (
	overdueCode = "nightly-task-overdue"
	upwards     = "escalate-" // begins the codes of the tasks that it asks for
)

// passed is an order of which nothing but overdue tasks can be another.
type passed struct {
	line  *line
	last  Last
	was   worksheet.Worksheet // as stored
	now   worksheet.Worksheet
	night nightly
	same  bool // nothing of it is another
	made  []r4.Made
}

// passing does a patient's orders without judging them; false: it cannot.
func (t *taking) passing(h *held, patient string) (bool, error) {
	p := h.last
	if p == nil || p.Judge.IsZero() || !t.call.Now.Before(p.Judge) || len(p.Last) != len(h.Orders) {
		return false, nil
	}
	var list []*passed
	for _, last := range p.Last {
		l := h.order(last.Key)
		if l == nil || slices.ContainsFunc(list, func(x *passed) bool { return x.line == l }) {
			return false, nil
		}
		x, err := t.pass(h, l, last)
		if err != nil || x == nil {
			return false, err
		}
		if list = append(list, x); x.was.Schedule.Zone != list[0].was.Schedule.Zone {
			return false, nil // times are said in the zone of one of them
		}
	}
	for _, x := range list {
		if err := t.over(x, patient); err != nil {
			return false, err
		}
	}
	return true, t.keep(h, patient)
}

// pass works out what became of one order. Nil: it has to be judged.
func (t *taking) pass(h *held, l *line, last Last) (*passed, error) {
	if l.Sheet == "" || l.Refs == nil || l.Clock.IsZero() {
		return nil, nil
	}
	sheets, err := t.Store.Worksheets(t.ctx, l.Key, 1)
	if err != nil || len(sheets) == 0 {
		return nil, err
	}
	x := &passed{line: l, last: last}
	if jsonv2.Unmarshal(sheets[0].JSON, &x.was) != nil || x.was.Order.Version != l.Version || conformance.Hash(lasting(x.was)) != l.Sheet {
		return nil, nil
	}
	base, ok := based(x.was, l.Night)
	if !ok {
		return nil, nil
	}
	zone, err := t.Reference.Zones.Zone(x.was.Schedule.Zone)
	if err != nil {
		return nil, nil
	}
	if x.night, ok = t.overdue(l, x.was, zone); !ok {
		return nil, nil
	}
	if x.same = sameNight(l.Night, x.night); x.same {
		x.now = x.was
		return x, nil
	}
	if l.Over {
		return nil, nil
	}
	x.now = base
	x.now.Sources.Now, x.now.Sources.Document, x.now.Sources.Held = t.call.Now.In(zone.Location).Format(time.RFC3339), conformance.Hash(t.call.Bytes), conformance.Hash(h.before)
	conformance.Join(&x.now, x.night.Findings, x.night.Tasks)
	x.now.Refs = worksheet.References{Patient: l.Refs.Patient.reference(), Order: l.Refs.Order.reference(), Encounter: l.Refs.Encounter.reference(),
		Pharmacy: l.Refs.Pharmacy.reference(), Now: t.call.Now}
	if x.now.Verdict != x.was.Verdict {
		return nil, nil
	}
	if ok, err := t.outputsOf(x); !ok || err != nil {
		return nil, err
	}
	return x, nil
}

// overdue is what a night says of the order with today's overdue tasks. False:
// by the site's gates they decide about more than themselves.
func (t *taking) overdue(l *line, w worksheet.Worksheet, zone schedule.Zone) (nightly, bool) {
	found, asked := reconciliation.Overdue(l.open(), reconciliation.Night{Now: t.call.Now, Reference: t.Reference}, zone, finding.Place{Expression: w.Order.Expression})
	out := nightly{Told: l.Night.Told, Kept: l.Night.Kept}
	out.Findings, out.Tasks = conformance.NightLines(w, t.Reference, found, asked)
	for _, f := range out.Findings {
		if finding.Gate(f.Gate).Weight() >= finding.Hold.Weight() {
			return out, false
		}
	}
	for _, f := range l.Night.Findings {
		if f.Code != overdueCode {
			out.Findings = append(out.Findings, f)
		}
	}
	for _, old := range l.Night.Tasks {
		i := slices.IndexFunc(out.Tasks, func(x worksheet.Task) bool { return x.Code == old.Code })
		switch {
		case i >= 0 && out.Tasks[i].Says == old.Says:
			out.Tasks[i] = old
		case i < 0 && (l.Night.Kept || !strings.HasPrefix(old.Code, upwards)):
			out.Tasks = append(out.Tasks, old)
		}
	}
	out.sort()
	return out, true
}

// outputsOf makes the outputs of an order that are another now. False: what is
// stored of it does not tell.
func (t *taking) outputsOf(x *passed) (bool, error) {
	i := len(x.line.Outputs) - 1
	for i >= 0 && x.line.Outputs[i].Type != "Provenance" {
		i--
	}
	if i < 0 {
		return false, nil
	}
	r, err := t.Store.Get(t.ctx, "Provenance", x.line.Outputs[i].ID)
	if err != nil {
		return false, err
	}
	doc := element.ReadAgain(r.JSON, 1)
	var before, there []string
	for _, n := range doc.Root().Get("target").Each() {
		before = append(before, n.Get("reference").Text())
	}
	for _, o := range x.line.Outputs {
		if o.Type != "Provenance" && !o.Gone {
			there = append(there, o.Type+"/"+o.ID)
		}
	}
	slices.Sort(there)
	if !slices.Equal(there, slices.Sorted(slices.Values(before))) {
		return false, nil
	}
	var ok bool
	x.made, ok, err = r4.WriteNight(x.now, before, func(id string) (element.Node, error) {
		r, err := t.Store.Get(t.ctx, "MedicationDispense", id)
		if err != nil {
			return element.Node{}, err
		}
		return element.ReadAgain(r.JSON, 1).Root(), nil
	})
	return ok, err
}

// over writes what became of an order, as order does.
func (t *taking) over(x *passed, patient string) error {
	l, before := x.line, x.line.Standing
	l.Night, l.late = x.night, t.late(l)
	l.stands(x.now)
	s := State{Patient: x.now.Order.PatientRef, Order: x.now.Order, State: string(reconciliation.Unchanged), Verdict: x.now.Verdict, Findings: x.now.Findings,
		Held: l.State == "active", Tasks: l.Night.Tasks, NotChecked: x.last.NotChecked, Judge: t.cases[patient].last.Judge, Passed: true}
	if s.Tasks == nil {
		s.Tasks = []worksheet.Task{}
	}
	for _, f := range x.now.Findings {
		s.New = append(s.New, !slices.Contains(before, f.Code))
	}
	if x.same {
		t.told(l, s)
		return nil
	}
	t.sheet(l, patient, x.now)
	due, _, err := t.put(l, patient, x.made)
	if err != nil {
		return err
	}
	t.told(l, s)
	t.judged(l, patient, x.now, adapter.OrderWrite{Change: adapter.OrderJudged, OrderLine: adapter.OrderLine{State: l.State, Due: due}})
	return nil
}
