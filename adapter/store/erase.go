package store

import (
	"context"
	"time"

	"weir.example/weir/adapter"
)

// entries are the times of everything that is kept of patients.
const entries = `SELECT p.patient AS patient, d.received AS at FROM document_patient p JOIN document d ON d.id = p.document
	UNION ALL SELECT patient, updated FROM shelf
	UNION ALL SELECT patient, updated FROM patient_case
	UNION ALL SELECT patient, updated FROM order_head
	UNION ALL SELECT o.patient, w.made FROM order_head o JOIN worksheet w ON w.key = o.key
	UNION ALL SELECT patient, made FROM outbox
	UNION ALL SELECT patient, made FROM work
	UNION ALL SELECT patient, made FROM reply`

// Expired names patients whose newest entry is older than before.
func (s *Store) Expired(ctx context.Context, before time.Time, limit int) ([]string, error) {
	var out []string
	err := each(ctx, s.b.Query, func(r Rows) error {
		var p string
		err := r.Scan(&p)
		out = append(out, p)
		return err
	}, "SELECT patient FROM ("+entries+") e WHERE patient <> '' GROUP BY patient HAVING MAX(at) < $1 ORDER BY patient LIMIT $2", micros(before), int64(limit))
	return out, err
}

// Erase removes a patient's record and leaves its audit rows, without their
// private part.
func (s *Store) Erase(ctx context.Context, e adapter.Erasure) (adapter.Erased, error) {
	if e.Patient == "" || e.Before.IsZero() || e.Audit.Patient != e.Patient || len(e.Audit.Private) > 0 {
		return adapter.Erased{}, &adapter.Invalid{What: "an erasure names a patient, a time and an audit row of the patient without private data"}
	}
	if err := e.Audit.Check(); err != nil {
		return adapter.Erased{}, err
	}
	var out adapter.Erased
	err := s.write(ctx, []string{patientLock(e.Patient), Alone}, func(tx Tx) error {
		out = adapter.Erased{}
		var n, newest int64
		err := each(ctx, tx.Query, func(r Rows) error { return r.Scan(&n, &newest) },
			"SELECT COUNT(*), COALESCE(MAX(at), 0) FROM ("+entries+") e WHERE patient = $1", e.Patient)
		if err != nil {
			return err
		}
		if n == 0 {
			return &adapter.NotFound{Kind: "patient", ID: e.Patient}
		}
		if newest >= micros(e.Before) {
			return &adapter.Retained{}
		}
		for _, c := range []struct {
			to  *int64
			sql string
		}{
			{&out.Documents, "SELECT COUNT(*) FROM document_patient p WHERE p.patient = $1 AND NOT EXISTS (SELECT 1 FROM document_patient o WHERE o.document = p.document AND o.patient <> p.patient)"},
			{&out.Shared, "SELECT COUNT(*) FROM document_patient p WHERE p.patient = $1 AND EXISTS (SELECT 1 FROM document_patient o WHERE o.document = p.document AND o.patient <> p.patient)"},
			{&out.Resources, "SELECT COALESCE(SUM(members), 0) FROM shelf WHERE patient = $1"},
			{&out.Orders, "SELECT COUNT(*) FROM order_head WHERE patient = $1"},
			{&out.Worksheets, "SELECT COUNT(*) FROM worksheet WHERE key IN (SELECT key FROM order_head WHERE patient = $1)"},
			{&out.Messages, "SELECT COUNT(*) FROM outbox WHERE patient = $1"},
		} {
			if err := each(ctx, tx.Query, func(r Rows) error { return r.Scan(c.to) }, c.sql, e.Patient); err != nil {
				return err
			}
		}
		var list statements
		if list, out.Tasks, err = s.emptied(ctx, tx, e.Patient); err != nil {
			return err
		}
		return tx.Run(ctx, append(list, erasure(e)...))
	})
	if err != nil {
		return adapter.Erased{}, err
	}
	s.lately.Purge()
	s.hints.Purge()
	return out, s.b.Forget(ctx)
}

// emptied takes away what the shelves of a patient are found by, and counts
// the tasks on them.
func (s *Store) emptied(ctx context.Context, tx Tx, patient string) (out statements, tasks int64, err error) {
	var places []place
	err = each(ctx, tx.Query, func(r Rows) error {
		h, err := scanShelf(r)
		if err != nil {
			return err
		}
		for _, m := range h.members {
			if m.typ == "Task" {
				tasks++
			}
			places = append(places, place{placeOf(m.typ, m.id), h.number})
		}
		one := &shelving{shelf: h, number: h.number, before: h.rows()}
		one.shelf = &shelf{}
		out.values(one)
		return nil
	}, shelfColumns+"patient = $1 ORDER BY n", patient)
	if err != nil {
		return nil, 0, err
	}
	without, err := unplaced(ctx, tx, places)
	return append(out, without...), tasks, err
}

func erasure(e adapter.Erasure) []Statement {
	var s statements
	for _, sql := range []string{
		"DELETE FROM worksheet WHERE key IN (SELECT key FROM order_head WHERE patient = $1)",
		"DELETE FROM order_version WHERE key IN (SELECT key FROM order_head WHERE patient = $1)",
		"DELETE FROM order_head WHERE patient = $1",
		"DELETE FROM patient_case WHERE patient = $1",
		"DELETE FROM outbox WHERE patient = $1",
		"DELETE FROM work WHERE patient = $1",
		"DELETE FROM reply WHERE patient = $1",
		"DELETE FROM feed_line WHERE patient = $1",
		"DELETE FROM identifier WHERE shelf IN (SELECT n FROM shelf WHERE patient = $1)",
		"DELETE FROM shelf WHERE patient = $1", // with what is past
		`DELETE FROM document WHERE id IN (SELECT p.document FROM document_patient p WHERE p.patient = $1 AND NOT EXISTS
			(SELECT 1 FROM document_patient o WHERE o.document = p.document AND o.patient <> p.patient))`,
		"DELETE FROM document_patient WHERE patient = $1",
	} {
		s.add("erase", -1, &adapter.Invalid{What: "an erasure that the record does not allow"}, sql, e.Patient)
	}
	s.add("erase", -1, nil, "DELETE FROM feed_memory") // sums of the patient's lines, too: the next feed is read in full
	s.add("erase", -1, nil, "UPDATE audit SET private = $2 WHERE patient = $1", e.Patient, []byte{})
	s.audit(e.Audit)
	return s
}
