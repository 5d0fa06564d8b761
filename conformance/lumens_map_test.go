package conformance

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/lumen"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/plan"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/schedule"
)

// Only a test at the Y-site without a condition lets two run together.
func TestARowBecomesAMeeting(t *testing.T) {
	for _, c := range []struct {
		row     compendium.Pair
		newborn bool
		want    lumen.Meeting
	}{
		{compendium.Pair{Verdict: "compatible"}, false, lumen.Compatible},
		{compendium.Pair{Verdict: "compatible", Condition: "in saline"}, false, lumen.Apart},
		{compendium.Pair{Verdict: "conditional", Condition: "in saline"}, false, lumen.Apart},
		{compendium.Pair{Verdict: "incompatible", Between: "flush"}, false, lumen.Apart},
		{compendium.Pair{Verdict: "incompatible"}, false, lumen.Separate},
		{compendium.Pair{Verdict: "incompatible", Between: "flush", Newborn: "never"}, false, lumen.Apart},
		{compendium.Pair{Verdict: "incompatible", Between: "flush", Newborn: "never"}, true, lumen.Contraindicated},
		{compendium.Pair{Verdict: "incompatible", Between: "flush"}, true, lumen.Apart},
	} {
		assert.Equal(t, c.want, meeting(c.row, c.newborn), "%+v", c)
	}
}

func lineUse(t *testing.T, name string, at ...string) *use {
	zone, err := schedule.LoadZones().Zone("America/New_York")
	require.NoError(t, err)
	s := &state{zone: zone, ref: policy.Reference{Policy: policy.Default()}, drug: compendium.Drug{Name: name}, drugKnown: true}
	s.order.Drug.Name = name
	s.now = time.Date(2026, 11, 10, 12, 0, 0, 0, time.UTC)
	s.kase.Patient.BirthDate = order.Instant{Time: s.now.AddDate(-40, 0, 0), Literal: "1986-11-10"}
	s.plan = plan.Plan{Zone: zone, Duration: 30 * time.Minute, Complete: true}
	for _, a := range at {
		dose, err := time.ParseInLocation("2006-01-02 15:04", a, zone.Location)
		require.NoError(t, err)
		s.plan.HomeDoses = append(s.plan.HomeDoses, dose)
	}
	if n := len(at); n > 0 {
		s.plan.FirstHomeDose, s.plan.LastDose = s.plan.HomeDoses[0], s.plan.HomeDoses[n-1]
	}
	return newUse(s, nil)
}

// The ceftriaxone label: with calcium by vein never at 28 days of age or
// less, afterwards one after the other with a flush. What the drug is made
// with counts.
func TestAgeAndFluidsOfAPair(t *testing.T) {
	a, b := lineUse(t, "ceftriaxone"), lineUse(t, "ampicillin")
	line := access{lumens: []lumen.Lumen{{Name: "the one lumen"}}}
	assert.Equal(t, lumen.Unknown, line.pairing(a, b).Meeting, "no row for the two drugs")
	no := false
	b.order.Drug.Ingredients = []order.Ingredient{{Concept: order.Concept{Text: "lactated Ringer's"}, Active: &no}}
	assert.Equal(t, lumen.Apart, line.pairing(a, b).Meeting)
	assert.Equal(t, lumen.Apart, line.pairing(b, a).Meeting, "in either order")
	old := func(days int) lumen.Meeting {
		a.kase.Patient.BirthDate = order.Instant{Time: a.now.AddDate(0, 0, -days), Literal: "x"}
		return line.pairing(a, b).Meeting
	}
	assert.Equal(t, lumen.Contraindicated, old(28))
	assert.Equal(t, lumen.Apart, old(29))
	a.kase.Patient.BirthDate = order.Instant{}
	p := line.pairing(a, b)
	assert.Equal(t, lumen.Contraindicated, p.Meeting)
	assert.Contains(t, p.Age, "not known")
}

// Doses at the same times each day, by the clock or by elapsed time, are one
// day; of others every time at which one may fall is taken.
func TestTimesOfADay(t *testing.T) {
	midnight := func(u *use, day string) time.Time {
		at, err := time.ParseInLocation(time.DateOnly, day, u.zone.Location)
		require.NoError(t, err)
		return at
	}
	u := lineUse(t, "a", "2026-10-30 09:00", "2026-10-30 21:00", "2026-10-31 09:00", "2026-10-31 21:00", "2026-11-01 09:00", "2026-11-01 21:00", "2026-11-02 09:00")
	times, regular := u.times(midnight(u, "2026-10-31"))
	assert.Equal(t, []int{540, 1260}, times, "by the clock, over the hour given back on 1 November")
	assert.True(t, regular)
	u = lineUse(t, "a", "2026-10-31 09:00", "2026-11-01 08:00", "2026-11-02 08:00")
	times, regular = u.times(midnight(u, "2026-10-31"))
	assert.Equal(t, []int{540}, times, "24 elapsed hours")
	assert.True(t, regular)
	u = lineUse(t, "a", "2026-06-01 09:00", "2026-06-02 21:00", "2026-06-04 09:00", "2026-06-05 21:00")
	times, regular = u.times(midnight(u, "2026-06-01"))
	assert.Equal(t, []int{540, 1260}, times, "every 36 hours")
	assert.False(t, regular)
	u = lineUse(t, "a", "2026-06-01 22:00")
	times, regular = u.times(midnight(u, "2026-06-02"))
	assert.Equal(t, []int{1320}, times, "one dose, on the day before")
	assert.True(t, regular)
}

func TestWhenTheHomePartEnds(t *testing.T) {
	u := lineUse(t, "a", "2026-12-01 09:00", "2026-12-02 09:00")
	assert.Equal(t, u.plan.LastDose.Add(30*time.Minute), u.to)
	assert.True(t, u.at(u.to))
	assert.False(t, u.at(u.to.Add(time.Minute)))
	assert.False(t, u.at(u.from.Add(-time.Minute)))
	u.plan.Complete = false
	open := newUse(u.state, nil)
	assert.True(t, open.at(u.to.AddDate(1, 0, 0)), "no end is known")
	unknown := lineUse(t, "a")
	assert.True(t, unknown.at(u.from), "nobody knows its times: it may run then")
	assert.NotEmpty(t, unknown.missing)
}
