package lumen_test

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/lumen"
)

// The cases below are invented. Flushes of 5 minutes, a stop of 10 minutes
// before a draw and 5 minutes for it: common practice, no source.

func saline() lumen.Steps { return lumen.Steps{{Fluid: "sodium chloride 0.9 %", Minutes: 5}} }

func clock(hour, minute int) int { return hour*60 + minute }

func one() []lumen.Lumen { return []lumen.Lumen{{Name: "single lumen", Draws: true}} }

func two() []lumen.Lumen {
	return []lumen.Lumen{{Name: "red lumen", Draws: true}, {Name: "white lumen", Draws: true}}
}

func dose(name string, minutes, room int, times ...int) lumen.Infusion {
	return lumen.Infusion{Name: name, Times: times, Early: room, Late: room, Duration: minutes, Before: saline(), After: saline()}
}

func draw(name string, early, late, at int) lumen.Procedure {
	return lumen.Procedure{Name: name, Times: []int{at}, Early: early, Late: late, Blood: true, Minutes: 5, Stop: 10, After: saline()}
}

// solved solves a problem and holds a placement against the second reading
// of the rules, minute by minute.
func solved(t testing.TB, p lumen.Problem) lumen.Result {
	t.Helper()
	r := lumen.Timetable(p)
	again := lumen.Timetable(p)
	a, err := json.Marshal(r)
	require.NoError(t, err)
	b, err := json.Marshal(again)
	require.NoError(t, err)
	require.Equal(t, string(a), string(b), "the same problem gives the same bytes")
	if r.Outcome == lumen.Placed {
		require.True(t, view{Problem: p, tick: 1}.ok(r.Placements), "%v", p.Lines(r.Blocks))
	}
	return r
}

// vancomycinAndCefepime: every 12 hours over 2 hours, every 8 hours over 30
// minutes, and a vancomycin level 30 to 60 minutes before a dose.
func vancomycinAndCefepime(room int) lumen.Problem {
	level := draw("vancomycin level", 12*60-5, 12*60-5, clock(8, 15))
	level.Measures, level.Trough = []string{"vancomycin"}, &lumen.Trough{Of: "vancomycin", Least: 30, Most: 60}
	return lumen.Problem{
		Lumens:     one(),
		Infusions:  []lumen.Infusion{dose("vancomycin", 120, room, clock(9, 0), clock(21, 0)), dose("cefepime", 30, room, clock(6, 0), clock(14, 0), clock(22, 0))},
		Procedures: []lumen.Procedure{level},
		Pairs:      []lumen.Pair{{A: "cefepime", B: "vancomycin", Meeting: lumen.Apart}},
	}
}

func TestVancomycinAndCefepimeOnOneLumen(t *testing.T) {
	r := solved(t, vancomycinAndCefepime(60))
	require.Equal(t, lumen.Placed, r.Outcome)
	assert.True(t, r.Best)
	assert.True(t, r.EveryMinute)
	assert.Equal(t, 1, r.Shared)
	assert.Equal(t, 70, r.Moved, "vancomycin 21:00 and cefepime 22:00 part by 70 minutes in all")

	// At exactly the scheduled times the evening does not fit: the vancomycin
	// of 21:00 ends at 23:00 and its flush at 23:05.
	r = solved(t, vancomycinAndCefepime(0))
	require.Equal(t, lumen.Impossible, r.Outcome)
	assert.Equal(t, []string{"vancomycin", "cefepime"}, r.Conflict.Items)
	assert.True(t, r.Conflict.Minimal)
	require.NotNil(t, r.Change)
	assert.Equal(t, lumen.MoveDose, r.Change.Kind)
	assert.Equal(t, 70, r.Change.Minutes)
	assert.True(t, r.Change.Smallest)
	assert.Equal(t, "the start of vancomycin at 21:00 is moved by 1 hour 10 minutes more than is allowed", r.Change.Says)

	// The boundary: 35 minutes either side are enough, 34 are not.
	assert.Equal(t, lumen.Placed, solved(t, vancomycinAndCefepime(35)).Outcome)
	assert.Equal(t, lumen.Impossible, solved(t, vancomycinAndCefepime(34)).Outcome)
}

// nutrition: a cycle that may begin at any hour.
func nutrition(minutes int) lumen.Infusion {
	a := dose("parenteral nutrition", minutes, 0, clock(20, 0))
	a.AnchorEarly, a.AnchorLate = 715, 715
	return a
}

