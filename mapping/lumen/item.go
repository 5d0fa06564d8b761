package lumen

// item is an infusion or a procedure as the search sees it.
type item struct {
	name       string
	infusion   *Infusion // one of the two is nil
	procedure  *Procedure
	times      []int
	low, high  int // a dose may start so many minutes from its time
	spread     int // most difference between two doses of that; -1: no rule
	before     int
	run, after int // minutes
}

func (p *Problem) items() []item {
	var out []item
	for i := range p.Infusions {
		a := &p.Infusions[i]
		out = append(out, item{name: a.Name, infusion: a, times: a.Times,
			low: -a.AnchorEarly - a.Early, high: a.AnchorLate + a.Late, spread: a.Early + a.Late,
			before: a.Before.minutes(), run: a.Duration, after: a.After.minutes()})
	}
	for i := range p.Procedures {
		d := &p.Procedures[i]
		out = append(out, item{name: d.Name, procedure: d, times: d.Times, low: -d.Early, high: d.Late, spread: -1,
			run: d.Minutes, after: d.After.minutes()})
	}
	return out
}

func (x item) continuous() bool { return x.infusion != nil && x.infusion.Continuous }

func (x item) block() int { return x.before + x.run + x.after }

func (x item) asked() []int {
	if x.infusion != nil {
		return x.infusion.Lumens
	}
	return x.procedure.Lumens
}

// stretch is a part of a circle: from, and how long.
type stretch struct{ from, long int }

func (s stretch) meets(o stretch, circle int) bool {
	if s.long == 0 || o.long == 0 {
		return false
	}
	return mod(o.from-s.from, circle) < s.long || mod(s.from-o.from, circle) < o.long
}

func mod(n, m int) int { return (n%m + m) % m }

// The parts of an item that starts at a minute. A continuous infusion runs
// all the time, whatever start is given.
func (x item) whole(at int) stretch   { return stretch{at - x.before, x.block()} }
func (x item) running(at int) stretch { return stretch{at, x.run} }

// flushes are the steps before and after, each with where it lies.
func (x item) flushes(at int) (steps Steps, where []stretch) {
	add := func(list Steps, from int) {
		for _, f := range list {
			steps, where = append(steps, f), append(where, stretch{from, f.Minutes})
			from += f.Minutes
		}
	}
	if x.infusion != nil {
		add(x.infusion.Before, at-x.before)
		add(x.infusion.After, at+x.run)
	} else {
		add(x.procedure.After, at+x.run)
	}
	return steps, where
}

// first and last fluid of a row of steps; "" when none is injected.
func (s Steps) first() string {
	for _, f := range s {
		if f.Fluid != Withdraw {
			return f.Fluid
		}
	}
	return ""
}

func (s Steps) last() string {
	for i := len(s) - 1; i >= 0; i-- {
		if s[i].Fluid != Withdraw {
			return s[i].Fluid
		}
	}
	return ""
}
