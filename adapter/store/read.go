package store

import (
	"cmp"
	"context"
	"crypto/sha256"
	"errors"
	"slices"

	"weir.example/weir/adapter"
)

// each calls scan for every row of an answer.
func each(ctx context.Context, query queryFunc, scan func(Rows) error, sql string, args ...any) error {
	rows, err := query(ctx, sql, args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		if err := scan(rows); err != nil {
			return err
		}
	}
	return rows.Err()
}

// one reads a single row, *NotFound when there is none.
func (s *Store) one(ctx context.Context, kind, id string, scan func(Rows) error, sql string, args ...any) error {
	found := false
	err := each(ctx, s.b.Query, func(r Rows) error { found = true; return scan(r) }, sql, args...)
	if err == nil && !found {
		return &adapter.NotFound{Kind: kind, ID: id}
	}
	return err
}

// on opens the shelf that a resource is on, and says in which slot. The shelf
// is only read.
func (s *Store) on(ctx context.Context, query queryFunc, typ, id string) (*shelf, int, error) {
	// What lay on one shelf is often read together: who asks for the next
	// resource of an order need not ask the runs again.
	hint, hinted := s.hints.Get(placeOf(typ, id))
	if hinted {
		if h, slot, err := s.onOne(ctx, query, hint, typ, id); err != nil || h != nil {
			return h, slot, err
		}
	}
	numbers, err := s.whereIs(ctx, query, typ, id)
	if err != nil {
		return nil, 0, err
	}
	for _, number := range numbers {
		if h, slot, err := s.onOne(ctx, query, number, typ, id); err != nil || h != nil {
			return h, slot, err
		}
	}
	return nil, 0, &adapter.NotFound{Kind: typ, ID: id}
}

// onOne opens a shelf when the resource is on it, and gives nil otherwise.
func (s *Store) onOne(ctx context.Context, query queryFunc, number int64, typ, id string) (*shelf, int, error) {
	var found shelf
	err := each(ctx, query, func(r Rows) error { return r.Scan(&found.number, &found.version, &found.patient) },
		"SELECT n, version, patient FROM shelf WHERE n = $1", number)
	if err != nil || found.number == 0 {
		return nil, 0, err
	}
	h := s.kept(found)
	if h == nil {
		if h, err = s.shelf(ctx, query, "n = $1", found.number); err != nil || h == nil {
			return nil, 0, err
		}
		for _, m := range h.members {
			s.hints.Add(placeOf(m.typ, m.id), h.number)
		}
	}
	s.lately.Add(h.number, h)
	if slot := h.slot(typ, id); slot >= 0 {
		return h, slot, nil
	}
	return nil, 0, nil
}

// kept gives a shelf that was opened lately and is as it was, nil for none. A
// number is never given to another shelf, and a version is never made twice.
func (s *Store) kept(as shelf) *shelf {
	h, ok := s.lately.Get(as.number)
	if !ok || h.version != as.version || h.patient != as.patient {
		return nil
	}
	return h
}

// missing says that nothing of that name is stored.
func missing(err error) bool {
	var none *adapter.NotFound
	return errors.As(err, &none)
}

// Get reads the current version of a resource.
func (s *Store) Get(ctx context.Context, typ, id string) (adapter.Resource, error) {
	h, slot, err := s.on(ctx, s.b.Query, typ, id)
	if err != nil {
		return adapter.Resource{}, err
	}
	return h.resource(slot), nil
}

// Version reads one version of a resource.
func (s *Store) Version(ctx context.Context, typ, id string, version int64) (out adapter.Resource, err error) {
	found := false
	err = s.versions(ctx, typ, id, func(r adapter.Resource) bool {
		if r.Version == version {
			out, found = r, true
		}
		return r.Version > version
	})
	if err == nil && !found {
		err = &adapter.NotFound{Kind: typ, ID: id}
	}
	return out, err
}

