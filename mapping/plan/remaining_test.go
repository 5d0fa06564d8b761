package plan_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"weir.example/weir/mapping/plan"
	"weir.example/weir/mapping/quantity"
)

// infuser is scenario S3: 4,390 mg in 92 mL over 46 h, 15 % either way.
func infuser(t testing.TB) plan.Running {
	return plan.Running{Start: instant(t, "2026-10-31T11:00:00-04:00"), Fill: quantity.Int(92), Volume: quantity.MustUnit("mL"),
		Concentration: quantity.Point(quantity.Ratio(4390, 92), quantity.MustUnit("mg/mL")), Drug: quantity.MustUnit("mg"),
		Nominal: 46 * time.Hour, Shortest: 40 * time.Hour, Longest: 54*time.Hour + 7*time.Minute + 4*time.Second}
}

// The clinical review, section 4: 20 mL left are 3,436 mg given, 78 %; more
// than 9.2 mL left at the end is a call. By hand: (92 - 20) x 4,390 / 92 =
// 3,435.65 mg; 72 / 92 = 78.26 %; 20 mL at 2 mL/h are 10 h.
func TestWhatTheVolumeLeftMeans(t *testing.T) {
	r := infuser(t)
	latest := r.Start.Add(r.Longest)
	x, err := r.Left(quantity.Int(20), latest)
	require.NoError(t, err)
	assert.Equal(t, []string{"3436", "954", "0.783"}, []string{x.Given.Significant(4), x.ToGive.Significant(3), x.Share.Significant(3)})
	assert.Equal(t, 10*time.Hour, x.TimeLeft)
	assert.Equal(t, []any{plan.Late, true}, []any{x.State, x.Call})
	assert.Equal(t, "20 mL left: 3,436 mg given (78 %), 954.3 mg not given; between 0 mL and 0 mL would be expected. more than 9.2 mL left after the latest end: call before it is disconnected or thrown away; the prescriber chooses longer, within its limit in use, or stop", x.Says)

	// Half-way, 23 h: the fastest flow leaves 92 x (1 - 23/40) = 39.1 mL, the
	// slowest 92 x (1 - 82,800/194,824) = 52.9 mL.
	half := r.Start.Add(23 * time.Hour)
	e := r.Expect(half)
	assert.Equal(t, []string{"39.1", "46", "52.9"}, []string{e.Least.Significant(3), e.Nominal.Significant(3), e.Most.Significant(3)})
	for _, c := range []struct {
		says, left string
		at         time.Time
		state      string
		call       bool
	}{
		{"exactly what the fastest leaves", "39.1", half, plan.Inside, false},
		{"a hundredth less", "39.09", half, plan.Early, true},
		{"nominal", "46", half, plan.Inside, false},
		{"more than the slowest leaves: wait", "53", half, plan.Late, false},
		{"nothing has run half-way", "92", half, plan.Late, true},
		{"nothing has run after a minute", "92", r.Start.Add(time.Minute), plan.Late, false},
		{"empty a second before the earliest end", "0", r.Start.Add(40*time.Hour - time.Second), plan.Early, true},
		{"empty at the earliest end", "0", r.Start.Add(40 * time.Hour), plan.Inside, false},
		{"a tenth left at the latest end", "9.2", latest, plan.Late, false},
		{"a little more", "9.21", latest, plan.Late, true},
		{"more than a tenth, before the latest end: wait", "9.21", latest.Add(-time.Second), plan.Late, false},
		{"empty at the latest end", "0", latest, plan.Inside, false},
	} {
		x, err := r.Left(quantity.MustNumber(c.left), c.at)
		require.NoError(t, err, c.says)
		assert.Equal(t, []any{c.state, c.call}, []any{x.State, x.Call}, c.says)
	}
	for says, bad := range map[string]func() (plan.Remaining, error){
		"less than nothing":  func() (plan.Remaining, error) { return r.Left(quantity.Int(-1), half) },
		"more than the fill": func() (plan.Remaining, error) { return r.Left(quantity.MustNumber("92.01"), half) },
		"before the start":   func() (plan.Remaining, error) { return r.Left(quantity.Int(92), r.Start.Add(-1)) },
		"no strength": func() (plan.Remaining, error) {
			y := r
			y.Concentration = quantity.Quantity{}
			return y.Left(quantity.Int(1), half)
		},
		"no time": func() (plan.Remaining, error) { y := r; y.Nominal = 0; return y.Left(quantity.Int(1), half) },
	} {
		_, err := bad()
		assert.Error(t, err, says)
	}
}

// With 2 mL that stay in the device it is empty at 2 mL, and delivers 90 / 92
// of 4,390 mg = 4,294.6 mg (scenario S3: 4,295 mg, 97.8 %).
func TestWhatStaysInTheDeviceIsNotTimeLeft(t *testing.T) {
	r := infuser(t)
	r.Residual = quantity.Int(2)
	x, err := r.Left(quantity.Int(2), r.Start.Add(46*time.Hour))
	require.NoError(t, err)
	assert.Equal(t, []any{"4295", "97.8", plan.Inside, time.Duration(0)}, []any{x.Given.Significant(4), x.Share.Mul(quantity.Int(100)).Places(1), x.State, x.TimeLeft})
	r.Shortest, r.Longest = 0, 0
	x, err = r.Left(quantity.Int(20), r.Start.Add(23*time.Hour))
	require.NoError(t, err)
	assert.Equal(t, []any{plan.Unsaid, false}, []any{x.State, x.Call}, "without a tolerance nobody can say it is early")
	assert.Contains(t, x.Says, "cannot be told")
	x, _ = r.Left(quantity.Int(20), r.Start.Add(46*time.Hour))
	assert.True(t, x.Call, "a tenth left at the nominal end is a call without a window too")
}

// What is given and what is left are the whole; the nominal lies between the
// fastest and the slowest; less left never means less given.
func TestGivenAndLeftAreTheWhole(t *testing.T) {
	r := infuser(t)
	whole := quantity.Int(4390)
	rapid.Check(t, func(k *rapid.T) {
		at := r.Start.Add(time.Duration(rapid.IntRange(0, 60*3600).Draw(k, "s")) * time.Second)
		a, b := rapid.IntRange(0, 9200).Draw(k, "a"), rapid.IntRange(0, 9200).Draw(k, "b")
		x, err := r.Left(quantity.Ratio(int64(min(a, b)), 100), at)
		require.NoError(t, err)
		y, err := r.Left(quantity.Ratio(int64(max(a, b)), 100), at)
		require.NoError(t, err)
		assert.True(t, x.Given.Add(x.ToGive).Equal(whole))
		assert.False(t, x.Given.Less(y.Given) || y.TimeLeft < x.TimeLeft)
		assert.False(t, x.Nominal.Less(x.Least) || x.Most.Less(x.Nominal))
	})
}
