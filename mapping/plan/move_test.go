package plan_test

import (
	"bytes"
	"encoding/json"
	"flag"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/plan"
)

var update = flag.Bool("update-moves", false, "write the golden files of moves anew")

// The moves of S2 and S7 as JSON, each file with a line that says why it is
// right. The counts and instants were worked by hand in the scenario tests.
func TestMovesOfTheScenariosAsJSON(t *testing.T) {
	type page struct {
		Why    string        `json:"why"`
		Now    time.Time     `json:"now"`
		Moves  []plan.Move   `json:"moves"`
		Doses  int           `json:"doses"`
		Counts []plan.Figure `json:"counts"`
	}
	v1, v2 := vancomycinPlans(t)
	d1, d2 := daptomycinPlans(t)
	for _, c := range []struct {
		file, why string
		old, next plan.Plan
		events    []plan.Event
	}{
		{"revise-s2.json", "1,250 mg every 12 hours became 750 mg daily without a start: 14 made and delivered, 10 given, 2 withheld, so 4 units of the old dose are at home; the next old dose is 16 Feb 21:00, the next run 17 Feb 17:00", v1, v2, firstWeek(t, v1)},
		{"revise-s7.json", "discharge slipped from Friday to Sunday: 28 doses become 26 and the end stays; of 8 units good until 27 Dec 15:00 six serve 21 to 26 Dec, those of 27 and 28 Dec 18:00 are made again for the delivery of 23 Dec", d1, d2, batchOfEight(t, d1.Basis.Unit)},
	} {
		p, moves := plan.Revise(c.old, c.events, c.next)
		out := page{Why: c.why, Now: c.next.Basis.Now, Moves: moves, Doses: len(p.HomeDoses)}
		for _, place := range []plan.EventPlace{plan.InPharmacy, plan.OnTheWay, plan.AtHome, plan.InReturned} {
			out.Counts = append(out.Counts, plan.Figure{Name: string(place), N: p.Basis.Account.Count(place)})
		}
		var b bytes.Buffer
		e := json.NewEncoder(&b)
		e.SetEscapeHTML(false)
		e.SetIndent("", " ")
		require.NoError(t, e.Encode(out))
		if *update {
			require.NoError(t, os.WriteFile("testdata/"+c.file, b.Bytes(), 0o644))
		}
		want, err := os.ReadFile("testdata/" + c.file)
		require.NoError(t, err)
		assert.Equal(t, string(want), b.String(), "after reading the difference: -update-moves")
	}
}

func TestAMoveIsItselfWhateverTheClock(t *testing.T) {
	m := plan.Move{Kind: plan.FetchBack, Whom: plan.ToSupply, Reason: plan.WrongStrength, Units: 4, Lot: "V1", Due: instant(t, "2027-02-16T21:00:00-06:00"), Why: "a"}
	later := m
	later.Due, later.Late, later.Why = m.Due.Add(time.Hour), true, "b"
	assert.Equal(t, m.ID(), later.ID())
	for _, change := range []func(*plan.Move){
		func(m *plan.Move) { m.Units = 3 }, func(m *plan.Move) { m.Lot = "V2" }, func(m *plan.Move) { m.Kind = plan.Waste }, func(m *plan.Move) { m.Whom = plan.ToNurse },
		func(m *plan.Move) { m.Reason = plan.OldLabel }, func(m *plan.Move) { m.Subject = "x" }, func(m *plan.Move) { m.From = m.Due }, func(m *plan.Move) { m.To = m.Due },
		func(m *plan.Move) { m.Place = plan.AtHome }, func(m *plan.Move) { m.Doses = []time.Time{m.Due} },
	} {
		other := m
		change(&other)
		assert.NotEqual(t, m.ID(), other.ID())
	}
}
