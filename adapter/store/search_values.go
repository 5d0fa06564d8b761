package store

import (
	"context"
	"maps"
	"slices"

	"weir.example/weir/adapter"
)

// ByValues reads, for each value, the resources that have it: many values by
// one look into the index.
func (s *Store) ByValues(ctx context.Context, asked []adapter.Asked) ([][]adapter.Resource, error) {
	out := make([][]adapter.Resource, len(asked))
	if len(asked) == 0 {
		return out, nil
	}
	f := s.finding(ctx, s.b.Query, "", 0)
	found := make([][]placed, len(asked))
	for at := 0; at < len(asked); {
		n := 64
		for n > len(asked)-at {
			n /= 2
		}
		if err := f.rowsOf(asked[at:at+n], found[at:at+n]); err != nil {
			return nil, err
		}
		at += n
	}
	// What is on the shelves is newer than the rows: it counts.
	open := map[int64]*shelf{}
	for _, list := range found {
		for _, p := range list {
			open[p.shelf] = nil
		}
	}
	if err := f.opened(slices.Sorted(maps.Keys(open)), func(h *shelf) { open[h.number] = h }); err != nil {
		return nil, err
	}
	for i, a := range asked {
		for _, p := range found[i] {
			if h := open[p.shelf]; h != nil && h.text(a, p.slot) && len(out[i]) < 2 {
				out[i] = append(out[i], h.resource(p.slot))
			}
		}
	}
	return out, nil
}

// text reports whether a resource has a text value.
func (s *shelf) text(a adapter.Asked, slot int) bool {
	for v, b := range s.values {
		if v.typ == a.Type && v.name == a.Name && v.text == a.Text && v.low == 0 && v.high == 0 && b.has(slot) {
			return true
		}
	}
	return false
}

// rowsOf notes where the resources of each value are.
func (f finding) rowsOf(asked []adapter.Asked, found [][]placed) error {
	at := map[[2]any][]int{}
	var q text
	q.add("WITH k(param, text) AS (VALUES ")
	for i, a := range asked {
		if i > 0 {
			q.add(", ")
		}
		param := brief(a.Type, a.Name)
		at[[2]any{param, a.Text}] = append(at[[2]any{param, a.Text}], i)
		q.add("(CAST(", q.arg(param), " AS BIGINT), CAST(", q.arg(a.Text), " AS TEXT))")
	}
	q.add(") SELECT v.param, v.text, v.shelf, v.bits FROM k JOIN search_value v ON v.param = k.param AND v.text = k.text AND v.low = 0 AND v.high = 0 ORDER BY v.shelf")
	return each(f.ctx, f.query, func(r Rows) error {
		var param, n int64
		var text string
		var b []byte
		err := r.Scan(&param, &text, &n, &b)
		for _, i := range at[[2]any{param, text}] {
			for slot := range bits(b).slots() {
				if one := (placed{shelf: n, slot: slot}); !slices.Contains(found[i], one) {
					found[i] = append(found[i], one)
				}
			}
		}
		return err
	}, q.String(), q.args...)
}
