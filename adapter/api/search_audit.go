package api

import (
	"context"
	"net/http"
	"strings"
	"time"

	"github.com/go-chi/chi/v5"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/index"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/r4"
)

// AuditEvents are made from audit rows: one version each, newest first. An
// agent without a resource of its own is asked for by its name.

func (d *door) audit(a adapter.AuditRow) element.Value {
	return r4.WriteAudit(r4.Audit{ID: a.ID, At: a.At, Action: a.Action, Outcome: a.Outcome, Agent: a.Agent, Patient: a.Patient, Entity: a.Entity, Also: a.Also,
		Request: a.Request, Program: d.Version, Detail: a.Detail, Private: a.Private})
}

// row reads the audit row that an address names.
func (d *door) row(w http.ResponseWriter, r *http.Request, known ...string) (adapter.AuditRow, bool) {
	x := acceptable(r, known...)
	id := chi.URLParam(r, "id")
	if x == nil && !resourceID.MatchString(id) {
		x = unknownResource()
	}
	var slice adapter.AuditSlice
	if x == nil {
		var err error
		if slice, err = d.Store.Audit(r.Context(), adapter.AuditFilter{ID: id}, adapter.Page{Limit: 1}); err != nil {
			x = failed(err)
		} else if len(slice.Rows) == 0 {
			x = unknownResource()
		}
	}
	if x != nil {
		d.refuse(w, r, *x)
		return adapter.AuditRow{}, false
	}
	return slice.Rows[0], true
}

func (d *door) readAudit(w http.ResponseWriter, r *http.Request) {
	if a, ok := d.row(w, r); ok {
		d.give(w, r, d.audit(a), 1, a.At)
	}
}

func (d *door) versionAudit(w http.ResponseWriter, r *http.Request) {
	if chi.URLParam(r, "version") != "1" {
		d.refuse(w, r, *unknownResource())
		return
	}
	d.readAudit(w, r)
}

func (d *door) historyAudit(w http.ResponseWriter, r *http.Request) {
	a, ok := d.row(w, r, "_count")
	if !ok {
		return
	}
	if _, x := countOf(r.URL.Query()["_count"], false); x != nil {
		d.refuse(w, r, *x)
		return
	}
	address := d.Public + "/fhir/" + auditEvent + "/" + a.ID
	d.resource(w, r, bundle{kind: "history", self: address + "/_history", entries: []element.Value{
		historyEntry(address, auditEvent+"/"+a.ID, auditEvent, d.audit(a), 1, instant(a.At))}}.value())
}

func (d *door) searchAudit(w http.ResponseWriter, r *http.Request) {
	d.answer(w, r, auditEvent, func(ctx context.Context, q question, p adapter.Page) ([]match, string, *refusal) {
		filter, none, x := auditFilter(q)
		if x != nil || none {
			return nil, "", x
		}
		slice, err := d.Store.Audit(ctx, filter, p)
		if err != nil {
			return nil, "", failed(err)
		}
		var out []match
		for _, a := range slice.Rows {
			out = append(out, match{auditEvent + "/" + a.ID, d.audit(a)})
		}
		return out, slice.Next, nil
	})
}

// auditName reads who or what a row is of: Type/id, or the name or id of what
// has no resource, which is an identifier in the AuditEvent.
func auditName(p index.Parameter, modifier string, parts []string) (adapter.Criterion, *refusal) {
	if modifier == "identifier" {
		p.Kind = "token"
		return criterion(p, "", parts, p.Name)
	}
	c := adapter.Criterion{Name: p.Name}
	for _, text := range parts {
		kind, id, typed := strings.Cut(text, "/")
		if modifier != "" || !resourceID.MatchString(text) && !(typed && typeForm.MatchString(kind) && resourceID.MatchString(id)) {
			return c, malformed(p.Name, "a value is no reference", "Client: send Type/id or a name, without a modifier other than :identifier.")
		}
		c.Any = append(c.Any, adapter.Match{Op: adapter.OpEqual, Text: text})
	}
	return c, nil
}

// auditFilter puts a question into what the store can ask of its audit rows:
// one value of each, a span of time. None: no row can meet it.
func auditFilter(q question) (f adapter.AuditFilter, none bool, x *refusal) {
	if s := q.query.Sort; s != (adapter.Sort{}) && (!s.Descending || s.Name != "date" && s.Name != "_lastUpdated") {
		return f, false, malformed("_sort", "this order is not offered", "Client: send -date, which is how they come.")
	}
	fields := map[string]*string{"_id": &f.ID, "patient": &f.Patient, "action": &f.Action, "agent": &f.Agent, "entity": &f.Entity, "outcome": &f.Outcome}
	systems := map[string]string{"agent": r4.AgentSystem, "entity": r4.RecordSystem}
	for _, p := range []string{"action", "outcome"} {
		one, _ := parameterOf(auditEvent, p)
		systems[p] = one.System
	}
	if len(q.named) > 0 {
		return f, false, unknownParameter()
	}
	for _, c := range q.query.All {
		m := c.Any[0]
		if len(c.Any) > 1 || c.Not || m.Op == adapter.OpPresent || m.Op == adapter.OpInSystem {
			return f, false, malformed(c.Name, "of this parameter one value at a time is compared, without :not and :missing", "Client: send one value.")
		}
		if c.Name == "date" || c.Name == "_lastUpdated" {
			if !narrow(&f, m) {
				return f, false, malformed(c.Name, "ne is not offered here", "Client: send another prefix.")
			}
			continue
		}
		text := m.Text
		if c.Name == "patient" {
			text = strings.TrimPrefix(text, "Patient/")
		}
		if m.System != nil && *m.System != systems[c.Name] || *fields[c.Name] != "" && *fields[c.Name] != text {
			none = true
		}
		*fields[c.Name] = text
	}
	return f, none || !f.From.IsZero() && !f.Until.IsZero() && !f.From.Before(f.Until), nil
}

// narrow takes a time into the span from From up to Until; false for ne,
// which is no span. A row is one instant.
func narrow(f *adapter.AuditFilter, m adapter.Match) bool {
	from, until := time.Time{}, time.Time{}
	switch m.Op {
	case adapter.OpEqual:
		from, until = m.Low, m.High
	case adapter.OpAfter, adapter.OpStarts:
		from = m.High
	case adapter.OpNotBelow:
		from = m.Low
	case adapter.OpBefore, adapter.OpEnds:
		until = m.Low
	case adapter.OpNotAbove:
		until = m.High
	default:
		return false
	}
	if from.After(f.From) {
		f.From = from
	}
	if !until.IsZero() && (f.Until.IsZero() || until.Before(f.Until)) {
		f.Until = until
	}
	return true
}
