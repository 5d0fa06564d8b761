package computation

import (
	"slices"
	"strings"

	"weir.example/weir/conformance/arithmetic"
	"weir.example/weir/conformance/equation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// indexed reports whether a filtration rate is one for 1.73 m² of surface.
func indexed(u quantity.Unit) bool { return strings.Contains(u.Code(), "{1.73_m2}") }

// answer puts together what follows, in the units asked for.
func (c *run) answer() Answer {
	a := Answer{Quantities: map[string]order.Quantity{}, Words: c.words, Unchecked: c.unchecked(), TooMany: c.network.TooMany}
	a.Conflicts = append(c.network.Conflicts, c.checks()...)
	for name, k := range c.known {
		unit := c.unitFor(name, k.unit)
		q := order.Quantity{Value: unit.FromBase(k.value), Low: unit.FromBase(k.low), High: unit.FromBase(k.high), Unit: unit,
			Stated: k.stated != nil, Disputed: k.disputed, Derivation: k.ways}
		if k.stated != nil {
			q.Place, q.Literal = place(name), k.stated.Literal
		}
		a.Quantities[name] = q
	}
	for _, conflict := range a.Conflicts {
		for _, name := range conflict.Names {
			if q, ok := a.Quantities[name]; ok && !(len(conflict.Culprits) > 0 && conflict.Culprits[0].Named && conflict.Culprits[0].Name != name) {
				q.Disputed = true
				a.Quantities[name] = q
			}
		}
	}
	for _, e := range c.active {
		if o, ok := c.outside[e.Output]; ok && o.Code == e.Code {
			a.Outside = append(a.Outside, o)
		}
	}
	a.Next = c.next()
	return a
}

// unchecked are the numbers given that nothing else given speaks about: no
// relation of the network, no equation whose answer was given as well.
func (c *run) unchecked() []arithmetic.Unchecked {
	checked := map[string]bool{}
	reach := func(name string) {
		checked[name] = true
		for n := range c.known[name].from {
			checked[n] = true
		}
	}
	for _, e := range c.active {
		if k, ok := c.known[e.Output]; ok && k.stated != nil && len(c.ready(e)) == 0 && !c.restsOn(e, e.Output) {
			for _, n := range append(c.uses(e), e.Output) {
				reach(n)
			}
		}
	}
	open := map[string]arithmetic.Unchecked{}
	for _, u := range c.network.Unchecked {
		open[u.Name] = u
	}
	for _, name := range arithmetic.Names {
		if _, lacks := open[name]; !lacks && c.network.Relations > 0 {
			if k, ok := c.known[name]; ok && (k.stated != nil || c.entered[name]) {
				reach(name)
			}
		}
	}
	var out []arithmetic.Unchecked
	for _, n := range names {
		k, ok := c.known[n.Name]
		if !ok || k.stated == nil || checked[n.Name] {
			continue
		}
		u, known := open[n.Name]
		if !known {
			u = arithmetic.Unchecked{Name: n.Name, Place: place(n.Name)}
		}
		out = append(out, u)
	}
	return out
}

// restsOn reports whether an input of the equation was itself worked out
// from the NAME: such a way round proves nothing.
func (c *run) restsOn(e equation.Equation, name string) bool {
	for _, n := range c.uses(e) {
		if c.known[n].from[name] {
			return true
		}
	}
	return false
}

// next lists what one more NAME would let be worked out, most first.
func (c *run) next() []Next {
	gives := map[string][]string{}
	add := func(give, output string) {
		if _, have := c.known[output]; have || give == output || slices.Contains(gives[give], output) {
			return
		}
		if _, have := c.words[output]; !have {
			gives[give] = append(gives[give], output)
		}
	}
	var have []string
	for _, name := range arithmetic.Names {
		if _, ok := c.known[name]; ok {
			have = append(have, name)
		}
	}
	for give, outputs := range arithmetic.Opens(have) {
		for _, o := range outputs {
			add(give, o)
		}
	}
	for _, e := range c.active {
		if lacks := c.ready(e); len(lacks) == 1 && len(e.Inputs) > 1 {
			add(lacks[0], e.Output)
		}
	}
	var out []Next
	for _, n := range names { // in the order of the list
		if list := gives[n.Name]; len(list) > 0 {
			slices.SortFunc(list, func(a, b string) int { return rank(a) - rank(b) })
			out = append(out, Next{n.Name, list})
		}
	}
	slices.SortStableFunc(out, func(a, b Next) int { return len(b.Gives) - len(a.Gives) })
	return out
}

func rank(name string) int {
	return slices.IndexFunc(names, func(n Name) bool { return n.Name == name })
}
