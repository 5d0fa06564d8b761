package store

import (
	"context"
	"maps"
	"slices"
	"strings"

	"weir.example/weir/adapter"
)

// finding is one search, mostly in a transaction that reads.
type finding struct {
	*Store
	ctx   context.Context
	query queryFunc
	typ   string
	opens *int // how many shelves may still be opened to decide
}

func (s *Store) finding(ctx context.Context, query queryFunc, typ string, opens int) finding {
	return finding{s, ctx, query, typ, &opens}
}

// hits say which slots of which shelves meet something.
type hits map[int64]bits

type hit struct {
	shelf int64
	bits  bits
}

func (h hits) add(shelf int64, b bits) { h[shelf] = h[shelf].or(b) }

// places are the resources of the hits in order.
func (h hits) places() []placed {
	var out []placed
	for _, n := range slices.Sorted(maps.Keys(h)) {
		for slot := range h[n].slots() {
			out = append(out, placed{shelf: n, slot: slot})
		}
	}
	return out
}

// scope limits what is read: to the shelves of a list, or from and up to a
// number; zero limits nothing.
type scope struct {
	list     []int64
	from, to int64
}

// fewShelves is how many shelves are named one by one; for more the whole
// range is read.
const fewShelves = 2048

func over(h hits) scope {
	list := slices.Sorted(maps.Keys(h))
	switch {
	case len(list) == 0:
		return scope{from: 1, to: -1}
	case len(list) > fewShelves:
		return scope{from: list[0], to: list[len(list)-1]}
	}
	return scope{list: list}
}

// parts cut a scope so that few different statements come to be.
func (s scope) parts() []scope {
	if s.list == nil {
		return []scope{s}
	}
	var out []scope
	for list := s.list; len(list) > 0; {
		n := 64
		for n > len(list) {
			n /= 2
		}
		out = append(out, scope{list: list[:n]})
		list = list[n:]
	}
	return out
}

func (s scope) where(q *text, column string) {
	if s.list != nil {
		q.add(" AND ", column, " IN (")
		for i, n := range s.list {
			if i > 0 {
				q.add(", ")
			}
			q.add(q.arg(n))
		}
		q.add(")")
		return
	}
	if s.from != 0 {
		q.add(" AND ", column, " >= ", q.arg(s.from))
	}
	if s.to != 0 {
		q.add(" AND ", column, " <= ", q.arg(s.to))
	}
}

// read adds rows of shelf and bits to hits.
func (f finding) read(out hits, in scope, column string, sql func(*text)) error {
	for _, part := range in.parts() {
		var q text
		sql(&q)
		part.where(&q, column)
		err := each(f.ctx, f.query, func(r Rows) error {
			var n int64
			var b []byte
			err := r.Scan(&n, &b)
			out.add(n, b)
			return err
		}, q.String(), q.args...)
		if err != nil {
			return err
		}
	}
	return nil
}

// hits are the resources that meet a criterion, whatever its Not says.
func (f finding) hits(c adapter.Criterion, in scope) (hits, error) {
	switch c.Name {
	case "_id":
		out := hits{}
		for _, m := range c.Any {
			if err := f.one(out, m.Text, func(*shelf) bool { return true }); err != nil {
				return nil, err
			}
		}
		return out, nil
	case "_patient":
		out := hits{}
		return out, f.read(out, in, "v.shelf", func(q *text) {
			q.add("SELECT v.shelf, v.bits FROM shelf s JOIN search_value v ON v.shelf = s.n AND v.param = ", q.arg(brief(f.typ, anything)),
				" AND v.text = '' AND v.low = 0 AND v.high = 0 WHERE s.patient IN (")
			for i, m := range c.Any {
				if i > 0 {
					q.add(", ")
				}
				q.add(q.arg(m.Text))
			}
			q.add(")")
		})
	case "identifier":
		return f.identified(c)
	}
	out := hits{}
	err := f.read(out, in, "v.shelf", func(q *text) {
		q.add("SELECT v.shelf, v.bits FROM search_value v WHERE v.param = ", q.arg(brief(f.typ, c.Name)), " AND (")
		_ = anyOf(q, c.Any, columnsOf(c)) // checked before
		q.add(")")
		if !slices.ContainsFunc(c.Any, func(m adapter.Match) bool { return m.Op == adapter.OpPresent }) {
			q.add(" AND v.low <= v.high")
		}
		if c.Name == written {
			since(q, c.Any)
		}
	})
	if err != nil {
		return nil, err
	}
	return out, f.inside(out, c, in)
}

