package night

import (
	"bytes"
	"context"
	"encoding/json"
	"strings"
	"time"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/intake"
	"weir.example/weir/conformance/reconciliation"
)

// before reads what the last night kept of the patients of some work.
func (w Worker) before(ctx context.Context, c work) (map[string]adapter.FeedLine, error) {
	feeds, ok := w.Intake.Store.(adapter.Feeds)
	if !ok || len(c.Patients) == 0 {
		return nil, nil
	}
	var keys []string
	for _, p := range c.Patients {
		keys = append(keys, p.Key)
	}
	return feeds.FeedLines(ctx, keys)
}

// same reports whether the hospital has a patient as it had him the last night,
// and he is held and judged as then: what came of him was accepted, and is not
// read again. Only the clock can say more.
func (w Worker) same(c work, p patient, f adapter.FeedLine) (intake.Tonight, bool) {
	by := laidBy(f.Report)
	if w.afresh || f.Patient == "" || by.judge.IsZero() || !p.Single || len(p.Lost) > 0 || !bytes.Equal(f.Sum[:], p.Sum) || by.basis != w.Basis(c.Now, c.recalled()) {
		return intake.Tonight{}, false
	}
	night, report := unsealed(f.Report)
	if last, err := nightClock(night); err != nil || c.Now.Before(last) {
		return intake.Tonight{}, false // a clock that was set back
	}
	out := intake.Tonight{ID: f.Patient, Same: true, At: f.At, Judge: by.judge}
	for l := range bytes.Lines(report) {
		var o orderLine
		if json.Unmarshal(l, &o) != nil || o.Order.Key == "" || o.Order.PatientRef != "Patient/"+f.Patient || o.State == string(reconciliation.Absent) || o.State == string(reconciliation.Older) {
			return intake.Tonight{}, false
		}
		out.Last = append(out.Last, intake.Last{Key: o.Order.Key, NotChecked: o.Unasked})
	}
	seen := map[string]bool{}
	for _, l := range p.Lines {
		if seen[l.Type+"/"+l.ID] {
			return intake.Tonight{}, false // which of the two stands is in them
		}
		seen[l.Type+"/"+l.ID] = true
	}
	return out, true
}

// nightClock is the clock in the name of a night.
func nightClock(night string) (time.Time, error) {
	return time.Parse(nightForm, night[:min(len(night), len(nightForm))])
}

// bytes are the lines of a patient as linesOf gives them.
func (p patient) bytes() []byte {
	var out bytes.Buffer
	for _, l := range p.Lines {
		out.WriteString(strings.TrimSpace(l.Data))
		out.WriteByte('\n')
	}
	return out.Bytes()
}
