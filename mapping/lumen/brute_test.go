package lumen_test

import (
	"fmt"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"weir.example/weir/mapping/lumen"
)

// tick is the unit of the small problems: a day of 12.
const tick = 120

const tooMany = 8_000

// brute tries every lumen and every start. It stops at the first placement,
// or goes through all with each. counted is false when there are too many.
func (v view) brute(each func([]lumen.Placement) bool) (found, counted bool) {
	grid := v.Grid
	var names []string
	var doses []int
	total := 1
	for _, a := range v.Infusions {
		names, doses = append(names, a.Name), append(doses, len(a.Times))
	}
	for _, d := range v.Procedures {
		names, doses = append(names, d.Name), append(doses, len(d.Times))
	}
	// Starts outside a window are not worth a look; the window itself is read
	// by inWindow.
	starts := make([][][]int, len(names))
	for i, name := range names {
		total *= len(v.Lumens)
		for k := range doses[i] {
			var list []int
			for at := 0; at < v.cycle(); at += grid {
				if v.near(name, k, at) {
					list = append(list, at)
				}
			}
			starts[i] = append(starts[i], list)
			total *= len(list)
			if total > tooMany {
				return false, false
			}
		}
	}
	list := make([]lumen.Placement, len(names))
	for i := range list {
		list[i] = lumen.Placement{Name: names[i], Starts: make([]int, doses[i])}
	}
	var walk func(i, k int) bool
	walk = func(i, k int) bool {
		switch {
		case i == len(list):
			if v.ok(list) {
				found = true
				return each == nil || each(list)
			}
			return false
		case k == doses[i]:
			for l := range v.Lumens {
				list[i].Lumen = l
				if walk(i+1, 0) {
					return true
				}
			}
			return false
		}
		for _, at := range starts[i][k] {
			list[i].Starts[k] = at
			if walk(i, k+1) {
				return true
			}
		}
		return false
	}
	walk(0, 0)
	return found, true
}

// near: the start lies in the widest window that the dose can have.
func (v view) near(name string, k, at int) bool {
	if !v.has(lumen.Window, name) {
		return true
	}
	m := 0
	if (v.change.Kind == lumen.MoveDose || v.change.Kind == lumen.MoveAll) && v.change.Name == name {
		m = v.change.Minutes
	}
	for _, a := range v.Infusions {
		if a.Name == name {
			early, late := a.Early+a.AnchorEarly+m, a.Late+a.AnchorLate+m
			return early+late >= v.cycle() || positive(at-a.Times[k]+early, v.cycle()) <= early+late
		}
	}
	for _, d := range v.Procedures {
		if d.Name == name {
			return d.Early+d.Late+2*m >= v.cycle() || positive(at-d.Times[k]+d.Early+m, v.cycle()) <= d.Early+d.Late+2*m
		}
	}
	return true
}

// leave is the problem without one item.
func leave(p lumen.Problem, name string) lumen.Problem {
	p.Infusions = slices.DeleteFunc(slices.Clone(p.Infusions), func(a lumen.Infusion) bool { return a.Name == name })
	p.Pairs = slices.DeleteFunc(slices.Clone(p.Pairs), func(x lumen.Pair) bool { return x.A == name || x.B == name })
	var kept []lumen.Procedure
	for _, d := range p.Procedures {
		if d.Name == name {
			continue
		}
		if d.Trough != nil && d.Trough.Of == name {
			d.Trough = nil
		}
		d.Measures = slices.DeleteFunc(slices.Clone(d.Measures), func(s string) bool { return s == name })
		kept = append(kept, d)
	}
	p.Procedures = kept
	return p
}

func drawSteps(t *rapid.T, label string) lumen.Steps {
	var out lumen.Steps
	for range rapid.SampledFrom([]int{0, 0, 0, 1, 1, 1, 1, 2}).Draw(t, label) {
		out = append(out, lumen.Flush{Fluid: rapid.SampledFrom([]string{"saline", "saline", "dextrose", "heparin", lumen.Withdraw}).Draw(t, label), Minutes: tick})
	}
	return out
}

