package lumen

import (
	"fmt"
	"slices"
	"time"

	"weir.example/weir/mapping/notation"
)

// most lumens a change may ask for in all.
const mostLumens = 4

// change looks for the first change in the order of Change that makes a
// placement. Only what the conflict names can help: without a change there,
// the conflict stays.
func (e *explainer) change(r *Result, conflict uint32) {
	e.unsure = false
	defer func() { r.Tried = e.tried(r.Change, conflict) }()
	all := variant{active: 1<<len(e.p.items()) - 1}
	try := func(c Change, item int) bool {
		v := all
		v.change, v.item = c, item
		m, found := e.possible(v)
		if found == nil {
			return false
		}
		c.Smallest = !e.unsure
		c.Blocks = m.blocks(found)
		r.Change = &c
		return true
	}
	var members []int
	items := e.p.items()
	for i := range items {
		if conflict&(1<<i) != 0 {
			members = append(members, i)
		}
	}
	for _, i := range members {
		if len(items[i].asked()) > 0 && try(Change{Kind: OtherLumen, Name: items[i].name}, i) {
			return
		}
	}
	if e.move(r, items, members, try) {
		return
	}
	for _, i := range members {
		if d := items[i].procedure; d != nil && len(d.Measures) > 0 && try(Change{Kind: DrawFromOwn, Name: d.Name}, i) {
			return
		}
	}
	for n := 1; n <= 2 && len(e.p.Lumens)+n <= mostLumens; n++ {
		if try(Change{Kind: MoreLumens, Lumens: n}, -1) {
			return
		}
	}
}

// move looks for the fewest minutes. More minutes allow all that fewer allow,
// so the fewest are found by halving.
func (e *explainer) move(r *Result, items []item, members []int, try func(Change, int) bool) bool {
	var candidates []Change
	var of []int
	for _, i := range members {
		for k := range items[i].times {
			candidates, of = append(candidates, Change{Kind: MoveDose, Name: items[i].name, Dose: k}), append(of, i)
		}
	}
	for _, i := range members {
		if items[i].infusion != nil && len(items[i].times) > 1 {
			candidates, of = append(candidates, Change{Kind: MoveAll, Name: items[i].name}), append(of, i)
		}
	}
	best := noLimit
	for n, c := range candidates {
		c.Minutes = min(e.p.furthest(items[of[n]]), best-1)
		if c.Minutes < 1 || !try(c, of[n]) {
			continue
		}
		low, high := 0, c.Minutes // low is not enough, high is
		for high-low > 1 {
			c.Minutes = (low + high) / 2
			if try(c, of[n]) {
				high = c.Minutes
			} else {
				low = c.Minutes
			}
		}
		best = high
	}
	if r.Change == nil {
		return false
	}
	r.Change.Smallest = !e.unsure
	return true
}

// furthest is how far beyond its window a dose may be moved in a change: up
// to half the time to its neighbour, so that no dose takes the place of
// another ("give if under half the interval late": common practice, no
// source), and never so far that every start of the timetable is allowed.
func (p *Problem) furthest(x item) int {
	if len(x.times) == 0 {
		return 0
	}
	near := p.cycle()
	sorted := slices.Sorted(slices.Values(x.times))
	for k, t := range sorted {
		next := sorted[(k+1)%len(sorted)]
		if len(sorted) > 1 {
			near = min(near, mod(next-t, p.cycle()))
		}
	}
	return min(near/2, (p.cycle()-1-(x.high-x.low))/2)
}

func (e *explainer) tried(c *Change, conflict uint32) string {
	const covered = "another lumen of the line, one dose or all doses of one infusion moved by up to half the time between doses, a level drawn from the lumen of its drug, and one or two lumens more"
	switch {
	case c != nil:
		c.Says = e.p.say(*c)
		return covered
	case e.unsure:
		return "no change was found before the search was ended by its limit; looked at were: " + covered
	}
	return "none of these alone makes a placement: " + covered
}

func (p *Problem) say(c Change) string {
	minutes := notation.Duration(time.Duration(c.Minutes) * time.Minute)
	switch c.Kind {
	case OtherLumen:
		return fmt.Sprintf("%s runs through another lumen than the one it is ordered for", c.Name)
	case MoveDose:
		return fmt.Sprintf("the start of %s at %s is moved by %s more than is allowed", c.Name, p.clock(p.timeOf(c)), minutes)
	case MoveAll:
		return fmt.Sprintf("all doses of %s are moved by %s more than is allowed", c.Name, minutes)
	case DrawFromOwn:
		return fmt.Sprintf("%s is drawn from the lumen of the drug it measures, after the stop and a flush", c.Name)
	}
	if c.Lumens == 1 {
		return "the line has one lumen more"
	}
	return fmt.Sprintf("the line has %d lumens more", c.Lumens)
}

func (p *Problem) timeOf(c Change) int {
	for _, x := range p.items() {
		if x.name == c.Name {
			return x.times[c.Dose]
		}
	}
	return 0
}

// clock writes a minute of the timetable: 06:05, and the day when there are
// several.
func (p *Problem) clock(minute int) string {
	s := fmt.Sprintf("%02d:%02d", minute/60%24, minute%60)
	if p.Days > 1 {
		return fmt.Sprintf("day %d, %s", mod(minute, p.cycle())/1440+1, s)
	}
	return s
}
