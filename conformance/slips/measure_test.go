package slips_test

import (
	"fmt"
	"slices"
	"strings"

	"weir.example/weir/conformance/arithmetic"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
)

// count is what is counted of slips. The last five are of the checkable
// ones that were found.
type count struct {
	cases, checkable, found, foundCheckable   int
	listed, explanations, first, named, right int
}

func (c *count) add(o count) {
	c.cases += o.cases
	c.checkable += o.checkable
	c.found += o.found
	c.foundCheckable += o.foundCheckable
	c.listed += o.listed
	c.explanations += o.explanations
	c.first += o.first
	c.named += o.named
	c.right += o.right
}

// alarm is what is counted of correct orders.
type alarm struct{ cases, any, overOne, overFive int }

func (a *alarm) add(o alarm) {
	a.cases += o.cases
	a.any += o.any
	a.overOne += o.overOne
	a.overFive += o.overFive
}

// weak is one way in which the answer was wrong, how often, and an example.
type weak struct {
	cases, wrong int
	example      string
	from         int // number of the order of the example
}

// key tells what a count is of.
type key struct {
	ward, group, row string
	grade            int
}

// tally is the result of a run, or of one worker's part.
type tally struct {
	orders int
	slips  map[key]*count
	alarms map[key]*alarm
	weak   map[key]*weak
}

func newTally() *tally {
	return &tally{slips: map[key]*count{}, alarms: map[key]*alarm{}, weak: map[key]*weak{}}
}

func (t *tally) add(o *tally) {
	t.orders += o.orders
	for k, c := range o.slips {
		t.slip(k, *c)
	}
	for k, a := range o.alarms {
		t.alarm(k, *a)
	}
	for k, w := range o.weak {
		t.weakness(k, *w)
	}
}

func (t *tally) slip(k key, c count) {
	if t.slips[k] == nil {
		t.slips[k] = &count{}
	}
	t.slips[k].add(c)
}

func (t *tally) alarm(k key, a alarm) {
	if t.alarms[k] == nil {
		t.alarms[k] = &alarm{}
	}
	t.alarms[k].add(a)
}

func (t *tally) weakness(k key, w weak) {
	have := t.weak[k]
	if have == nil {
		t.weak[k] = &w
		return
	}
	if w.example != "" && (have.example == "" || w.from < have.from) {
		have.example, have.from = w.example, w.from
	}
	have.cases += w.cases
	have.wrong += w.wrong
}

func one(b bool) int {
	if b {
		return 1
	}
	return 0
}

// judged is the checker's answer on one order with a slip in the statement
// at place, called name.
func judged(a arithmetic.Agreement, name, place string, checkable bool) count {
	c := count{cases: 1, checkable: one(checkable), found: one(len(a.Conflicts) > 0)}
	c.foundCheckable = c.found * c.checkable
	if c.foundCheckable == 0 { // an alarm that the slip has no part in finds nothing
		return c
	}
	culprits := a.Conflicts[0].Culprits
	c.explanations = len(culprits)
	is := func(k finding.Culprit) bool { return k.Name == name && k.Expression == place }
	c.listed = one(slices.ContainsFunc(culprits, is))
	if len(culprits) > 0 {
		c.first = one(is(culprits[0]))
		c.named = one(culprits[0].Named)
		c.right = c.named * c.first
	}
	return c
}

func alarmed(a arithmetic.Agreement) alarm {
	out := alarm{cases: 1}
	for _, c := range a.Conflicts {
		gap := c.Gap.Rat()
		out.any = 1
		out.overOne = max(out.overOne, one(less(rat("0.01"), gap)))
		out.overFive = max(out.overFive, one(less(rat("0.05"), gap)))
	}
	return out
}

// show writes an order and what the checker says of it, for the person who
// tunes the ranking.
func show(p plan, list []written, typed int, was written, a arithmetic.Agreement) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s:", p.drug.class)
	for i, w := range list {
		mark := ""
		if w.witness != order.Coded {
			mark = "(" + string(w.witness) + ") "
		}
		fmt.Fprintf(&b, " %s%s %s %s", mark, w.name, w.digits, w.unit)
		if i == typed {
			fmt.Fprintf(&b, " [was %s %s]", was.digits, was.unit)
		}
		b.WriteString(";")
	}
	for _, c := range a.Conflicts {
		fmt.Fprintf(&b, " gap %s, %s →", c.Gap.Rat().FloatString(4), c.Formula)
		for _, k := range c.Culprits[:min(4, len(c.Culprits))] {
			fmt.Fprintf(&b, " %s %s→%s %s (%s", k.Name, k.Stated, k.Consistent, k.Unit, k.Signature)
			if k.Named {
				b.WriteString(", named")
			}
			b.WriteString(")")
		}
	}
	return b.String()
}
