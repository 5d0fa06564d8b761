package store

import (
	"maps"
	"slices"
	"strings"

	"weir.example/weir/adapter"
)

// window is how many rows are looked at in the first step of a walk; the next
// are larger.
const window = 64

const mostRows = 1024

// each walks over the shelves with resources that meet every criterion, in
// the order of their numbers from that of a position on, or down from it. It
// begins with criteria that few resources meet, where there are any (what was
// written lately is taken as such: it is how a client asks for news); without
// one it goes through the rows of the first in steps, so that a page costs
// what is on it, and not what is in the store.
func (f finding) each(all []adapter.Criterion, at position, down bool, yield func(hit) bool) error {
	first := map[int]hits{}
	var few hits
	for i, c := range all {
		if !known(c) {
			continue
		}
		h, err := f.hits(c, scope{})
		if err != nil {
			return err
		}
		first[i] = h
		if c.Not {
			continue
		}
		if few == nil {
			few = maps.Clone(h)
			continue
		}
		few = meet(few, h)
	}
	if few != nil {
		skip(few, at, down)
		if err := f.narrow(few, all, first); err != nil {
			return err
		}
		inTurn(few, down, yield)
		return nil
	}
	from, to := at.Shelf, int64(0)
	if down {
		from, to = 0, at.Shelf
	}
	for size := window; ; {
		step, whole, err := f.step(all, scope{from: from, to: to}, down, size)
		if err != nil {
			return err
		}
		if len(step) == 0 && !whole {
			size *= 2 // they were all of one shelf
			continue
		}
		if len(step) == 0 {
			return nil
		}
		list := slices.Sorted(maps.Keys(step))
		if err := f.narrow(step, all, first); err != nil {
			return err
		}
		if !inTurn(step, down, yield) || whole {
			return nil
		}
		if from, size = list[len(list)-1]+1, min(size*2, mostRows); down {
			from, to = 0, list[0]-1
			if to < 1 {
				return nil
			}
		}
	}
}

// known says that all that meets a criterion is looked up before a walk begins:
// it is little, or it has no other way.
func known(c adapter.Criterion) bool {
	return c.Name == "_id" || c.Name == "identifier" || c.Name == "_patient" || (c.Few || c.Name == written) && !c.Not
}

// skip takes away the shelves before a position.
func skip(h hits, at position, down bool) {
	for n := range h {
		if at.Shelf != 0 && (!down && n < at.Shelf || down && n > at.Shelf) {
			delete(h, n)
		}
	}
}

func meet(a, b hits) hits {
	out := hits{}
	for n, x := range a {
		if both := x.and(b[n]); len(both) > 0 {
			out[n] = both
		}
	}
	return out
}

func inTurn(h hits, down bool, yield func(hit) bool) bool {
	list := slices.Sorted(maps.Keys(h))
	if down {
		slices.Reverse(list)
	}
	for _, n := range list {
		if !yield(hit{n, h[n]}) {
			return false
		}
	}
	return true
}

// narrow keeps what meets every criterion. What is not decided by looking up
// the rows of a value is decided on the open shelves while these are few, and
// then by all rows of the criterion, read once.
func (f finding) narrow(found hits, all []adapter.Criterion, known map[int]hits) error {
	var rest []int
	for i, c := range all {
		h, ok := known[i]
		if !ok && looksUp(c) {
			var err error
			if h, err = f.hits(c, over(found)); err != nil {
				return err
			}
			ok = true
		}
		if ok {
			found.keep(c, func(n int64) bits { return h[n] })
		} else {
			rest = append(rest, i)
		}
	}
	if len(rest) == 0 || len(found) == 0 {
		return nil
	}
	if len(found) <= *f.opens {
		*f.opens -= len(found)
		return f.opened(slices.Sorted(maps.Keys(found)), func(h *shelf) {
			one := hits{h.number: found[h.number]}
			for _, i := range rest {
				one.keep(all[i], func(int64) bits { return h.meets(f.typ, all[i]) })
			}
			if b := one[h.number]; len(b) > 0 {
				found[h.number] = b
			} else {
				delete(found, h.number)
			}
		})
	}
	for _, i := range rest {
		h, err := f.hits(all[i], scope{})
		if err != nil {
			return err
		}
		known[i] = h
		found.keep(all[i], func(n int64) bits { return h[n] })
	}
	return nil
}

