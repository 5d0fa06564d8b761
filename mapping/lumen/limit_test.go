package lumen_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/lumen"
	"weir.example/weir/mapping/notation"
)

func TestTheLimitEndsInNotDecidedAndNeverInImpossible(t *testing.T) {
	for _, p := range []lumen.Problem{vancomycinAndCefepime(60), vancomycinAndCefepime(0)} {
		want := solved(t, p)
		decided := 0
		for limit := 1; limit <= 400; limit += 1 + limit/20 {
			p.Limit = limit
			r := solved(t, p)
			require.LessOrEqual(t, r.Nodes, limit)
			if r.Outcome == lumen.NotDecided {
				require.Len(t, r.Unknown, 1)
				require.Zero(t, decided, "more nodes never decide less")
				continue
			}
			decided++
			require.Equal(t, want.Outcome, r.Outcome)
		}
		assert.Positive(t, decided)
	}
}

func TestWhatIsCutShortIsNotCalledBestOrMinimalOrSmallest(t *testing.T) {
	p := vancomycinAndCefepime(60)
	full := solved(t, p)
	worse := false
	for limit := 10; limit <= 400; limit += 10 + limit/10 {
		p.Limit = limit
		if r := solved(t, p); r.Outcome == lumen.Placed {
			worse = worse || !r.Best
			if r.Best {
				require.Equal(t, full.Moved, r.Moved)
			}
		}
	}
	assert.True(t, worse)
	p = vancomycinAndCefepime(0)
	full = solved(t, p)
	cut := false
	for limit := 2; limit <= 400; limit += 2 + limit/15 {
		p.Limit = limit
		r := solved(t, p)
		if r.Outcome != lumen.Impossible {
			continue
		}
		cut = cut || !r.Conflict.Minimal || r.Change == nil || !r.Change.Smallest
		if r.Change != nil && r.Change.Smallest {
			require.Equal(t, full.Change.Says, r.Change.Says)
		}
	}
	assert.True(t, cut)
}

func TestWhatIsMissingOrContradictoryIsNotDecided(t *testing.T) {
	fine := func() lumen.Problem { return vancomycinAndCefepime(60) }
	require.Equal(t, lumen.Placed, solved(t, fine()).Outcome)
	for name, change := range map[string]func(p *lumen.Problem){
		"0 lumens":                    func(p *lumen.Problem) { p.Lumens = nil },
		"4 lumens":                    func(p *lumen.Problem) { p.Lumens = make([]lumen.Lumen, 4) },
		"0 infusions and procedures":  func(p *lumen.Problem) { p.Infusions, p.Procedures, p.Pairs = nil, nil, nil },
		"repeats after 8 days":        func(p *lumen.Problem) { p.Days = 8 },
		"does not divide":             func(p *lumen.Problem) { p.Grid = 7 },
		"limit of nodes":              func(p *lumen.Problem) { p.Limit = -1 },
		"hours of sleep":              func(p *lumen.Problem) { p.Sleep = []lumen.Span{{From: 0, Until: 1441}} },
		"stands twice":                func(p *lumen.Problem) { p.Infusions[1].Name = "vancomycin" },
		"has no time":                 func(p *lumen.Problem) { p.Infusions[0].Times = nil },
		"outside the timetable":       func(p *lumen.Problem) { p.Infusions[0].Times[0] = 1440 },
		"takes 0 minutes":             func(p *lumen.Problem) { p.Infusions[0].Duration = 0 },
		"takes 1441 minutes":          func(p *lumen.Problem) { p.Infusions[0].Duration = 1441 },
		"the whole timetable or more": func(p *lumen.Problem) { p.Infusions[0].Early, p.Infusions[0].Late = 720, 720 },
		"may be moved by -5":          func(p *lumen.Problem) { p.Infusions[0].Early = -5 },
		"lumen number 1":              func(p *lumen.Problem) { p.Infusions[0].Lumens = []int{1} },
		"fluid and time":              func(p *lumen.Problem) { p.Infusions[0].Before = lumen.Steps{{Minutes: 5}} },
		"cannot be stopped":           func(p *lumen.Problem) { p.Infusions[0].Pause = 5 },
		"1441 minutes apart":          func(p *lumen.Problem) { p.Infusions[0].Least = 1441 },
		"runs all day":                func(p *lumen.Problem) { p.Infusions[0].Continuous = true },
		"the flush after it":          func(p *lumen.Problem) { p.Procedures[0].After = nil },
		"draws no blood":              func(p *lumen.Problem) { p.Procedures[0].Blood = false },
		"which is no infusion of":     func(p *lumen.Problem) { p.Procedures[0].Measures = []string{"gentamicin"} },
		"no infusion with doses":      func(p *lumen.Problem) { p.Procedures[0].Trough.Of = "gentamicin" },
		"60 to 30 minutes before":     func(p *lumen.Problem) { p.Procedures[0].Trough = &lumen.Trough{Of: "vancomycin", Least: 60, Most: 30} },
		"not of two infusions":        func(p *lumen.Problem) { p.Pairs[0].A = "vancomycin" },
		"no known meeting":            func(p *lumen.Problem) { p.Pairs[0].Meeting = 5 },
		"and cefepime stands twice":   func(p *lumen.Problem) { p.Pairs = append(p.Pairs, lumen.Pair{A: "vancomycin", B: "cefepime"}) },
		"lies on the grid":            func(p *lumen.Problem) { p.Grid = 60; p.Procedures[0].Early, p.Procedures[0].Late = 5, 5 },
		"a coarser one is needed":     func(p *lumen.Problem) { p.Days = 7; p.Infusions[0].Duration = 121 },
		"at most 96":                  func(p *lumen.Problem) { p.Infusions[0].Times = make([]int, 93) },
	} {
		p := fine()
		change(&p)
		r := solved(t, p)
		assert.Equal(t, lumen.NotDecided, r.Outcome, name)
		assert.Contains(t, strings.Join(r.Unknown, "; "), name)
		assert.Zero(t, r.Nodes)
	}
}

