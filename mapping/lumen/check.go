package lumen

import (
	"fmt"
	"slices"
)

// What a problem may hold. Larger ones are refused, not cut.
const (
	mostItems = 16
	mostDoses = 96
	mostCells = 2016 // starts of one dose: a week on a grid of 5 minutes
	mostLimit = 100_000_000
)

type checker struct{ faults []string }

func (c *checker) say(format string, args ...any) {
	c.faults = append(c.faults, fmt.Sprintf(format, args...))
}

// faults lists what is missing, contradictory or too large, in words.
func (p *Problem) faults() []string {
	var c checker
	if n := len(p.Lumens); n < 1 || n > 3 {
		c.say("the line has %d lumens; 1 to 3 can be planned", n)
	}
	if n := len(p.Infusions) + len(p.Procedures); n < 1 || n > mostItems {
		c.say("there are %d infusions and procedures; 1 to %d can be planned", n, mostItems)
	}
	if p.Days < 0 || p.Days > 7 {
		c.say("the timetable repeats after %d days; 1 to 7 can be planned", p.Days)
	}
	if p.Grid < 0 || p.Grid > 0 && 1440%p.Grid != 0 {
		c.say("a grid of %d minutes does not divide a day", p.Grid)
	}
	if p.Limit < 0 || p.Limit > mostLimit {
		c.say("the limit of nodes is %d", p.Limit)
	}
	for _, s := range p.Sleep {
		if s.From < 0 || s.From > 1440 || s.Until < 0 || s.Until > 1440 {
			c.say("hours of sleep from minute %d until %d are not in a day", s.From, s.Until)
		}
	}
	if len(c.faults) > 0 {
		return c.faults
	}
	p.checkItems(&c)
	p.checkPairs(&c)
	if len(c.faults) == 0 {
		p.checkGrid(&c)
	}
	return c.faults
}

func (p *Problem) checkItems(c *checker) {
	seen := map[string]bool{}
	doses := 0
	name := func(s string) {
		if s == "" || seen[s] {
			c.say("the name %q is empty or stands twice", s)
		}
		seen[s] = true
	}
	for _, a := range p.Infusions {
		name(a.Name)
		doses += len(a.Times)
		p.checkInfusion(c, a)
		p.checkFluids(c, a)
	}
	for _, d := range p.Procedures {
		name(d.Name)
		doses += len(d.Times)
		p.checkProcedure(c, d)
	}
	if doses > mostDoses {
		c.say("there are %d starts; at most %d can be planned", doses, mostDoses)
	}
}

func (p *Problem) checkInfusion(c *checker, a Infusion) {
	p.checkLumens(c, a.Name, a.Lumens)
	p.checkSteps(c, a.Name, a.Before, a.After)
	if a.Continuous {
		if len(a.Times)+len(a.Before)+len(a.After) > 0 || a.Duration != 0 || a.Early|a.Late|a.AnchorEarly|a.AnchorLate|a.Least != 0 {
			c.say("%s runs all day: it has no times, no length, no flush", a.Name)
		}
		if a.Pause < 0 || a.Pause > 1440 {
			c.say("%s may be stopped for %d minutes", a.Name, a.Pause)
		}
		return
	}
	p.checkTimes(c, a.Name, a.Times, []int{a.Early, a.Late, a.AnchorEarly, a.AnchorLate})
	switch {
	case a.Duration < 1 || a.Duration > p.cycle():
		c.say("one dose of %s takes %d minutes; the time it takes must be known and fit the timetable", a.Name, a.Duration)
	case a.Pause != 0:
		c.say("%s is not continuous and cannot be stopped for a draw", a.Name)
	case a.Least < 0 || a.Least > p.cycle():
		c.say("doses of %s are to be %d minutes apart", a.Name, a.Least)
	}
}

func (p *Problem) checkProcedure(c *checker, d Procedure) {
	p.checkLumens(c, d.Name, d.Lumens)
	p.checkSteps(c, d.Name, d.After)
	p.checkTimes(c, d.Name, d.Times, []int{d.Early, d.Late})
	if d.Minutes < 0 || d.Minutes > 240 || d.Stop < 0 || d.Stop > 1440 || d.Minutes+d.After.minutes() < 1 {
		c.say("%s takes %d minutes after a stop of %d", d.Name, d.Minutes, d.Stop)
	}
	if d.Blood && (d.Minutes < 1 || len(d.After) == 0) {
		c.say("%s is a blood draw: how long it takes and the flush after it must be known", d.Name)
	}
	if !d.Blood && (len(d.Measures) > 0 || d.Trough != nil) {
		c.say("%s draws no blood and measures nothing", d.Name)
	}
	for _, name := range d.Measures {
		if p.infusion(name) < 0 {
			c.say("%s measures %q, which is no infusion of the line", d.Name, name)
		}
	}
	if t := d.Trough; t != nil {
		if i := p.infusion(t.Of); i < 0 || p.Infusions[i].Continuous {
			c.say("%s is tied to a dose of %q, which is no infusion with doses", d.Name, t.Of)
		}
		if t.Least < 0 || t.Most < t.Least || t.Most >= p.cycle() {
			c.say("%s is drawn %d to %d minutes before a dose", d.Name, t.Least, t.Most)
		}
	}
}