func TestNutritionOfTwelveHoursAndADrugEveryEightHours(t *testing.T) {
	cefazolin := dose("cefazolin", 30, 60, clock(6, 0), clock(14, 0), clock(22, 0))
	cefazolin.Least = 6 * 60
	p := lumen.Problem{Lumens: one(), Infusions: []lumen.Infusion{nutrition(720), cefazolin},
		Pairs: []lumen.Pair{{A: "parenteral nutrition", B: "cefazolin", Meeting: lumen.Apart}}}
	r := solved(t, p)
	require.Equal(t, lumen.Impossible, r.Outcome, "between two doses lie 10 hours at most")
	assert.Equal(t, []string{"parenteral nutrition", "cefazolin"}, r.Conflict.Items)
	require.NotNil(t, r.Change)
	assert.Equal(t, "the line has one lumen more", r.Change.Says)
	assert.True(t, r.Change.Smallest)

	// Doses 6 to 10 hours apart leave 9 hours 20 minutes for a cycle with its
	// flushes between a dose at its earliest and the next at its latest.
	for minutes, want := range map[int]lumen.Outcome{550: lumen.Placed, 555: lumen.Impossible} {
		p.Infusions[0] = nutrition(minutes)
		assert.Equal(t, want, solved(t, p).Outcome, "%d minutes", minutes)
	}

	p.Infusions[0], p.Lumens = nutrition(720), two()
	r = solved(t, p)
	require.Equal(t, lumen.Placed, r.Outcome)
	assert.Zero(t, r.Shared, "a lumen each when there are two")
	assert.NotEqual(t, r.Placements[0].Lumen, r.Placements[1].Lumen)
}

func TestTwoDosesTwelveHoursApartDoNotFitATwelveHourGap(t *testing.T) {
	// The example of the practice list (q2): nutrition of 12 hours leaves 12,
	// and two doses exactly 12 hours apart, at whatever hour, need more.
	twice := dose("meropenem", 30, 0, clock(6, 0), clock(18, 0))
	twice.AnchorEarly, twice.AnchorLate = 355, 355
	p := lumen.Problem{Lumens: one(), Infusions: []lumen.Infusion{nutrition(720), twice}}
	r := solved(t, p)
	require.Equal(t, lumen.Impossible, r.Outcome)
	assert.Equal(t, []lumen.Rule{{Kind: lumen.Window, Of: []string{"meropenem"}}, {Kind: lumen.Together, Of: []string{"parenteral nutrition", "meropenem"}}}, r.Conflict.Rules,
		"the window of the nutrition is not needed for the proof")
	assert.Equal(t, "nothing is known of parenteral nutrition and meropenem in one lumen: never at the same time, and a flush between them", r.Conflict.Rules[1].Says())
	// 12 hours less the dose, its flushes and those of the nutrition fit.
	p.Infusions[0] = nutrition(720 - 30 - 10 - 10)
	assert.Equal(t, lumen.Placed, solved(t, p).Outcome)
	p.Infusions[0] = nutrition(720 - 30 - 10 - 5)
	assert.Equal(t, lumen.Impossible, solved(t, p).Outcome)
}

func TestContinuousNutritionAndADrugEverySixHours(t *testing.T) {
	p := lumen.Problem{Lumens: one(), Infusions: []lumen.Infusion{
		{Name: "parenteral nutrition", Continuous: true, Pause: 20},
		dose("ampicillin", 30, 120, 0, clock(6, 0), clock(12, 0), clock(18, 0))},
		Procedures: []lumen.Procedure{draw("weekly chemistry", 60, 60, clock(8, 0))},
		Pairs:      []lumen.Pair{{A: "parenteral nutrition", B: "ampicillin", Meeting: lumen.Separate}}}
	r := solved(t, p)
	require.Equal(t, lumen.Impossible, r.Outcome)
	assert.Equal(t, []string{"parenteral nutrition", "ampicillin"}, r.Conflict.Items)
	assert.Equal(t, []lumen.Rule{{Kind: lumen.Together, Of: []string{"parenteral nutrition", "ampicillin"}, Meeting: lumen.Separate}}, r.Conflict.Rules)
	require.NotNil(t, r.Change)
	assert.Equal(t, lumen.MoreLumens, r.Change.Kind)
	assert.Equal(t, 1, r.Change.Lumens)
	assert.Contains(t, strings.Join(p.Lines(r.Change.Blocks), "\n"), "added lumen 1: ")

	// Tested at the Y-site they may run together: the clindamycin row.
	p.Pairs[0].Meeting = lumen.Compatible
	assert.Equal(t, lumen.Placed, solved(t, p).Outcome)

	// The draw stops the nutrition for 10 minutes, 5 and a flush of 5.
	p.Infusions[0].Pause = 19
	assert.Equal(t, lumen.Impossible, solved(t, p).Outcome)
}

