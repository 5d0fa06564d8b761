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
	for _, written := range []string{"0.05", "0.0500", "5e-2", "\"0.05\""} {
		p := load(t, "dose:", "  arithmeticBlock: "+written)
		assert.Zero(t, big.NewRat(1, 20).Cmp(p.Dose.ArithmeticBlock.Rat()), written)
	}
	// A binary number would not be: 0.1 is 3602879701896397 / 2^55 there.
	p := load(t, "device:", "  tolerance: 0.1")
	assert.Zero(t, big.NewRat(1, 10).Cmp(p.Device.Tolerance.Rat()))
}

func TestWhatAPolicyMayNotSayIsRefusedWithKeyOrLine(t *testing.T) {
	for says, c := range map[string]struct{ file, need string }{
		"an unknown key":                        {"device:\n  tolerance: 0.1\n  tolerence: 0.2\n", "policy:3:3: device.tolerence is not known"},
		"an unknown section":                    {"\ndevices:\n  tolerance: 0.1\n", "policy:2:1: devices is not known"},
		"the same key twice":                    {"device:\n  tolerance: 0.1\n  tolerance: 0.2\n", "policy:3:"},
		"text in place of a number":             {"device:\n  tolerance: narrow\n", "policy:2:"},
		"a percentage":                          {"device:\n  tolerance: 10%\n", "policy:2:"},
		"a decimal comma":                       {"device:\n  tolerance: \"0,1\"\n", "policy:2:"},
		"no number before the point":            {"device:\n  tolerance: .1\n", "policy:2:"},
		"a list in place of a number":           {"device:\n  tolerance: [0.1]\n", "policy:2:"},
		"half a day":                            {"delivery:\n  longestDays: 7.5\n", "policy:2:"},
		"a length without a unit":               {"delivery:\n  warmUp: 3\n", "policy:2:"},
		"a length in days":                      {"delivery:\n  warmUp: 1d\n", "policy:2:"},
		"a length in words":                     {"delivery:\n\n  warmUp: three hours\n", "policy:3:"},
		"a length below zero":                   {"delivery:\n  warmUp: -3h\n", "write 3h or 90m"},
		"a second document":                     {"device:\n  tolerance: 0.1\n---\ndevice:\n  tolerance: 0.2\n", "policy:3:"},
		"no YAML":                               {"device: {\n", "policy:1:1:"},
		"a tolerance of 0":                      {"device:\n  tolerance: 0\n", "device.tolerance is 0"},
		"a tolerance of 1":                      {"device:\n  tolerance: 1\n", "device.tolerance is 1"},
		"a tolerance below 0":                   {"device:\n  tolerance: -0.1\n", "device.tolerance is -0.1"},
		"a block at 0":                          {"dose:\n  arithmeticWarn: 0.01\n  arithmeticBlock: 0\n", "dose.arithmeticBlock is 0"},
		"a warn above the block":                {"dose:\n  arithmeticWarn: 0.06\n", "dose.arithmeticWarn is 0.06 and dose.arithmeticBlock is 0.05"},
		"a basis hold below the warn":           {"dose:\n  basisHold: 0.04\n", "dose.basisWarn is 0.05 and dose.basisHold is 0.04"},
		"an early first dose after one step":    {"dose:\n  firstDoseEarly: 1.1\n", "dose.firstDoseEarly is 1.1"},
		"a late first dose before one step":     {"dose:\n  firstDoseLate: 0.9\n", "dose.firstDoseLate is 0.9"},
		"a family limit on the wrong side":      {"device:\n  wrongFamilyFast: 0.9\n", "device.wrongFamilyFast is 0.9"},
		"a slow limit on the wrong side":        {"device:\n  wrongFamilySlow: 1.1\n", "device.wrongFamilySlow is 1.1"},
		"a note above the hold":                 {"device:\n  intermittentNote: 4\n", "device.intermittentNote is 4 and device.intermittentHold is 3"},
		"more than the whole dose":              {"device:\n  deliveredLeast: 1.1\n", "device.deliveredLeast is 1.1"},
		"an anti-infective that may lose less":  {"device:\n  deliveredLeastAntiInfective: 0.97\n", "device.deliveredLeastAntiInfective is 0.97"},
		"a device that does not flow":           {"device:\n  nominalRates: [50, 0]\n", "device.nominalRates[1] has 0"},
		"no days":                               {"delivery:\n  longestDays: 0\n", "delivery.longestDays is 0"},
		"32 days":                               {"delivery:\n  longestDays: 32\n", "delivery.longestDays is 32"},
		"a weekday spelled wrong":               {"delivery:\n  noDelivery: [wensday]\n", `delivery.noDelivery[0] names "wensday"`},
		"a weekday with a capital":              {"delivery:\n  noDelivery: [Sunday]\n", `delivery.noDelivery[0] names "Sunday"`},
		"a weekday cut short":                   {"delivery:\n  noDelivery: [sun]\n", `delivery.noDelivery[0] names "sun"`},
		"delivery on no day":                    {"delivery:\n  noDelivery: [monday, tuesday, wednesday, thursday, friday, saturday, sunday]\n", "every weekday"},
		"a holiday written the other way":       {"delivery:\n  holidays: [26.11.2026]\n", "delivery.holidays"},
		"a holiday by name":                     {"delivery:\n  holidays: [thanksgiving]\n", "delivery.holidays"},
		"a day the calendar lacks":              {"delivery:\n  holidays: [2027-02-29]\n", "delivery.holidays"},
		"an opening time of one digit":          {"delivery:\n  openFrom: \"8:00\"\n", "delivery.openFrom"},
		"an opening time in the American style": {"delivery:\n  openFrom: 8 am\n", "delivery.openFrom"},
		"24 o'clock":                            {"delivery:\n  openUntil: \"24:00\"\n", "delivery.openUntil"},
		"60 minutes":                            {"delivery:\n  openUntil: \"19:60\"\n", "delivery.openUntil"},
		"closing before opening":                {"delivery:\n  openFrom: \"20:00\"\n  openUntil: \"08:00\"\n", "begin before the end"},
		"closing at opening":                    {"delivery:\n  openFrom: \"20:00\"\n", "begin before the end"},
		"a spare rate below 0":                  {"delivery:\n  spareRate: -0.1\n", "delivery.spareRate is -0.1"},
		"more spare than needed":                {"delivery:\n  spareRate: 1.1\n", "delivery.spareRate is 1.1"},
		"spare pieces below 0":                  {"delivery:\n  spareLeast: -1\n", "delivery.spareLeast is -1"},
		"a name in place of a signature":        {"pharmacy:\n  signedBy: J. Example\n", "policy:2:3: pharmacy.signedBy is not known"},
		"a zone that is not in the database":    {"home:\n  zone: America/Newyork\n", "home.zone"},
		"a creatinine that is never fresh":      {"dose:\n  creatinineDays: 0\n", "dose.creatinineDays is 0"},
		"precautions of less than nothing":      {"hazard:\n  bodyFluidHours: -1\n", "hazard.bodyFluidHours is -1"},
	} {
		t.Run(says, func(t *testing.T) {
			_, err := policy.Load([]byte(c.file))
			require.Error(t, err)
			assert.Contains(t, err.Error(), c.need)
			var faults policy.Faults
			require.ErrorAs(t, err, &faults)
			for _, f := range faults {
				assert.True(t, f.Line >= 1 && f.Column >= 1 && f.Problem != "" && f.Expected != "", "%+v", f)
			}
			_, again := policy.Load([]byte(c.file))
			assert.Equal(t, err.Error(), again.Error(), "the same file, the same words")
		})
	}
}

func TestWhatStandsJustInsideTheLimitsIsAccepted(t *testing.T) {
	for _, lines := range []string{
		"device:\n  tolerance: 0.001", "device:\n  tolerance: 0.5", "dose:\n  arithmeticWarn: 0.05", "dose:\n  basisHold: 0.05",
		"dose:\n  firstDoseEarly: 1\n  firstDoseLate: 1", "device:\n  wrongFamilyFast: 1", "device:\n  intermittentNote: 3", "device:\n  deliveredLeast: 1",
		"delivery:\n  longestDays: 1", "delivery:\n  longestDays: 31", "delivery:\n  noDelivery: []", "delivery:\n  holidays: [2028-02-29]",
		"delivery:\n  openFrom: \"00:00\"\n  openUntil: \"23:59\"", "delivery:\n  spareRate: 0\n  spareLeast: 0", "delivery:\n  spareRate: 1",
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
