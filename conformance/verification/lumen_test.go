package verification

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/lumen"
	"weir.example/weir/mapping/order"
)

var saline = lumen.Steps{{Fluid: "sodium chloride 0.9 %", Minutes: 5}}

// onceADay is half an hour of a drug at one time of day, an hour allowed round it.
func onceADay(name string, at int) lumen.Infusion {
	return lumen.Infusion{Name: name, Times: []int{at}, Early: 60, Late: 60, Duration: 30, Before: saline, After: saline}
}

func allDay(name string) lumen.Infusion { return lumen.Infusion{Name: name, Continuous: true} }

func lumensOf(n int) (out []lumen.Lumen) {
	for i := range n {
		out = append(out, lumen.Lumen{Name: []string{"red lumen", "blue lumen"}[i]})
	}
	return out
}

// sharing puts a second infusion on the line and lays the day out.
func sharing(p Pairing, n int, list ...lumen.Infusion) func(*world) {
	return func(w *world) {
		p.A, p.B, p.SameLumen = list[0].Name, list[1].Name, p.SameLumen || n == 1
		w.line = Line{Name: p.A, Others: []string{p.B}, Pairs: []Pairing{p}, Problem: lumen.Problem{Lumens: lumensOf(n), Infusions: list,
			Pairs: []lumen.Pair{{A: p.A, B: p.B, Meeting: p.Meeting}}}}
		w.line.Result = lumen.Timetable(w.line.Problem)
	}
}

func lineLacks(f Fact) func(*world) {
	return func(w *world) { w.line.Missing, w.line.Result = []Fact{f}, lumen.Result{Outcome: lumen.NotDecided} }
}

func row2(verdict, between string) compendium.Pair {
	return compendium.Pair{A: "a", B: "b", Verdict: verdict, Between: between, Concerns: "they precipitate", Standing: compendium.Sourced, Source: "test row"}
}

var (
	flushed    = Pairing{Meeting: lumen.Apart, Row: row2("incompatible", "flush thoroughly between them")}
	separate   = Pairing{Meeting: lumen.Separate, Row: row2("incompatible", "")}
	ordered09  = Pairing{Meeting: lumen.Apart, Row: row2("incompatible", "flush thoroughly between them"), Together: "09:00 on 11 February 2027"}
	newbornRow = Pairing{Meeting: lumen.Contraindicated, Row: row2("incompatible", "flush"), Age: "the patient is 28 days of age or less"}
	goes       = Pairing{Meeting: lumen.Compatible, Row: row2("compatible", "")}
	onTerms    = Pairing{Meeting: lumen.Apart, Row: row2("conditional", "flush")}
)

