package lumen

// together: the two infusions may run at the same time in one lumen.
func (m *model) together(i, j int) bool {
	return m.meeting[i][j] == Compatible || m.v.waived[ruleKey{Together, min(i, j), max(i, j)}]
}

// pair works out whether two items may share a lumen and at which distances.
func (m *model) pair(i, j int) {
	x, y := m.items[i], m.items[j]
	var no bool
	switch {
	case x.infusion != nil && y.infusion != nil:
		if m.meeting[i][j] == Contraindicated && !m.together(i, j) {
			m.never = true
		}
		no = m.meeting[i][j] > Apart && !m.together(i, j) || m.ownLine(i) || m.ownLine(j) ||
			!m.follows(i, j) || !m.follows(j, i)
	case x.infusion != nil:
		no = !m.procedureIn(i, j)
	case y.infusion != nil:
		no = !m.procedureIn(j, i)
	}
	m.apart[i][j], m.apart[j][i] = no, no
	if no || x.continuous() || y.continuous() {
		return // what runs all day meets the other at every distance: see follows and procedureIn
	}
	m.gaps[i][j] = m.distances(i, j)
	steps := len(m.gaps[i][j])
	m.gaps[j][i] = make([]bool, steps)
	for d, ok := range m.gaps[i][j] {
		m.gaps[j][i][mod(-d, steps)] = ok
	}
}

func (m *model) ownLine(i int) bool {
	return m.items[i].infusion.OwnLine && !m.v.without(OwnLine, i)
}

// follows: infusion j may come after infusion i in one lumen, or together
// with it when one of them is continuous.
func (m *model) follows(i, j int) bool {
	a, b := m.items[i].infusion, m.items[j].infusion
	switch {
	case a.Continuous && b.Continuous:
		return m.together(i, j)
	case a.Continuous:
		return m.together(i, j) && !m.noBolus(i) && !m.noBolus(j) && m.bears(i, j)
	case b.Continuous:
		return m.follows(j, i)
	case m.noBolus(i) && len(a.After) == 0: // whatever comes next pushes what was left
		return false
	case !m.together(i, j) && a.After.first() == "" && b.Before.first() == "":
		return false
	case len(a.After) == 0 && m.avoids(i, b.Before.first()):
		return false
	case len(b.Before) == 0 && m.avoids(j, a.After.last()):
		return false
	}
	return true
}

// bears: every flush of dose j may run into the continuous infusion i.
func (m *model) bears(i, j int) bool {
	steps, _ := m.items[j].flushes(0)
	for _, f := range steps {
		if f.Fluid == Withdraw || m.avoids(i, f.Fluid) {
			return false
		}
	}
	return true
}

// procedureIn: procedure j may use the lumen of infusion i.
func (m *model) procedureIn(i, j int) bool {
	a, d := m.items[i].infusion, m.items[j].procedure
	if m.ownLine(i) || m.measuredElsewhere(i, j) {
		return false
	}
	first, last := d.After.first(), d.After.last()
	if a.Continuous {
		stop := m.stop(j) + d.Minutes + d.After.minutes()
		return !m.noBolus(i) && (stop <= a.Pause || m.v.without(NeverPause, i)) && !m.avoids(i, first) && !m.avoids(i, last)
	}
	return !(m.noBolus(i) && len(a.After) == 0) && !(len(a.After) == 0 && m.avoids(i, first)) && !(len(a.Before) == 0 && m.avoids(i, last))
}

func (m *model) stop(j int) int {
	if m.v.without(StopBefore, j) {
		return 0
	}
	return m.items[j].procedure.Stop
}

// measuredElsewhere: the draw measures the drug and the line has more than
// one lumen to draw from.
func (m *model) measuredElsewhere(i, j int) bool {
	if m.v.without(OtherDrug, j) || m.v.change.Kind == DrawFromOwn && m.v.item == j {
		return false
	}
	lumens := 0
	for _, l := range m.lumens {
		if l.Draws {
			lumens++
		}
	}
	if lumens < 2 {
		return false
	}
	for _, name := range m.items[j].procedure.Measures {
		if name == m.items[i].name {
			return true
		}
	}
	return false
}

// distances tells for every distance from a start of item i to a start of
// item j in one lumen whether they may stand so. Two doses of one item are
// i twice.
func (m *model) distances(i, j int) []bool {
	if m.items[i].continuous() {
		return nil
	}
	out := make([]bool, m.cycle/m.grid)
	for d := range out {
		out[d] = m.may(i, j, d*m.grid)
	}
	return out
}

// may: item j starts so many minutes after item i.
func (m *model) may(i, j, after int) bool {
	x, y := m.items[i], m.items[j]
	switch {
	case i == j:
		if a := x.infusion; a != nil && !m.v.without(Distance, i) {
			if least := a.least(m.cycle); after < least || m.cycle-after < least {
				return false
			}
		}
		return !x.whole(0).meets(y.whole(after), m.cycle)
	case x.infusion != nil && y.infusion != nil && m.together(i, j):
		return m.mayTogether(i, j, after)
	case x.whole(0).meets(y.whole(after), m.cycle):
		return false
	case x.infusion != nil && y.procedure != nil:
		return !stretch{after - m.stop(j), m.stop(j)}.meets(x.running(0), m.cycle)
	case x.procedure != nil && y.infusion != nil:
		return !stretch{-m.stop(i), m.stop(i)}.meets(y.running(after), m.cycle)
	}
	return true
}

// mayTogether: two compatible doses. A flush runs into a dose that is running
// only where that bears it, and two flushes never meet.
func (m *model) mayTogether(i, j, after int) bool {
	x, y := m.items[i], m.items[j]
	if m.noBolus(i) && x.running(0).meets(y.whole(after), m.cycle) || m.noBolus(j) && y.running(after).meets(x.whole(0), m.cycle) {
		return false
	}
	steps, at := x.flushes(0)
	others, there := y.flushes(after)
	for k, f := range steps {
		if at[k].meets(y.running(after), m.cycle) && (f.Fluid == Withdraw || m.avoids(j, f.Fluid)) {
			return false
		}
		for l := range others {
			if at[k].meets(there[l], m.cycle) {
				return false
			}
		}
	}
	for l, f := range others {
		if there[l].meets(x.running(0), m.cycle) && (f.Fluid == Withdraw || m.avoids(i, f.Fluid)) {
			return false
		}
	}
	return true
}