func TestTheGridSaysWhatTheProofCovers(t *testing.T) {
	p := vancomycinAndCefepime(60)
	r := solved(t, p)
	assert.Equal(t, 5, r.Grid)
	assert.True(t, r.EveryMinute)
	p.Infusions[0].Duration = 121
	r = solved(t, p)
	assert.Equal(t, 1, r.Grid)
	assert.True(t, r.EveryMinute)
	p.Grid = 5
	r = solved(t, p)
	assert.False(t, r.EveryMinute, "121 minutes are no multiple of 5: starts between are not looked at")
	assert.Equal(t, lumen.Placed, r.Outcome)
	for _, x := range r.Placements {
		for _, at := range x.Starts {
			assert.Zero(t, at%5)
		}
	}
}

// A conflict that a spent budget leaves larger than needed is a conflict
// still, and a change that was found past undecided ones is not called the
// smallest.
func TestWhatIsSaidUnderALimitHolds(t *testing.T) {
	cefazolin := dose("cefazolin", 30, 60, clock(6, 0), clock(14, 0), clock(22, 0))
	cefazolin.Least = 6 * 60
	p := lumen.Problem{Lumens: one(), Infusions: []lumen.Infusion{nutrition(720), cefazolin, dose("ertapenem", 30, 60, clock(9, 0))},
		Procedures: []lumen.Procedure{draw("chemistry", 60, 60, clock(8, 0))}}
	full := solved(t, p)
	require.Equal(t, lumen.Impossible, full.Outcome)
	require.Equal(t, "the line has one lumen more", full.Change.Says)
	require.True(t, full.Change.Smallest && full.Conflict.Minimal)
	larger, unsure := 0, 0
	for limit := 100; limit < full.Nodes; limit += 1 + limit/30 {
		p.Limit = limit
		r := solved(t, p)
		if r.Outcome != lumen.Impossible {
			continue
		}
		core := p
		core.Limit = 0
		for _, name := range []string{"parenteral nutrition", "cefazolin", "ertapenem", "chemistry"} {
			if !strings.Contains(strings.Join(r.Conflict.Items, "|"), name) {
				core = leave(core, name)
			}
		}
		require.Equal(t, lumen.Impossible, solved(t, core).Outcome, "%d nodes: %v is no conflict", limit, r.Conflict.Items)
		if !r.Conflict.Minimal {
			larger++
		}
		if r.Change != nil && !r.Change.Smallest {
			unsure++
		}
	}
	assert.Positive(t, larger)
	assert.Positive(t, unsure)
}

func TestAStartOnTheGridIsNeeded(t *testing.T) {
	for late, want := range map[int]lumen.Outcome{44: lumen.NotDecided, 45: lumen.Placed} {
		d := dose("drug", 30, 0, clock(8, 15))
		d.Late = late
		assert.Equal(t, want, solved(t, lumen.Problem{Lumens: one(), Grid: 60, Infusions: []lumen.Infusion{d}}).Outcome, "%d", late)
	}
}

