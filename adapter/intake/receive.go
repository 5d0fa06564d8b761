package intake

import (
	"context"
	"crypto/sha256"
	"errors"
	"slices"
	"time"

	"weir.example/weir/adapter"
	"weir.example/weir/mapping/r4"
)

// attempts bounds how often a document is taken in anew because others
// changed the same patient meanwhile.
const attempts = 12

// Receive takes in the resources of one document, all or nothing, and gives
// what became of each, in order. The error is a *Refused, or one of the
// store. When it returns without one, everything is on the disk.
func (s *Service) Receive(ctx context.Context, call Call, items []Item) ([]Done, error) {
	var t *taking
	err := s.again(func() error {
		t = s.begin(ctx, call)
		return t.run(items)
	})
	if err != nil {
		return nil, err
	}
	return t.done, nil
}

// again does it anew as long as somebody else was faster.
func (s *Service) again(attempt func() error) error {
	seen := false
	for range attempts {
		err := attempt()
		var refused *Refused
		if errors.As(err, &refused) && torn[refused.Reason] && !seen {
			seen = true
			continue
		}
		var conflict *adapter.Conflict
		var duplicate *adapter.Duplicate
		if errors.As(err, &conflict) || errors.As(err, &duplicate) {
			continue
		}
		return err
	}
	return &Refused{Busy, ""}
}

// torn are refusals that may come of looking at the store while somebody else
// wrote: a patient was not there yet, the order of the same document was. What
// is written together is seen together the next time, so the second time they
// are true.
var torn = map[Reason]bool{OtherPatient: true, OtherPerson: true, NoPatient: true, Unresolved: true, Several: true, Rekeyed: true}

func (s *Service) begin(ctx context.Context, call Call) *taking {
	call.Now = call.Now.UTC().Truncate(time.Microsecond)
	if s.Fresh != nil {
		one := *s
		one.NewID = s.Fresh()
		s = &one
	}
	return &taking{Service: s, ctx: ctx, call: call, places: map[string]string{}, outside: map[string]string{}, origins: map[[2]string][]adapter.Resource{}, cases: map[string]*held{}}
}

// run is one attempt.
func (t *taking) run(items []Item) error {
	document := t.NewID()
	if err := t.prepare(items, document); err != nil {
		var refused *Refused
		if errors.As(err, &refused) && refused.Reason == Older {
			return errors.Join(refused, t.kept(document))
		}
		return err
	}
	t.effect.At = t.call.Now
	t.effect.Audit = alike(t.effect.Audit)
	if len(t.effect.Audit) > 0 && len(t.call.Bytes) > 0 && !t.nothingNew() {
		t.receive(document)
	}
	if t.call.Before != nil {
		t.call.Before(&t.effect, t.done)
	}
	if len(t.effect.Audit) == 0 {
		return nil // all of it is stored already: nothing to write
	}
	if t.call.Commit != nil {
		return t.call.Commit(t.ctx, t.effect)
	}
	return t.Store.Commit(t.ctx, t.effect)
}

func (t *taking) prepare(items []Item, document string) error {
	for _, step := range []func() error{
		func() error { return t.match(items) },
		t.settle,
		t.decide,
		func() error { return t.change(document) },
		t.spread,
		t.look,
		func() error { return t.judge(document) },
		func() error { return t.review(document) },
	} {
		if err := step(); err != nil {
			return err
		}
	}
	return nil
}

// nothingNew: a night brought nothing but what is stored already, under the
// documents in which it first came.
func (t *taking) nothingNew() bool {
	return t.night != nil && !slices.ContainsFunc(t.pieces, func(p *piece) bool { return p.outcome != Same })
}

// receive keeps the document as it came in.
func (t *taking) receive(document string) {
	seen := map[string]bool{}
	r := adapter.Received{ID: document, SHA256: sha256.Sum256(t.call.Bytes), At: t.call.Now, Media: t.call.Media, Bytes: t.call.Bytes}
	for _, p := range t.pieces {
		if p.patient != "" && !seen[p.patient] {
			seen[p.patient] = true
			r.Patients = append(r.Patients, p.patient)
		}
	}
	t.effect.Received = append(t.effect.Received, r)
}

// kept keeps a document that is behind what is stored: it is never applied,
// and never lost.
func (t *taking) kept(document string) error {
	t.effect = adapter.Effect{At: t.call.Now}
	for _, p := range t.pieces {
		if p.have != nil {
			t.audit("C", p.patient, p.kind+"/"+p.id, "an older message, kept and not applied")
		}
	}
	if len(t.effect.Audit) == 0 {
		return nil
	}
	t.receive(document)
	return t.Store.Commit(t.ctx, t.effect)
}

// review makes a task of each change that was sent and not applied.
func (t *taking) review(document string) error {
	for i, p := range t.pieces {
		if p.outcome != Unapplied {
			continue
		}
		key := p.key.Key
		if key == "" {
			key = p.kind + "/" + p.id
		}
		m := r4.WriteReview(r4.Review{Key: key, Sum: p.sum, Focus: p.kind + "/" + p.id, Patient: p.patient, Document: document, Now: t.call.Now})
		t.done[i].Task = m.ID
		_, err := t.Store.Get(t.ctx, m.Type, m.ID)
		var none *adapter.NotFound
		switch {
		case err == nil:
			continue
		case !errors.As(err, &none):
			return err
		}
		if _, err := t.write(output{Type: m.Type, ID: m.ID, Version: 1}, p.patient, p.key.Key, m.JSON()); err != nil {
			return err
		}
		t.audit("C", p.patient, "Task/"+m.ID, "a change was sent and not applied")
	}
	return nil
}

// alike makes one row of what was done alike to several things of a patient.
func alike(rows []adapter.AuditRow) []adapter.AuditRow {
	var out []adapter.AuditRow
	for _, a := range rows {
		i := slices.IndexFunc(out, func(b adapter.AuditRow) bool {
			return a.Patient != "" && a.Patient == b.Patient && a.Action == b.Action && a.Detail == b.Detail
		})
		if i < 0 {
			out = append(out, a)
		} else {
			out[i].Also = append(out[i].Also, a.Entity)
		}
	}
	return out
}
