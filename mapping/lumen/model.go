package lumen

import "slices"

// ruleKey is one rule of one item, or of two for Together (a below b).
type ruleKey struct {
	kind RuleKind
	a, b int
}

// variant is the problem with items left out, rules waived or one change
// made.
type variant struct {
	active uint32
	waived map[ruleKey]bool
	change Change
	item   int // of the change
}

func (v variant) without(kind RuleKind, of int) bool {
	return v.waived[ruleKey{kind, of, -1}]
}

// model is a variant made ready for the search: what may share a lumen, and
// at which distances.
type model struct {
	p           *Problem
	v           variant
	cycle, grid int
	lumens      []Lumen
	items       []item
	active      []int
	allowed     []uint32   // lumens each item may use
	apart       [][]bool   // never in one lumen
	gaps        [][][]bool // in one lumen: distances of starts allowed, in grid steps; nil: every
	meeting     [][]Meeting
	doses       [][]dose // by item
	keeps       []bool   // doses of the item keep their distances up to its spread
	links       []link
	never       bool               // two items that may not both be there
	met         map[[2]string]bool // whether a fluid holds what is avoided
}

// dose is one start to be chosen, its values the cheapest first.
type dose struct {
	item, index int
	spread      int // added to the spread of its item by a change
	values      []value
}

// value is one start: the step of the grid, how far from the scheduled time,
// and what it costs.
type value struct{ step, shift, cost int }

// link is a trough: draw and infusion as items.
type link struct{ draw, infusion, least, most int }

func (p *Problem) model(v variant) *model {
	m := &model{p: p, v: v, cycle: p.cycle(), grid: p.grid(), items: p.items(), lumens: slices.Clone(p.Lumens), met: map[[2]string]bool{}}
	if v.change.Kind == MoreLumens {
		for range v.change.Lumens {
			m.lumens = append(m.lumens, Lumen{Draws: true})
		}
	}
	n := len(m.items)
	m.allowed, m.doses, m.keeps = make([]uint32, n), make([][]dose, n), make([]bool, n)
	m.apart, m.gaps, m.meeting = make([][]bool, n), make([][][]bool, n), make([][]Meeting, n)
	for i := range n {
		m.apart[i], m.gaps[i], m.meeting[i] = make([]bool, n), make([][]bool, n), make([]Meeting, n)
		if v.active&(1<<i) != 0 {
			m.active = append(m.active, i)
		}
	}
	for _, x := range p.Pairs {
		a, b := p.infusion(x.A), p.infusion(x.B)
		m.meeting[a][b], m.meeting[b][a] = x.Meeting, x.Meeting
	}
	for _, i := range m.active {
		m.allowed[i] = m.lumensOf(i)
		m.keeps[i] = m.items[i].spread >= 0 && !v.without(Window, i)
		m.starts(i)
		m.gaps[i][i] = m.distances(i, i)
		for _, j := range m.active {
			if j > i {
				m.pair(i, j)
			}
		}
		if d := m.items[i].procedure; d != nil && d.Trough != nil && !v.without(TroughTime, i) {
			if of := p.infusion(d.Trough.Of); v.active&(1<<of) != 0 {
				m.links = append(m.links, link{i, of, d.Trough.Least, d.Trough.Most})
			}
		}
	}
	return m
}

// lumensOf is the lumens that rules of the item alone leave it.
func (m *model) lumensOf(i int) uint32 {
	x := m.items[i]
	all := uint32(1)<<len(m.lumens) - 1
	if m.violatesItself(i) {
		return 0
	}
	if asked := x.asked(); len(asked) > 0 && !m.v.without(AskedLumen, i) && !(m.v.change.Kind == OtherLumen && m.v.item == i) {
		all &^= uint32(1)<<len(m.p.Lumens) - 1 // a lumen that is added is open to all
		for _, l := range asked {
			all |= 1 << l
		}
	}
	if x.procedure != nil && x.procedure.Blood && !m.v.without(DrawLumen, i) {
		for l, lumen := range m.lumens {
			if !lumen.Draws {
				all &^= 1 << l
			}
		}
	}
	return all
}

func (m *model) violatesItself(i int) bool {
	x := m.items[i]
	if x.block() > m.cycle {
		return true
	}
	a := x.infusion
	if a == nil || a.Continuous {
		return false
	}
	wet := m.avoids(i, a.Before.last()) || m.avoids(i, a.After.first())
	bolus := a.NoBolus && !m.v.without(NoBolus, i) && len(a.After) > 0 && a.After[0].Fluid != Withdraw
	return wet || bolus
}

// avoids: the infusion may not meet the fluid.
func (m *model) avoids(i int, fluid string) bool {
	if fluid == "" || fluid == Withdraw || m.v.without(Fluid, i) {
		return false
	}
	return slices.ContainsFunc(m.items[i].infusion.Avoids, func(avoided string) bool {
		key := [2]string{fluid, avoided}
		yes, seen := m.met[key]
		if !seen {
			yes, _ = holds(fluid, avoided)
			m.met[key] = yes
		}
		return yes
	})
}

func (m *model) noBolus(i int) bool {
	return m.items[i].infusion.NoBolus && !m.v.without(NoBolus, i)
}

// starts lists the starts of every dose of an item.
func (m *model) starts(i int) {
	x := m.items[i]
	for k, t := range x.times {
		d := dose{item: i, index: k}
		low, high := x.low, x.high
		switch c := m.v.change; {
		case m.v.without(Window, i):
			low, high = -t, m.cycle-1-t
		case c.Kind == MoveAll && m.v.item == i:
			low, high = low-c.Minutes, high+c.Minutes
		case c.Kind == MoveDose && m.v.item == i && c.Dose == k:
			low, high = low-c.Minutes, high+c.Minutes
			d.spread = c.Minutes
		}
		for at := ceilTo(t+low, m.grid); at <= t+high; at += m.grid {
			d.values = append(d.values, value{step: mod(at, m.cycle) / m.grid, shift: at - t, cost: m.cost(x, at, at-t)})
		}
		slices.SortStableFunc(d.values, func(a, b value) int { return a.cost - b.cost })
		m.doses[i] = append(m.doses[i], d)
	}
}

// The weights of a placement: first Shared, then Asleep, then Moved. Moved
// stays below the first: at most mostDoses starts of a week.
const (
	costAsleep = 1_000_000
	costShared = 1_000_000_000
)

// cost of one start: handlings in the hours of sleep, at the beginning and
// the end, and minutes from the scheduled time.
func (m *model) cost(x item, at, shift int) int {
	return max(shift, -shift) + costAsleep*m.p.asleep(x, at)
}

func (p *Problem) asleep(x item, at int) int {
	n := 0
	for _, minute := range []int{at - x.before, at + x.run + x.after - 1} {
		minute = mod(minute, 1440)
		for _, s := range p.Sleep {
			if s.From <= s.Until && s.From <= minute && minute < s.Until ||
				s.From > s.Until && (minute >= s.From || minute < s.Until) {
				n++
				break
			}
		}
	}
	return n
}
