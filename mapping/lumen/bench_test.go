package lumen

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// greedy is the baseline: item after item on the first lumen that takes it,
// each dose at its cheapest start that contradicts nothing placed before, and
// no way back. It reports whether that came to a placement.
func greedy(p Problem) bool {
	m := p.model(variant{active: 1<<len(p.items()) - 1})
	s := m.assigning(&budget{left: noLimit})
	type put struct {
		dose  dose
		value value
	}
	lumenOf, placed := make([]int, len(m.items)), make([][]put, len(m.lumens))
	on := make([]uint32, len(m.lumens))
	for _, i := range s.order {
		done := false
		for l := 0; l < len(m.lumens) && !done; l++ {
			fits := m.allowed[i]&(1<<l) != 0
			for _, j := range m.active {
				fits = fits && !(on[l]&(1<<j) != 0 && m.apart[i][j])
			}
			list := placed[l]
			for _, d := range m.doses[i] {
				found := false
				for _, v := range d.values {
					ok := true
					for _, o := range list {
						gaps := m.gaps[o.dose.item][i]
						shift := max(v.shift-o.value.shift, o.value.shift-v.shift)
						ok = ok && (gaps == nil || gaps[mod(v.step-o.value.step, len(gaps))]) &&
							(o.dose.item != i || !m.keeps[i] || shift <= m.items[i].spread)
					}
					if ok {
						list, found = append(list[:len(list):len(list)], put{d, v}), true
						break
					}
				}
				fits = fits && found
			}
			if fits {
				placed[l], lumenOf[i], done = list, l, true
				on[l] |= 1 << i
			}
		}
		if !done {
			return false
		}
	}
	return true
}

// busy are days of the kind that home infusion has, growing: every drug
// unknown to every other, an hour allowed round each time.
func busy(drugs, lumens int) Problem {
	flush := Steps{{Fluid: "sodium chloride 0.9 %", Minutes: 5}}
	p := Problem{Procedures: []Procedure{{Name: "chemistry", Times: []int{480}, Early: 120, Late: 120, Blood: true, Minutes: 5, Stop: 10, After: flush}}}
	for l := range lumens {
		p.Lumens = append(p.Lumens, Lumen{Name: fmt.Sprint("lumen ", l), Draws: true})
	}
	every := []int{480, 720, 1440, 360, 480, 720}
	length := []int{30, 120, 60, 30, 60, 90}
	for i := range drugs {
		a := Infusion{Name: fmt.Sprint("drug ", i), Early: 60, Late: 60, Duration: length[i], Before: flush, After: flush}
		for at := 360; at < 360+1440; at += every[i] {
			a.Times = append(a.Times, at%1440)
		}
		p.Infusions = append(p.Infusions, a)
	}
	return p
}

// TestTheExactSearchPlacesWhatTheGreedyOneCannot: what the search is for.
func TestTheExactSearchPlacesWhatTheGreedyOneCannot(t *testing.T) {
	exact, simple := 0, 0
	for drugs := 1; drugs <= 6; drugs++ {
		for lumens := 1; lumens <= 3; lumens++ {
			p := busy(drugs, lumens)
			r := Timetable(p)
			if r.Outcome == Placed {
				exact++
			}
			if greedy(p) {
				simple++
				require.Equal(t, Placed, r.Outcome, "%d drugs, %d lumens", drugs, lumens)
			}
			t.Log(drugs, lumens, r.Outcome, r.Best, r.Nodes, greedy(p), r.Moved)
		}
	}
	require.Greater(t, exact, simple)
}

// BenchmarkTimetable gives the time of a decision with its best placement, or
// its proof and change, as a multiple of the greedy baseline in the same run.
func BenchmarkTimetable(b *testing.B) {
	for _, n := range [][2]int{{1, 1}, {2, 1}, {3, 1}, {4, 1}, {4, 2}, {6, 2}} {
		p := busy(n[0], n[1])
		b.Run(fmt.Sprintf("%d-drugs-%d-lumens", n[0], n[1]), func(b *testing.B) {
			var r Result
			for b.Loop() {
				r = Timetable(p)
			}
			own := b.Elapsed() / time.Duration(b.N)
			const rounds = 50
			start := time.Now()
			for range rounds {
				greedy(p)
			}
			base := max(time.Since(start)/rounds, 1)
			b.ReportMetric(float64(own)/float64(base), "x-greedy")
			b.ReportMetric(float64(r.Nodes), "nodes")
		})
	}
}
