package slips_test

import (
	"math/big"
	"math/rand/v2"
	"runtime"
	"slices"
	"strconv"
	"sync"

	"weir.example/weir/conformance/arithmetic"
)

// run is how much is tried.
type run struct {
	seed     uint64
	orders   int // careful ones; a fifth as many careless ones have slips as well
	perSet   int // slips of each order in each set
	carried  int // one order in this many is tried with a wrong weight
	bare     int // one order in this many has its slips tried without drug tables; 0: none
	examples bool
	least    int // examples only of orders with as many independent checks
}

// run invents the orders and measures, on all cores. The result depends on
// the seed alone: each order has its own stream of chance.
func (r run) run() *tally {
	var wait sync.WaitGroup
	parts := make([]*tally, runtime.GOMAXPROCS(0))
	for n := range parts {
		parts[n] = newTally()
		wait.Go(func() {
			for i := n; i < r.orders; i += len(parts) {
				r.one(parts[n], i)
			}
		})
	}
	wait.Wait()
	for _, p := range parts[1:] {
		parts[0].add(p)
	}
	return parts[0]
}

// one invents order i and tries it as both wards write it.
func (r run) one(t *tally, i int) {
	chance := rand.New(rand.NewPCG(r.seed, uint64(i)))
	p := draw(chance)
	for p.write(careful, p.weight, p.weight) == nil { // above the drug's most: a capped dose
		p = draw(chance)
	}
	t.orders++
	for _, w := range []ward{careful, careless} {
		all := p.write(w, p.weight, p.saidWeight(w))
		if all == nil {
			continue
		}
		x := trial{run: r, t: t, i: i, plan: p, ward: w, all: all, chance: chance}
		x.usual, x.fate = p.usual()
		for _, f := range sets {
			stated, ok := f.stated(p, all)
			if !ok {
				continue
			}
			x.correct(f, stated)
			if w.name == careful.name || i%5 == 0 {
				x.slips(f, stated)
			}
			if w.name == careful.name && i%r.carried == 0 {
				x.carried(f, stated)
			}
		}
	}
}

// trial is one order as one ward writes it.
type trial struct {
	run    run
	t      *tally
	i      int
	plan   plan
	ward   ward
	all    []written
	usual  [3]arithmetic.Usual
	fate   string // of the rough table
	chance *rand.Rand
}

func (x trial) key(group, row string, grade int) key { return key{x.ward.name, group, row, grade} }

func (x trial) correct(f fieldSet, stated []written) {
	list := handed(stated)
	for grade, u := range x.usual {
		a := arithmetic.Reconcile(list, u)
		n := alarmed(a)
		x.t.alarm(x.key("set", f.name, grade), n)
		if f.earlier {
			x.t.alarm(x.key("total", "with an earlier weight", grade), n)
		} else {
			x.t.alarm(x.key("total", "all", grade), n)
			x.t.alarm(x.key("kind", string(x.plan.drug.kind), grade), n)
			x.t.alarm(x.key("rough table is", x.fate, grade), n)
		}
		if x.run.examples {
			w := weak{cases: 1, wrong: n.any}
			if n.any > 0 {
				w.example, w.from = show(x.plan, stated, -1, written{}, a), x.i
			}
			x.t.weakness(x.key("alarm", f.name+" | "+string(x.plan.drug.kind), grade), w)
		}
	}
}

// slips tries a drawn part of the order's possible slips, spread evenly over
// the pairs of signature and field.
func (x trial) slips(f fieldSet, stated []written) {
	reach := reachOf(stated, x.plan.drug.kind.continuous())
	slipper := slipper{x.plan, x.ward, x.all, x.chance}
	for _, v := range slipper.some(stated, x.run.perSet) {
		was := stated[v.at]
		typed := with(stated, v)
		list := handed(typed)
		for grade, u := range x.usual {
			if grade == none && (x.run.bare == 0 || x.i%x.run.bare != 0) {
				continue
			}
			a := arithmetic.Reconcile(list, u)
			x.count(f, reach, v, was, typed, grade, a)
		}
	}
}

