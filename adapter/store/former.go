package store

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/binary"
	"maps"
	"slices"

	"github.com/pressly/goose/v3"

	"weir.example/weir/adapter"
)

// Until schema 3 a resource was a row of its own. formerStep is the step that
// puts these rows on shelves, as a program must: SQL cannot compress.
const formerStep = 4

// Until schema 6 each place was a row of its own. placesStep is the step that
// makes them one run: their order is that of the hashes.
const placesStep = 8

// Former are these steps. Number makes of the parameters of a statement what the
// database takes; after is said at the end.
func Former(number func(string) string, after string) goose.ProviderOption {
	up := func(ctx context.Context, tx *sql.Tx) error {
		m := &moving{ctx: ctx, tx: tx, number: number}
		if err := m.all(); err != nil {
			return err
		}
		for _, t := range []string{"former_value", "former_identifier", "former_version", "former_resource"} {
			if err := m.do("DROP TABLE " + t); err != nil {
				return err
			}
		}
		if after == "" {
			return nil
		}
		return m.do(after)
	}
	places := func(ctx context.Context, tx *sql.Tx) error {
		return (&moving{ctx: ctx, tx: tx, number: number}).places()
	}
	return goose.WithGoMigrations(goose.NewGoMigration(formerStep, &goose.GoFunc{RunTx: up}, nil),
		goose.NewGoMigration(placesStep, &goose.GoFunc{RunTx: places}, nil))
}

// formerPlace is a place as a row of its own; its first bytes are the hash.
func formerPlace(typ, id string) []byte {
	sum := sha256.Sum256([]byte(typ + "/" + id))
	return sum[:16]
}

func (m *moving) places() error {
	w := runWriter{tier: 1}
	write := func(list statements) error {
		for _, s := range list {
			if err := m.do(s.SQL, s.Args...); err != nil {
				return err
			}
		}
		return nil
	}
	for last, rows := []byte{}, 1; rows > 0; {
		rows = 0
		err := m.each(func(r *sql.Rows) error {
			var shelf int64
			if err := r.Scan(&last, &shelf); err != nil {
				return err
			}
			rows++
			w.add(place{binary.BigEndian.Uint64(last), shelf})
			return nil
		}, "SELECT place, shelf FROM resource WHERE place > $1 ORDER BY place LIMIT 4096", last)
		if err == nil {
			err = write(w.take())
		}
		if err != nil {
			return err
		}
	}
	if w.count > 0 {
		if err := write(w.end()); err != nil {
			return err
		}
	}
	return m.do("DROP TABLE resource")
}

type moving struct {
	ctx    context.Context
	tx     *sql.Tx
	number func(string) string
	next   int64
}

func (m *moving) do(text string, args ...any) error {
	_, err := m.tx.ExecContext(m.ctx, m.number(text), args...)
	return err
}

func (m *moving) each(scan func(*sql.Rows) error, text string, args ...any) (err error) {
	rows, err := m.tx.QueryContext(m.ctx, m.number(text), args...)
	if err != nil {
		return err
	}
	defer func() {
		if closed := rows.Close(); err == nil {
			err = closed
		}
	}()
	for rows.Next() {
		if err := scan(rows); err != nil {
			return err
		}
	}
	return rows.Err()
}

func (m *moving) all() error {
	var patients []string
	err := m.each(func(r *sql.Rows) error {
		var p string
		err := r.Scan(&p)
		patients = append(patients, p)
		return err
	}, "SELECT DISTINCT patient FROM former_resource ORDER BY patient")
	if err != nil {
		return err
	}
	for _, p := range patients {
		if err := m.patient(p); err != nil {
			return err
		}
	}
	return nil
}

// former is one resource with its earlier versions, oldest first.
type former struct {
	adapter.Resource
	own  bool
	past []member
}

