package intake

import (
	"bytes"
	"encoding/json"
	"slices"
	"sync"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/index"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/r4"
)

// decide says what becomes of each piece.
func (t *taking) decide() error {
	for _, p := range t.pieces {
		p.outcome = Created
		if p.have == nil {
			continue
		}
		stored := sync.OnceValue(func() element.Node {
			return element.ReadAgain(p.have.JSON, 1).Root()
		})
		sum := t.inCase(p)
		if sum == "" {
			sum = contentSum(stored())
		}
		switch {
		case p.have.Source == "":
			var err error
			if p.outcome, err = p.progress(stored()); err != nil {
				return err
			}
		case p.have.Patient != p.patient:
			return &Refused{OtherPatient, p.At}
		case sum == p.sum:
			p.outcome = Same
		case p.Way == Create:
			p.outcome = Unapplied
		case p.Way == Feed && r4.Newer(p.node, stored()) < 0 && t.night == nil && !t.call.Behind:
			return &Refused{Older, p.At}
		case p.Way == Feed && r4.Newer(p.node, stored()) < 0:
			p.outcome = Behind
		default:
			p.outcome = Updated
		}
	}
	return nil
}

// inCase is the sum of what is stored of a piece, when a patient's case has it
// as it is stored; what was read of the piece is then not read of the case
// again. A run of the night needs the case of every patient; else it must be
// there already.
func (t *taking) inCase(p *piece) string {
	if t.night != nil && p.patient != "" {
		_, _ = t.load(p.patient) // a case that cannot be read says so where it is needed
	}
	sum := ""
	for _, h := range t.cases {
		e := h.find(p.kind, p.id)
		if e == nil || e.Version != p.have.Version {
			continue
		}
		if sum = e.Sum; bytes.Equal(e.Body, p.body) {
			e.reading.doc = p.doc
		}
	}
	return sum
}

// change puts what is created or updated into the effect and into the cases
// of the patients.
func (t *taking) change(document string) error {
	for _, p := range t.pieces {
		if p.outcome == Behind && p.patient != "" {
			h, err := t.load(p.patient)
			if err != nil {
				return err
			}
			if h.older == nil {
				h.older = map[string]json.RawMessage{}
			}
			h.older[p.kind+"/"+p.id], h.touched = p.body, true
		}
		if p.outcome == Progressed {
			if err := t.advance(p); err != nil {
				return err
			}
			continue
		}
		if p.outcome != Created && p.outcome != Updated {
			t.done = append(t.done, Done{Outcome: p.outcome, Resource: *p.have, Again: p.outcome == Same && p.kind == "MedicationRequest"})
			if p.outcome == Unapplied && p.patient != "" {
				if err := t.bring(p); err != nil {
					return err
				}
			}
			continue
		}
		r := adapter.Resource{Type: p.kind, ID: p.id, Version: 1, Created: t.call.Now, Updated: t.call.Now, Patient: p.patient, Source: document, JSON: p.body}
		if p.have != nil {
			r.Version, r.Created = p.have.Version+1, p.have.Created
		}
		r.Identifiers, r.Values = index.Of(p.node)
		for i, id := range r.Identifiers {
			r.Identifiers[i].Once = slices.ContainsFunc(p.once, func(o adapter.Identity) bool { return o.System == id.System && o.Value == id.Value })
		}
		if p.FullURL != "" && isWeb(p.FullURL) {
			r.Values = append(r.Values, adapter.Value{Name: origin, Text: index.Short(plain(p.FullURL))})
		}
		t.effect.Resources = append(t.effect.Resources, r)
		t.done = append(t.done, Done{Outcome: p.outcome, Resource: r})
		t.audit(map[Outcome]string{Created: "C", Updated: "U"}[p.outcome], p.patient, p.kind+"/"+p.id, "received")
		if p.patient == "" {
			continue
		}
		h, err := t.load(p.patient)
		if err != nil {
			return err
		}
		e := t.entry(p, r.Version)
		if old := h.find(p.kind, p.id); old != nil && old.Key != "" && old.Key != e.Key {
			return &Refused{Rekeyed, p.At}
		}
		h.put(e)
		h.touched = true
	}
	return nil
}

// bring puts into the patient's case what came with a change that was not
// applied and belongs to nobody, a Medication above all: sent again it is then
// the same, and so is the change.
func (t *taking) bring(p *piece) error {
	for _, place := range references(p.node) {
		for _, other := range t.pieces {
			if other.kind+"/"+other.id != place || other.patient != "" || other.outcome != Created {
				continue
			}
			h, err := t.load(p.patient)
			if err != nil {
				return err
			}
			h.put(t.entry(other, 1))
			h.touched = true
		}
	}
	return nil
}

func (t *taking) entry(p *piece, version int64) entry {
	return entry{Type: p.kind, ID: p.id, Version: version, Sum: p.sum, Key: p.key.Key, Order: p.key.Version, Shared: p.patient == "", Body: p.body, reading: p.reading(p.body)}
}

// spread finds the patients whose orders use a shared resource that changed,
// and brings it into their cases.
func (t *taking) spread() error {
	for _, p := range t.pieces {
		if p.patient != "" || p.outcome != Updated || t.call.Alone || t.night != nil {
			continue
		}
		after := ""
		for n := 0; ; n++ {
			if n == mostSpread/100 {
				return &Refused{TooManyPatient, p.At}
			}
			s, err := t.Store.Search(t.ctx, adapter.Query{Type: "MedicationRequest", All: []adapter.Criterion{{Name: "_ref", Few: true,
				Any: []adapter.Match{{Op: adapter.OpEqual, Text: p.kind + "/" + p.id}}}}}, adapter.Page{Limit: 100, After: after})
			if err != nil {
				return err
			}
			for _, r := range s.Resources {
				h, err := t.load(r.Patient)
				if err != nil {
					return err
				}
				h.put(t.entry(p, p.have.Version+1))
				h.touched = true
			}
			if after = s.Next; after == "" {
				break
			}
		}
	}
	return nil
}

// mostSpread bounds how many orders one change of a shared resource may
// judge again at once.
const mostSpread = 500

func (t *taking) audit(action, patient, entity, detail string) {
	t.effect.Audit = append(t.effect.Audit, adapter.AuditRow{ID: t.NewID(), At: t.call.Now, Action: action, Outcome: "0", Agent: t.call.Agent,
		Patient: patient, Entity: entity, Request: t.call.Request, Detail: detail})
}
