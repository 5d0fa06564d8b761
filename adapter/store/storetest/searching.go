package storetest

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/store"
)

// search compares random searches with the plainest evaluation there is.
func search(t *testing.T, h Harness) {
	s, ctx := h.New(t, store.Options{}), t.Context()
	chance := rand.New(rand.NewPCG(1, 2))
	texts := []string{"", "a", "ab", "abc", "b", "%", "_", "a%", "A", "é", "\U0010FFFF", "a\U0010FFFF", "'; DROP TABLE resource; --", "*", "[a-z]",
		"Task/t001", "Task/t002", "Task/t003", "Task/none", "Patient/p1", "Patient/p2", "Patient/p9"}
	systems := []string{"", "urn:one", "urn:two"}
	patients := []string{"", "p1", "p2", "p3"}
	days := func() (time.Time, time.Time) {
		low := clock.Add(time.Duration(chance.IntN(6)) * time.Hour)
		return low, low.Add(time.Duration(1+chance.IntN(4)) * time.Hour)
	}
	pick := func(list []string) string { return list[chance.IntN(len(list))] }
	var all []adapter.Resource
	for n := range 150 {
		e := small("Task", fmt.Sprintf("t%03d", n), 1, clock.Add(time.Duration(chance.IntN(5))*time.Minute))
		r := &e.Resources[0]
		r.Patient = pick(patients)
		for range chance.IntN(4) {
			r.Values = append(r.Values, adapter.Value{Name: pick([]string{"status", "code"}), System: pick(systems), Text: pick(texts)})
		}
		for range chance.IntN(3) {
			low, high := days()
			r.Values = append(r.Values, adapter.Value{Name: "date", Low: low, High: high})
		}
		for range chance.IntN(2) {
			r.Identifiers = append(r.Identifiers, adapter.Identity{System: pick(systems), Value: "i" + pick(texts)})
		}
		if n%3 == 0 { // its own id as an identifier
			r.Identifiers = append(r.Identifiers, adapter.Identity{System: "urn:ietf:rfc:3986", Value: "urn:uuid:" + r.ID})
		}
		require.NoError(t, s.Commit(ctx, e))
		if chance.IntN(3) == 0 { // replaced: only the newest counts
			e = small("Task", r.ID, 2, clock.Add(time.Hour))
			e.Resources[0].Patient = r.Patient
			e.Resources[0].Values, e.Resources[0].Identifiers = slices.Clone(r.Values), r.Identifiers
			if len(r.Values) > 0 {
				e.Resources[0].Values = e.Resources[0].Values[1:]
			}
			require.NoError(t, s.Commit(ctx, e))
		}
		all = append(all, e.Resources[0])
	}
	require.NoError(t, s.Commit(ctx, small("Patient", "t001", 1, clock)))

	rounds, found := setting("WEIR_STORE_SEARCHES", 600), 0
	for range rounds {
		q := adapter.Query{Type: "Task", Sort: adapter.Sort{Name: pick([]string{"", "_id", "_lastUpdated"}), Descending: chance.IntN(2) == 0}}
		for range chance.IntN(3) {
			c := adapter.Criterion{Name: pick([]string{"status", "code", "date", "identifier", "_id", "_lastUpdated", "_patient"}), Not: chance.IntN(4) == 0, Few: chance.IntN(2) == 0}
			for range 1 + chance.IntN(2) {
				m := adapter.Match{Op: adapter.Op(pick([]string{"eq", "eq", "pre", "has", "sys", "any"})), Text: pick(texts)}
				switch {
				case c.Name == "_id":
					m.Op, m.Text = adapter.OpEqual, fmt.Sprintf("t%03d", chance.IntN(150))
				case c.Name == "_patient":
					m.Op, m.Text = adapter.OpEqual, pick(patients)
				case c.Name == "date" || c.Name == "_lastUpdated":
					m.Op, m.Text = adapter.Op(pick([]string{"eq", "ne", "gt", "lt", "ge", "le", "sa", "eb"})), ""
					m.Low, m.High = days()
				case c.Name == "identifier" && chance.IntN(3) == 0:
					m.Op, m.Text = adapter.Op(pick([]string{"eq", "sys", "any"})), fmt.Sprintf("urn:uuid:t%03d", chance.IntN(150))
					if uris := "urn:ietf:rfc:3986"; m.Op == adapter.OpInSystem || chance.IntN(2) == 0 {
						m.System = &uris
					}
					c.Any = append(c.Any, m)
					continue
				case c.Name == "identifier": // a token: whole, by its system, or any
					m.Op, m.Text = adapter.Op(pick([]string{"eq", "sys", "any"})), "i"+m.Text
				}
				if c.Name != "_id" && c.Name != "_patient" && chance.IntN(2) == 0 || m.Op == adapter.OpInSystem {
					system := pick(systems)
					m.System = &system
				}
				c.Any = append(c.Any, m)
			}
			q.All = append(q.All, c)
		}
		var want, got []string
		for _, r := range all {
			if !slices.ContainsFunc(q.All, func(c adapter.Criterion) bool { return !meets(r, c) }) {
				want = append(want, r.ID)
			}
		}
		page := adapter.Page{Limit: 1 + chance.IntN(60)}
		for {
			slice, err := s.Search(ctx, q, page)
			require.NoError(t, err, "%+v", q)
			for _, r := range slice.Resources {
				got = append(got, r.ID)
			}
			if page.After = slice.Next; page.After == "" {
				break
			}
		}
		slices.Sort(got)
		slices.Sort(want)
		require.Equal(t, want, got, "%+v", q)
		count, err := s.Count(ctx, q)
		require.NoError(t, err)
		require.Equal(t, int64(len(want)), count, "%+v", q)
		found += len(got)
	}
	t.Logf("%d random searches equal to a plain evaluation, %d resources found", rounds, found)

	var asked []adapter.Asked
	for _, text := range texts {
		for _, name := range []string{"status", "code", "none"} {
			asked = append(asked, adapter.Asked{Type: "Task", Name: name, Text: text})
		}
	}
	got, err := s.ByValues(ctx, asked)
	require.NoError(t, err)
	for i, a := range asked {
		want := 0
		for _, r := range all {
			if slices.ContainsFunc(r.Values, func(v adapter.Value) bool { return v.Name == a.Name && v.Text == a.Text && v.Low.IsZero() }) {
				want++
			}
		}
		if strings.HasPrefix(a.Text, "Task/t") || strings.HasPrefix(a.Text, "Patient/p") {
			continue // of resources on one shelf: see shelf.rows
		}
		require.Len(t, got[i], min(want, 2), "%+v", a)
		for _, r := range got[i] {
			k := slices.IndexFunc(all, func(x adapter.Resource) bool { return x.ID == r.ID })
			require.True(t, slices.ContainsFunc(all[k].Values, func(v adapter.Value) bool { return v.Name == a.Name && v.Text == a.Text }))
		}
	}

	for _, name := range []string{"status", "date", "identifier", "_id", "_lastUpdated", "_patient"} {
		c := adapter.Criterion{Name: name}
		for i := range 500 {
			m := adapter.Match{Op: adapter.OpEqual, Text: fmt.Sprint("none", i)}
			if name == "date" || name == "_lastUpdated" {
				m = adapter.Match{Op: adapter.OpEqual, Low: clock.AddDate(-9, 0, i), High: clock.AddDate(-9, 0, i+1)}
			}
			c.Any = append(c.Any, m)
		}
		for _, c.Not = range []bool{false, true} {
			slice, err := s.Search(ctx, adapter.Query{Type: "Task", All: []adapter.Criterion{c}}, adapter.Page{Limit: 1000})
			require.NoError(t, err, "500 matches, the most: %s", name)
			assert.Len(t, slice.Resources, map[bool]int{true: 150}[c.Not], name)
		}
	}

	var invalid *adapter.Invalid
	for _, c := range []adapter.Criterion{
		{Name: "status"},
		{Name: "status", Any: make([]adapter.Match, 501)},
		{Name: "status", Any: []adapter.Match{{Op: "like", Text: "a"}}},
		{Name: "status", Any: []adapter.Match{{Op: adapter.OpInSystem}}},
		{Name: "date", Any: []adapter.Match{{Op: adapter.OpEqual, Low: clock}}},
		{Name: "date", Any: []adapter.Match{{Op: adapter.OpPrefix, Low: clock, High: clock}}},
		{Name: "identifier", Any: []adapter.Match{{Op: adapter.OpEqual, Low: clock, High: clock}}},
	} {
		_, err := s.Search(ctx, adapter.Query{Type: "Task", All: []adapter.Criterion{c}}, adapter.Page{Limit: 1})
		assert.ErrorAs(t, err, &invalid, "%+v", c.Name)
		_, err = s.Count(ctx, adapter.Query{Type: "Task", All: []adapter.Criterion{c}})
		assert.ErrorAs(t, err, &invalid, "%+v", c.Name)
	}
}