// since says what follows from comparisons with a time of writing, in the form
// in which a database walks its index from there on.
func since(q *text, list []adapter.Match) {
	least := int64(1<<63 - 1)
	for _, m := range list {
		switch m.Op {
		case adapter.OpAfter, adapter.OpStarts:
			least = min(least, micros(m.High))
		case adapter.OpNotBelow, adapter.OpEqual:
			least = min(least, micros(m.Low))
		default:
			return
		}
	}
	q.add(" AND v.text = '' AND v.low >= ", q.arg(least))
}

// inside adds what only an open shelf shows: values that name resources of
// the same shelf have no rows of their own, but for one that says that some do.
func (f finding) inside(out hits, c adapter.Criterion, in scope) error {
	look := hits{}
	mark := func(in scope) error {
		return f.read(look, in, "v.shelf", func(q *text) {
			q.add("SELECT v.shelf, v.bits FROM search_value v WHERE v.param = ", q.arg(brief(f.typ, c.Name)), " AND v.text = '' AND v.low = ", q.arg(int64(insideLow)), " AND v.high = ", q.arg(int64(insideHigh)))
		})
	}
	for _, m := range c.Any {
		switch {
		case m.Op == adapter.OpPresent || !m.Low.IsZero() || !m.High.IsZero():
		case m.Op == adapter.OpEqual:
			// An address ("https://…") names nothing of ours.
			if typ, id, ok := strings.Cut(m.Text, "/"); ok && !strings.Contains(typ, ":") && (m.System == nil || *m.System == "") {
				list, err := f.whose(typ, id)
				if err != nil {
					return err
				}
				if len(list) == 0 {
					continue
				}
				if err := mark(scope{list: list}); err != nil {
					return err
				}
			}
		case m.System == nil || *m.System == "":
			if err := mark(in); err != nil {
				return err
			}
		}
	}
	return f.opened(slices.Sorted(maps.Keys(look)), func(h *shelf) {
		for v, b := range h.values {
			if v.typ == f.typ && v.name == c.Name && slices.ContainsFunc(c.Any, func(m adapter.Match) bool { return fitsText(v, m) }) {
				out.add(h.number, b)
			}
		}
	})
}

// whose are the shelves on which values may name a resource without rows of
// their own: the one that it is on, and all of a patient.
func (f finding) whose(typ, id string) (out []int64, err error) {
	if out, err = f.whereIs(f.ctx, f.query, typ, id); err != nil || typ != "Patient" {
		return out, err
	}
	err = each(f.ctx, f.query, func(r Rows) error {
		var n int64
		err := r.Scan(&n)
		out = append(out, n)
		return err
	}, "SELECT n FROM shelf WHERE patient = $1", id)
	slices.Sort(out)
	return slices.Compact(out), err
}

// fitsText compares a value with a match of texts, as words does in SQL.
func fitsText(v sought, m adapter.Match) bool {
	if !m.Low.IsZero() || !m.High.IsZero() || m.System != nil && *m.System != v.system {
		return false
	}
	switch m.Op {
	case adapter.OpEqual:
		return v.text == m.Text
	case adapter.OpPrefix:
		return strings.HasPrefix(v.text, m.Text)
	case adapter.OpContains:
		return m.Text != "" && strings.Contains(v.text, m.Text)
	}
	return m.Op == adapter.OpInSystem || m.Op == adapter.OpPresent
}

// one adds the resource of an id, if it is there and fits.
func (f finding) one(out hits, id string, fits func(*shelf) bool) error {
	h, slot, err := f.on(f.ctx, f.query, f.typ, id)
	if missing(err) {
		return nil
	}
	if err != nil {
		return err
	}
	if fits(h) {
		out.add(h.number, bits{}.with(slot))
	}
	return nil
}

