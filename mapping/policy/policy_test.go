package policy_test

import (
	"encoding/hex"
	"math/big"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/quantity"
)

func load(t testing.TB, lines ...string) *policy.Policy {
	t.Helper()
	p, err := policy.Load([]byte(strings.Join(lines, "\n")))
	require.NoError(t, err)
	return p
}

// The expected numbers stand in checks.md and trade-practice.md: ISO 28620
// (15 %), arithmetic 1 % and 5 %, spare 10 % and at least 2, warm-up 3 h.
func TestTheDefaultsAreThoseOfThePractice(t *testing.T) {
	p := policy.Default()
	for says, c := range map[string]struct {
		have quantity.Number
		want *big.Rat
	}{
		"device tolerance": {p.Device.Tolerance.Number, big.NewRat(3, 20)},
		"arithmetic warn":  {p.Dose.ArithmeticWarn.Number, big.NewRat(1, 100)},
		"arithmetic block": {p.Dose.ArithmeticBlock.Number, big.NewRat(1, 20)},
		"spare":            {p.Delivery.SpareRate.Number, big.NewRat(1, 10)},
		"family, fast":     {p.Device.WrongFamilyFast.Number, big.NewRat(3, 2)},
		"family, slow":     {p.Device.WrongFamilySlow.Number, big.NewRat(67, 100)},
		"first dose early": {p.Dose.FirstDoseEarly.Number, big.NewRat(3, 4)},
		"first dose late":  {p.Dose.FirstDoseLate.Number, big.NewRat(5, 4)},
	} {
		assert.Zero(t, c.want.Cmp(c.have.Rat()), "%s is %s", says, c.have.Rat())
	}
	assert.Equal(t, 2, p.Delivery.SpareLeast)
	assert.Equal(t, 7, p.Delivery.LongestDays)
	assert.Equal(t, policy.Length(3*time.Hour), p.Delivery.WarmUp)
	assert.Equal(t, policy.Length(time.Hour), p.Delivery.Teach)
	assert.Equal(t, 48, p.Hazard.BodyFluidHours)
	assert.False(t, p.Lock.StandingProtocol, "no protocol stands until a site says so")
	assert.True(t, p.Hazard.ClosedTransferPolicy, "the safe side until an assessment says otherwise")
	assert.True(t, p.SecondCheck.Children && p.SecondCheck.Hazardous)
}

func TestASiteOverrulesOneKeyAndKeepsTheRest(t *testing.T) {
	p, d := load(t, "device:", "  tolerance: 0.1", "delivery:", "  noDelivery: [saturday, sunday]", "  holidays: [2026-11-26, \"2026-12-25\"]"), policy.Default()
	assert.Equal(t, "0.1", p.Device.Tolerance.Decimal())
	assert.Equal(t, []string{"saturday", "sunday"}, p.Delivery.NoDelivery)
	assert.Equal(t, []string{"2026-11-26", "2026-12-25"}, p.Delivery.Holidays, "a date without quotes stays text")
	p.Device.Tolerance, p.Delivery.NoDelivery, p.Delivery.Holidays, p.Hash = d.Device.Tolerance, d.Delivery.NoDelivery, d.Delivery.Holidays, d.Hash
	assert.Equal(t, *d, *p, "everything else is the default")
	assert.Equal(t, "0.15", policy.Default().Device.Tolerance.Decimal(), "the defaults themselves are untouched")
}

func TestFiveHundredthsIsExactlyOneTwentieth(t *testing.T) {
	for _, written := range []string{"0.05", "0.0500", "\"0.05\""} {
		p := load(t, "dose:", "  arithmeticBlock: "+written)
		assert.Zero(t, big.NewRat(1, 20).Cmp(p.Dose.ArithmeticBlock.Rat()), written)
	}
	// A binary number would not be: 0.1 is 3602879701896397 / 2^55 there.
	p := load(t, "device:", "  tolerance: 0.1")
	assert.Zero(t, big.NewRat(1, 10).Cmp(p.Device.Tolerance.Rat()))
}

// A spare for every piece was accepted once: it doubles what is thrown away,
// so half is the most.
func TestWhatStandsJustInsideTheLimitsIsAccepted(t *testing.T) {
	for _, lines := range []string{
		"device:\n  tolerance: 0.001", "device:\n  tolerance: 0.5", "dose:\n  arithmeticWarn: 0.05", "dose:\n  basisHold: 0.05",
		"dose:\n  firstDoseEarly: 1\n  firstDoseLate: 1", "device:\n  wrongFamilyFast: 1", "device:\n  intermittentNote: 3", "device:\n  deliveredLeast: 1",
		"delivery:\n  longestDays: 1", "delivery:\n  longestDays: 31", "delivery:\n  noDelivery: []", "delivery:\n  holidays: [2028-02-29]",
		"delivery:\n  openFrom: \"00:00\"\n  openUntil: \"23:59\"", "delivery:\n  spareRate: 0\n  spareLeast: 0", "delivery:\n  spareRate: 0.5",
		"delivery:\n  warmUp: 0h", "delivery:\n  warmUp: 90m", "home:\n  zone: America/New_York", "records:\n  leastAgeDays: 0", "# nothing but words", "",
	} {
		_, err := policy.Load([]byte(lines))
		assert.NoError(t, err, lines)
	}
	assert.Equal(t, policy.Length(90*time.Minute), load(t, "delivery:", "  warmUp: 90m").Delivery.WarmUp)
}

func TestAnotherFileHasAnotherHash(t *testing.T) {
	files := []string{"", "device:\n  tolerance: 0.1\n", "device:\n  tolerance: 0.10\n", "# a word\n"}
	seen := map[string]string{}
	for _, f := range files {
		h := load(t, f).Hash
		sum, err := hex.DecodeString(h)
		require.NoError(t, err)
		assert.Len(t, sum, 32, "SHA-256")
		assert.Empty(t, seen[h], "%q and %q", f, seen[h])
		seen[h] = f + " "
		assert.Equal(t, h, load(t, f).Hash, "the same file, the same hash")
	}
}

func TestTheDefaultFileCannotBeChangedByItsReader(t *testing.T) {
	file := policy.DefaultFile()
	require.NotEmpty(t, file)
	file[0] = 'X'
	assert.NotEqual(t, file[0], policy.DefaultFile()[0])
	p, err := policy.Load(policy.DefaultFile())
	require.NoError(t, err, "the defaults are themselves a valid site file")
	p.Hash = policy.Default().Hash
	assert.Equal(t, *policy.Default(), *p)
}
