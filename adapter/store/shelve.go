package store

import (
	"bytes"
	"cmp"
	"context"
	"maps"
	"slices"

	"weir.example/weir/adapter"
)

// The resources of an effect are put on their shelves before the transaction
// begins; the transaction writes the shelves if they are still what they were,
// and otherwise it is all done anew.

// Again says that a transaction is to be begun anew, from what is stored now.
type Again struct{ What string }

func (e *Again) Error() string { return e.What }

var errStale = &Again{"a shelf was changed meanwhile"}

// shelving is one shelf that an effect writes.
type shelving struct {
	*shelf
	fresh  bool
	number any             // of the shelf, or nth while it has none
	before map[sought]bits // rows of search_value
	past   shelf           // what is replaced
	added  []uint64        // hashes of the places of new resources
	slots  map[int]adapter.Resource
}

// nth stands for the number that the n-th new shelf of an effect will get.
type nth int64

// shelve opens the shelves of an effect and puts its resources on them.
func (s *Store) shelve(ctx context.Context, e adapter.Effect) ([]*shelving, error) {
	list := slices.Clone(e.Resources)
	slices.SortFunc(list, func(a, b adapter.Resource) int {
		return cmp.Or(cmp.Compare(a.Type, b.Type), cmp.Compare(a.ID, b.ID))
	})
	w := shelves{Store: s, ctx: ctx, of: map[string]*shelving{}, open: map[int64]*shelving{}, seen: map[string]*shelf{}}
	for _, r := range list {
		if r.Version > 1 {
			if err := w.replace(r); err != nil {
				return nil, err
			}
		}
	}
	for _, r := range list {
		if r.Version == 1 {
			if err := w.add(r, e); err != nil {
				return nil, err
			}
		}
	}
	// In one order for all, so that two effects wait for each other only once.
	slices.SortStableFunc(w.list, func(a, b *shelving) int {
		if a.fresh != b.fresh {
			return map[bool]int{true: 1, false: -1}[a.fresh]
		}
		return cmp.Compare(a.shelf.number, b.shelf.number)
	})
	return w.list, nil
}

type shelves struct {
	*Store
	ctx  context.Context
	list []*shelving
	of   map[string]*shelving // by patient and label, the last part
	open map[int64]*shelving
	seen map[string]*shelf // by patient and label, the last part as it is stored; nil for none
	made int
}

// labelOf is what a shelf of such resources is for: an order, or what was
// received of one patient, or one resource that is nobody's.
func labelOf(r adapter.Resource) string {
	if r.Patient == "" {
		return r.Type + "/" + r.ID
	}
	return r.Order
}

func keyOf(r adapter.Resource) string { return r.Patient + "\x00" + labelOf(r) }

// last is the last shelf that such resources are on, nil for none.
func (w *shelves) last(r adapter.Resource) (*shelf, error) {
	key := keyOf(r)
	one, asked := w.seen[key]
	if asked {
		return one, nil
	}
	one, err := w.shelf(w.ctx, w.b.Query, "patient = $1 AND label = $2 ORDER BY part DESC LIMIT 1", r.Patient, labelOf(r))
	if err == nil {
		w.seen[key] = one
	}
	return one, err
}

// replace puts a resource where its version before is.
func (w *shelves) replace(r adapter.Resource) error {
	conflict := &adapter.Conflict{Kind: r.Type, ID: r.ID, Expected: r.Version - 1}
	h, slot, err := w.holder(r)
	if err != nil {
		return err
	}
	if h == nil {
		return conflict
	}
	m := h.members[slot]
	if m.version != r.Version-1 || h.patient != r.Patient {
		return conflict
	}
	h.past.members = append(h.past.members, m)
	h.past.size += len(m.json)
	h.put(slot, r, r.Created)
	h.slots[slot] = r
	return nil
}