// milrinone: no bolus and never paused by the drug table; that it has a line
// to itself is common practice, no source.
func milrinone() lumen.Infusion {
	return lumen.Infusion{Name: "milrinone", Continuous: true, OwnLine: true, NoBolus: true}
}

func TestMilrinoneAndErtapenem(t *testing.T) {
	chemistry := draw("daily chemistry", 120, 120, clock(8, 0))
	p := lumen.Problem{Lumens: one(), Infusions: []lumen.Infusion{milrinone(), dose("ertapenem", 30, 60, clock(9, 0))}, Procedures: []lumen.Procedure{chemistry}}
	r := solved(t, p)
	require.Equal(t, lumen.Impossible, r.Outcome)
	assert.Equal(t, []string{"milrinone", "ertapenem"}, r.Conflict.Items)
	assert.Equal(t, []lumen.Rule{{Kind: lumen.OwnLine, Of: []string{"milrinone"}}}, r.Conflict.Rules)
	require.NotNil(t, r.Change)
	assert.Equal(t, lumen.MoreLumens, r.Change.Kind)

	p.Lumens = two()
	r = solved(t, p)
	require.Equal(t, lumen.Placed, r.Outcome)
	assert.NotEqual(t, r.Placements[0].Lumen, r.Placements[1].Lumen)
	assert.NotEqual(t, r.Placements[0].Lumen, r.Placements[2].Lumen, "never drawn from the lumen of milrinone")

	// Without the flag of an own line the flush alone forbids it.
	p.Infusions[0].OwnLine = false
	p.Infusions[0].Pause = 1440
	p.Lumens = one()
	p.Pairs = []lumen.Pair{{A: "milrinone", B: "ertapenem", Meeting: lumen.Compatible}}
	r = solved(t, p)
	require.Equal(t, lumen.Impossible, r.Outcome)
	assert.Equal(t, []lumen.Rule{{Kind: lumen.NoBolus, Of: []string{"milrinone"}}}, r.Conflict.Rules)
}

func TestCeftriaxoneAndCalcium(t *testing.T) {
	// Label text: in sequence with a thorough flush after 28 days of age;
	// before that contraindicated, through whatever line.
	p := lumen.Problem{Lumens: one(), Infusions: []lumen.Infusion{dose("ceftriaxone", 30, 0, clock(9, 0)), dose("lactated ringer's", 240, 60, clock(8, 0))},
		Pairs: []lumen.Pair{{A: "ceftriaxone", B: "lactated ringer's", Meeting: lumen.Apart}}}
	r := solved(t, p)
	require.Equal(t, lumen.Impossible, r.Outcome, "the fluid may move by an hour only")
	assert.Equal(t, 40, r.Change.Minutes, "to 09:40, after the flushes of both")

	p.Infusions[1].Late = 100
	assert.Equal(t, lumen.Placed, solved(t, p).Outcome)
	p.Infusions[1].Late = 99
	assert.Equal(t, lumen.Impossible, solved(t, p).Outcome)

	p.Infusions[1].Late = 100
	p.Infusions[0].After, p.Infusions[1].Before = nil, nil
	r = solved(t, p)
	require.Equal(t, lumen.Impossible, r.Outcome, "no flush from the one to the other")

	p.Lumens, p.Pairs[0].Meeting = two(), lumen.Contraindicated
	r = solved(t, p)
	require.Equal(t, lumen.Impossible, r.Outcome)
	assert.Nil(t, r.Change, "no time and no lumen helps a newborn")
	assert.Equal(t, "ceftriaxone and lactated ringer's are not given to this patient, at no time and through no lumen", r.Conflict.Rules[0].Says())
	assert.Contains(t, r.Tried, "none of these alone")
}

