package lumen_test

import (
	"slices"
	"strings"

	"weir.example/weir/mapping/lumen"
)

// This file reads the rules of the package a second time, tick by tick and
// pair by pair, without any of its code: it is what placements are held
// against, and what brute force asks.

// view is a problem with rules waived and one allowance made.
type view struct {
	lumen.Problem
	waived map[string]bool
	change lumen.Change
	tick   int
}

func key(kind lumen.RuleKind, names ...string) string {
	slices.Sort(names)
	return string(kind) + " " + strings.Join(names, "|")
}

func (v view) has(kind lumen.RuleKind, names ...string) bool {
	return !v.waived[key(kind, slices.Clone(names)...)]
}

func (v view) cycle() int { return 1440 * max(v.Days, 1) }

func (v view) meeting(a, b string) lumen.Meeting {
	if !v.has(lumen.Together, a, b) {
		return lumen.Compatible
	}
	for _, p := range v.Pairs {
		if p.A == a && p.B == b || p.A == b && p.B == a {
			return p.Meeting
		}
	}
	return lumen.Unknown
}

func (v view) avoids(a lumen.Infusion, fluid string) bool {
	return fluid != lumen.Withdraw && slices.Contains(a.Avoids, fluid) && v.has(lumen.Fluid, a.Name) // one spelling a fluid there
}

// least: without a stated distance, the first multiple of 5 minutes that is
// three quarters of the smallest scheduled one, or that itself.
func (v view) least(a lumen.Infusion) int {
	if a.Least > 0 || len(a.Times) < 2 {
		return a.Least
	}
	apart := v.cycle()
	for i, t := range a.Times {
		for _, s := range a.Times[:i] {
			apart = min(apart, positive(t-s, v.cycle()), positive(s-t, v.cycle()))
		}
	}
	n := 0
	for 4*n < 3*apart {
		n += 5
	}
	return min(n, apart)
}

func (v view) noBolus(a lumen.Infusion) bool { return a.NoBolus && v.has(lumen.NoBolus, a.Name) }

func wet(s lumen.Steps) []string {
	var out []string
	for _, f := range s {
		if f.Fluid != lumen.Withdraw {
			out = append(out, f.Fluid)
		}
	}
	return out
}

func long(s lumen.Steps) (n int) {
	for _, f := range s {
		n += f.Minutes
	}
	return n
}

func positive(n, m int) int { return ((n % m) + m) % m }

// ok reports whether a placement meets every rule that is not waived.
func (v view) ok(list []lumen.Placement) bool {
	var infusions []lumen.Infusion
	var procedures []lumen.Procedure
	var in, pro []lumen.Placement
	for _, x := range list {
		if i := slices.IndexFunc(v.Infusions, func(a lumen.Infusion) bool { return a.Name == x.Name }); i >= 0 {
			infusions, in = append(infusions, v.Infusions[i]), append(in, x)
			continue
		}
		i := slices.IndexFunc(v.Procedures, func(d lumen.Procedure) bool { return d.Name == x.Name })
		procedures, pro = append(procedures, v.Procedures[i]), append(pro, x)
	}
	for i, a := range infusions {
		if !v.infusionAlone(a, in[i]) {
			return false
		}
		for j := range infusions {
			if i < j && !v.pairOK(a, infusions[j], in[i].Lumen == in[j].Lumen) {
				return false
			}
		}
	}
	for j, d := range procedures {
		if !v.procedureOK(d, pro[j], infusions, in) {
			return false
		}
	}
	return v.ticksOK(infusions, procedures, in, pro)
}

func (v view) lumenAsked(name string, asked []int, l int) bool {
	added := len(v.Problem.Lumens) - max(0, v.change.Lumens)
	moved := v.change.Kind == lumen.OtherLumen && v.change.Name == name
	return len(asked) == 0 || l >= added || moved || !v.has(lumen.AskedLumen, name) || slices.Contains(asked, l)
}

