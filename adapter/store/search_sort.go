package store

import (
	"maps"
	"slices"

	"weir.example/weir/adapter"
)

// sorted gives the next resources in the order of a value. Those without one
// come last.
func (f finding) sorted(q adapter.Query, at position, later bool, limit int) ([]placed, error) {
	if q.Sort.Name == written && !slices.ContainsFunc(q.All, known) {
		return f.byWriting(q, at, later, limit)
	}
	found := hits{}
	if err := f.each(q.All, position{}, false, func(h hit) bool { found[h.shelf] = h.bits; return true }); err != nil {
		return nil, err
	}
	list, err := f.keyed(found, q.Sort)
	if err != nil {
		return nil, err
	}
	order := comparePlaced
	if q.Sort.Descending {
		order = func(a, b placed) int { return comparePlaced(b, a) }
	}
	if later {
		end := placed{at.Shelf, int(at.Weight), at.Text, at.Number}
		list = slices.DeleteFunc(list, func(p placed) bool { return order(p, end) <= 0 })
	}
	slices.SortFunc(list, order)
	return list[:min(len(list), limit)], nil
}

// byWriting is the order of _lastUpdated, which every resource has once: its
// rows are walked in steps, so that a page costs what is on it.
func (f finding) byWriting(q adapter.Query, at position, later bool, limit int) (out []placed, err error) {
	*f.opens = mostOpens
	first := map[int]hits{}
	for size := window; len(out) < limit; size = min(size*2, mostRows) {
		step, err := f.writings(q, at, later, size)
		if err != nil || len(step) == 0 {
			return out, err
		}
		found := hits{}
		for _, w := range step {
			found.add(w.shelf, w.bits)
		}
		if err := f.narrow(found, q.All, first); err != nil {
			return nil, err
		}
		for _, w := range step {
			var list []placed
			for slot := range w.bits.and(found[w.shelf]).slots() {
				one := placed{shelf: w.shelf, slot: slot, number: w.at}
				if order := comparePlaced(one, placed{at.Shelf, int(at.Weight), "", at.Number}); !later || order > 0 && !q.Sort.Descending || order < 0 && q.Sort.Descending {
					list = append(list, one)
				}
			}
			if q.Sort.Descending {
				slices.Reverse(list)
			}
			out = append(out, list...)
		}
		// The next step begins behind the last row, whatever of it was taken.
		last := step[len(step)-1]
		at, later = position{Number: last.at, Shelf: last.shelf, Weight: 1 << 30}, true
		if q.Sort.Descending {
			at.Weight = -1
		}
	}
	return out[:min(len(out), limit)], nil
}

// writing is one row: what of a shelf was written at one time.
type writing struct {
	at, shelf int64
	bits      bits
}

// writings reads the next rows from a position on, its own among them.
func (f finding) writings(q adapter.Query, at position, later bool, size int) (out []writing, err error) {
	var t text
	t.add("SELECT v.low, v.shelf, v.bits FROM search_value v WHERE v.param = ", t.arg(brief(f.typ, written)), " AND v.text = ''")
	order, sign := "", ">="
	if q.Sort.Descending {
		order, sign = " DESC", "<="
	}
	if later {
		if at.Weight < 0 || at.Weight == 1<<30 {
			sign = sign[:1] // the row is done with
		}
		t.add(" AND (v.low, v.high, v.shelf) ", sign, " (", t.arg(at.Number), ", ", t.arg(at.Number+1), ", ", t.arg(at.Shelf), ")")
	}
	t.add(" ORDER BY v.low", order, ", v.high", order, ", v.shelf", order, " LIMIT ", t.arg(int64(size)))
	err = each(f.ctx, f.query, func(r Rows) error {
		var w writing
		var b []byte
		err := r.Scan(&w.at, &w.shelf, &b)
		w.bits = b
		out = append(out, w)
		return err
	}, t.String(), t.args...)
	return out, err
}

// keyed gives resources with what they are sorted by.
func (f finding) keyed(found hits, o adapter.Sort) ([]placed, error) {
	list := found.places()
	at := map[[2]int64]int{}
	for i, p := range list {
		at[[2]int64{p.shelf, int64(p.slot)}] = i
	}
	if o.Name == "_id" {
		return list, f.opened(slices.Sorted(maps.Keys(found)), func(h *shelf) {
			for slot := range found[h.number].slots() {
				list[at[[2]int64{h.number, int64(slot)}]].text = h.members[slot].id
			}
		})
	}
	name := o.Name
	byTime := o.ByTime || name == written
	had := make([]bool, len(list))
	note := func(n int64, b bits, v sought) {
		for slot := range b.and(found[n]).slots() {
			i := at[[2]int64{n, int64(slot)}]
			key := placed{shelf: n, slot: slot, text: v.text, number: v.low}
			if byTime && o.Descending {
				key.number = v.high
			}
			if byTime {
				key.text = ""
			} else {
				key.number = 0
			}
			if order := comparePlaced(key, list[i]); !had[i] || order < 0 && !o.Descending || order > 0 && o.Descending {
				list[i], had[i] = key, true
			}
		}
	}
	var look []int64
	for _, part := range over(found).parts() {
		var q text
		q.add("SELECT v.shelf, v.text, v.low, v.high, v.bits FROM search_value v WHERE v.param = ", q.arg(brief(f.typ, name)))
		part.where(&q, "v.shelf")
		err := each(f.ctx, f.query, func(r Rows) error {
			var n int64
			var v sought
			var b []byte
			err := r.Scan(&n, &v.text, &v.low, &v.high, &b)
			if v.low > v.high {
				look = append(look, n)
			} else {
				note(n, b, v)
			}
			return err
		}, q.String(), q.args...)
		if err != nil {
			return nil, err
		}
	}
	if len(look) > 0 {
		slices.Sort(look)
		if err := f.opened(slices.Compact(look), func(h *shelf) {
			for v, b := range h.values {
				if v.typ == f.typ && v.name == name {
					note(h.number, b, v)
				}
			}
		}); err != nil {
			return nil, err
		}
	}
	for i := range list {
		if had[i] {
			continue
		}
		switch {
		case o.Descending && byTime:
			list[i].number = -9000000000000000000
		case o.Descending:
		case byTime:
			list[i].number = 9000000000000000000
		default:
			list[i].text = "\U0010FFFD"
		}
	}
	return list, nil
}
