package lumen

import "math"

// budget is the nodes left. It is shared by every search of one call.
type budget struct{ left, used int }

// spend takes nodes; false when there are not so many.
func (b *budget) spend(nodes int) bool {
	if b.left < nodes {
		b.left = 0
		return false
	}
	b.left -= nodes
	b.used += nodes
	return true
}

// variable is one dose in the search. dead tells which values are struck
// out.
type variable struct {
	dose
	dead   []bool
	live   int
	chosen int // index of its value; -1
	weight int // minutes it keeps its lumen
}

// placing is the search for the starts of some items whose lumens are
// settled: depth first, the dose that leaves the least choice first, its
// cheapest start first, and after each choice every start that contradicts it
// is struck out.
type placing struct {
	m        *model
	lumenOf  []int // by item; -1 not in this search
	vars     []variable
	of       [][]int // variables of each item
	links    []link
	budget   *budget
	best     int   // cost to stay below
	found    []int // starts of the best so far, by variable
	first    bool  // stop at the first placement
	out      bool  // the budget ended the search
	assigned int
	price    int // of one node
	struck   []struck
}

// struck is one value struck out, in the order in which it was.
type struck struct{ variable, value int }

// place finds starts for the items on their lumens. Links are looked at when
// both ends are among the items. cost is what the starts cost; found is nil
// when there are none below the limit; done is false when the budget ended
// before that was sure.
func (m *model) place(items []int, lumenOf []int, first bool, below int, b *budget) (found [][]int, cost int, done bool) {
	s := placing{m: m, lumenOf: lumenOf, budget: b, best: below, first: first, of: make([][]int, len(m.items))}
	inside := make([]bool, len(m.items))
	for _, i := range items {
		inside[i] = true
		for _, d := range m.doses[i] {
			s.price += len(d.values)
			s.of[i] = append(s.of[i], len(s.vars))
			s.vars = append(s.vars, variable{dose: d, dead: make([]bool, len(d.values)), live: len(d.values), chosen: -1, weight: m.items[i].block()})
		}
	}
	s.price = 1 + s.price/largeNode
	for _, l := range m.links {
		if inside[l.draw] && inside[l.infusion] {
			s.links = append(s.links, l)
		}
	}
	s.search(0)
	if s.found == nil {
		return nil, 0, !s.out
	}
	found = make([][]int, len(m.items))
	for i := range found {
		for _, v := range s.of[i] {
			found[i] = append(found[i], s.found[v])
		}
	}
	return found, s.best, !s.out
}

// search places what is left. It returns true when the search is over.
func (s *placing) search(cost int) bool {
	if s.assigned == len(s.vars) {
		s.found = make([]int, len(s.vars))
		for i := range s.vars {
			s.found[i] = s.vars[i].values[s.vars[i].chosen].step * s.m.grid
		}
		s.best = cost
		return s.first || cost == 0
	}
	at, rest := s.choose()
	x := &s.vars[at]
	mark := len(s.struck)
	for v := range x.values {
		if x.dead[v] {
			continue
		}
		if !s.first && cost+rest+x.values[v].cost >= s.best {
			break // every later value costs as much or more
		}
		if !s.budget.spend(s.price) {
			s.out = true
			return true
		}
		x.chosen = v
		s.assigned++
		ok := s.strike(at) && s.troughs()
		over := ok && s.search(cost+x.values[v].cost)
		s.restore(mark)
		s.assigned--
		x.chosen = -1
		if over {
			return true
		}
	}
	return false
}

// choose picks the dose with the fewest starts left for each minute it takes,
// since what is long excludes most of the others; and it sums the least that
// the others will cost.
func (s *placing) choose() (at, rest int) {
	at = -1
	sum := 0
	for i := range s.vars {
		x := &s.vars[i]
		if x.chosen >= 0 {
			continue
		}
		sum += x.cheapest()
		if at < 0 || x.live*s.vars[at].weight < s.vars[at].live*x.weight {
			at = i
		}
	}
	return at, sum - s.vars[at].cheapest()
}

func (x *variable) cheapest() int {
	for v, d := range x.dead {
		if !d {
			return x.values[v].cost
		}
	}
	return 0
}

// strike strikes out every start of the other doses that contradicts the one
// chosen; false when a dose has none left.
func (s *placing) strike(at int) bool {
	x := &s.vars[at]
	chosen := x.values[x.chosen]
	for i := range s.vars {
		y := &s.vars[i]
		if y.chosen >= 0 {
			continue
		}
		var gaps []bool
		if y.item == x.item || s.lumenOf[y.item] == s.lumenOf[x.item] {
			gaps = s.m.gaps[x.item][y.item]
		}
		if gaps == nil {
			continue
		}
		same := y.item == x.item && s.m.keeps[x.item]
		spread := s.m.items[x.item].spread + x.spread + y.spread
		for v, val := range y.values {
			if y.dead[v] {
				continue
			}
			d := val.step - chosen.step
			if d < 0 {
				d += len(gaps)
			}
			if !gaps[d] || same && (val.shift-chosen.shift > spread || chosen.shift-val.shift > spread) {
				s.kill(i, v)
			}
		}
		if y.live == 0 {
			return false
		}
	}
	return true
}

func (s *placing) kill(i, v int) {
	s.vars[i].dead[v] = true
	s.vars[i].live--
	s.struck = append(s.struck, struck{i, v})
}

// restore takes back what was struck out since the mark.
func (s *placing) restore(mark int) {
	for _, k := range s.struck[mark:] {
		s.vars[k.variable].dead[k.value] = false
		s.vars[k.variable].live++
	}
	s.struck = s.struck[:mark]
}

// troughs: each draw that is tied to a dose still has one that fits, and a
// draw whose doses all stand keeps only starts that fit one.
func (s *placing) troughs() bool {
	for _, l := range s.links {
		all := true
		for _, d := range s.of[l.infusion] {
			all = all && s.vars[d].chosen >= 0
		}
		for _, k := range s.of[l.draw] {
			x := &s.vars[k]
			switch {
			case x.chosen >= 0:
				if !s.before(l, x.values[x.chosen]) {
					return false
				}
			case all:
				for v, val := range x.values {
					if !x.dead[v] && !s.before(l, val) {
						s.kill(k, v)
					}
				}
				if x.live == 0 {
					return false
				}
			}
		}
	}
	return true
}

// before: the draw stands before some start that a dose has or may get.
func (s *placing) before(l link, draw value) bool {
	fits := func(start value) bool {
		d := mod((start.step-draw.step)*s.m.grid, s.m.cycle)
		return l.least <= d && d <= l.most
	}
	for _, k := range s.of[l.infusion] {
		x := &s.vars[k]
		if x.chosen >= 0 {
			if fits(x.values[x.chosen]) {
				return true
			}
			continue
		}
		for v, val := range x.values {
			if !x.dead[v] && fits(val) {
				return true
			}
		}
	}
	return false
}

const noLimit = math.MaxInt

// largeNode: every so many starts to choose from, a node counts once more, so
// that the budget bounds the work.
const largeNode = 4096