func meets(r adapter.Resource, c adapter.Criterion) bool {
	values := []adapter.Value{}
	switch c.Name {
	case "_id":
		values = append(values, adapter.Value{Text: r.ID})
	case "_patient":
		values = append(values, adapter.Value{Text: r.Patient})
	case "_lastUpdated":
		values = append(values, adapter.Value{Low: r.Updated, High: r.Updated.Add(time.Microsecond)})
	case "identifier":
		for _, i := range r.Identifiers {
			values = append(values, adapter.Value{System: i.System, Text: i.Value})
		}
	default:
		for _, v := range r.Values {
			if v.Name == c.Name {
				values = append(values, v)
			}
		}
	}
	for _, v := range values {
		for _, m := range c.Any {
			if fits(v, m) {
				return !c.Not
			}
		}
	}
	return c.Not
}

func fits(v adapter.Value, m adapter.Match) bool {
	within := !v.Low.Before(m.Low) && !v.High.After(m.High)
	switch m.Op {
	case adapter.OpPresent:
		return true
	case adapter.OpUnequal:
		return !within
	case adapter.OpAfter:
		return v.High.After(m.High)
	case adapter.OpBefore:
		return v.Low.Before(m.Low)
	case adapter.OpNotBelow:
		return within || v.High.After(m.High)
	case adapter.OpNotAbove:
		return within || v.Low.Before(m.Low)
	case adapter.OpStarts:
		return !v.Low.Before(m.High)
	case adapter.OpEnds:
		return !v.High.After(m.Low)
	}
	if m.Op == adapter.OpEqual && !m.Low.IsZero() {
		return within
	}
	if m.System != nil && *m.System != v.System {
		return false
	}
	switch m.Op {
	case adapter.OpInSystem:
		return true
	case adapter.OpPrefix:
		return strings.HasPrefix(v.Text, m.Text)
	case adapter.OpContains:
		return m.Text != "" && strings.Contains(v.Text, m.Text)
	}
	return v.Text == m.Text
}