// versions gives the versions of a resource, newest first, as long as they
// are wanted. All are of one moment.
func (s *Store) versions(ctx context.Context, typ, id string, yield func(adapter.Resource) bool) error {
	return s.b.Snapshot(ctx, func(tx Tx) error {
		h, slot, err := s.on(ctx, tx.Query, typ, id)
		if err != nil {
			return err
		}
		if !yield(h.resource(slot)) {
			return nil
		}
		// A shelf is replaced as often as anything on it: few have many versions.
		next, last := int64(1)<<62, h.members[slot].version
		for last > 1 {
			var rows int
			more := true
			err := each(ctx, tx.Query, func(r Rows) error {
				rows++
				var body []byte
				if err := r.Scan(&next, &body); err != nil || !more {
					return err
				}
				old := shelf{}
				if err := old.decode(body); err != nil {
					return &adapter.Damaged{Kind: "resources"}
				}
				if i := old.slot(typ, id); i >= 0 {
					last = old.members[i].version
					more = yield(old.members[i].resource(h.patient))
				}
				return nil
			}, "SELECT version, body FROM shelf_past WHERE shelf = $1 AND version < $2 ORDER BY version DESC LIMIT 100", h.number, next)
			if err != nil || !more || rows == 0 {
				return err
			}
		}
		return nil
	})
}

// History reads the versions of a resource, newest first.
func (s *Store) History(ctx context.Context, typ, id string, p adapter.Page) (adapter.Slice, error) {
	ask := question("history", typ, id)
	at, limit, err := s.page(p, ask, position{Number: 1 << 62})
	if err != nil {
		return adapter.Slice{}, err
	}
	var out adapter.Slice
	err = s.versions(ctx, typ, id, func(r adapter.Resource) bool {
		if r.Version < at.Number {
			out.Resources = append(out.Resources, r)
		}
		return len(out.Resources) <= int(limit)
	})
	if missing(err) && p.After != "" {
		return adapter.Slice{}, nil // erased meanwhile
	}
	if err != nil {
		return adapter.Slice{}, err
	}
	if n := int(limit); len(out.Resources) > n {
		out.Resources = out.Resources[:n]
		out.Next = s.seal.close(position{Number: out.Resources[n-1].Version}, ask)
	}
	return out, nil
}

// page opens a page's cursor; first is where a list begins.
func (s *Store) page(p adapter.Page, ask []byte, first position) (position, int64, error) {
	if p.Limit < 1 || p.Limit > 1000 {
		return first, 0, &adapter.Invalid{What: "a page has 1 to 1000 entries"}
	}
	if p.After == "" {
		return first, int64(p.Limit), nil
	}
	at, err := s.seal.open(p.After, ask)
	return at, int64(p.Limit), err
}

// ByIdentifier reads the current resources of a type with an identifier.
func (s *Store) ByIdentifier(ctx context.Context, typ string, i adapter.Identity) (out []adapter.Resource, err error) {
	// By one statement, so that what is found is of the same moment.
	err = each(ctx, s.b.Query, func(r Rows) error {
		var slot int64
		h, err := scanShelf(r, &slot)
		if err == nil && int(slot) < len(h.members) {
			out = append(out, h.resource(int(slot)))
		}
		return err
	}, "SELECT i.slot, s.n, s.version, s.patient, s.label, s.part, s.body FROM identifier i JOIN shelf s ON s.n = i.shelf WHERE i.type = $1 AND i.system = $2 AND i.value = $3 LIMIT 1000",
		typ, i.System, i.Value)
	if err != nil {
		return nil, err
	}
	if id, ok := ownID(i.System, i.Value); ok {
		h, slot, err := s.on(ctx, s.b.Query, typ, id)
		switch {
		case err == nil && h.values[sought{typ: typ, name: itself}].has(slot):
			out = append(out, h.resource(slot))
		case err != nil && !missing(err):
			return nil, err
		}
	}
	slices.SortStableFunc(out, func(a, b adapter.Resource) int {
		return cmp.Or(a.Created.Compare(b.Created), cmp.Compare(a.ID, b.ID))
	})
	return out[:min(len(out), 100)], nil
}

// Document reads a document as received and compares its hash.
func (s *Store) Document(ctx context.Context, id string) (adapter.Received, error) {
	out := adapter.Received{ID: id}
	err := s.one(ctx, "document", id, func(r Rows) error {
		var at int64
		var sum, body []byte
		if err := r.Scan(&sum, &at, &out.Media, &body); err != nil {
			return err
		}
		var err error
		if out.Bytes, err = unpack(body); err != nil || len(sum) != 32 || sha256.Sum256(out.Bytes) != [32]byte(sum) {
			return &adapter.Damaged{Kind: "document", ID: id}
		}
		out.SHA256, out.At = [32]byte(sum), instant(at)
		return nil
	}, "SELECT sha256, received, media, body FROM document WHERE id = $1", id)
	if err != nil {
		return adapter.Received{}, err
	}
	err = each(ctx, s.b.Query, func(r Rows) error {
		var p string
		err := r.Scan(&p)
		out.Patients = append(out.Patients, p)
		return err
	}, "SELECT patient FROM document_patient WHERE document = $1 ORDER BY patient", id)
	return out, err
}