// Everything a person reads keeps to the notation of the house.
func TestTheWordsAreSafeToPrint(t *testing.T) {
	var texts []string
	for _, p := range []lumen.Problem{vancomycinAndCefepime(60), vancomycinAndCefepime(0)} {
		r := solved(t, p)
		texts = append(texts, p.Lines(r.Blocks)...)
		texts = append(texts, r.Tried)
		if r.Change != nil {
			texts = append(texts, r.Change.Says)
			texts = append(texts, p.Lines(r.Change.Blocks)...)
		}
	}
	for _, rule := range lumen.Rules() {
		require.NotEmpty(t, rule.Source, rule.Kind)
		require.Contains(t, []string{"sourced", "corroborated", "memory"}, rule.Standing)
		if rule.Standing == "memory" {
			require.Contains(t, rule.Source, "common practice, no source", rule.Kind)
		}
		texts = append(texts, lumen.Rule{Kind: rule.Kind, Of: []string{"one", "other"}}.Says())
	}
	for m := lumen.Unknown; m <= lumen.Contraindicated; m++ {
		texts = append(texts, lumen.Rule{Kind: lumen.Together, Of: []string{"one", "other"}, Meeting: m}.Says())
	}
	for _, s := range texts {
		assert.Empty(t, notation.Scan(s), s)
		assert.NotContains(t, strings.ReplaceAll(s, "0.9 %", ""), "%")
	}
}

func FuzzTimetable(f *testing.F) {
	f.Add([]byte{2, 3, 1, 0, 30, 6, 2, 14, 9, 200, 41, 7, 77, 3, 90, 1, 8}, 500)
	f.Add([]byte{1, 2, 255, 0, 0, 0, 0, 128, 64, 32, 16, 8, 4, 2, 1}, 3)
	f.Add([]byte{3, 4, 9, 9, 9, 9, 9, 9, 9, 9, 9, 9, 9, 9, 9, 9, 9, 9, 9, 9, 9, 9, 9}, 20000)
	f.Fuzz(func(t *testing.T, data []byte, limit int) {
		limit = 1 + positive(limit, 20000)
		p := wild(data)
		p.Limit = limit
		r := lumen.Timetable(p)
		require.LessOrEqual(t, r.Nodes, limit)
		switch r.Outcome {
		case lumen.Placed:
			require.True(t, view{Problem: p, tick: 1}.ok(r.Placements), "%+v", p)
		case lumen.Impossible:
			require.NotEmpty(t, r.Conflict.Items)
			require.NotEmpty(t, r.Tried)
		default:
			require.Equal(t, lumen.NotDecided, r.Outcome)
			require.NotEmpty(t, r.Unknown)
		}
		for _, b := range r.Blocks {
			require.True(t, b.From >= 0 && b.From < p.Days*1440+1440 && b.To > b.From)
		}
	})
}

// wild makes a problem of bytes, right or wrong.
func wild(data []byte) lumen.Problem {
	next := func(n int) int {
		if len(data) == 0 {
			return 0
		}
		b := int(data[0])
		data = data[1:]
		return b % n
	}
	fluids := []string{"saline", "dextrose", lumen.Withdraw, "", "heparin"}
	steps := func() lumen.Steps {
		var out lumen.Steps
		for range next(3) {
			out = append(out, lumen.Flush{Fluid: fluids[next(len(fluids))], Minutes: 5 * next(4)})
		}
		return out
	}
	p := lumen.Problem{Days: next(4), Grid: []int{0, 5, 7, 15}[next(4)]}
	for range next(5) {
		p.Lumens = append(p.Lumens, lumen.Lumen{Name: "lumen %s", Draws: next(2) == 0})
	}
	names := []string{"a", "b%s", "c", "d", "e"}
	for i := range next(5) {
		a := lumen.Infusion{Name: names[i], OwnLine: next(6) == 0, NoBolus: next(6) == 0}
		if next(5) == 0 {
			a.Continuous, a.Pause = true, 5*next(10)
			p.Infusions = append(p.Infusions, a)
			continue
		}
		for range next(4) {
			a.Times = append(a.Times, 15*next(200))
		}
		a.Early, a.Late, a.AnchorEarly, a.Least = 5*next(40), 5*next(40), 15*next(20), 15*next(10)
		a.Duration, a.Before, a.After = 5*next(200), steps(), steps()
		if next(3) == 0 {
			a.Avoids, a.Lumens = []string{fluids[next(2)]}, []int{next(4) - 1}
		}
		p.Infusions = append(p.Infusions, a)
	}
	for i := range next(3) {
		d := lumen.Procedure{Name: []string{"x", "y", "a"}[i], Times: []int{15 * next(96)}, Early: 5 * next(100), Late: 5 * next(100), Blood: next(2) == 0, Minutes: 5 * next(4), Stop: 5 * next(4), After: steps()}
		if next(2) == 0 {
			d.Measures, d.Trough = []string{names[next(5)]}, &lumen.Trough{Of: names[next(5)], Least: 5 * next(10), Most: 5 * next(30)}
		}
		p.Procedures = append(p.Procedures, d)
	}
	for range next(4) {
		p.Pairs = append(p.Pairs, lumen.Pair{A: names[next(5)], B: names[next(5)], Meeting: lumen.Meeting(next(6))})
	}
	return p
}