func (m *moving) patient(patient string) error {
	var list []former
	err := m.each(func(r *sql.Rows) error {
		f := former{Resource: adapter.Resource{Patient: patient}}
		var created, own int64
		err := r.Scan(&f.Type, &f.ID, &f.Version, &created, &own)
		f.Created, f.own = instant(created), own == 1
		list = append(list, f)
		return err
	}, "SELECT type, id, version, created, own FROM former_resource WHERE patient = $1 ORDER BY type, id", patient)
	if err != nil {
		return err
	}
	h := &shelving{shelf: &shelf{patient: patient, values: map[sought]bits{}}}
	var past [][]member
	var places [][]byte
	for i := range list {
		f := &list[i]
		if err := m.read(f); err != nil {
			return err
		}
		if patient == "" {
			h.label = f.Type + "/" + f.ID
		}
		slot := len(h.members)
		h.put(slot, f.Resource, f.Created)
		if f.own {
			own := sought{typ: f.Type, name: itself}
			h.values[own] = h.values[own].with(slot)
		}
		places = append(places, formerPlace(f.Type, f.ID))
		if err := m.identifiers(f, int64(slot)); err != nil {
			return err
		}
		past = append(past, f.past)
		if patient == "" || h.full() || i == len(list)-1 {
			if err := m.write(h, past, places); err != nil {
				return err
			}
			h, past = &shelving{shelf: &shelf{patient: patient, part: h.part + 1, values: map[sought]bits{}}}, nil
			places = nil
			if patient == "" {
				h.part = 0
			}
		}
	}
	return nil
}

// read brings the contents and the values of a resource.
func (m *moving) read(f *former) error {
	err := m.each(func(r *sql.Rows) error {
		one := member{typ: f.Type, id: f.ID, created: micros(f.Created)}
		var source sql.NullString
		if err := r.Scan(&one.version, &one.updated, &source, &one.json); err != nil {
			return err
		}
		one.source = source.String
		var err error
		if one.json, err = unsqueeze(one.json); err != nil {
			return &adapter.Damaged{Kind: "resource", ID: f.ID}
		}
		if one.version < f.Version {
			f.past = append(f.past, one)
			return nil
		}
		f.Updated, f.Source, f.JSON = instant(one.updated), one.source, one.json
		return nil
	}, "SELECT version, updated, document, body FROM former_version WHERE type = $1 AND id = $2 ORDER BY version", f.Type, f.ID)
	if err != nil {
		return err
	}
	return m.each(func(r *sql.Rows) error {
		var v adapter.Value
		var low, high int64
		err := r.Scan(&v.Name, &v.Text, &low, &high, &v.System)
		v.Low, v.High = instant(low), instant(high)
		f.Values = append(f.Values, v)
		return err
	}, "SELECT name, text, low, high, system FROM former_value WHERE type = $1 AND id = $2", f.Type, f.ID)
}

func (m *moving) identifiers(f *former, slot int64) error {
	var rows [][]any
	err := m.each(func(r *sql.Rows) error {
		var system, value string
		var once int64
		err := r.Scan(&system, &value, &once)
		rows = append(rows, []any{f.Type, value, system, m.next + 1, slot, once})
		return err
	}, "SELECT system, value, once FROM former_identifier WHERE type = $1 AND id = $2", f.Type, f.ID)
	for _, row := range rows {
		if err == nil {
			err = m.do("INSERT INTO identifier(type,value,system,shelf,slot,once) VALUES ($1,$2,$3,$4,$5,$6)", row...)
		}
	}
	return err
}

// write writes a shelf. Earlier versions go where the last of each resource
// is the last that was replaced.
func (m *moving) write(h *shelving, past [][]member, places [][]byte) error {
	m.next++
	deep := 0
	for _, p := range past {
		deep = max(deep, len(p))
	}
	if err := m.do("INSERT INTO shelf(n,version,patient,label,part,updated,members,body) VALUES ($1,$2,$3,$4,$5,$6,$7,$8)",
		m.next, int64(deep+1), h.patient, h.label, h.part, h.updated(), int64(len(h.members)), h.encode()); err != nil {
		return err
	}
	for step := range deep {
		var old shelf
		for _, p := range past {
			if i := step - (deep - len(p)); i >= 0 {
				old.members = append(old.members, p[i])
				old.size += len(p[i].json)
			}
		}
		if err := m.do("INSERT INTO shelf_past(shelf,version,body) VALUES ($1,$2,$3)", m.next, int64(step+2), old.encode()); err != nil {
			return err
		}
	}
	for _, p := range places {
		if err := m.do("INSERT INTO resource(place,shelf) VALUES ($1,$2)", p, m.next); err != nil {
			return err
		}
	}
	rows := h.rows()
	for _, v := range slices.SortedFunc(maps.Keys(rows), compareSought) {
		param, text, low, high, system := v.row()
		if err := m.do("INSERT INTO search_value(param,text,low,high,shelf,system,bits) VALUES ($1,$2,$3,$4,$5,$6,$7)",
			param, text, low, high, m.next, system, []byte(rows[v])); err != nil {
			return err
		}
	}
	return nil
}
