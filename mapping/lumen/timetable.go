package lumen

import (
	"cmp"
	"slices"
)

// Timetable places every infusion, flush, lock and draw, or proves that no
// placement exists. The same problem gives the same result to the byte. A
// problem that lacks something or contradicts itself is not decided, and
// Unknown says why.
func Timetable(p Problem) Result {
	r := Result{Outcome: NotDecided}
	if r.Unknown = p.faults(); len(r.Unknown) > 0 {
		return r
	}
	limit := p.Limit
	if limit == 0 {
		limit = DefaultLimit
	}
	b := &budget{left: limit}
	r.Grid = p.grid()
	r.EveryMinute = p.divisor()%r.Grid == 0
	m := p.model(variant{active: 1<<len(p.items()) - 1})
	found, done := m.decide(b)
	switch {
	case found != nil:
		// A better placement is a kindness, not an answer: it gets a part of the
		// budget.
		rest := &budget{left: b.left / 8}
		found, r.Best = m.improve(m.priced(found), rest)
		b.used += rest.used
		r.Outcome = Placed
		r.Blocks = m.blocks(found)
		m.describe(&r, found)
	case done:
		r.Outcome = Impossible
		e := explainer{p: &p, budget: b}
		e.explain(&r)
	default:
		r.Unknown = []string{"the search was ended by its limit before it found a placement or proved that there is none"}
	}
	r.Nodes = b.used
	return r
}

// priced works out what a placement costs.
func (m *model) priced(s *solution) *solution {
	out := *s
	out.cost = costShared * m.shared(s)
	for _, i := range m.active {
		for k := range s.starts[i] {
			out.cost += m.chosen(s, i, k).cost
		}
	}
	return &out
}

func (m *model) chosen(s *solution, i, k int) value {
	values := m.doses[i][k].values
	return values[slices.IndexFunc(values, func(v value) bool { return v.step*m.grid == s.starts[i][k] })]
}

func (m *model) shared(s *solution) int {
	n := 0
	for _, i := range m.active {
		for _, j := range m.active {
			if i < j && s.lumen[i] == s.lumen[j] {
				n += m.strangers(i, j)
			}
		}
	}
	return n
}

// describe fills in what a placement is.
func (m *model) describe(r *Result, s *solution) {
	used := make([]bool, len(m.lumens))
	r.Shared = m.shared(s)
	for _, i := range m.active {
		x := m.items[i]
		used[s.lumen[i]] = true
		r.Placements = append(r.Placements, Placement{Name: x.name, Lumen: s.lumen[i], Starts: s.starts[i]})
		for k, at := range s.starts[i] {
			shift := m.chosen(s, i, k).shift
			r.Moved += max(shift, -shift)
			r.Asleep += m.p.asleep(x, at)
		}
	}
	for l, u := range used {
		if !u {
			r.Idle = append(r.Idle, l)
		}
	}
}

// blocks lists every stretch, by lumen, then by time.
func (m *model) blocks(s *solution) []Block {
	var out []Block
	add := func(l int, name, what, fluid string, from, long int) {
		from = mod(from, m.cycle)
		out = append(out, Block{Lumen: l, Name: name, What: what, Fluid: fluid, From: from, To: from + long})
	}
	for _, i := range m.active {
		x, l := m.items[i], s.lumen[i]
		if x.continuous() {
			add(l, x.name, "infusion", "", 0, m.cycle)
		}
		for _, at := range s.starts[i] {
			steps, where := x.flushes(at)
			for k, f := range steps {
				add(l, x.name, "flush", f.Fluid, where[k].from, f.Minutes)
			}
			switch {
			case x.infusion != nil:
				add(l, x.name, "infusion", "", at, x.run)
			case x.run > 0:
				add(l, x.name, "draw", "", at, x.run)
			}
			if x.procedure != nil {
				for _, j := range m.active {
					if m.items[j].continuous() && s.lumen[j] == l {
						add(l, m.items[j].name, "pause", "", at-x.procedure.Stop, x.procedure.Stop+x.run+x.after)
					}
				}
			}
		}
	}
	slices.SortStableFunc(out, func(a, b Block) int {
		return cmp.Or(cmp.Compare(a.Lumen, b.Lumen), cmp.Compare(a.From, b.From), cmp.Compare(a.To, b.To))
	})
	return out
}
