package plan_test

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/plan"
)

func codes(a plan.Account) []string {
	out := []string{}
	for _, d := range a.Discrepancies {
		out = append(out, d.Code)
	}
	return out
}

// Each fault of a record is named; none is corrected in silence.
func TestImpossibleRecordsAreNamed(t *testing.T) {
	now := instant(t, "2026-11-12T12:00:00-05:00")
	at := func(h int) time.Time { return now.Add(time.Duration(h) * time.Hour) }
	doses := []time.Time{at(-16), at(-8), at(0), at(8)}
	key := unit("cefazolin", "2000")
	made := plan.Event{Kind: plan.Made, At: at(-24), Units: 3, Lot: "A", Unit: key, BeyondUse: at(200)}
	sent := plan.Event{Kind: plan.Dispatched, At: at(-22), Units: 3, Lot: "A"}
	came := plan.Event{Kind: plan.Delivered, At: at(-20), Units: 2, Lot: "A"}
	for _, c := range []struct {
		says   string
		events []plan.Event
		want   []string
		home   int
	}{
		{"as it should be", []plan.Event{made, sent, came}, []string{}, 2},
		{"at the clock itself counts", []plan.Event{made, sent, came, {Kind: plan.Given, At: now, Units: 1, Lot: "A"}}, []string{}, 1},
		{"a second after the clock is refused", []plan.Event{made, sent, came, {Kind: plan.Given, At: now.Add(time.Second), Units: 1, Lot: "A"}}, []string{"after-clock"}, 2},
		{"no time", []plan.Event{made, sent, came, {Kind: plan.Given, Units: 1, Lot: "A"}}, []string{"no-instant"}, 2},
		{"an unknown kind", []plan.Event{made, sent, came, {Kind: "eaten", At: at(-1), Units: 1, Lot: "A"}}, []string{"unknown-kind"}, 2},
		{"no units", []plan.Event{made, sent, came, {Kind: plan.Given, At: at(-8), Lot: "A"}}, []string{"units"}, 2},
		{"more units than there can be", []plan.Event{made, sent, came, {Kind: plan.Wasted, At: at(-8), Lot: "A", Units: 100_001, From: plan.AtHome}}, []string{"units"}, 2},
		{"wasted, and nobody says where", []plan.Event{made, sent, came, {Kind: plan.Wasted, At: at(-8), Units: 1, Lot: "A"}}, []string{"place"}, 2},
		{"returned from the pharmacy", []plan.Event{made, sent, came, {Kind: plan.Returned, At: at(-8), Units: 1, Lot: "A", From: plan.InPharmacy}}, []string{"place"}, 2},
		{"three given of two delivered", []plan.Event{made, sent, came, {Kind: plan.Given, At: at(-8), Units: 3, Lot: "A"}}, []string{"below-zero"}, -1},
		{"given before it was delivered", []plan.Event{made, sent, came, {Kind: plan.Given, At: at(-21), Dose: at(-16), Units: 1, Lot: "A"}}, []string{"below-zero"}, 1},
		{"a lot that was never made", []plan.Event{made, sent, came, {Kind: plan.Dispatched, At: at(-8), Units: 1, Lot: "Z"}}, []string{"below-zero"}, 2},
		{"made without a lot", []plan.Event{made, sent, came, {Kind: plan.Made, At: at(-8), Units: 1, Unit: key, BeyondUse: at(200)}}, []string{"no-lot"}, 2},
		{"a dose at no planned time", []plan.Event{made, sent, came, {Kind: plan.Given, At: at(-12), Units: 1, Lot: "A"}}, []string{"which-dose"}, 1},
		{"given and missed", []plan.Event{made, sent, came, {Kind: plan.Given, At: at(-8), Units: 1, Lot: "A"}, {Kind: plan.Missed, At: at(-7), Dose: at(-8)}}, []string{"given-and-not"}, 1},
		{"given for a dose while an earlier one was to come", []plan.Event{made, sent, came, {Kind: plan.Given, At: at(-9), Dose: at(0), Units: 1, Lot: "A"}}, []string{"dose-ahead"}, 1},
		{"for the next dose, an hour early", []plan.Event{made, sent, came, {Kind: plan.Given, At: at(-1), Dose: at(0), Units: 1, Lot: "A"}}, []string{}, 1},
		{"a dose to come is withheld", []plan.Event{made, sent, came, {Kind: plan.Withheld, At: at(-9), Dose: at(8)}}, []string{}, 2},
		{"a dose to come cannot be missed", []plan.Event{made, sent, came, {Kind: plan.Missed, At: at(-9), Dose: at(8)}}, []string{"dose-ahead"}, 2},
		{"one lot, two contents", []plan.Event{made, sent, came, {Kind: plan.Made, At: at(-8), Units: 1, Lot: "A", Unit: unit("cefazolin", "1000"), BeyondUse: at(200)}}, []string{"lot-differs"}, 2},
		{"a unit set apart is given", []plan.Event{made, sent, came, {Kind: plan.Quarantined, At: at(-10), Units: 2, Lot: "A", From: plan.AtHome}, {Kind: plan.Given, At: at(-8), Units: 1, Lot: "A"}}, []string{"set-apart-used"}, 1},
		{"one identifier, two contents", []plan.Event{made, sent, came, {ID: "g", Kind: plan.Given, At: at(-8), Units: 1, Lot: "A"}, {ID: "g", Kind: plan.Given, At: at(-7), Units: 1, Lot: "A"}}, []string{"same-identifier"}, 1},
		{"the same twice is once", []plan.Event{made, made, sent, came, sent, came, came}, []string{}, 2},
		{"with and without its identifier is once", []plan.Event{made, sent, came, {Kind: plan.Given, At: at(-8), Units: 1, Lot: "A"}, {ID: "g", Kind: plan.Given, At: at(-8), Units: 1, Lot: "A"}}, []string{}, 1},
		{"no lot, and only one can be meant", []plan.Event{made, sent, came, {Kind: plan.Given, At: at(-8), Units: 1}}, []string{}, 1},
		{"no lot, and two can be meant", []plan.Event{made, sent, came,
			{Kind: plan.Made, At: at(-24), Units: 1, Lot: "B", Unit: key, BeyondUse: at(200)}, {Kind: plan.Dispatched, At: at(-22), Units: 1, Lot: "B"}, {Kind: plan.Delivered, At: at(-20), Units: 1, Lot: "B"},
			{Kind: plan.Given, At: at(-8), Units: 1}}, []string{"below-zero", "which-lot"}, 2},
	} {
		a := plan.Tally(c.events, doses, now)
		assert.Equal(t, c.want, codes(a), c.says)
		assert.Equal(t, c.home, a.Count(plan.AtHome), c.says)
		assert.True(t, a.Balanced(), c.says)
		for _, d := range a.Discrepancies {
			assert.Empty(t, notation.Scan(d.Says), d.Says)
		}
	}
	a := plan.Tally([]plan.Event{made}, doses, time.Time{})
	assert.Equal(t, []string{"no-clock"}, codes(a))
}