// keep keeps what meets a criterion.
func (h hits) keep(c adapter.Criterion, of func(int64) bits) {
	for n, b := range h {
		if c.Not {
			b = b.minus(of(n))
		} else {
			b = b.and(of(n))
		}
		if h[n] = b; len(b) == 0 {
			delete(h, n)
		}
	}
}

// meets are the resources of a type on an open shelf that meet a criterion,
// whatever its Not says.
func (s *shelf) meets(typ string, c adapter.Criterion) bits {
	var out bits
	add := func(v sought, b bits) {
		if v.typ == typ && v.name == c.Name && slices.ContainsFunc(c.Any, func(m adapter.Match) bool { return fits(v, m) }) {
			out = out.or(b)
		}
	}
	switch c.Name {
	case written:
		for i, m := range s.members {
			add(sought{typ: m.typ, name: written, low: m.updated, high: m.updated + 1}, bits{}.with(i))
		}
	case "_patient":
		for i, m := range s.members {
			add(sought{typ: m.typ, name: c.Name, text: s.patient}, bits{}.with(i))
		}
	default:
		for v, b := range s.values {
			add(v, b)
		}
	}
	return out
}

// fits compares a value with a match, as words and span do in SQL.
func fits(v sought, m adapter.Match) bool {
	if m.Op == adapter.OpPresent {
		return true
	}
	if m.Low.IsZero() && m.High.IsZero() {
		return fitsText(v, m)
	}
	low, high := micros(m.Low), micros(m.High)
	within := v.low >= low && v.high <= high
	switch m.Op {
	case adapter.OpEqual:
		return within
	case adapter.OpUnequal:
		return !within
	case adapter.OpAfter:
		return v.high > high
	case adapter.OpBefore:
		return v.low < low
	case adapter.OpNotBelow:
		return within || v.high > high
	case adapter.OpNotAbove:
		return within || v.low < low
	case adapter.OpStarts:
		return v.low >= high
	}
	return v.high <= low // OpEnds: others were refused before
}

// step reads the next rows of the first criterion that is met by what it
// names, or of all resources. Whole says that there are no more. Rows of the
// last shelf are left out when there may be more of them.
func (f finding) step(all []adapter.Criterion, in scope, down bool, size int) (_ hits, whole bool, err error) {
	var q text
	name, value := anything, adapter.Match{}
	if i := slices.IndexFunc(all, leads); i >= 0 {
		name, value = all[i].Name, all[i].Any[0]
	}
	q.add("SELECT v.shelf, v.bits FROM search_value v WHERE v.param = ", q.arg(brief(f.typ, name)), " AND v.text = ", q.arg(value.Text), " AND v.low = 0 AND v.high = 0")
	if value.System != nil {
		q.add(" AND v.system = ", q.arg(brief(*value.System)))
	}
	in.where(&q, "v.shelf")
	order := ""
	if down {
		order = " DESC"
	}
	q.add(" ORDER BY v.shelf", order, " LIMIT ", q.arg(int64(size)))
	out := hits{}
	rows, last := 0, int64(0)
	err = each(f.ctx, f.query, func(r Rows) error {
		var b []byte
		err := r.Scan(&last, &b)
		out.add(last, b)
		rows++
		return err
	}, q.String(), q.args...)
	if whole = rows < size; !whole {
		delete(out, last)
	}
	return out, whole, err
}

// leads says that the rows of a criterion come in the order of shelves.
func leads(c adapter.Criterion) bool { return !c.Not && looksUp(c) }

// looksUp says that a criterion is one value, whose rows can be looked up by
// shelf. A reference has none when it leads to the same shelf.
func looksUp(c adapter.Criterion) bool {
	return len(c.Any) == 1 && c.Any[0].Op == adapter.OpEqual && c.Any[0].Text != "" && !strings.Contains(c.Any[0].Text, "/") && c.Name[0] != '_' && c.Name != "identifier"
}
