package store

import (
	"cmp"
	"context"
	"slices"
	"unicode/utf8"

	"weir.example/weir/adapter"
)

const (
	mostMatches = 500
	mostOpens   = 256 // shelves opened to decide about a page, before all rows are read
)

// Search reads the current resources of a type that meet every criterion, all
// as of one moment.
func (s *Store) Search(ctx context.Context, query adapter.Query, p adapter.Page) (out adapter.Slice, err error) {
	ask := question("search", query)
	at, limit, err := s.page(p, ask, position{})
	if err != nil {
		return adapter.Slice{}, err
	}
	if err := checkCriteria(query.All); err != nil {
		return adapter.Slice{}, err
	}
	err = s.b.Snapshot(ctx, func(tx Tx) error {
		f := s.finding(ctx, tx.Query, query.Type, 0)
		var list []placed
		if query.Sort.Name == "" {
			*f.opens = mostOpens
			list, err = f.inOrder(query, at, p.After != "", int(limit)+1)
		} else {
			list, err = f.sorted(query, at, p.After != "", int(limit)+1)
		}
		if err != nil {
			return err
		}
		if n := int(limit); len(list) > n {
			list = list[:n]
			last := list[n-1]
			out.Next = s.seal.close(position{Text: last.text, Number: last.number, Shelf: last.shelf, Weight: int64(last.slot)}, ask)
		}
		out.Resources, err = f.resources(list)
		return err
	})
	return out, err
}

// Count says how many current resources of a type meet every criterion.
func (s *Store) Count(ctx context.Context, query adapter.Query) (n int64, err error) {
	if err := checkCriteria(query.All); err != nil {
		return 0, err
	}
	err = s.b.Snapshot(ctx, func(tx Tx) error {
		n = 0
		f := s.finding(ctx, tx.Query, query.Type, 0)
		return f.each(query.All, position{}, false, func(h hit) bool {
			n += int64(h.bits.count())
			return true
		})
	})
	return n, err
}

// placed is one resource by its place, with what it is sorted by.
type placed struct {
	shelf  int64
	slot   int
	text   string
	number int64
}

func comparePlaced(a, b placed) int {
	return cmp.Or(cmp.Compare(a.number, b.number), cmp.Compare(a.text, b.text), cmp.Compare(a.shelf, b.shelf), cmp.Compare(a.slot, b.slot))
}

// inOrder gives the next resources in the order in which they came, or
// against it.
func (f finding) inOrder(q adapter.Query, at position, later bool, limit int) ([]placed, error) {
	down := q.Sort.Descending
	var out []placed
	err := f.each(q.All, at, down, func(h hit) bool {
		var list []placed
		for slot := range h.bits.slots() {
			one := placed{shelf: h.shelf, slot: slot}
			if order := comparePlaced(one, placed{shelf: at.Shelf, slot: int(at.Weight)}); !later || order > 0 && !down || order < 0 && down {
				list = append(list, one)
			}
		}
		if down {
			slices.Reverse(list)
		}
		out = append(out, list...)
		return len(out) < limit
	})
	return out[:min(len(out), limit)], err
}

func checkCriteria(all []adapter.Criterion) error {
	matches := 0
	for _, c := range all {
		if matches += len(c.Any); matches > mostMatches || len(c.Any) == 0 {
			return &adapter.Invalid{What: "a search has criteria with 1 to 500 matches in all"}
		}
		var q text
		if err := anyOf(&q, c.Any, columnsOf(c)); err != nil {
			return err
		}
	}
	return nil
}

// columnsOf are what a criterion compares with.
func columnsOf(c adapter.Criterion) columns {
	switch c.Name {
	case "identifier":
		return columns{system: "v.system", text: "v.value", plain: true}
	case "_id", "_patient":
		return columns{system: "''", text: "''", plain: true}
	case written:
		return columns{low: "v.low", high: "v.high"}
	}
	return columns{system: "v.system", text: "v.text", low: "v.low", high: "v.high"}
}