// holder opens the shelf that a resource is on, nil for none. Nearly always it
// is the last of its label; no place has to be looked for then.
func (w *shelves) holder(r adapter.Resource) (*shelving, int, error) {
	one, err := w.last(r)
	if err != nil {
		return nil, 0, err
	}
	if one != nil {
		if slot := one.slot(r.Type, r.ID); slot >= 0 {
			return w.taken(one), slot, nil
		}
	}
	list, err := w.whereIs(w.ctx, w.b.Query, r.Type, r.ID)
	for _, number := range list {
		h := w.open[number]
		if h == nil {
			one, err := w.shelf(w.ctx, w.b.Query, "n = $1", number)
			if err != nil {
				return nil, 0, err
			}
			if one == nil || one.slot(r.Type, r.ID) < 0 {
				continue
			}
			h = w.take(one, false)
		}
		if slot := h.slot(r.Type, r.ID); slot >= 0 {
			return h, slot, nil
		}
	}
	return nil, 0, err
}

// add puts a new resource on the last shelf of its label. Who makes an id
// makes it at random, or of the order: the same one comes to the same label.
func (w *shelves) add(r adapter.Resource, e adapter.Effect) error {
	key := keyOf(r)
	h := w.of[key]
	if h == nil {
		one, err := w.last(r)
		if err != nil {
			return err
		}
		if one != nil {
			h = w.taken(one)
		}
	}
	there := h != nil && h.slot(r.Type, r.ID) >= 0
	if h != nil && h.part > 0 && !there {
		_, _, err := w.on(w.ctx, w.b.Query, r.Type, r.ID)
		if err != nil && !missing(err) {
			return err
		}
		there = err == nil
	}
	if there {
		return &adapter.Conflict{Kind: r.Type, ID: r.ID}
	}
	if h == nil || h.full() {
		next := &shelf{patient: r.Patient, label: labelOf(r), values: map[sought]bits{}}
		if h != nil {
			next.part = h.part + 1
		}
		h = w.take(next, true)
	}
	w.of[key] = h
	h.slots[len(h.members)] = r
	h.put(len(h.members), r, e.At)
	h.added = append(h.added, placeOf(r.Type, r.ID))
	return nil
}

// taken takes a stored shelf, once.
func (w *shelves) taken(one *shelf) *shelving {
	if h := w.open[one.number]; h != nil {
		return h
	}
	return w.take(one, false)
}

func (w *shelves) take(one *shelf, fresh bool) *shelving {
	h := &shelving{shelf: one, fresh: fresh, number: one.number, slots: map[int]adapter.Resource{}}
	if fresh {
		h.number = nth(w.made)
		w.made++
	} else {
		w.open[one.number] = h
		h.before = one.rows()
		for v, b := range h.before { // what is put changes bits in place
			h.before[v] = slices.Clone(b)
		}
	}
	w.list = append(w.list, h)
	return h
}

const shelfColumns = "SELECT n, version, patient, label, part, body FROM shelf WHERE "

func scanShelf(r Rows, before ...any) (*shelf, error) {
	out := &shelf{}
	var body []byte
	if err := r.Scan(append(before, &out.number, &out.version, &out.patient, &out.label, &out.part, &body)...); err != nil {
		return nil, err
	}
	if err := out.decode(body); err != nil {
		return nil, &adapter.Damaged{Kind: "resources"}
	}
	return out, nil
}

// shelf opens one shelf, nil when there is none.
func (s *Store) shelf(ctx context.Context, query queryFunc, where string, args ...any) (out *shelf, err error) {
	err = each(ctx, query, func(r Rows) error { out, err = scanShelf(r); return err }, shelfColumns+where, args...)
	return out, err
}

// shelves writes what was shelved.
func (s *statements) shelves(list []*shelving) {
	var shelves, past, values [][]any
	for _, h := range list {
		if h.fresh {
			shelves = append(shelves, []any{h.number, int64(1), h.patient, h.label, h.part, h.updated(), int64(len(h.members)), h.encode()})
		} else {
			s.add("shelf", 1, errStale, "UPDATE shelf SET version=version+1, updated=$1, members=$2, body=$3 WHERE n=$4 AND version=$5",
				h.updated(), int64(len(h.members)), h.encode(), h.number, h.version)
		}
		if len(h.past.members) > 0 {
			past = append(past, []any{h.number, h.version + 1, h.past.encode()})
		}
		values = append(values, s.values(h)...)
	}
	s.addRows("shelf", "INSERT INTO shelf(n,version,patient,label,part,updated,members,body) VALUES ", errStale, shelves)
	s.addRows("shelf_past", "INSERT INTO shelf_past(shelf,version,body) VALUES ", errStale, past)
	s.identifiers(list)
	slices.SortFunc(values, func(a, b []any) int {
		return cmp.Or(cmp.Compare(a[0].(int64), b[0].(int64)), cmp.Compare(a[1].(string), b[1].(string)), cmp.Compare(a[2].(int64), b[2].(int64)), cmp.Compare(a[3].(int64), b[3].(int64)))
	})
	s.addRows("search_value", "INSERT INTO search_value(param,text,low,high,shelf,system,bits) VALUES ", errStale, values)
}