func TestDalbavancinMeetsNoSaline(t *testing.T) {
	// Dalbavancin intravenous infusion guide: dextrose 5 % before and after.
	dextrose := lumen.Steps{{Fluid: "dextrose 5 %", Minutes: 5}}
	d := dose("dalbavancin", 30, 0, clock(10, 0))
	d.Avoids = []string{"sodium chloride 0.9 %"}
	p := lumen.Problem{Lumens: one(), Infusions: []lumen.Infusion{d}}
	r := solved(t, p)
	require.Equal(t, lumen.Impossible, r.Outcome)
	assert.Equal(t, []lumen.Rule{{Kind: lumen.Fluid, Of: []string{"dalbavancin"}}}, r.Conflict.Rules)
	d.Before, d.After = dextrose, append(append(lumen.Steps{}, dextrose...), saline()...)
	p.Infusions[0] = d
	assert.Equal(t, lumen.Placed, solved(t, p).Outcome, "saline after the dextrose does not meet it")
	d.Before = nil
	p.Infusions = []lumen.Infusion{d, dose("cefazolin", 30, 0, clock(14, 0))}
	assert.Equal(t, lumen.Impossible, solved(t, p).Outcome, "the flush of the drug before it would meet it")
}

func TestALevelIsDrawnFromAnotherLumenWhereThereIsOne(t *testing.T) {
	p := vancomycinAndCefepime(60)
	p.Lumens = two()
	r := solved(t, p)
	require.Equal(t, lumen.Placed, r.Outcome)
	assert.NotEqual(t, r.Placements[0].Lumen, r.Placements[2].Lumen)

	// The other lumen is never free of milrinone: nothing else to be done.
	p.Infusions = append(p.Infusions, milrinone())
	r = solved(t, p)
	require.Equal(t, lumen.Impossible, r.Outcome)
	require.NotNil(t, r.Change)
	assert.Equal(t, lumen.DrawFromOwn, r.Change.Kind)
	assert.Contains(t, r.Conflict.Items, "vancomycin level")

	p.Lumens[1].Draws = false // then the line has one lumen to draw from, and the level comes from it
	p.Infusions[2].Lumens = []int{1}
	assert.Equal(t, lumen.Placed, solved(t, p).Outcome)
}

func TestEveryOtherDay(t *testing.T) {
	// Two infusions of 20 hours, each every 48 hours: one a day fits.
	a, b := dose("first", 20*60, 0, 0), dose("second", 20*60, 0, 1440)
	p := lumen.Problem{Lumens: one(), Infusions: []lumen.Infusion{a, b}, Days: 2}
	require.Equal(t, lumen.Placed, solved(t, p).Outcome)
	p.Infusions[1].Times[0] = clock(12, 0)
	r := solved(t, p)
	require.Equal(t, lumen.Impossible, r.Outcome)
	assert.Equal(t, "the start of first at day 1, 00:00 is moved by 8 hours 10 minutes more than is allowed", r.Change.Says)
}

func TestTheTimetableGoesOverMidnight(t *testing.T) {
	p := lumen.Problem{Lumens: one(), Infusions: []lumen.Infusion{dose("late", 120, 0, clock(23, 0)), dose("early", 30, 0, clock(1, 10))}}
	r := solved(t, p)
	require.Equal(t, lumen.Placed, r.Outcome)
	assert.Contains(t, p.Lines(r.Blocks), "single lumen: 23:00 to 01:00 next day, late")
	p.Infusions[1].Times[0] = clock(1, 5)
	assert.Equal(t, lumen.Impossible, solved(t, p).Outcome, "the flush of the late one ends at 01:05")
}

func TestSleepIsAWish(t *testing.T) {
	p := lumen.Problem{Lumens: one(), Infusions: []lumen.Infusion{dose("drug", 30, 60, clock(22, 30))}, Sleep: []lumen.Span{{From: clock(22, 0), Until: clock(6, 0)}}}
	r := solved(t, p)
	require.Equal(t, lumen.Placed, r.Outcome)
	assert.Equal(t, 1, r.Asleep, "begun before 22:00 and ended after it")
	p.Infusions[0].Early = 65
	r = solved(t, p)
	assert.Zero(t, r.Asleep, "begun at 21:25 it is flushed at 22:00")
	p.Infusions[0].Early, p.Infusions[0].Late = 0, 0
	r = solved(t, p)
	assert.Equal(t, lumen.Placed, r.Outcome)
	assert.Equal(t, 2, r.Asleep)
}