func (p *Problem) checkLumens(c *checker, name string, list []int) {
	for _, l := range list {
		if l < 0 || l >= len(p.Lumens) {
			c.say("%s asks for lumen number %d, which the line does not have", name, l)
		}
	}
}

func (p *Problem) checkSteps(c *checker, name string, lists ...Steps) {
	for _, list := range lists {
		if len(list) > 4 {
			c.say("%s has %d flushes in a row", name, len(list))
		}
		for _, f := range list {
			if f.Fluid == "" || f.Minutes < 1 || f.Minutes > 240 {
				c.say("%s has a flush of %q in %d minutes; fluid and time must be known", name, f.Fluid, f.Minutes)
			}
		}
	}
}

func (p *Problem) checkTimes(c *checker, name string, times, room []int) {
	if len(times) == 0 {
		c.say("%s has no time", name)
	}
	for _, t := range times {
		if t < 0 || t >= p.cycle() {
			c.say("%s is scheduled at minute %d, outside the timetable", name, t)
		}
	}
	width := 0
	for _, n := range room {
		if n < 0 || n >= p.cycle() {
			c.say("%s may be moved by %d minutes", name, n)
			return
		}
		width += n
	}
	if width >= p.cycle() {
		c.say("%s may be moved over %d minutes, the whole timetable or more", name, width)
	}
}

func (p *Problem) checkPairs(c *checker) {
	seen := map[[2]int]bool{}
	for _, x := range p.Pairs {
		a, b := p.infusion(x.A), p.infusion(x.B)
		key := [2]int{min(a, b), max(a, b)}
		switch {
		case a < 0 || b < 0 || a == b:
			c.say("the pair %q and %q is not of two infusions of the line", x.A, x.B)
		case seen[key]:
			c.say("the pair %s and %s stands twice", x.A, x.B)
		case x.Meeting < Unknown || x.Meeting > Contraindicated:
			c.say("the pair %s and %s has no known meeting", x.A, x.B)
		}
		seen[key] = true
	}
}

// checkGrid: every dose has a start on the grid, and there are not too many.
func (p *Problem) checkGrid(c *checker) {
	g := p.grid()
	if p.cycle()/g > mostCells {
		c.say("a grid of %d minutes gives too many starts in %d days; a coarser one is needed", g, max(p.Days, 1))
		return
	}
	for _, x := range p.items() {
		for k, t := range x.times {
			if low := ceilTo(t+x.low, g); low > t+x.high {
				c.say("no start of %s at minute %d lies on the grid of %d minutes", x.name, x.times[k], g)
			}
		}
	}
}

func (p *Problem) infusion(name string) int {
	return slices.IndexFunc(p.Infusions, func(a Infusion) bool { return a.Name == name })
}

// grid is the one asked for, or the largest that divides all that counts.
func (p *Problem) grid() int {
	if p.Grid > 0 {
		return p.Grid
	}
	return p.divisor()
}

// divisor is the greatest that divides every number of minutes: on it no
// placement is lost.
func (p *Problem) divisor() int {
	g := 1440
	add := func(list ...int) {
		for _, n := range list {
			for n != 0 {
				g, n = n, g%n
			}
		}
	}
	steps := func(list Steps) {
		for _, f := range list {
			add(f.Minutes)
		}
	}
	for _, a := range p.Infusions {
		add(a.Times...)
		add(a.Early, a.Late, a.AnchorEarly, a.AnchorLate, a.least(p.cycle()), a.Duration)
		steps(a.Before)
		steps(a.After)
	}
	for _, d := range p.Procedures {
		add(d.Times...)
		add(d.Early, d.Late, d.Minutes, d.Stop)
		steps(d.After)
		if d.Trough != nil {
			add(d.Trough.Least, d.Trough.Most)
		}
	}
	return g
}

// ceilTo rounds up to a multiple of g.
func ceilTo(n, g int) int {
	q := n / g
	if n%g > 0 {
		q++
	}
	return q * g
}
