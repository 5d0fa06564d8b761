package store

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"strings"

	"weir.example/weir/adapter"
)

// Check reads the whole store as of one moment: hashes, bodies, and that what
// belongs together is there.
func (s *Store) Check(ctx context.Context) (adapter.Health, error) {
	out := adapter.Health{Rows: map[string]int64{}}
	err := s.b.Snapshot(ctx, func(tx Tx) error {
		for _, t := range tables {
			n, err := countRows(ctx, tx.Query, t.name)
			if err != nil {
				return err
			}
			out.Rows[t.name] = n
		}
		for _, c := range []struct{ what, sql string }{
			{"places of no run", `SELECT COUNT(*) FROM resource_place p WHERE NOT EXISTS (SELECT 1 FROM resource_run r WHERE r.n = p.run)`},
			{"search values of nothing", `SELECT COUNT(*) FROM search_value v WHERE NOT EXISTS (SELECT 1 FROM shelf s WHERE s.n = v.shelf)`},
			{"identifiers of nothing", `SELECT COUNT(*) FROM identifier i WHERE NOT EXISTS (SELECT 1 FROM shelf s WHERE s.n = i.shelf AND i.slot < s.members)`},
			{"orders whose line is not of their newest version", `SELECT COUNT(*) FROM order_head h WHERE h.number <>
				(SELECT COALESCE(MAX(v.number), 0) FROM order_version v WHERE v.key = h.key)`},
			{"orders with a gap in their versions", `SELECT COUNT(*) FROM order_head h WHERE h.number <>
				(SELECT COUNT(*) FROM order_version v WHERE v.key = h.key)`},
			{"identifiers held twice though only once allowed", `SELECT COUNT(*) FROM
				(SELECT 1 AS one FROM identifier WHERE once = 1 GROUP BY type, system, value HAVING COUNT(*) > 1) d`},
		} {
			var n int64
			if err := each(ctx, tx.Query, func(r Rows) error { return r.Scan(&n) }, c.sql); err != nil {
				return err
			}
			if n > 0 {
				out.Problems = append(out.Problems, fmt.Sprintf("%d %s", n, c.what))
			}
		}
		err := each(ctx, tx.Query, func(r Rows) error { var n int64; err := r.Scan(&n); out.Rows["resource"] = n; return err }, "SELECT COALESCE(SUM(members), 0) FROM shelf")
		if err != nil {
			return err
		}
		if out.Rows["audit"] == 0 && out.Rows["resource"]+out.Rows["document"]+out.Rows["order_head"] > 0 {
			out.Problems = append(out.Problems, "a record without any audit row")
		}
		if err := s.checkShelves(ctx, tx, &out); err != nil {
			return err
		}
		return checkBodies(ctx, tx, &out)
	})
	if err != nil {
		return out, err
	}
	own, err := s.b.Verify(ctx)
	out.Problems = append(out.Problems, own...)
	return out, err
}

func checkBodies(ctx context.Context, tx Tx, out *adapter.Health) error {
	bad := int64(0)
	err := each(ctx, tx.Query, func(r Rows) error {
		var sum, body []byte
		var size int64
		if err := r.Scan(&sum, &size, &body); err != nil {
			return err
		}
		data, err := unpack(body)
		if err != nil || int64(len(data)) != size || len(sum) != 32 || sha256.Sum256(data) != [32]byte(sum) {
			bad++
		}
		return nil
	}, "SELECT sha256, size, body FROM document")
	if err != nil {
		return err
	}
	if bad > 0 {
		out.Problems = append(out.Problems, fmt.Sprintf("%d documents whose bytes do not have their hash", bad))
	}
	for _, name := range []string{"patient_case", "worksheet", "outbox", "work", "reply"} {
		bad = 0
		err := each(ctx, tx.Query, func(r Rows) error {
			var body []byte
			if err := r.Scan(&body); err != nil {
				return err
			}
			if _, err := unpack(body); err != nil {
				bad++
			}
			return nil
		}, "SELECT body FROM "+name)
		if err != nil {
			return err
		}
		if bad > 0 {
			out.Problems = append(out.Problems, fmt.Sprintf("%d bodies in %s that cannot be unpacked", bad, name))
		}
	}
	return nil
}

// checkShelves opens every shelf and compares it with what it is found by.
func (s *Store) checkShelves(ctx context.Context, tx Tx, out *adapter.Health) error {
	var bad, members, values int64
	var sum uint64
	err := each(ctx, tx.Query, func(r Rows) error {
		var held int64
		h, err := scanShelf(r, &held)
		var damaged *adapter.Damaged
		if errors.As(err, &damaged) || err == nil && held != int64(len(h.members)) {
			bad++
			return nil
		}
		if err == nil {
			members, values = members+held, values+int64(len(h.rows()))
			for _, m := range h.members {
				sum += place{placeOf(m.typ, m.id), h.number}.sum()
			}
		}
		return err
	}, strings.Replace(shelfColumns, "SELECT", "SELECT members,", 1)+"1 = 1")
	if err != nil {
		return err
	}
	if bad > 0 {
		out.Problems = append(out.Problems, fmt.Sprintf("%d shelves that cannot be opened", bad))
	}
	if err := s.checkRuns(ctx, tx, out, bad, members, sum); err != nil {
		return err
	}
	if values != out.Rows["search_value"] && bad == 0 {
		out.Problems = append(out.Problems, fmt.Sprintf("%d search values on shelves and %d rows of them", values, out.Rows["search_value"]))
	}
	bad = 0
	err = each(ctx, tx.Query, func(r Rows) error {
		var body []byte
		if err := r.Scan(&body); err != nil {
			return err
		}
		if (&shelf{}).decode(body) != nil {
			bad++
		}
		return nil
	}, "SELECT body FROM shelf_past")
	if bad > 0 {
		out.Problems = append(out.Problems, fmt.Sprintf("%d earlier versions that cannot be read", bad))
	}
	return err
}