// small draws a problem of at most 4 items and 5 starts on 1 or 2 lumens.
func small(t *rapid.T) lumen.Problem {
	ticks := func(label string, most int) int { return tick * rapid.IntRange(0, most).Draw(t, label) }
	rare := func(label string, one int) bool { return rapid.IntRange(1, one).Draw(t, label) == 1 }
	p := lumen.Problem{Grid: rapid.SampledFrom([]int{tick, tick, 2 * tick}).Draw(t, "grid")}
	for l := range rapid.IntRange(1, 2).Draw(t, "lumens") {
		p.Lumens = append(p.Lumens, lumen.Lumen{Name: fmt.Sprintf("lumen %d", l), Draws: !rare("no draws", 4)})
	}
	doses := 5
	for i := range rapid.IntRange(1, 3).Draw(t, "infusions") {
		a := lumen.Infusion{Name: fmt.Sprintf("drug %d", i), OwnLine: rare("own line", 8), NoBolus: rare("no bolus", 10)}
		if rare("avoids", 6) {
			a.Avoids = []string{rapid.SampledFrom([]string{"saline", "dextrose"}).Draw(t, "fluid")}
		}
		if rare("asked", 5) {
			a.Lumens = []int{rapid.IntRange(0, len(p.Lumens)-1).Draw(t, "lumen")}
		}
		if rare("continuous", 5) {
			a.Continuous, a.Pause = true, ticks("pause", 4)
			p.Infusions = append(p.Infusions, a)
			continue
		}
		for range rapid.IntRange(1, 2).Draw(t, "doses") {
			if doses > 0 {
				a.Times = append(a.Times, ticks("time", 11))
				doses--
			}
		}
		if len(a.Times) == 0 {
			continue
		}
		if !rare("strict", 2) {
			a.Early, a.Late = ticks("early", 2), ticks("late", 2)
		}
		if rare("anchor", 4) {
			a.AnchorEarly, a.AnchorLate = ticks("anchor early", 2), ticks("anchor late", 2)
		}
		if rare("distance", 5) {
			a.Least = ticks("least", 5)
		}
		a.Duration = tick * rapid.SampledFrom([]int{1, 1, 2, 2, 3, 5}).Draw(t, "duration")
		a.Before, a.After = drawSteps(t, "before"), drawSteps(t, "after")
		p.Infusions = append(p.Infusions, a)
	}
	for i := range rapid.IntRange(0, min(2, 4-len(p.Infusions), doses)).Draw(t, "procedures") {
		d := lumen.Procedure{Name: fmt.Sprintf("draw %d", i), Times: []int{ticks("at", 11)}, Early: ticks("early", 2), Late: ticks("late", 2),
			Blood: !rare("care", 3), Minutes: tick, After: lumen.Steps{{Fluid: "saline", Minutes: tick}}, Stop: ticks("stop", 2)}
		if d.Blood && len(p.Infusions) > 0 && rare("level", 2) {
			of := p.Infusions[0]
			d.Measures = []string{of.Name}
			if !of.Continuous && rare("trough", 2) {
				d.Trough = &lumen.Trough{Of: of.Name, Least: tick, Most: 2 * tick}
			}
		}
		p.Procedures = append(p.Procedures, d)
	}
	for i := range p.Infusions {
		for j := range i {
			if m := lumen.Meeting(rapid.SampledFrom([]int{0, 0, 0, 0, 1, 1, 1, 1, 1, 1, 2, 2, 2, 2, 2, 2, 3, 3, 3, 4}).Draw(t, "meeting")); m != lumen.Unknown {
				p.Pairs = append(p.Pairs, lumen.Pair{A: p.Infusions[i].Name, B: p.Infusions[j].Name, Meeting: m})
			}
		}
	}
	if rare("sleep", 2) {
		p.Sleep = []lumen.Span{{From: 22 * 60, Until: 6 * 60}}
	}
	return p
}

func TestTheSolverSaysPlacedExactlyWhenBruteForceFindsAPlacement(t *testing.T) {
	seen := map[lumen.Outcome]int{}
	rapid.Check(t, func(t *rapid.T) {
		for range 8 {
			p := small(t)
			r := lumen.Timetable(p)
			if r.Outcome == lumen.NotDecided { // a window without a start on a coarse grid
				require.NotEmpty(t, r.Unknown)
				continue
			}
			v := view{Problem: p, tick: tick}
			found, counted := v.brute(nil)
			if !counted {
				continue
			}
			seen[r.Outcome]++
			require.Equal(t, found, r.Outcome == lumen.Placed, "%+v", p)
			if found {
				require.True(t, v.ok(r.Placements), "the placement breaks a rule: %+v of %+v", r.Placements, p)
			}
		}
	})
	require.Positive(t, seen[lumen.Placed])
	require.Positive(t, seen[lumen.Impossible])
	t.Log(seen)
}

