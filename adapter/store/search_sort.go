package store

import (
	"maps"
	"slices"

	"weir.example/weir/adapter"
)

// sorted gives the next resources in the order of a value. Those without one
// come last.
func (f finding) sorted(q adapter.Query, at position, later bool, limit int) ([]placed, error) {
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