// values gives the new rows of search_value and writes the others.
func (s *statements) values(h *shelving) [][]any {
	var out [][]any
	rows := h.rows()
	for _, v := range slices.SortedFunc(maps.Keys(rows), compareSought) {
		b := rows[v]
		param, text, low, high, system := v.row()
		switch before, there := h.before[v]; {
		case !there:
			out = append(out, []any{param, text, low, high, h.number, system, []byte(b)})
		case !bytes.Equal(before, b):
			s.add("search_value", 1, errStale, "UPDATE search_value SET bits=$7"+thatRow, param, text, low, high, h.number, system, []byte(b))
		}
	}
	for _, v := range slices.SortedFunc(maps.Keys(h.before), compareSought) {
		if _, stays := rows[v]; !stays {
			param, text, low, high, system := v.row()
			s.add("search_value", 1, errStale, "DELETE FROM search_value"+thatRow, param, text, low, high, h.number, system)
		}
	}
	return out
}

const thatRow = " WHERE param=$1 AND text=$2 AND low=$3 AND high=$4 AND shelf=$5 AND system=$6"

// identifiers writes the business identifiers of what is shelved.
func (s *statements) identifiers(list []*shelving) {
	var rows [][]any
	var once statements
	for _, h := range list {
		for slot := range len(h.members) {
			r, ok := h.slots[slot]
			if !ok {
				continue
			}
			if r.Version > 1 {
				s.add("identifier", -1, nil, "DELETE FROM identifier WHERE shelf=$1 AND slot=$2", h.number, int64(slot))
			}
			seen := map[[2]string]bool{}
			for _, i := range r.Identifiers {
				if !i.Once || seen[[2]string{i.System, i.Value}] {
					continue
				}
				seen[[2]string{i.System, i.Value}] = true
				once.add("identifier", 1, &adapter.Duplicate{Kind: "identifier", Type: r.Type},
					`INSERT INTO identifier(type,system,value,shelf,slot,once)
				SELECT CAST($1 AS TEXT),CAST($2 AS TEXT),CAST($3 AS TEXT),CAST($4 AS BIGINT),CAST($5 AS BIGINT),1 WHERE NOT EXISTS
				(SELECT 1 FROM identifier WHERE type=$1 AND system=$2 AND value=$3 AND NOT (shelf=$4 AND slot=$5))`+unlessThere,
					r.Type, i.System, i.Value, h.number, int64(slot))
			}
			for _, i := range r.Identifiers {
				if !seen[[2]string{i.System, i.Value}] && !isOwn(r.ID, i) {
					seen[[2]string{i.System, i.Value}] = true
					rows = append(rows, []any{r.Type, i.System, i.Value, h.number, int64(slot), int64(0)})
				}
			}
		}
	}
	s.addRows("identifier", "INSERT INTO identifier(type,system,value,shelf,slot,once) VALUES ", &adapter.Duplicate{Kind: "identifier"}, rows)
	*s = append(*s, once...)
}

// numbered puts the numbers of new shelves in the place of what stands for
// them.
func numbered(list []Statement, numbers []int64) []Statement {
	out := slices.Clone(list)
	for i := range out {
		copied := false
		for j, a := range out[i].Args {
			if n, ok := a.(nth); ok {
				if !copied {
					out[i].Args, copied = slices.Clone(out[i].Args), true
				}
				out[i].Args[j] = numbers[n]
			}
		}
	}
	return out
}
