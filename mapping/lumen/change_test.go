package lumen_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"weir.example/weir/mapping/lumen"
)

// makes reports whether brute force finds a placement after the change.
func makes(p lumen.Problem, c lumen.Change) (found, counted bool) {
	v := view{Problem: p, tick: tick, change: c}
	v.Problem.Lumens = slices.Clone(p.Lumens)
	for range c.Lumens {
		v.Problem.Lumens = append(v.Problem.Lumens, lumen.Lumen{Name: "added", Draws: true})
	}
	return v.brute(nil)
}

// furthest is the bound of a move: half the time to the neighbour, and never
// a window of the whole day.
func furthest(times []int, width int) int {
	near := 1440
	for i, a := range times {
		for j, b := range times {
			if i != j {
				near = min(near, positive(a-b, 1440))
			}
		}
	}
	return min(near/2, (1440-1-width)/2)
}

// ranked lists every change of the stated order, moves by minutes, up to and
// without the limit.
func ranked(p lumen.Problem) []lumen.Change {
	var out, moves []lumen.Change
	for _, a := range p.Infusions {
		if len(a.Lumens) > 0 {
			out = append(out, lumen.Change{Kind: lumen.OtherLumen, Name: a.Name})
		}
	}
	for n := tick; n < 1440; n += tick {
		for _, a := range p.Infusions {
			for k := range a.Times {
				if n <= furthest(a.Times, a.Early+a.Late+a.AnchorEarly+a.AnchorLate) {
					moves = append(moves, lumen.Change{Kind: lumen.MoveDose, Name: a.Name, Dose: k, Minutes: n})
				}
			}
		}
		for _, d := range p.Procedures {
			if n <= furthest(d.Times, d.Early+d.Late) {
				moves = append(moves, lumen.Change{Kind: lumen.MoveDose, Name: d.Name, Minutes: n})
			}
		}
		for _, a := range p.Infusions {
			if len(a.Times) > 1 && n <= furthest(a.Times, a.Early+a.Late+a.AnchorEarly+a.AnchorLate) {
				moves = append(moves, lumen.Change{Kind: lumen.MoveAll, Name: a.Name, Minutes: n})
			}
		}
	}
	out = append(out, moves...)
	for _, d := range p.Procedures {
		if len(d.Measures) > 0 {
			out = append(out, lumen.Change{Kind: lumen.DrawFromOwn, Name: d.Name})
		}
	}
	return append(out, lumen.Change{Kind: lumen.MoreLumens, Lumens: 1}, lumen.Change{Kind: lumen.MoreLumens, Lumens: 2})
}

func TestTheChangeIsTheFirstOfItsOrderThatMakesAPlacement(t *testing.T) {
	kinds := map[lumen.ChangeKind]int{}
	rapid.Check(t, func(t *rapid.T) {
		p := small(t)
		r := lumen.Timetable(p)
		if r.Outcome != lumen.Impossible {
			return
		}
		require.NotEmpty(t, r.Tried)
		for _, c := range ranked(p) {
			if r.Change != nil && c.Kind == r.Change.Kind && c.Name == r.Change.Name && c.Dose == r.Change.Dose && c.Minutes == r.Change.Minutes && c.Lumens == r.Change.Lumens {
				found, counted := makes(p, c)
				require.True(t, found || !counted, "%+v makes no placement of %+v", c, p)
				require.True(t, r.Change.Smallest)
				require.NotEmpty(t, r.Change.Says)
				kinds[c.Kind]++
				return
			}
			found, counted := makes(p, c)
			if !counted {
				return
			}
			require.False(t, found, "%+v comes before %+v of %+v", c, r.Change, p)
		}
		require.Nil(t, r.Change, "%+v is no change of the order", r.Change)
		kinds["none"]++
	})
	t.Log(kinds)
	require.GreaterOrEqual(t, len(kinds), 2)
}