type columns struct {
	system, text, low, high string
	plain                   bool // the system is a text, and not the number of one
}

// anyOf puts alternatives in groups: a database reads a long row of them as
// deep as it is long, and takes no expression deeper than about 500.
func anyOf(q *text, list []adapter.Match, cols columns) error {
	const group = 25
	if len(list) > group {
		for at := 0; at < len(list); at += group {
			if at > 0 {
				q.add(" OR ")
			}
			q.add("(")
			if err := anyOf(q, list[at:min(at+group, len(list))], cols); err != nil {
				return err
			}
			q.add(")")
		}
		return nil
	}
	for i, m := range list {
		if i > 0 {
			q.add(" OR ")
		}
		var err error
		if m.Op == adapter.OpPresent {
			q.add("1 = 1")
		} else if !m.Low.IsZero() || !m.High.IsZero() {
			err = span(q, m, cols)
		} else {
			err = words(q, m, cols)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

func words(q *text, m adapter.Match, cols columns) error {
	if cols.text == "" {
		return &adapter.Invalid{What: "a text is compared with a time"}
	}
	q.add("(")
	if m.System != nil {
		system := any(brief(*m.System))
		if cols.plain {
			system = *m.System
		}
		q.add(cols.system, " = ", q.arg(system))
		if m.Op != adapter.OpInSystem {
			q.add(" AND ")
		}
	}
	switch m.Op {
	case adapter.OpEqual:
		q.add(cols.text, " = ", q.arg(m.Text))
	case adapter.OpPrefix:
		q.add(cols.text, " >= ", q.arg(m.Text))
		if end := beyond(m.Text); end != "" {
			q.add(" AND ", cols.text, " < ", q.arg(end))
		}
	case adapter.OpContains:
		// Without a pattern language, so that nothing in the text is a sign of it.
		q.add("REPLACE(", cols.text, ", ", q.arg(m.Text), ", '') <> ", cols.text)
	case adapter.OpInSystem:
		if m.System == nil {
			return &adapter.Invalid{What: "a search for a system without one"}
		}
	default:
		return &adapter.Invalid{What: "a comparison that texts do not have"}
	}
	q.add(")")
	return nil
}

// beyond is the smallest text after all that begin with prefix, "" for none.
// It stays UTF-8, since databases take nothing else.
func beyond(prefix string) string {
	for len(prefix) > 0 {
		r, size := utf8.DecodeLastRuneInString(prefix)
		prefix = prefix[:len(prefix)-size]
		if r++; r == 0xD800 {
			r = 0xE000
		}
		if r <= utf8.MaxRune {
			return prefix + string(r)
		}
	}
	return ""
}

func span(q *text, m adapter.Match, cols columns) error {
	if cols.low == "" || m.Low.IsZero() || m.High.IsZero() || m.High.Before(m.Low) {
		return &adapter.Invalid{What: "a time is compared with a text or has half a span"}
	}
	low, high := micros(m.Low), micros(m.High)
	within := func() { q.add(cols.low, " >= ", q.arg(low), " AND ", cols.high, " <= ", q.arg(high)) }
	q.add("(")
	switch m.Op {
	case adapter.OpEqual:
		within()
	case adapter.OpUnequal:
		q.add("NOT (")
		within()
		q.add(")")
	case adapter.OpAfter:
		q.add(cols.high, " > ", q.arg(high))
	case adapter.OpBefore:
		q.add(cols.low, " < ", q.arg(low))
	case adapter.OpNotBelow:
		q.add(cols.high, " > ", q.arg(high), " OR ")
		within()
	case adapter.OpNotAbove:
		q.add(cols.low, " < ", q.arg(low), " OR ")
		within()
	case adapter.OpStarts:
		q.add(cols.low, " >= ", q.arg(high))
	case adapter.OpEnds:
		q.add(cols.high, " <= ", q.arg(low))
	default:
		return &adapter.Invalid{What: "a comparison that times do not have"}
	}
	q.add(")")
	return nil
}
