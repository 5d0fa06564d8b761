package lumen_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/lumen"
)

func flushed(fluid string) lumen.Steps { return lumen.Steps{{Fluid: fluid, Minutes: 5}} }

// One fluid in another spelling, strength or by its code is the same fluid to
// a drug that may not meet it; one that cannot be read is not decided.
func TestAFluidIsKnownByWhatItIsMadeOf(t *testing.T) {
	for _, c := range []struct {
		avoids, flush string
		want          lumen.Outcome
	}{
		{"saline", "Saline", lumen.Impossible},
		{"sodium chloride 0.9 %", "Sodium Chloride 0.9% injection", lumen.Impossible},
		{"sodium chloride 0.9 %", "normal saline", lumen.Impossible},
		{"sodium chloride 0.9 %", "NS", lumen.Impossible},
		{"ns", "sodium chloride 0.45 %", lumen.Impossible},
		{"saline", "dextrose 5 % in sodium chloride 0.9 %", lumen.Impossible},
		{"saline", "lactated Ringer's", lumen.Impossible},
		{"saline", "heparin 10 units per mL in sodium chloride 0.9 %", lumen.Impossible},
		{"saline", "dextrose 5 % in water", lumen.Placed},
		{"saline", "D5W", lumen.Placed},
		{"dextrose 5 %", "glucose 10 %", lumen.Impossible},
		{"dextrose 5 %", "sodium chloride 0.9 %", lumen.Placed},
		{"lactated Ringer's", "sodium chloride 0.9 %", lumen.Placed}, // its calcium is avoided
		{"lactated Ringer's", "Hartmann's solution", lumen.Impossible},
		{"sterile water", "SWFI", lumen.Impossible},
		{"heparin", "saline", lumen.Placed},
		{"heparin", "Heparin 10 units per mL in dextrose 5 %", lumen.Impossible},
		{"saline", "heparin", lumen.NotDecided}, // in which fluid is not said
		{"saline", "the usual flush", lumen.NotDecided},
		{"the usual flush", "saline", lumen.NotDecided},
		{"The usual flush", "the  usual flush", lumen.Impossible},
	} {
		d := lumen.Infusion{Name: "drug", Times: []int{600}, Duration: 120, Before: flushed(c.flush), After: flushed(c.flush), Avoids: []string{c.avoids}}
		r := solved(t, lumen.Problem{Lumens: one(), Infusions: []lumen.Infusion{d}})
		assert.Equal(t, c.want, r.Outcome, "%q avoids %q", c.flush, c.avoids)
		switch r.Outcome {
		case lumen.Impossible:
			assert.Equal(t, []lumen.Rule{{Kind: lumen.Fluid, Of: []string{"drug"}}}, r.Conflict.Rules)
		case lumen.NotDecided:
			assert.Contains(t, r.Unknown[0], "cannot be read")
		}
	}
}

// A lock named by its drug may follow a flush that is known; the flush of
// another drug is read too.
func TestEveryFluidOfTheLineIsRead(t *testing.T) {
	d := lumen.Infusion{Name: "drug", Times: []int{600}, Duration: 120, Before: flushed("dextrose 5 %"), After: append(flushed("dextrose 5 %"), flushed("heparin")...), Avoids: []string{"saline"}}
	p := lumen.Problem{Lumens: one(), Infusions: []lumen.Infusion{d, dose("cefazolin", 30, 0, clock(20, 0))}}
	require.Equal(t, lumen.Placed, solved(t, p).Outcome)
	p.Infusions[1].After = flushed("lock solution")
	r := solved(t, p)
	require.Equal(t, lumen.NotDecided, r.Outcome)
	assert.Equal(t, `drug may not meet "saline", and whether the flush or lock "lock solution" holds it cannot be read`, strings.Join(r.Unknown, "; "))
	p.Infusions[0].Avoids = nil
	assert.Equal(t, lumen.Placed, solved(t, p).Outcome, "nothing is avoided")
}

// Without a stated distance two doses of one drug are not pushed together to
// suit the sleep: 12 hours apart as scheduled, never less than 9.
func TestDosesWithoutAStatedDistanceAreNotPushedTogether(t *testing.T) {
	p := lumen.Problem{Lumens: one(), Sleep: []lumen.Span{{From: 0, Until: 840}},
		Infusions: []lumen.Infusion{{Name: "vancomycin", Times: []int{480, 1200}, Duration: 60, Early: 350, Late: 350, After: flushed("saline")}}}
	r := solved(t, p)
	require.Equal(t, lumen.Placed, r.Outcome)
	starts := r.Placements[0].Starts
	assert.GreaterOrEqual(t, starts[1]-starts[0], 540)
	p.Infusions[0].Least = 300 // as stated
	starts = solved(t, p).Placements[0].Starts
	assert.Less(t, starts[1]-starts[0], 540)

	// The boundary: 9 hours and a minute less, by what the other dose leaves.
	for late, want := range map[int]lumen.Outcome{180: lumen.Placed, 179: lumen.Placed, 181: lumen.Impossible} {
		q := lumen.Problem{Lumens: one(), Infusions: []lumen.Infusion{{Name: "drug", Times: []int{480, 1200}, Duration: 60, Late: late, After: flushed("saline")},
			{Name: "other", Times: []int{480}, Duration: late - 5, After: flushed("saline")}, {Name: "third", Times: []int{1200 - 30}, Duration: 20, After: flushed("saline")},
			{Name: "fourth", Times: []int{1265}, Duration: 600, After: flushed("saline")}}}
		assert.Equal(t, want, solved(t, q).Outcome, "%d minutes late", late)
	}

	// Doses scheduled closer than that keep what was scheduled.
	close := dose("drug", 5, 0, 480, 503)
	close.Before, close.After = nil, flushed("saline")
	assert.Equal(t, lumen.Placed, solved(t, lumen.Problem{Lumens: one(), Infusions: []lumen.Infusion{close}}).Outcome)
}
