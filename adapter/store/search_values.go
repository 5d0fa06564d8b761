package store

import (
	"context"
	"slices"

	"weir.example/weir/adapter"
)

// ByValues reads, for each value, the resources that have it: many values by
// one look into the index, as of one moment.
func (s *Store) ByValues(ctx context.Context, asked []adapter.Asked) ([][]adapter.Resource, error) {
	out := make([][]adapter.Resource, len(asked))
	if len(asked) == 0 {
		return out, nil
	}
	return out, s.b.Snapshot(ctx, func(tx Tx) error {
		f := s.finding(ctx, tx, "", 0)
		found := make([][]placed, len(asked))
		for at := 0; at < len(asked); {
			n := 64
			for n > len(asked)-at {
				n /= 2
			}
			if err := f.rowsOf(asked[at:at+n], found[at:at+n]); err != nil {
				return err
			}
			at += n
		}
		for i := range asked {
			list, err := f.resources(found[i][:min(len(found[i]), 2)])
			if err != nil {
				return err
			}
			out[i] = list
		}
		return nil
	})
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
	return each(f.ctx, f.tx.Query, func(r Rows) error {
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