// A discrepancy becomes a call, and no dose is planned from that lot.
func TestADoubtfulLotServesNoDose(t *testing.T) {
	p, events := week(t, 10)
	events = append(events, plan.Event{Kind: plan.Given, At: p.HomeDoses[9].Add(time.Hour / 2), Dose: p.HomeDoses[9], Units: 12, Lot: "C1"})
	got, moves := settled(t, p, events, p)
	assert.Equal(t, -1, got.Basis.Account.Count(plan.AtHome))
	m := only(moves, plan.Call)[2] // after the calls about the dose given twice
	assert.Equal(t, []any{plan.ToPharmacist, plan.RecordWrong, "below-zero given", 1}, []any{m.Whom, m.Reason, m.Subject, m.Units})
	assert.Len(t, only(moves, plan.DeliverExtra), 1)
}

// A dose belongs to the planned dose it is nearest to; half-way is neither.
func TestADoseBelongsToTheNearestPlannedOne(t *testing.T) {
	first := instant(t, "2026-11-12T06:00:00-05:00")
	doses := []time.Time{first, first.Add(8 * time.Hour), first.Add(16 * time.Hour)}
	for _, c := range []struct {
		after time.Duration
		want  int // of doses; -1 none
	}{{0, 0}, {4*time.Hour - 1, 0}, {4 * time.Hour, -1}, {4*time.Hour + 1, 1}, {-4*time.Hour + 1, 0}, {-4 * time.Hour, -1}, {20*time.Hour - 1, 2}, {20 * time.Hour, -1}} {
		a := plan.Tally([]plan.Event{{Kind: plan.Missed, At: first.Add(c.after)}}, doses, first.Add(48*time.Hour))
		if c.want < 0 {
			assert.Empty(t, a.Doses, "%s", c.after)
			assert.Equal(t, []string{"which-dose"}, codes(a), "%s", c.after)
			continue
		}
		require.Len(t, a.Doses, 1, "%s", c.after)
		assert.True(t, a.Doses[0].At.Equal(doses[c.want]), "%s", c.after)
	}
}