// price is Shared, Asleep and Moved of a placement, read anew.
func (v view) price(list []lumen.Placement) [3]int {
	var out [3]int
	at := map[string]lumen.Placement{}
	for _, x := range list {
		at[x.Name] = x
	}
	add := func(t, s, early, late, before, after int) {
		shift := positive(s-t+early, v.cycle()) - early
		out[2] += max(shift, -shift)
		for _, m := range []int{positive(s-before, 1440), positive(s+after-1, 1440)} {
			if len(v.Sleep) > 0 && (m >= 22*60 || m < 6*60) {
				out[1]++
			}
		}
		_ = late
	}
	for i, a := range v.Infusions {
		for _, b := range v.Infusions[:i] {
			if at[a.Name].Lumen == at[b.Name].Lumen && v.meeting(a.Name, b.Name) != lumen.Compatible {
				out[0]++
			}
		}
		for k, t := range a.Times {
			add(t, at[a.Name].Starts[k], a.Early+a.AnchorEarly, a.Late+a.AnchorLate, long(a.Before), a.Duration+long(a.After))
		}
	}
	for _, d := range v.Procedures {
		for k, t := range d.Times {
			add(t, at[d.Name].Starts[k], d.Early, d.Late, 0, d.Minutes+long(d.After))
		}
	}
	return out
}

func TestNoPlacementIsBetterThanTheBest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := small(t)
		r := lumen.Timetable(p)
		if r.Outcome != lumen.Placed {
			return
		}
		require.True(t, r.Best)
		v := view{Problem: p, tick: tick}
		got := [3]int{r.Shared, r.Asleep, r.Moved}
		require.Equal(t, v.price(r.Placements), got)
		least := got
		if _, counted := v.brute(func(list []lumen.Placement) bool {
			if c := v.price(list); slices.Compare(c[:], least[:]) < 0 {
				least = c
			}
			return false
		}); counted {
			require.Equal(t, least, got)
		}
	})
}

func TestTheConflictIsOneAndEveryPartOfItIsNeeded(t *testing.T) {
	checked := 0
	rapid.Check(t, func(t *rapid.T) {
		p := small(t)
		r := lumen.Timetable(p)
		if r.Outcome != lumen.Impossible {
			return
		}
		require.True(t, r.Conflict.Minimal)
		require.NotEmpty(t, r.Conflict.Items)
		core := p
		for _, a := range append(p.Infusions, []lumen.Infusion{}...) {
			if !slices.Contains(r.Conflict.Items, a.Name) {
				core = leave(core, a.Name)
			}
		}
		for _, d := range p.Procedures {
			if !slices.Contains(r.Conflict.Items, d.Name) {
				core = leave(core, d.Name)
			}
		}
		// Every rule that the conflict does not name is waived.
		waived := map[string]bool{}
		kinds := []lumen.RuleKind{lumen.Window, lumen.AskedLumen, lumen.OwnLine, lumen.NoBolus, lumen.NeverPause, lumen.Fluid, lumen.Distance, lumen.DrawLumen, lumen.OtherDrug, lumen.StopBefore, lumen.TroughTime}
		for _, name := range r.Conflict.Items {
			for _, kind := range kinds {
				waived[key(kind, name)] = true
			}
			for _, other := range r.Conflict.Items {
				waived[key(lumen.Together, name, other)] = true
			}
		}
		for _, rule := range r.Conflict.Rules {
			delete(waived, key(rule.Kind, slices.Clone(rule.Of)...))
		}
		v := view{Problem: core, tick: tick, waived: waived}
		if found, counted := v.brute(nil); counted {
			checked++
			require.False(t, found, "the conflict is none: %+v in %+v", r.Conflict, p)
		}
		for _, name := range r.Conflict.Items {
			w := v
			w.Problem = leave(core, name)
			if found, counted := w.brute(nil); counted {
				require.True(t, found || len(r.Conflict.Items) == 1 && len(w.Infusions)+len(w.Procedures) == 0, "%s is not needed in %+v of %+v", name, r.Conflict, p)
			}
		}
		for _, rule := range r.Conflict.Rules {
			w := v
			w.waived = map[string]bool{key(rule.Kind, slices.Clone(rule.Of)...): true}
			for k := range waived {
				w.waived[k] = true
			}
			if found, counted := w.brute(nil); counted {
				require.True(t, found, "%v is not needed in %+v of %+v", rule, r.Conflict, p)
			}
		}
	})
	require.Positive(t, checked)
}
