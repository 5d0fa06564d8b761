package intake

import (
	"bytes"
	"context"
	"errors"
	"slices"
	"time"

	"weir.example/weir/conformance/reconciliation"
	"weir.example/weir/mapping/worksheet"
)

// Night is what a run of the night knows besides the resources.
type Night struct {
	Recalled []reconciliation.Recalled
	Patients []Tonight
}

// Tonight is one patient as the hospital has him now.
type Tonight struct {
	Items []Item   // each a Feed
	Lost  []string // lines about the patient that could not be read, in words
	// ID is our id of a patient whom the hospital does not have any more; then
	// there are no items, and every order of his is absent.
	ID string
	// Here says that the patient of the ID is compared as he stands, between
	// two nights: nothing is absent, and of what only a night says no more is
	// said, or taken back, than of recalled lots.
	Here bool
	// Same, with the ID and no items, says that the hospital has him as it had
	// him when the version At of his case was compared, with the same orders,
	// judged by what is judged by now: nothing of him is read again. When
	// anything but how far tasks are came meanwhile, it is ErrOther. Judge is the instant of
	// State.Judge from then, Last what became of his orders, in their order.
	Same  bool
	At    int64
	Judge time.Time
	Last  []Last
}

// Last is an order as the last run of the night left it.
type Last struct {
	Key        string
	NotChecked []worksheet.NotChecked
}

// ErrOther says that a patient is held otherwise than he was compared last.
var ErrOther = errors.New("the patient is held otherwise than he was compared last")

// Seen is a patient after a run of the night: our id, and the version of the
// case that was compared.
type Seen struct {
	ID   string
	Case int64
}

// State is one order after a run of the night.
type State struct {
	Patient    string
	Order      worksheet.Order
	State      string // new changed unchanged absent older
	Verdict    string
	Findings   []worksheet.Finding
	New        []bool // of each finding: none of its code stood for the order before
	Tasks      []worksheet.Task
	Held       bool // active by what is held
	NotChecked []worksheet.NotChecked
	Watch      time.Time // when the clock alone may change any of it; zero: never
	// Judge is when the clock may change more of it than which open tasks are
	// overdue, which needs no judgement; not before Watch. Zero: at any time.
	Judge time.Time
	// Passed: it was said from what is kept, without judging the order.
	Passed bool
}

// Compare takes in a whole state of some patients and compares it with what
// is held. It gives the patients' ids, in order, and what became of each
// order. Nothing is refused for being older.
func (s *Service) Compare(ctx context.Context, call Call, n Night) ([]Seen, []State, error) {
	var items []Item
	for _, p := range n.Patients {
		items = append(items, p.Items...)
	}
	var t *taking
	err := s.again(func() error {
		t = s.begin(ctx, call)
		t.night = &n
		return t.run(items)
	})
	if err != nil {
		return nil, nil, err
	}
	ids := make([]Seen, len(n.Patients))
	at := 0
	for i, p := range n.Patients {
		ids[i].ID = p.ID
		for _, x := range t.pieces[at : at+len(p.Items)] {
			if ids[i].ID == "" {
				ids[i].ID = x.patient
			}
		}
		at += len(p.Items)
		if h := t.cases[ids[i].ID]; h != nil {
			ids[i].Case = h.version
			if h.written {
				ids[i].Case++
			}
		}
	}
	return ids, t.states, nil
}

// look marks every patient of the night as to be compared, and the orders
// that the hospital does not have.
func (t *taking) look() error {
	if t.night == nil {
		return nil
	}
	there := map[string]bool{}
	for _, p := range t.pieces {
		there[p.kind+"/"+p.id] = true
	}
	at := 0
	for _, p := range t.night.Patients {
		patients := []string{p.ID}
		var shared []entry // as they stand now, which may be other than in the case
		for i, x := range t.pieces[at : at+len(p.Items)] {
			if patients = append(patients, x.patient); x.patient == "" && x.outcome != Behind {
				shared = append(shared, t.entry(x, t.done[at+i].Resource.Version))
			}
		}
		at += len(p.Items)
		slices.Sort(patients)
		for _, id := range slices.Compact(patients) {
			if id == "" {
				continue
			}
			h, err := t.load(id)
			if err != nil {
				return err
			}
			h.touched, h.absent = true, map[string]bool{}
			if p.Same {
				if h.version != p.At && (h.Since == 0 || h.Since > p.At) {
					return ErrOther
				}
				h.Lost, h.last = p.Lost, &p
				continue
			}
			if h.here = p.Here; p.Here {
				continue
			}
			h.Lost = p.Lost
			for _, e := range shared {
				h.put(e)
			}
			for _, e := range h.Resources {
				if e.Key != "" && !there[e.place()] {
					h.absent[e.ID] = true
				}
			}
		}
	}
	return nil
}

// say notes what became of an order.
func (t *taking) say(h *held, l *line, e *entry, w worksheet.Worksheet, r *reconciliation.Result, before []string) {
	if t.night == nil {
		return
	}
	s := State{Patient: w.Order.PatientRef, Order: w.Order, Verdict: w.Verdict, Findings: w.Findings, Held: l.State == "active", Tasks: l.Night.Tasks}
	if s.Tasks == nil {
		s.Tasks = []worksheet.Task{}
	}
	s.Judge = t.watch(h, l, e, w)
	if r != nil {
		s.State, s.NotChecked = string(r.State), r.NotChecked
	}
	for _, f := range w.Findings {
		s.New = append(s.New, !slices.Contains(before, f.Code))
	}
	t.told(l, s)
}

// told puts an order into the answer.
func (t *taking) told(l *line, s State) {
	s.Watch = s.Judge
	for _, task := range l.open() {
		for _, at := range reconciliation.OverdueFrom(task, t.Reference.Policy.Night) {
			if at = at.Truncate(time.Microsecond).Add(time.Microsecond); at.After(t.call.Now) && at.Before(s.Watch) {
				s.Watch = at
			}
		}
	}
	if !bytes.Equal(t.late(l), l.late) { // another due time by this very run: what is overdue is said by the next look
		s.Watch = t.call.Now
	}
	t.states = append(t.states, s)
}

// late names the open tasks of an order that are overdue at the clock.
func (t *taking) late(l *line) []byte {
	var out []any
	for _, task := range l.open() {
		n := 0
		for _, at := range reconciliation.OverdueFrom(task, t.Reference.Policy.Night) {
			if !at.After(t.call.Now) {
				n++
			}
		}
		if n > 0 {
			out = append(out, task, n)
		}
	}
	return encode(out)
}
