package intake

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"maps"
	"slices"
	"strings"
	"time"

	"weir.example/weir/adapter"
	"weir.example/weir/conformance"
	"weir.example/weir/conformance/reconciliation"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/r4"
	"weir.example/weir/mapping/worksheet"
)

// judge judges every order of the patients that anything changed for, and
// puts what follows into the effect.
func (t *taking) judge(document string) error {
	for _, patient := range slices.Sorted(maps.Keys(t.cases)) {
		h := t.cases[patient]
		if !h.touched {
			if h.advanced {
				if h.Since == 0 {
					h.Since = h.version
				}
				if err := t.keep(h, patient); err != nil {
					return err
				}
			}
			continue
		}
		if done, err := t.passing(h, patient); done || err != nil {
			if err != nil {
				return err
			}
			continue
		}
		foreign, err := t.gather(h.file)
		if err != nil {
			return err
		}
		side := t.side(h, h.Resources, foreign, nil)
		results := t.compare(h, side, foreign)
		if t.night != nil {
			h.draws = reconciliation.Draws(sideOf(side), t.call.Now.Add(longestWatch))
		}
		judged, first := map[string]bool{}, len(t.states)
		for i, w := range slices.Concat(side.Sheets, side.Replaced) {
			replaced := i >= len(side.Sheets)
			id := r4.StoredID(w.Refs.Order)
			e := h.find("MedicationRequest", id)
			if e == nil || e.Key == "" || replaced && h.order(e.Key) == nil {
				continue
			}
			judged[e.Key] = true
			if err := t.order(h, patient, document, e, w, results[reconciliation.Key(w.Refs.Source)], replaced); err != nil {
				return err
			}
		}
		for i := range h.Orders {
			if l := &h.Orders[i]; !judged[l.Key] {
				if err := t.retire(l, patient, nil); err != nil { // no infusion any more
					return err
				}
			}
		}
		t.prove(h, t.states[first:], proof{foreign, results, judged, side.Read})
		if err := t.keep(h, patient); err != nil {
			return err
		}
	}
	return nil
}

// side judges a patient's resources at the clock of the call. Read is of the
// same resources, or nil.
func (t *taking) side(h *held, resources []entry, foreign []*element.Document, read *conformance.Read) conformance.Side {
	in := conformance.Stored{Known: map[string]r4.Key{}, Lost: h.Lost, Document: conformance.Hash(t.call.Bytes), Reference: t.Reference, Now: t.call.Now, Stage: finding.Intake, Read: read}
	if h.version > 0 {
		in.Held = conformance.Hash(h.before)
	}
	for i := range resources {
		e := &resources[i]
		in.Resources = append(in.Resources, e.document())
		if e.Key != "" {
			in.Known[e.ID] = r4.Key{Key: e.Key, Version: e.Order}
		}
	}
	in.Resources = append(in.Resources, foreign...)
	return conformance.JudgeStored(in)
}

func (t *taking) keep(h *held, patient string) error {
	text, err := h.write()
	if err != nil {
		return err
	}
	if bytes.Equal(text, h.before) {
		return nil
	}
	if h.Since > 0 && (h.touched || !h.advanced) {
		h.Since = 0
		if text, err = h.write(); err != nil {
			return err
		}
	}
	h.written = true
	t.effect.Cases = append(t.effect.Cases, adapter.StoredCase{Patient: patient, Version: h.version + 1, Schema: adapter.CaseSchema, Updated: t.call.Now, JSON: text})
	return nil
}

// gather brings what the case's resources refer to into the case: what
// belongs to nobody for good, what belongs to another patient for this
// judgement only, so that it is found.
func (t *taking) gather(f *file) (foreign []*element.Document, err error) {
	seen := map[string]bool{}
	for _, e := range f.Resources {
		seen[e.place()] = true
	}
	for i := 0; i < len(f.Resources); i++ {
		for _, place := range references(f.Resources[i].document().Root()) {
			if seen[place] {
				continue
			}
			seen[place] = true
			e, r, err := t.fetch(place)
			switch {
			case err != nil:
				return nil, err
			case r == nil:
			case r.Patient != "":
				foreign = append(foreign, e.document())
			default:
				f.Resources = append(f.Resources, e)
			}
		}
	}
	return foreign, nil
}

// fetch gives a resource as it will be stored, nil when there is none.
func (t *taking) fetch(place string) (entry, *adapter.Resource, error) {
	kind, id, _ := strings.Cut(place, "/")
	for i, p := range t.pieces {
		if p.kind == kind && p.id == id {
			r := t.done[i].Resource
			return entry{Type: kind, ID: id, Version: r.Version, Sum: p.sum, Shared: true, Body: r.JSON, reading: p.reading(r.JSON)}, &r, nil
		}
	}
	r, err := t.Store.Get(t.ctx, kind, id)
	var none *adapter.NotFound
	if errors.As(err, &none) {
		return entry{}, nil, nil
	}
	if err != nil {
		return entry{}, nil, err
	}
	e := entry{Type: kind, ID: id, Version: r.Version, Shared: true, Body: r.JSON}
	e.Sum = contentSum(e.document().Root())
	return e, &r, nil
}

