package store

import (
	"context"
	"slices"
	"unicode/utf8"

	"weir.example/weir/adapter"
)

const mostMatches = 500

// Search reads the current resources of a type that meet every criterion.
func (s *Store) Search(ctx context.Context, query adapter.Query, p adapter.Page) (adapter.Slice, error) {
	ask := question("search", query)
	at, limit, err := s.page(p, ask, position{})
	if err != nil {
		return adapter.Slice{}, err
	}
	number, sorted := sortKey(query.Sort)
	direction, beyond := "", ">"
	if query.Sort.Descending {
		direction, beyond = " DESC", "<"
	}
	// From inside: the resources that match, each with its place in the
	// order; the page of them; their contents. In this form the database
	// walks an index and stops, whatever it believes about the tables.
	var q text
	q.add("SELECT k.place, k.type, k.id, v.version, k.created, v.updated, k.patient, v.document, v.body FROM (SELECT * FROM (",
		"SELECT r.type, r.id, r.version, r.created, r.patient, ")
	typ := q.arg(query.Type)
	sorted(&q, typ)
	q.add(" AS place FROM resource r WHERE r.type = ", typ)
	if err := criteria(&q, typ, query.All); err != nil {
		return adapter.Slice{}, err
	}
	q.add(") c")
	if p.After != "" {
		var place any = at.Text
		if number {
			place = at.Number
		}
		q.add(" WHERE (place, id) ", beyond, " (", q.arg(place), ", ", q.arg(at.ID), ")")
	}
	q.add(" ORDER BY place", direction, ", id", direction, " LIMIT ", q.arg(limit+1), ") k JOIN resource_version v ON v.type = k.type AND v.id = k.id AND v.version = k.version",
		" ORDER BY k.place", direction, ", k.id", direction)
	var out adapter.Slice
	var last position
	err = each(ctx, s.b.Query, func(r Rows) error {
		var where position
		to := any(&where.Text)
		if number {
			to = &where.Number
		}
		v, err := scanResource(r, to)
		if where.ID = v.ID; len(out.Resources) < int(limit) {
			last = where
		}
		out.Resources = append(out.Resources, v)
		return err
	}, q.String(), q.args...)
	if n := int(limit); err == nil && len(out.Resources) > n {
		out.Resources = out.Resources[:n]
		out.Next = s.seal.close(last, ask)
	}
	return out, err
}

// Count says how many current resources of a type meet every criterion.
func (s *Store) Count(ctx context.Context, query adapter.Query) (n int64, err error) {
	var q text
	q.add("SELECT COUNT(*) FROM resource r WHERE r.type = ")
	typ := q.arg(query.Type)
	q.add(typ)
	if err := criteria(&q, typ, query.All); err != nil {
		return 0, err
	}
	err = s.one(ctx, "count", "", func(r Rows) error { return r.Scan(&n) }, q.String(), q.args...)
	return n, err
}

func criteria(q *text, typ string, all []adapter.Criterion) error {
	matches := 0
	for _, c := range all {
		if matches += len(c.Any); matches > mostMatches || len(c.Any) == 0 {
			return &adapter.Invalid{What: "a search has criteria with 1 to 500 matches in all"}
		}
		if err := criterion(q, typ, c); err != nil {
			return err
		}
	}
	return nil
}

// sortKey is what resources are sorted by: whether it is a number, and its
// SQL. A resource without a value is placed last.
func sortKey(o adapter.Sort) (number bool, sql func(q *text, typ string)) {
	switch {
	case o.Name == "_lastUpdated":
		return true, func(q *text, _ string) { q.add("r.updated") }
	case o.Name == "_id" || o.Name == "":
		return false, func(q *text, _ string) { q.add("r.id") }
	}
	// Not the bare column: for its least value a database would walk the
	// index of values and compare ids, and not look up the few of one id.
	column, pick, none := "text || ''", "MIN", "'\U0010FFFD'"
	switch {
	case o.ByTime && o.Descending:
		column, pick, none = "high + 0", "MAX", "-9000000000000000000"
	case o.ByTime:
		column, none = "low + 0", "9000000000000000000"
	case o.Descending:
		pick, none = "MAX", "''"
	}
	return o.ByTime, func(q *text, typ string) {
		q.add("COALESCE((SELECT ", pick, "(s.", column, ") FROM search_value s WHERE s.type = ", typ,
			" AND s.id = r.id AND s.name = ", q.arg(o.Name), "), ", none, ")")
	}
}

// criterion adds one condition. The database begins with those that few
// resources meet; the rest is asked of each resource in the order of the answer.
func criterion(q *text, typ string, c adapter.Criterion) error {
	not := ""
	if c.Not {
		not = "NOT "
	}
	switch c.Name {
	case "_id":
		q.add(" AND r.id ", not)
		in(q, c.Any)
		return nil
	case "_patient":
		if !c.Not && !slices.ContainsFunc(c.Any, func(m adapter.Match) bool { return m.Text == "" }) {
			q.add(" AND r.patient <> ''") // the index is of these only
		}
		q.add(" AND r.patient ", not)
		in(q, c.Any)
		return nil
	case "_lastUpdated":
		q.add(" AND ", not, "(")
		err := anyOf(q, c.Any, columns{low: "r.updated", high: "(r.updated + 1)"})
		q.add(")")
		return err
	}
	table, name, few := "search_value", " AND s.name = ", c.Few
	cols := columns{system: "s.system", text: "s.text", low: "s.low", high: "s.high"}
	if c.Name == "identifier" {
		table, name, cols = "identifier", "", columns{system: "s.system", text: "s.value"}
	}
	end := "))"
	if c.Name == "identifier" {
		q.add(" AND ", not, "(r.id IN (SELECT s.id FROM ", table, " s WHERE s.type = ", typ, " AND (")
		err := anyOf(q, c.Any, cols)
		q.add("))")
		ofOwn(q, c.Any)
		q.add(")")
		return err
	}
	if few && !c.Not {
		q.add(" AND r.id IN (SELECT s.id FROM ", table, " s WHERE s.type = ", typ)
	} else {
		q.add(" AND ", not, "EXISTS (SELECT 1 FROM ", table, " s WHERE s.type = ", typ, " AND s.id = r.id")
		// The offset keeps a database from making a join of it, for which it
		// would read all and sort, and not stop at the end of the page.
		end = ") LIMIT 1 OFFSET 0)"
	}
	if name != "" {
		q.add(name, q.arg(c.Name))
	}
	q.add(" AND (")
	err := anyOf(q, c.Any, cols)
	q.add(end)
	return err
}

type columns struct{ system, text, low, high string }

// in compares with a list of texts.
func in(q *text, list []adapter.Match) {
	q.add("IN (")
	for i, m := range list {
		if i > 0 {
			q.add(", ")
		}
		q.add(q.arg(m.Text))
	}
	q.add(")")
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
		q.add(cols.system, " = ", q.arg(*m.System))
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