// inWindow: some common shift of all doses within the anchor's room puts each
// dose within its own room.
func (v view) inWindow(name string, times, starts []int, early, late, anchorEarly, anchorLate int) bool {
	if !v.has(lumen.Window, name) {
		return true
	}
	if v.change.Kind == lumen.MoveAll && v.change.Name == name {
		anchorEarly, anchorLate = anchorEarly+v.change.Minutes, anchorLate+v.change.Minutes
	}
	for s := -anchorEarly; s <= anchorLate; s++ {
		all := true
		for k, t := range times {
			e, l := early, late
			if v.change.Kind == lumen.MoveDose && v.change.Name == name && v.change.Dose == k {
				e, l = e+v.change.Minutes, l+v.change.Minutes
			}
			all = all && positive(starts[k]-(t+s-e), v.cycle()) <= e+l
		}
		if all {
			return true
		}
	}
	return false
}

func (v view) infusionAlone(a lumen.Infusion, x lumen.Placement) bool {
	if !v.lumenAsked(a.Name, a.Lumens, x.Lumen) {
		return false
	}
	if a.Continuous {
		return true
	}
	if !v.inWindow(a.Name, a.Times, x.Starts, a.Early, a.Late, a.AnchorEarly, a.AnchorLate) {
		return false
	}
	if long(a.Before)+a.Duration+long(a.After) > v.cycle() {
		return false
	}
	if w := wet(a.Before); len(w) > 0 && v.avoids(a, w[len(w)-1]) {
		return false
	}
	if w := wet(a.After); len(w) > 0 && v.avoids(a, w[0]) {
		return false
	}
	if v.noBolus(a) && len(a.After) > 0 && a.After[0].Fluid != lumen.Withdraw {
		return false
	}
	for i, s := range x.Starts {
		for j, t := range x.Starts {
			if i != j && v.has(lumen.Distance, a.Name) && positive(t-s, v.cycle()) < v.least(a) {
				return false
			}
		}
	}
	return true
}

func (v view) pairOK(a, b lumen.Infusion, same bool) bool {
	m := v.meeting(a.Name, b.Name)
	if m == lumen.Contraindicated {
		return false
	}
	if !same {
		return true
	}
	if m == lumen.Separate {
		return false
	}
	for _, x := range [][2]lumen.Infusion{{a, b}, {b, a}} {
		one, other := x[0], x[1]
		if one.OwnLine && v.has(lumen.OwnLine, one.Name) {
			return false
		}
		if one.Continuous {
			if !other.Continuous && (v.noBolus(one) || v.noBolus(other)) {
				return false
			}
			continue
		}
		if other.Continuous {
			continue
		}
		if v.noBolus(one) && len(one.After) == 0 {
			return false
		}
		// one, then other.
		after, before := wet(one.After), wet(other.Before)
		if m != lumen.Compatible && len(after)+len(before) == 0 {
			return false
		}
		if len(one.After) == 0 && len(before) > 0 && v.avoids(one, before[0]) {
			return false
		}
		if len(other.Before) == 0 && len(after) > 0 && v.avoids(other, after[len(after)-1]) {
			return false
		}
	}
	return true
}

func (v view) procedureOK(d lumen.Procedure, x lumen.Placement, infusions []lumen.Infusion, in []lumen.Placement) bool {
	if !v.lumenAsked(d.Name, d.Lumens, x.Lumen) || !v.inWindow(d.Name, d.Times, x.Starts, d.Early, d.Late, 0, 0) {
		return false
	}
	if d.Blood && !v.Lumens[x.Lumen].Draws && v.has(lumen.DrawLumen, d.Name) {
		return false
	}
	drawable := 0
	for _, l := range v.Lumens {
		if l.Draws {
			drawable++
		}
	}
	stop := d.Stop
	if !v.has(lumen.StopBefore, d.Name) {
		stop = 0
	}
	for i, a := range infusions {
		if t := d.Trough; t != nil && t.Of == a.Name && v.has(lumen.TroughTime, d.Name) {
			for _, at := range x.Starts {
				if !slices.ContainsFunc(in[i].Starts, func(s int) bool {
					n := positive(s-at, v.cycle())
					return t.Least <= n && n <= t.Most
				}) {
					return false
				}
			}
		}
		if in[i].Lumen != x.Lumen {
			continue
		}
		if a.OwnLine && v.has(lumen.OwnLine, a.Name) {
			return false
		}
		exempt := v.change.Kind == lumen.DrawFromOwn && v.change.Name == d.Name
		if slices.Contains(d.Measures, a.Name) && drawable > 1 && !exempt && v.has(lumen.OtherDrug, d.Name) {
			return false
		}
		w := wet(d.After)
		if a.Continuous {
			if v.noBolus(a) || stop+d.Minutes+long(d.After) > a.Pause && v.has(lumen.NeverPause, a.Name) {
				return false
			}
			if len(w) > 0 && (v.avoids(a, w[0]) || v.avoids(a, w[len(w)-1])) {
				return false
			}
			continue
		}
		if v.noBolus(a) && len(a.After) == 0 || len(w) > 0 && (len(a.After) == 0 && v.avoids(a, w[0]) || len(a.Before) == 0 && v.avoids(a, w[len(w)-1])) {
			return false
		}
	}
	return true
}