// references are the places of the store that a resource refers to.
func references(n element.Node) []string {
	var out []string
	for m := range n.Within() {
		if m.Kind() != element.String || m.Name() != "reference" {
			continue
		}
		if text := m.Text(); text != "" && text[0] != '#' && !strings.Contains(text, ":") && strings.Count(plain(text), "/") == 1 {
			out = append(out, plain(text))
		}
	}
	return out
}

func contentSum(n element.Node) string {
	sum := sha256.Sum256(element.Canonical(n, "id", "meta"))
	return hex.EncodeToString(sum[:])
}

// order puts one judged order into the effect: its version, its worksheet
// when that says anything else than before, and its outputs.
func (t *taking) order(h *held, patient, document string, e *entry, w worksheet.Worksheet, r *reconciliation.Result, replaced bool) error {
	l := h.order(e.Key)
	if l == nil {
		h.Orders = append(h.Orders, line{Key: e.Key, Resource: e.ID, Received: t.call.Now})
		l = &h.Orders[len(h.Orders)-1]
	}
	change := adapter.OrderJudged
	if l.Version != e.Order {
		change = adapter.OrderNew
		if slices.Contains(l.Had, e.Order) {
			change = adapter.OrderAgain
		} else {
			l.Had = append(l.Had, e.Order)
		}
		l.Number, l.Version = l.Number+1, e.Order
	}
	l.State = w.Refs.Source.Status
	if l.Over = replaced || ended(l.State); replaced {
		silent(&w)
	}
	before, night := l.Standing, l.Night
	l.late = t.late(l)
	t.stand(h, l, &w, r)
	if err := t.steady(l, night, &w); err != nil {
		return err
	}
	l.Refs, l.said = refsOf(w), w
	changed := t.sheet(l, patient, w)
	due, written, err := t.outputs(l, patient, w)
	if err != nil {
		return err
	}
	t.say(h, l, e, w, r, before)
	if change == adapter.OrderJudged && !changed && !written {
		return nil
	}
	o := adapter.OrderWrite{Change: change, OrderLine: adapter.OrderLine{State: map[bool]string{false: l.State, true: "replaced"}[replaced], Due: due}}
	if change != adapter.OrderJudged {
		o.Source = document
		o.Sent = r4.Sent(e.document().Root())
	}
	t.judged(l, patient, w, o)
	return nil
}

// judged puts the line of an order into the effect.
func (t *taking) judged(l *line, patient string, w worksheet.Worksheet, o adapter.OrderWrite) {
	o.OrderLine = adapter.OrderLine{Key: l.Key, Number: l.Number, Version: l.Version, Patient: patient, Resource: l.Resource,
		Drug: w.Order.Drug, State: o.State, Verdict: w.Verdict, Stage: w.Stage, Weight: weights[w.Verdict], Due: o.Due, Updated: t.call.Now}
	t.list(o)
	t.audit("E", patient, "MedicationRequest/"+l.Resource, "judged at "+w.Stage+": "+w.Verdict)
}

// silent: what is planned is planned by the other order.
func silent(w *worksheet.Worksheet) {
	w.Findings, w.NotChecked = []worksheet.Finding{}, []worksheet.NotChecked{}
}

// sheet puts a worksheet into the effect, unless it says what the stored one
// does.
func (t *taking) sheet(l *line, patient string, w worksheet.Worksheet) bool {
	text := encode(w)
	sum := conformance.Hash(lastingText(text, w))
	if sum == l.Sheet {
		return false
	}
	l.Sheet = sum
	t.effect.Worksheets = append(t.effect.Worksheets, adapter.StoredSheet{ID: t.NewID(), Key: l.Key, Number: l.Number, Patient: patient,
		Stage: w.Stage, Verdict: w.Verdict, Made: t.call.Now, JSON: text})
	return true
}

// weights put the worklist in order: what must not go on first.
var weights = map[string]int64{"block": 3, "hold": 2, "indeterminate": 2, "ready": 1}

func ended(status string) bool {
	switch status {
	case "stopped", "cancelled", "completed", "entered-in-error":
		return true
	}
	return false
}

func encode(v any) []byte {
	text, err := json.Marshal(v)
	if err != nil {
		panic(err) // a fault of this build: only plain values are encoded
	}
	return text
}

func firstDue(due, next time.Time) time.Time {
	if due.IsZero() || !next.IsZero() && next.Before(due) {
		return next
	}
	return due
}
