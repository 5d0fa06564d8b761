package night

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"weir.example/weir/adapter"
	"weir.example/weir/conformance/reconciliation"
	"weir.example/weir/mapping/worksheet"
)

// RecallLine is one order with units of a recalled lot, a line of the answer.
type RecallLine struct {
	Order    orderName        `json:"order"`
	Patient  string           `json:"patient"` // our id
	Phones   []string         `json:"phones"`
	State    string           `json:"state"`
	Verdict  string           `json:"verdict"`
	Findings []foundLine      `json:"findings"` // of the recall
	Tasks    []worksheet.Task `json:"tasks"`
}

// RecallSummary is the last line of the answer.
type RecallSummary struct {
	Now      string `json:"now"`
	Lot      string `json:"lot"`
	Drug     string `json:"drug,omitempty"`
	Settled  bool   `json:"settled,omitempty"`
	Patients int    `json:"patients"` // looked at
	Orders   int    `json:"orders"`   // with units of the lot
}

// recallCode is the code of units of a recalled lot.
const recallCode = "nightly-recall"

// Bounds of a recall: how many chunks of patients are asked for before the
// first is waited for.
const mostAhead = 64

// Recall puts a lot on the list of recalled ones, compares every patient of
// the record as he stands, and writes a line of each order that has or had
// units of it, then the summary. What it finds and whom it asks to act is
// stored, and looked for again every night until the recall is settled:
// with settled the lot is taken off the list, and what was said of it is taken
// back.
func (r Run) Recall(ctx context.Context, lot reconciliation.Recalled, settled bool, out io.Writer) (RecallSummary, error) {
	s := RecallSummary{Now: r.Now.Format(time.RFC3339), Lot: strings.TrimSpace(lot.Lot), Drug: lot.Drug, Settled: settled}
	list, err := r.change(ctx, lot, settled)
	if err != nil {
		return s, err
	}
	r.Recalled = list.lots()
	x := &running{Run: r, night: fmt.Sprintf("recall-%d-%s", list.Number, r.Now.UTC().Format(time.RFC3339Nano)), out: out}
	var chunk []string
	flush := func(most int) error {
		if len(chunk) > 0 {
			if err := x.here(ctx, chunk); err != nil {
				return err
			}
			s.Patients += len(chunk)
			chunk = nil
		}
		for len(x.list) > most {
			n, err := x.affected(ctx, s.Lot, x.list[0])
			if err != nil {
				return err
			}
			s.Orders += n
			x.list = x.list[1:]
		}
		return nil
	}
	err = x.everybody(ctx, func(id string) error {
		if chunk = append(chunk, id); len(chunk) < mostPatients {
			return nil
		}
		return flush(mostAhead)
	})
	if err == nil {
		err = flush(0)
	}
	if err != nil {
		return s, err
	}
	_, err = out.Write(encoded(map[string]RecallSummary{"recall": s}))
	return s, err
}

// everybody names each patient of the record once: those who are stored, and
// those of an active order that no stored patient belongs to.
func (x *running) everybody(ctx context.Context, take func(id string) error) error {
	page := adapter.Page{Limit: 500}
	for {
		s, err := x.Record.Search(ctx, adapter.Query{Type: "Patient"}, page)
		if err != nil {
			return err
		}
		for _, p := range s.Resources {
			if err := take(p.ID); err != nil {
				return err
			}
		}
		if page.After = s.Next; s.Next == "" {
			break
		}
	}
	after := ""
	for {
		ids, err := x.Record.NotSeen(ctx, "", after, mostPatients)
		if err != nil || len(ids) == 0 {
			return err
		}
		after = ids[len(ids)-1]
		for _, id := range ids {
			_, err := x.Record.Get(ctx, "Patient", id)
			var none *adapter.NotFound
			if errors.As(err, &none) {
				err = take(id)
			}
			if err != nil {
				return err
			}
		}
	}
}

// here asks for the work on some patients.
func (x *running) here(ctx context.Context, ids []string) error {
	var one pending
	for _, id := range ids {
		one.keys = append(one.keys, recallKey(id))
	}
	w := x.work(nil, nil)
	w.Here = ids
	e := adapter.Effect{At: x.Now}
	job, err := x.job(ctx, &e, RecallKind, ids, w)
	if err != nil {
		return err
	}
	one.jobs = []string{job}
	x.made.Patients += len(ids)
	x.list = append(x.list, one)
	return x.commit(ctx, e, "patients are looked at for a recalled lot")
}

// affected waits for the work on some patients and writes their orders with
// units of the lot.
func (x *running) affected(ctx context.Context, lot string, p pending) (int, error) {
	lines, err := x.judged(ctx, p)
	if err != nil {
		return 0, err
	}
	n := 0
	for _, key := range p.keys {
		_, report := unsealed(lines[key].Report)
		for text := range strings.Lines(string(report)) {
			var o orderLine
			if err := json.Unmarshal([]byte(text), &o); err != nil {
				return n, &adapter.Damaged{Kind: "feed"}
			}
			l := RecallLine{Order: o.Order, Patient: lines[key].Patient, State: o.State, Verdict: o.Verdict, Tasks: o.Tasks, Phones: []string{}}
			for _, f := range o.Findings {
				if f.Code == recallCode && names(f.Observed, lot) {
					l.Findings = append(l.Findings, f)
				}
			}
			if len(l.Findings) == 0 {
				continue
			}
			n++
			if l.Phones, err = x.phones(ctx, l.Patient); err != nil {
				return n, err
			}
			if _, err := x.out.Write(encoded(l)); err != nil {
				return n, err
			}
		}
	}
	return n, nil
}

// names is whether a finding speaks of a lot: it stands between backticks. A
// number that holds such marks itself is taken for any.
func names(observed, lot string) bool {
	parts := strings.Split(observed, "`")
	if strings.Contains(lot, "`") {
		return true
	}
	for i := 1; i < len(parts); i += 2 {
		if sameLot(parts[i], lot) {
			return true
		}
	}
	return false
}

// phones are the numbers of a patient, then those of whom else to call.
func (x *running) phones(ctx context.Context, id string) ([]string, error) {
	r, err := x.Record.Get(ctx, "Patient", id)
	var none *adapter.NotFound
	if errors.As(err, &none) {
		return []string{}, nil
	}
	if err != nil {
		return nil, err
	}
	type numbers []struct{ System, Value, Use string }
	var p struct {
		Telecom numbers
		Contact []struct{ Telecom numbers }
	}
	if err := json.Unmarshal(r.JSON, &p); err != nil {
		return nil, &adapter.Damaged{Kind: "Patient"}
	}
	out := []string{}
	add := func(list numbers, whose string) {
		for _, n := range list {
			if n.Value == "" || n.System != "phone" && n.System != "sms" || n.Use == "old" {
				continue
			}
			text := n.Value
			for _, word := range []string{n.Use, whose} {
				if word != "" {
					text += ", " + word
				}
			}
			out = append(out, text)
		}
	}
	add(p.Telecom, "")
	for _, c := range p.Contact {
		add(c.Telecom, "of a contact")
	}
	return out, nil
}