// identified are the resources with one of the identifiers.
func (f finding) identified(c adapter.Criterion) (hits, error) {
	out := hits{}
	var q text
	q.add("SELECT v.shelf, v.slot FROM identifier v WHERE v.type = ", q.arg(f.typ), " AND (")
	if err := anyOf(&q, c.Any, columnsOf(c)); err != nil {
		return nil, err
	}
	q.add(")")
	err := each(f.ctx, f.query, func(r Rows) error {
		var n, slot int64
		err := r.Scan(&n, &slot)
		out.add(n, bits{}.with(int(slot)))
		return err
	}, q.String(), q.args...)
	if err != nil {
		return nil, err
	}
	return out, f.own(out, c.Any)
}

// own adds the resources whose own id the matches name.
func (f finding) own(out hits, list []adapter.Match) error {
	for _, m := range list {
		switch {
		case m.Op == adapter.OpPresent, m.Op == adapter.OpInSystem && m.System != nil && *m.System == uris:
			if err := f.read(out, scope{}, "v.shelf", func(q *text) {
				q.add("SELECT v.shelf, v.bits FROM search_value v WHERE v.param = ", q.arg(brief(f.typ, itself)))
			}); err != nil {
				return err
			}
		case m.Op == adapter.OpEqual && (m.System == nil || *m.System == uris):
			id, ok := ownID(uris, m.Text)
			if !ok {
				continue
			}
			err := f.one(out, id, func(h *shelf) bool { return h.values[sought{typ: f.typ, name: itself}].has(h.slot(f.typ, id)) })
			if err != nil {
				return err
			}
		}
	}
	return nil
}

// opened reads shelves by their numbers; use must not change them.
func (f finding) opened(list []int64, use func(*shelf)) error {
	list, err := f.openedLately(list, use)
	if err != nil || len(list) == 0 {
		return err // an empty list is not all of them
	}
	for _, part := range (scope{list: list}).parts() {
		var q text
		q.add(shelfColumns, "1 = 1")
		part.where(&q, "n")
		err := each(f.ctx, f.query, func(r Rows) error {
			h, err := scanShelf(r)
			if err == nil {
				f.lately.Add(h.number, h)
				use(h)
			}
			return err
		}, q.String(), q.args...)
		if err != nil {
			return err
		}
	}
	return nil
}

// openedLately uses those that are still open as they are, and gives the rest.
func (f finding) openedLately(list []int64, use func(*shelf)) ([]int64, error) {
	var some []int64
	for _, n := range list {
		if f.lately.Contains(n) {
			some = append(some, n)
		}
	}
	if len(some) == 0 {
		return list, nil
	}
	done := map[int64]bool{}
	for _, part := range (scope{list: some}).parts() {
		var q text
		q.add("SELECT n, version, patient FROM shelf WHERE 1 = 1")
		part.where(&q, "n")
		err := each(f.ctx, f.query, func(r Rows) error {
			var as shelf
			err := r.Scan(&as.number, &as.version, &as.patient)
			if h := f.kept(as); err == nil && h != nil {
				done[h.number] = true
				use(h)
			}
			return err
		}, q.String(), q.args...)
		if err != nil {
			return nil, err
		}
	}
	return slices.DeleteFunc(slices.Clone(list), func(n int64) bool { return done[n] }), nil
}

// resources reads what stands at places, in their order.
func (f finding) resources(list []placed) ([]adapter.Resource, error) {
	at := map[int64][]int{}
	for i, p := range list {
		at[p.shelf] = append(at[p.shelf], i)
	}
	if len(list) == 0 {
		return nil, nil
	}
	out := make([]adapter.Resource, len(list))
	err := f.opened(slices.Sorted(maps.Keys(at)), func(h *shelf) {
		for _, i := range at[h.number] {
			if slot := list[i].slot; slot < len(h.members) {
				out[i] = h.resource(slot)
			}
		}
	})
	if err == nil && slices.ContainsFunc(out, func(r adapter.Resource) bool { return r.ID == "" }) {
		err = &adapter.Damaged{Kind: "resources"}
	}
	return out, err
}