var kinds = []plan.EventKind{plan.Made, plan.Dispatched, plan.Delivered, plan.Given, plan.Missed, plan.Withheld, plan.Returned, plan.Wasted, plan.Lost, plan.Quarantined, "nonsense"}

// anyEvent draws an event, mostly possible, of a course of the helper week.
func anyEvent(rt *rapid.T, p plan.Plan, i int) plan.Event {
	label := func(s string) string { return fmt.Sprintf("%s %d", s, i) }
	e := plan.Event{
		Kind:  rapid.SampledFrom(kinds).Draw(rt, label("kind")),
		At:    p.HomeDoses[0].Add(time.Duration(rapid.IntRange(-24, 30*24).Draw(rt, label("at"))) * time.Hour),
		Units: rapid.IntRange(-1, 30).Draw(rt, label("units")),
		Lot:   rapid.SampledFrom([]string{"", "A", "B", "C"}).Draw(rt, label("lot")),
		From:  rapid.SampledFrom([]plan.EventPlace{"", plan.InPharmacy, plan.OnTheWay, plan.AtHome, plan.InReturned, "moon"}).Draw(rt, label("from")),
		ID:    rapid.SampledFrom([]string{"", "", "x", "y", "z"}).Draw(rt, label("id")),
	}
	if e.ID != "" {
		e.ID += fmt.Sprint(rapid.IntRange(0, 20).Draw(rt, label("number")))
	}
	if rapid.Bool().Draw(rt, label("named")) {
		e.Dose = p.HomeDoses[rapid.IntRange(0, len(p.HomeDoses)-1).Draw(rt, label("dose"))]
		e.Delivery = p.Deliveries[rapid.IntRange(0, len(p.Deliveries)-1).Draw(rt, label("delivery"))].Arrival
	}
	if e.Kind == plan.Made {
		e.Unit = rapid.SampledFrom([]plan.UnitKey{p.Basis.Unit, unit("cefazolin", "1000"), {}}).Draw(rt, label("unit"))
		e.BeyondUse = e.At.Add(time.Duration(rapid.IntRange(0, 10).Draw(rt, label("days"))) * 24 * time.Hour)
	}
	return e
}

// Whatever is on record, in whatever order: made = in the pharmacy + on the
// way + at home + given + returned + wasted, for every lot; nothing is told
// twice; no move asks for units that are not there.
func TestUnitsAreConserved(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		p, _ := week(t, rapid.IntRange(0, 30).Draw(rt, "given"))
		var events []plan.Event
		for i := range rapid.IntRange(0, 40).Draw(rt, "events") {
			events = append(events, anyEvent(rt, p, i))
		}
		next := p
		switch rapid.IntRange(0, 3).Draw(rt, "next") {
		case 1:
			next.Basis.Order, next.Basis.Unit = "o#2", unit("cefazolin", "1000")
		case 2:
			next.Basis.Order, next.Basis.Stopped = "o#2", true
		case 3:
			next.HomeDoses, next.FirstHomeDose = p.HomeDoses[5:], p.HomeDoses[5]
			next.Deliveries = []plan.Delivery{load(t, "2026-11-12T08:00:00-05:00", p.HomeDoses, 5, 26), load(t, "2026-11-19T08:00:00-05:00", p.HomeDoses, 26, 42)}
		}
		got, moves := settled(t, p, events, next)
		a := got.Basis.Account
		below := slices.Contains(codes(a), "below-zero")
		for _, s := range a.Lots {
			if !s.Balanced() {
				rt.Fatalf("lot %q is not balanced: %+v", s.Lot, s)
			}
			if low := min(s.Pharmacy, s.Way, s.Home, s.Returned); low < 0 && !below {
				rt.Fatalf("lot %q has %d units somewhere and nothing says so", s.Lot, low)
			}
			for _, place := range []struct {
				name plan.EventPlace
				n    int
			}{{plan.InPharmacy, s.Pharmacy}, {plan.OnTheWay, s.Way}, {plan.AtHome, s.Home}, {plan.InReturned, s.Returned}} {
				for _, kind := range []plan.MoveKind{plan.Waste, plan.FetchBack, plan.Quarantine, plan.NewLabel} {
					asked := 0
					for _, m := range moves {
						if m.Kind == kind && m.Lot == s.Lot && m.Place == place.name {
							asked += m.Units
						}
					}
					if asked > max(0, place.n) {
						rt.Fatalf("%s asks for %d of %d units of lot %q", kind, asked, place.n, s.Lot)
					}
				}
			}
		}
	})
}