func (x trial) count(f fieldSet, reach reach, v slip, was written, typed []written, grade int, a arithmetic.Agreement) {
	c := judged(a, was.name, was.place, reach.checkable[was.name])
	x.t.slip(x.key("signature", v.signature, grade), c)
	x.t.slip(x.key("signature and field", v.signature+" | "+was.name, grade), c)
	if slices.Contains(unmarked, v.signature) {
		return
	}
	x.t.slip(x.key("set", f.name, grade), c)
	x.t.slip(x.key("kind", string(x.plan.drug.kind), grade), c)
	x.t.slip(x.key("checks", strconv.Itoa(min(reach.checks, 4)), grade), c)
	x.t.slip(x.key("rough table is", x.fate, grade), c)
	x.t.slip(x.key("total", "all", grade), c)
	if slices.Contains(multiples, v.signature) {
		x.t.slip(x.key("total", "multiples", grade), c)
	}
	x.t.slip(x.key("coverage", f.name+" | "+v.signature+" | "+was.name, grade), count{cases: 1})
	if x.run.examples && reach.checks >= x.run.least {
		row := f.name + " | " + was.name + " | " + v.signature
		x.weak("rank 1 wrong", row, grade, c.foundCheckable, c.foundCheckable-c.first, func() string { return show(x.plan, typed, v.at, was, a) })
		x.weak("named wrong", row, grade, c.named, c.named-c.right, func() string { return show(x.plan, typed, v.at, was, a) })
		x.weak("not listed", row, grade, c.foundCheckable, c.foundCheckable-c.listed, func() string { return show(x.plan, typed, v.at, was, a) })
		x.weak("not found", row, grade, c.checkable, c.checkable-c.foundCheckable, func() string { return show(x.plan, typed, v.at, was, a) })
	}
}

func (x trial) weak(group, row string, grade, cases, wrong int, example func() string) {
	w := weak{cases: cases, wrong: wrong}
	if k := x.key(group, row, grade); wrong > 0 && (x.t.weak[k] == nil || x.t.weak[k].example == "") {
		w.example, w.from = example(), x.i
	}
	x.t.weakness(x.key(group, row, grade), w)
}

// carried tries a wrong weight that the dose was worked out with: either the
// wrong weight stands in the order as well, or only its dose does.
func (x trial) carried(f fieldSet, stated []written) {
	if x.plan.drug.kind != perKgAdult && x.plan.drug.kind != perKgChild && x.plan.drug.kind != dripPerKg {
		return
	}
	wrong := times(x.plan.weight, over(whole(1), worth("[lb_av]")))
	for i, said := range []*big.Rat{wrong, x.plan.weight} {
		all := x.plan.write(x.ward, wrong, nearest(said, rat("0.1")))
		if all == nil {
			continue
		}
		typed, ok := f.stated(x.plan, all)
		if !ok {
			continue
		}
		reach := reachOf(typed, x.plan.drug.kind.continuous())
		name, group := "dosingWeight", "wrong weight written and used"
		if i == 1 {
			group = "right weight written, wrong one used"
			name = map[bool]string{true: "drugRate", false: "dose"}[x.plan.drug.kind == dripPerKg]
		}
		if !slices.ContainsFunc(typed, func(w written) bool { return w.name == name }) {
			continue
		}
		if f.earlier {
			group += ", earlier weight on record"
		}
		for grade, u := range x.usual {
			a := arithmetic.Reconcile(handed(typed), u)
			x.t.slip(x.key("carried", group, grade), judged(a, name, "coded:"+name, reach.checkable[name]))
			honest := 0
			if len(a.Conflicts) > 0 && len(a.Conflicts[0].Culprits) > 0 {
				k := a.Conflicts[0].Culprits[0]
				honest = one(k.Expression == "earlier:dosingWeight" || i == 1 && k.Name == "dosingWeight")
			}
			x.t.alarm(x.key("honest weight blamed", group, grade), alarm{cases: one(len(a.Conflicts) > 0), any: honest})
		}
	}
}