// Every day on one lumen is worked out by mapping/lumen, whose own tests
// prove its answers; what is asked here is what the rules make of them.
var lumenFixtures = []fixture{
	{rule: "lumen-incompatible", name: "the only infusion", want: NotApplicable},
	{rule: "lumen-incompatible", name: "no row for the pair", want: NotApplicable, change: sharing(Pairing{}, 1, onceADay("a", 540), onceADay("b", 540))},
	{rule: "lumen-incompatible", name: "a conditional row", want: NotApplicable, change: sharing(onTerms, 1, onceADay("a", 540), onceADay("b", 540))},
	{rule: "lumen-incompatible", name: "one after the other with a flush", want: Pass, change: sharing(flushed, 1, onceADay("a", 540), onceADay("b", 720))},
	{rule: "lumen-incompatible", name: "both ordered for one time through one lumen", want: Found, says: "from 09:00", change: sharing(ordered09, 1, onceADay("a", 540), onceADay("b", 540))},
	{rule: "lumen-incompatible", name: "both at one time through two lumens", want: Pass, change: sharing(ordered09, 2, onceADay("a", 540), onceADay("b", 540))},
	{rule: "lumen-incompatible", name: "never through one lumen, and there is one", want: Found, says: "no day keeps them apart", change: sharing(separate, 1, onceADay("a", 540), onceADay("b", 900))},
	{rule: "lumen-incompatible", name: "never through one lumen, and there are two", want: Pass, change: sharing(separate, 2, onceADay("a", 540), onceADay("b", 900))},
	{rule: "lumen-incompatible", name: "a flush would do and one of them never stops", want: Found, says: "no day keeps them apart", change: sharing(flushed, 1, onceADay("a", 540), allDay("b"))},
	{rule: "lumen-incompatible", name: "a newborn, through two lumens", want: Found, says: "28 days", change: sharing(newbornRow, 2, onceADay("a", 540), onceADay("b", 900))},
	{rule: "lumen-incompatible", name: "a newborn, and nobody knows the line", want: Found, change: both(sharing(newbornRow, 2, onceADay("a", 540), onceADay("b", 900)), lineLacks(LumenCount))},
	{rule: "lumen-incompatible", name: "nobody knows how many lumens", want: Indeterminate, missing: LumenCount, change: both(sharing(flushed, 1, onceADay("a", 540), onceADay("b", 720)), lineLacks(LumenCount))},

	{rule: "lumen-unknown-pair", name: "the only infusion", want: NotApplicable},
	{rule: "lumen-unknown-pair", name: "a row for the pair", want: NotApplicable, change: sharing(goes, 1, onceADay("a", 540), allDay("b"))},
	{rule: "lumen-unknown-pair", name: "one after the other with a flush", want: Pass, change: sharing(Pairing{}, 1, onceADay("a", 540), onceADay("b", 720))},
	{rule: "lumen-unknown-pair", name: "at one time, and within an hour one after the other", want: Pass, change: sharing(Pairing{}, 1, onceADay("a", 540), onceADay("b", 540))},
	{rule: "lumen-unknown-pair", name: "one of them never stops", want: Found, says: "no row of the table", change: sharing(Pairing{}, 1, onceADay("a", 540), allDay("b"))},
	{rule: "lumen-unknown-pair", name: "one of them never stops, on two lumens", want: Pass, change: sharing(Pairing{}, 2, onceADay("a", 540), allDay("b"))},
	{rule: "lumen-unknown-pair", name: "nothing may be pushed behind the other: their pair is not what stands against it", want: Pass,
		change: sharing(Pairing{}, 1, onceADay("a", 540), lumen.Infusion{Name: "b", Continuous: true, NoBolus: true})},
	{rule: "lumen-unknown-pair", name: "nobody knows the times", want: Indeterminate, missing: HomeDoses, change: both(sharing(Pairing{}, 1, onceADay("a", 540), onceADay("b", 720)), lineLacks(HomeDoses))},

	{rule: "lumen-unknown-pair", name: "too many to compare", want: Indeterminate, missing: NotPlaced("too many"), change: func(w *world) {
		w.line = Line{Name: "a", Others: []string{"b"}, Missing: []Fact{NotPlaced("too many")}}
	}},

	{rule: "lumen-timetable", name: "the only infusion", want: NotApplicable},
	{rule: "lumen-timetable", name: "two that fit", want: Pass, change: sharing(flushed, 1, onceADay("a", 540), onceADay("b", 540))},
	{rule: "lumen-timetable", name: "one that shares its line with nothing", want: Found, says: "no day holds a and b on red lumen: nothing else runs through the lumen of b",
		change: sharing(Pairing{}, 1, onceADay("a", 540), lumen.Infusion{Name: "b", Continuous: true, OwnLine: true})},
	{rule: "lumen-timetable", name: "it and a second lumen", want: Pass, change: sharing(Pairing{}, 2, onceADay("a", 540), lumen.Infusion{Name: "b", Continuous: true, OwnLine: true})},
	{rule: "lumen-timetable", name: "14 hours and twice 6 are 26", want: Found, says: "no day holds", change: sharing(flushed, 1,
		lumen.Infusion{Name: "a", Times: []int{1080}, Early: 60, Late: 60, Duration: 840, Before: saline, After: saline},
		lumen.Infusion{Name: "b", Times: []int{480, 840}, Early: 60, Late: 60, Duration: 360, Before: saline, After: saline})},
	{rule: "lumen-timetable", name: "not decided is no pass", want: Indeterminate, missing: NotPlaced("too many"), change: both(sharing(flushed, 1, onceADay("a", 540), onceADay("b", 720)), lineLacks(NotPlaced("too many")))},
	{rule: "lumen-timetable", name: "no line described", want: Indeterminate, missing: Access, change: both(sharing(flushed, 1, onceADay("a", 540), onceADay("b", 720)), lineLacks(Access))},
}

func TestLumenRules(t *testing.T) { judged(t, lumenFixtures) }

// The smallest change stands where a pharmacist reads what to do instead.
func TestTheTimetableNamesTheSmallestChange(t *testing.T) {
	w := base()
	sharing(Pairing{}, 1, onceADay("a", 540), lumen.Infusion{Name: "b", Continuous: true, OwnLine: true})(w)
	found := noTimetable(w.facts())
	require.Len(t, found, 1)
	assert.Equal(t, "the line has one lumen more", found[0].Expected)
}

func TestWhichOrdersRunThroughTheLine(t *testing.T) {
	yes := order.Order{Status: "active", Route: order.Concept{Text: "Intravenous route"}}
	assert.True(t, ThroughLine(yes))
	assert.True(t, ThroughLine(order.Order{Status: "active"}), "a route nobody names may be this one")
	for name, change := range map[string]func(*order.Order){
		"under the skin":  func(o *order.Order) { o.Route.Text = "Subcutaneous" },
		"into the muscle": func(o *order.Order) { o.Route.Text = "Intramuscular" },
		"stopped":         func(o *order.Order) { o.Status = "stopped" },
		"not to be given": func(o *order.Order) { o.DoNotPerform = true },
	} {
		o := yes
		change(&o)
		assert.False(t, ThroughLine(o), name)
	}
}
