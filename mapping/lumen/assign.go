package lumen

import (
	"cmp"
	"slices"
)

// solution is lumens and starts for every active item.
type solution struct {
	lumen  []int   // by item; -1 not active
	starts [][]int // by item, minutes
	cost   int
}

// group is what is known of a set of items on one lumen.
type group struct {
	fits   bool
	starts [][]int // of a placement, when it fits
	cost   int     // of the cheapest, when best
	best   bool
}

// assigning is the search for lumens: each item in turn on each lumen that
// its rules leave it. A set of items on one lumen that does not fit alone
// fits with nothing more either, so the branch ends there.
type assigning struct {
	m       *model
	order   []int
	lumenOf []int
	sets    []uint32 // items on each lumen
	groups  map[uint32]*group
	budget  *budget
	decide  bool // stop at the first placement
	best    *solution
	out     bool
}

// decide looks for any placement. done is false when the budget ended first.
func (m *model) decide(b *budget) (found *solution, done bool) {
	s := m.assigning(b)
	s.decide = true
	s.run()
	return s.best, s.best != nil || !s.out
}

// improve looks for the cheapest placement. best is false when the budget
// ended before that was sure.
func (m *model) improve(from *solution, b *budget) (found *solution, best bool) {
	s := m.assigning(b)
	s.best = from
	s.run()
	return s.best, !s.out
}

func (m *model) assigning(b *budget) *assigning {
	s := &assigning{m: m, budget: b, groups: map[uint32]*group{}, sets: make([]uint32, len(m.lumens)), lumenOf: make([]int, len(m.items))}
	for i := range s.lumenOf {
		s.lumenOf[i] = -1
	}
	s.order = slices.Clone(m.active)
	weight := func(i int) int {
		if m.items[i].continuous() {
			return m.cycle * mostDoses
		}
		return m.items[i].block() * len(m.doses[i])
	}
	slices.SortStableFunc(s.order, func(a, b int) int { return cmp.Compare(weight(b), weight(a)) })
	return s
}

func (s *assigning) run() {
	if !s.m.never {
		s.next(0, 0)
	}
}

// next puts item k of the order on a lumen. It returns true when the search
// is over.
func (s *assigning) next(k, shared int) bool {
	if s.best != nil && !s.decide && shared*costShared >= s.best.cost {
		return false
	}
	if k == len(s.order) {
		return s.leaf(shared)
	}
	i := s.order[k]
	for l := range s.m.lumens {
		if s.m.allowed[i]&(1<<l) == 0 {
			continue
		}
		if !s.budget.spend(1) {
			s.out = true
			return true
		}
		more, apart := 0, false
		for _, j := range s.m.active {
			if s.sets[l]&(1<<j) != 0 {
				apart = apart || s.m.apart[i][j]
				more += s.m.strangers(i, j)
			}
		}
		if apart {
			continue
		}
		s.sets[l] |= 1 << i
		s.lumenOf[i] = l
		g := s.fit(l)
		over := s.out || g.fits && s.next(k+1, shared+more)
		s.sets[l] &^= 1 << i
		s.lumenOf[i] = -1
		if over {
			return true
		}
	}
	return false
}

// strangers is 1 for two infusions that are not known to be compatible.
func (m *model) strangers(i, j int) int {
	if m.items[i].infusion == nil || m.items[j].infusion == nil || m.meeting[i][j] == Compatible {
		return 0
	}
	return 1
}

// fit tells whether the items of a lumen fit on it, troughs left aside.
func (s *assigning) fit(l int) *group {
	set := s.sets[l]
	if g := s.groups[set]; g != nil {
		return g
	}
	g := &group{}
	if !s.m.crowded(set) {
		starts, _, done := s.m.without().place(s.m.members(set), s.one(set), true, noLimit, s.budget)
		if !done && starts == nil {
			s.out = true
			return g
		}
		g.fits, g.starts = starts != nil, starts
	}
	s.groups[set] = g
	return g
}

// without is the model without its troughs.
func (m *model) without() *model {
	if len(m.links) == 0 {
		return m
	}
	c := *m
	c.links = nil
	return &c
}

func (m *model) members(set uint32) []int {
	var out []int
	for _, i := range m.active {
		if set&(1<<i) != 0 {
			out = append(out, i)
		}
	}
	return out
}

// one puts a set on one lumen.
func (s *assigning) one(set uint32) []int {
	out := make([]int, len(s.m.items))
	for i := range out {
		out[i] = -1
		if set&(1<<i) != 0 {
			out[i] = 0
		}
	}
	return out
}

// crowded: things that may never overlap take more than the time there is.
// Each two of what is summed exclude each other, so it is a proof.
func (m *model) crowded(set uint32) bool {
	var alone []int
	sum := 0
	for _, i := range m.members(set) {
		x := m.items[i]
		if x.continuous() || slices.ContainsFunc(alone, func(j int) bool {
			return x.infusion != nil && m.items[j].infusion != nil && m.together(i, j)
		}) {
			continue
		}
		alone = append(alone, i)
		sum += x.block() * len(m.doses[i])
	}
	return sum > m.cycle
}

// leaf has every lumen; what is left is the starts. Lumens do not know of
// each other unless a draw on one is tied to a dose on another.
func (s *assigning) leaf(shared int) bool {
	starts := make([][]int, len(s.m.items))
	cost := shared * costShared
	for _, set := range s.parts() {
		found, c, fits := s.part(set)
		if s.out && found == nil {
			return true
		}
		if !fits {
			return false
		}
		cost += c
		for _, i := range s.m.members(set) {
			starts[i] = found[i]
		}
	}
	if s.best == nil || cost < s.best.cost {
		s.best = &solution{lumen: slices.Clone(s.lumenOf), starts: starts, cost: cost}
	}
	return s.decide || s.out
}

// parts are the items lumen by lumen, lumens joined by a trough in one.
func (s *assigning) parts() []uint32 {
	sets := slices.Clone(s.sets)
	for _, l := range s.m.links {
		a, b := -1, -1
		for k, set := range sets {
			if set&(1<<l.draw) != 0 {
				a = k
			}
			if set&(1<<l.infusion) != 0 {
				b = k
			}
		}
		if a != b {
			sets[a] |= sets[b]
			sets[b] = 0
		}
	}
	return slices.DeleteFunc(sets, func(set uint32) bool { return set == 0 })
}

// part places one of the parts: any placement to decide, else the cheapest.
func (s *assigning) part(set uint32) (starts [][]int, cost int, fits bool) {
	linked := slices.ContainsFunc(s.m.links, func(l link) bool { return set&(1<<l.draw) != 0 })
	g := s.groups[set]
	if linked || g == nil {
		starts, cost, done := s.m.place(s.m.members(set), s.lumenOf, s.decide, noLimit, s.budget)
		s.out = s.out || !done
		return starts, cost, starts != nil
	}
	if !s.decide && !g.best {
		found, c, done := s.m.place(s.m.members(set), s.lumenOf, false, noLimit, s.budget)
		if !done {
			s.out = true
			if found == nil {
				return nil, 0, false
			}
			return found, c, true
		}
		g.starts, g.cost, g.best = found, c, true
	}
	return g.starts, g.cost, true
}