// event is something in one lumen in one tick.
type event struct {
	owner      string
	kind       string // run, flush, procedure, stop
	fluid      string
	continuous bool
	infusion   lumen.Infusion
}

func (v view) ticksOK(infusions []lumen.Infusion, procedures []lumen.Procedure, in, pro []lumen.Placement) bool {
	ticks := v.cycle() / v.tick
	lumens := make([][][]event, len(v.Lumens))
	for l := range lumens {
		lumens[l] = make([][]event, ticks)
	}
	fill := func(l, from, n int, e event) int {
		for k := range n / v.tick {
			at := positive(from/v.tick+k, ticks)
			lumens[l][at] = append(lumens[l][at], e)
		}
		return from + n
	}
	whole := v.cycle() * 4 // keeps what is before midnight positive
	for i, a := range infusions {
		if a.Continuous {
			fill(in[i].Lumen, whole, v.cycle(), event{owner: a.Name, kind: "run", continuous: true, infusion: a})
			continue
		}
		for _, s := range in[i].Starts {
			at := whole + s - long(a.Before)
			for _, f := range a.Before {
				at = fill(in[i].Lumen, at, f.Minutes, event{owner: a.Name, kind: "flush", fluid: f.Fluid, infusion: a})
			}
			at = fill(in[i].Lumen, at, a.Duration, event{owner: a.Name, kind: "run", infusion: a})
			for _, f := range a.After {
				at = fill(in[i].Lumen, at, f.Minutes, event{owner: a.Name, kind: "flush", fluid: f.Fluid, infusion: a})
			}
		}
	}
	for j, d := range procedures {
		for _, s := range pro[j].Starts {
			if v.has(lumen.StopBefore, d.Name) {
				fill(pro[j].Lumen, whole+s-d.Stop, d.Stop, event{owner: d.Name, kind: "stop"})
			}
			fill(pro[j].Lumen, whole+s, d.Minutes+long(d.After), event{owner: d.Name, kind: "procedure"})
		}
	}
	for l := range lumens {
		for _, events := range lumens[l] {
			for i, e := range events {
				for _, o := range events[i+1:] {
					if !v.meet(e, o) || !v.meet(o, e) {
						return false
					}
				}
			}
		}
	}
	return true
}

// meet looks at two things in one lumen in one tick from the side of e.
func (v view) meet(e, o event) bool {
	switch {
	case e.kind == "stop":
		return o.kind != "run" || o.continuous
	case e.kind == "procedure":
		return o.kind == "stop" || o.kind == "run" && o.continuous
	case o.kind == "stop" || o.kind == "procedure":
		return true // seen from the other side
	case e.owner == o.owner:
		return false // two doses of one infusion
	case v.meeting(e.owner, o.owner) != lumen.Compatible:
		return false
	case e.kind == "flush" && o.kind == "flush":
		return false
	case e.kind == "flush":
		return e.fluid != lumen.Withdraw && !v.avoids(o.infusion, e.fluid) && !v.noBolus(o.infusion)
	case o.kind == "run" && v.noBolus(e.infusion) && !o.continuous:
		return false
	}
	return true
}
