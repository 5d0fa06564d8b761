package store

import (
	"context"
	"fmt"
	"strings"

	"weir.example/weir/adapter"
)

// text builds a statement with its arguments.
type text struct {
	strings.Builder
	args []any
}

// arg adds an argument and gives its place.
func (t *text) arg(a any) string {
	t.args = append(t.args, a)
	return fmt.Sprintf("$%d", len(t.args))
}

func (t *text) add(parts ...string) {
	for _, p := range parts {
		t.WriteString(p)
	}
}

const orderColumns = "SELECT key, number, version, patient, resource, drug, state, verdict, stage, weight, due, updated FROM order_head"

func scanOrder(r Rows) (adapter.OrderLine, error) {
	var o adapter.OrderLine
	var due, updated int64
	err := r.Scan(&o.Key, &o.Number, &o.Version, &o.Patient, &o.Resource, &o.Drug, &o.State, &o.Verdict, &o.Stage, &o.Weight, &due, &updated)
	o.Due, o.Updated = instant(due), instant(updated)
	return o, err
}

// Order reads the line of an order.
func (s *Store) Order(ctx context.Context, key string) (out adapter.OrderLine, err error) {
	err = s.one(ctx, "order", key, func(r Rows) error { out, err = scanOrder(r); return err }, orderColumns+" WHERE key = $1", key)
	return out, err
}

// OrderVersions reads the contents an order has had, oldest first.
func (s *Store) OrderVersions(ctx context.Context, key string) ([]adapter.OrderVersion, error) {
	var out []adapter.OrderVersion
	err := each(ctx, s.b.Query, func(r Rows) error {
		var v adapter.OrderVersion
		var again, sent, at int64
		var source *string
		err := r.Scan(&v.Number, &v.Version, &again, &source, &sent, &at)
		if source != nil {
			v.Source = *source
		}
		v.Again, v.Sent, v.At = again == 1, instant(sent), instant(at)
		out = append(out, v)
		return err
	}, "SELECT number, version, again, document, sent, at FROM order_version WHERE key = $1 ORDER BY number", key)
	if err == nil && out == nil {
		return nil, &adapter.NotFound{Kind: "order", ID: key}
	}
	return out, err
}

// Orders reads the worklist. An order without a due time comes after those
// with one.
func (s *Store) Orders(ctx context.Context, f adapter.OrderFilter, p adapter.Page) (adapter.OrderSlice, error) {
	const due = "CASE WHEN due = 0 THEN 9000000000000000000 ELSE due END"
	ask := question("orders", f)
	at, limit, err := s.page(p, ask, position{})
	if err != nil {
		return adapter.OrderSlice{}, err
	}
	var q text
	q.add(orderColumns, " WHERE 1 = 1")
	for _, c := range [][2]string{{"patient", f.Patient}, {"state", f.State}, {"verdict", f.Verdict}} {
		if c[1] != "" {
			q.add(" AND ", c[0], " = ", q.arg(c[1]))
		}
	}
	if !f.DueBefore.IsZero() {
		q.add(" AND due <> 0 AND due < ", q.arg(micros(f.DueBefore)))
	}
	if p.After != "" {
		w := q.arg(at.Weight)
		q.add(" AND (weight < ", w, " OR weight = ", w, " AND (", due, ", key) > (", q.arg(at.Number), ", ", q.arg(at.ID), "))")
	}
	q.add(" ORDER BY weight DESC, ", due, ", key LIMIT ", q.arg(limit+1))
	var out adapter.OrderSlice
	err = each(ctx, s.b.Query, func(r Rows) error {
		o, err := scanOrder(r)
		out.Orders = append(out.Orders, o)
		return err
	}, q.String(), q.args...)
	if n := int(limit); err == nil && len(out.Orders) > n {
		out.Orders = out.Orders[:n]
		last := out.Orders[n-1]
		where := position{Weight: last.Weight, Number: micros(last.Due), ID: last.Key}
		if where.Number == 0 {
			where.Number = 9000000000000000000
		}
		out.Next = s.seal.close(where, ask)
	}
	return out, err
}

// Audit reads audit rows, newest first.
func (s *Store) Audit(ctx context.Context, f adapter.AuditFilter, p adapter.Page) (adapter.AuditSlice, error) {
	ask := question("audit", f)
	at, limit, err := s.page(p, ask, position{})
	if err != nil {
		return adapter.AuditSlice{}, err
	}
	var q text
	q.add("SELECT id, at, action, outcome, agent, patient, entity, also, request, detail, private FROM audit WHERE 1 = 1")
	for _, c := range [][2]string{{"id", f.ID}, {"patient", f.Patient}, {"action", f.Action}, {"agent", f.Agent}, {"outcome", f.Outcome}, {"request", f.Request}} {
		if c[1] != "" {
			q.add(" AND ", c[0], " = ", q.arg(c[1]))
		}
	}
	if f.Entity != "" {
		if err := s.about(ctx, &q, f.Entity); err != nil {
			return adapter.AuditSlice{}, err
		}
	}
	if !f.From.IsZero() {
		q.add(" AND at >= ", q.arg(micros(f.From)))
	}
	if !f.Until.IsZero() {
		q.add(" AND at < ", q.arg(micros(f.Until)))
	}
	if p.After != "" {
		q.add(" AND (at, id) < (", q.arg(at.Number), ", ", q.arg(at.ID), ")")
	}
	q.add(" ORDER BY at DESC, id DESC LIMIT ", q.arg(limit+1))
	var out adapter.AuditSlice
	err = each(ctx, s.b.Query, func(r Rows) error {
		var a adapter.AuditRow
		var when int64
		var also string
		err := r.Scan(&a.ID, &when, &a.Action, &a.Outcome, &a.Agent, &a.Patient, &a.Entity, &also, &a.Request, &a.Detail, &a.Private)
		a.At = instant(when)
		if also != "" {
			a.Also = strings.Split(strings.Trim(also, "\n"), "\n")
		}
		if len(a.Private) == 0 {
			a.Private = nil
		}
		out.Rows = append(out.Rows, a)
		return err
	}, q.String(), q.args...)
	if n := int(limit); err == nil && len(out.Rows) > n {
		out.Rows = out.Rows[:n]
		out.Next = s.seal.close(position{Number: micros(out.Rows[n-1].At), ID: out.Rows[n-1].ID}, ask)
	}
	return out, err
}

// about asks for rows that one thing is among. Rows about a patient's resource
// are rows of the patient; of one that is not stored any more nobody knows
// whose it was.
func (s *Store) about(ctx context.Context, q *text, entity string) error {
	typ, id, typed := strings.Cut(entity, "/")
	var patient string
	there := false
	if typed {
		h, _, err := s.on(ctx, s.b.Query, typ, id)
		if err != nil && !missing(err) {
			return err
		}
		if there = err == nil; there {
			patient = h.patient
		}
	}
	if there && patient == "" {
		q.add(" AND entity = ", q.arg(entity))
		return nil
	}
	if there {
		q.add(" AND patient = ", q.arg(patient))
	}
	q.add(" AND (entity = ", q.arg(entity), " OR also <> '' AND REPLACE(also, ", q.arg(lined([]string{entity})), ", '') <> also)")
	return nil
}