// open unpacks a stored body.
func open(kind, id string, body []byte) ([]byte, error) {
	out, err := unpack(body)
	if err != nil {
		return nil, &adapter.Damaged{Kind: kind, ID: id}
	}
	return out, nil
}

// Case reads a patient's case as it was stored; see adapter.UpgradeCase.
func (s *Store) Case(ctx context.Context, patient string) (adapter.StoredCase, error) {
	out := adapter.StoredCase{Patient: patient}
	err := s.one(ctx, "case", patient, func(r Rows) error {
		var updated, schema int64
		err := r.Scan(&out.Version, &schema, &updated, &out.JSON)
		if err == nil {
			out.JSON, err = open("case", patient, out.JSON)
		}
		out.Schema, out.Updated = int(schema), instant(updated)
		return err
	}, "SELECT version, schema, updated, body FROM patient_case WHERE patient = $1", patient)
	return out, err
}

// Worksheets reads the worksheets of an order, newest first.
func (s *Store) Worksheets(ctx context.Context, key string, limit int) ([]adapter.StoredSheet, error) {
	var out []adapter.StoredSheet
	err := each(ctx, s.b.Query, func(r Rows) error {
		w := adapter.StoredSheet{Key: key}
		var made int64
		err := r.Scan(&w.ID, &w.Number, &w.Stage, &w.Verdict, &made, &w.Patient, &w.JSON)
		if err == nil {
			w.JSON, err = open("worksheet", w.ID, w.JSON)
		}
		w.Made = instant(made)
		out = append(out, w)
		return err
	}, "SELECT id, number, stage, verdict, made, patient, body FROM worksheet WHERE key = $1 ORDER BY made DESC, id DESC LIMIT $2", key, int64(limit))
	return out, err
}

// Unsent reads messages not yet sent.
func (s *Store) Unsent(ctx context.Context, limit int) ([]adapter.Message, error) {
	var out []adapter.Message
	err := each(ctx, s.b.Query, func(r Rows) error {
		var m adapter.Message
		var made int64
		err := r.Scan(&m.ID, &m.Kind, &m.Target, &m.Patient, &made, &m.Body)
		if err == nil {
			m.Body, err = open("message", m.ID, m.Body)
		}
		m.Made = instant(made)
		out = append(out, m)
		return err
	}, "SELECT id, kind, target, patient, made, body FROM outbox WHERE sent = 0 ORDER BY made, id LIMIT $1", int64(limit))
	return out, err
}

// Unfinished reads background work not yet done.
func (s *Store) Unfinished(ctx context.Context, limit int) ([]adapter.Queued, error) {
	var out []adapter.Queued
	err := each(ctx, s.b.Query, func(r Rows) error {
		var q adapter.Queued
		var made int64
		err := r.Scan(&q.ID, &q.Kind, &q.Patient, &made, &q.Body)
		if err == nil {
			q.Body, err = open("work", q.ID, q.Body)
		}
		q.Made = instant(made)
		out = append(out, q)
		return err
	}, "SELECT id, kind, patient, made, body FROM work WHERE done = 0 ORDER BY made, id LIMIT $1", int64(limit))
	return out, err
}

// Reply reads a stored answer.
func (s *Store) Reply(ctx context.Context, key string) (adapter.Reply, error) {
	out := adapter.Reply{Key: key}
	err := s.one(ctx, "reply", key, func(r Rows) error {
		var made, status int64
		var sum []byte
		err := r.Scan(&sum, &status, &out.Patient, &made, &out.Body)
		if err == nil && len(sum) != 32 {
			return &adapter.Damaged{Kind: "reply", ID: key}
		}
		if err == nil {
			out.Body, err = open("reply", key, out.Body)
			out.SHA256 = [32]byte(sum)
		}
		out.Status, out.Made = int(status), instant(made)
		return err
	}, "SELECT sha256, status, patient, made, body FROM reply WHERE key = $1", key)
	return out, err
}