// A history that can have been: the counts are those of a model that moves
// units one by one, and nothing is called wrong.
func TestAPossibleHistoryHasNoDiscrepancy(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		start := instant(t, "2026-11-10T08:00:00-05:00")
		var events []plan.Event
		var pharmacy, way, home, given, returned, wasted, made int
		for i := range rapid.IntRange(1, 60).Draw(rt, "steps") {
			at := start.Add(time.Duration(i) * time.Minute)
			kind := rapid.SampledFrom(kinds[:9]).Draw(rt, "kind")
			from, to := &pharmacy, &way
			e := plan.Event{ID: fmt.Sprint(i), Kind: kind, At: at, Lot: "L"}
			switch kind {
			case plan.Made:
				e.Units = rapid.IntRange(1, 30).Draw(rt, "units")
				e.Unit, e.BeyondUse = unit("cefazolin", "2000"), start.Add(240*time.Hour)
				made, pharmacy, events = made+e.Units, pharmacy+e.Units, append(events, e)
				continue
			case plan.Missed, plan.Withheld:
				continue
			case plan.Delivered:
				from, to = &way, &home
			case plan.Given:
				from, to, e.Dose = &home, &given, start
			case plan.Returned:
				from, to = &home, &returned
			case plan.Lost:
				from, to = &way, &wasted
			case plan.Wasted:
				from, to, e.From = &returned, &wasted, plan.InReturned
			}
			if *from == 0 {
				continue
			}
			e.Units = rapid.IntRange(1, *from).Draw(rt, "units")
			*from, *to, events = *from-e.Units, *to+e.Units, append(events, e)
		}
		a := plan.Tally(rapid.Permutation(append(events, events...)).Draw(rt, "order"), []time.Time{start}, start.Add(2*time.Hour))
		if len(a.Discrepancies) > 0 {
			rt.Fatalf("%+v", a.Discrepancies)
		}
		if len(events) == 0 {
			return
		}
		s := a.Lots[0]
		if [7]int{made, pharmacy, way, home, given, returned, wasted} != [7]int{s.Made, s.Pharmacy, s.Way, s.Home, s.Given, s.Returned, s.Wasted} {
			rt.Fatalf("%+v", s)
		}
	})
}

// Any bytes as a list of events: never a panic, always balanced, told once.
func FuzzRevise(f *testing.F) {
	f.Add([]byte{})
	f.Add([]byte{0, 10, 20, 1, 0, 1, 12, 20, 1, 0, 2, 14, 20, 1, 0, 3, 20, 1, 1, 0})
	f.Add([]byte{3, 255, 255, 3, 9, 7, 0, 0, 2, 1, 7, 0, 0, 2, 2})
	f.Fuzz(func(t *testing.T, data []byte) {
		p, _ := week(t, 10)
		var events []plan.Event
		for ; len(data) >= 5; data = data[5:] {
			e := plan.Event{Kind: kinds[int(data[0])%len(kinds)], Units: int(data[2]) - 2, Lot: []string{"", "A", "B", "C"}[data[3]%4], At: p.HomeDoses[0].Add(time.Duration(int(data[1])-30) * 3 * time.Hour)}
			e.From = []plan.EventPlace{"", plan.InPharmacy, plan.OnTheWay, plan.AtHome, plan.InReturned}[data[4]%5]
			if e.Kind == plan.Made {
				e.Unit, e.BeyondUse = p.Basis.Unit, e.At.Add(time.Duration(data[4])*time.Hour)
			}
			if data[1] == 255 {
				e.At = time.Time{}
			}
			events = append(events, e)
		}
		next := p
		next.Basis.Order = "o#2"
		next.Basis.Stopped = len(events)%5 == 4
		settled(t, p, events, next)
	})
}

// Given and missed at once is a question about the record, not a missed dose.
func TestADoseGivenAndMissedIsNoMissedDose(t *testing.T) {
	p, events := week(t, 10)
	events = append(events, plan.Event{Kind: plan.Missed, At: p.HomeDoses[9].Add(time.Hour / 2), Dose: p.HomeDoses[9]})
	_, moves := settled(t, p, events, p)
	assert.Equal(t, []string{"11-14 06:00 call pharmacist record-wrong"}, lines(moves))
}
