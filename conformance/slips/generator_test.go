package slips_test

import (
	"math/big"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// products are the equations of an infusion: the first field is the product
// of those behind it and, after "/", divided by the last.
var products = []struct {
	one         string
	times, over []string
	percent     int64 // by how much careful roundings together may miss
}{
	{"dose", list("dosePerKg", "dosingWeight"), nil, 11},
	{"dose", list("dosePerArea", "bodySurfaceArea"), nil, 11},
	{"dose", list("concentration", "volume"), nil, 1},
	{"volume", list("rate", "duration"), nil, 10},
	{"drugRate", list("concentration", "rate"), nil, 4},
	{"drugRate", list("drugRatePerKg", "dosingWeight"), nil, 1},
	{"drugRate", list("dose"), list("duration"), 10},
	{"dailyDose", list("dose", "dosesPerDay"), nil, 1},
	{"dosesPerDay", nil, list("interval"), 0},
	{"doseCount", list("courseLength"), list("interval"), 0},
}

func TestCorrectOrdersObeyTheProducts(t *testing.T) {
	seen := map[string]int{}
	for i := range 3000 {
		p := draw(rand.New(rand.NewPCG(11, uint64(i))))
		all := p.write(careful, p.weight, p.weight)
		for _, e := range products {
			product, complete := whole(1), true
			use := func(name string, f func(a, b *big.Rat) *big.Rat) {
				if w, ok := find(all, name); ok {
					product = f(product, w.value())
				} else {
					complete = false
				}
			}
			multiply := func(a, b *big.Rat) *big.Rat { return times(a, b) }
			for _, name := range e.times {
				use(name, multiply)
			}
			for _, name := range e.over {
				use(name, over)
			}
			use(e.one, func(a, b *big.Rat) *big.Rat { return over(b, a) })
			if complete {
				seen[e.one+string(p.drug.kind)]++
				missed := distance(product, whole(1))
				assert.LessOrEqual(t, missed.Cmp(big.NewRat(e.percent, 100)), 0, "%s = %v / %v of %s: %s", e.one, e.times, e.over, p.drug.class, missed.FloatString(4))
			}
		}
	}
	assert.Greater(t, len(seen), 30)
}

func TestWhatASetCanShow(t *testing.T) {
	for name, want := range map[string]struct {
		checks    int
		checkable string
	}{
		"D V T": {0, ""}, "r w Q": {0, ""}, "V Q T": {1, "VQT"}, "D V Q T": {1, "VQT"}, "D C V T": {1, "DCV"}, "r w C Q": {1, "rwCQ"},
		"D C V Q T": {2, "DCVQT"}, "D V I N L": {1, "INL"}, "D C V Q T n E": {3, "DCVQTnE"}, "D a s C V Q T R": {4, "DasCVQTR"},
	} {
		var stated []written
		for _, field := range spelled(name) {
			stated = append(stated, written{name: field})
		}
		r := reachOf(stated, false)
		assert.Equal(t, want.checks, r.checks, name)
		for _, field := range spelled(name) {
			assert.Equal(t, slices.Contains(spelled(want.checkable), field), r.checkable[field], "%s in %s", field, name)
		}
	}
	assert.Equal(t, 1, reachOf([]written{{name: "dailyDose"}, {name: "drugRate"}}, true).checks, "a running infusion gives its daily dose by its rate")
}

func TestRoundingAndPrinting(t *testing.T) {
	for _, c := range []struct{ x, step, want string }{{"1176", "250", "1250"}, {"1125", "250", "1250"}, {"166.66", "1", "167"}, {"2.448", "0.1", "2.4"}, {"0.05", "0.1", "0.1"}} {
		assert.Equal(t, c.want, digitsOf(nearest(rat(c.x), rat(c.step))), c.x)
	}
	for x, want := range map[string]string{"33.75": "33.8", "1333.3": "1330", "0.012345": "0.0123", "2": "2"} {
		assert.Equal(t, want, digitsOf(nearest(rat(x), lastOf(rat(x), 3))), x)
	}
	assert.Equal(t, "1.25", digitsOf(upTo(rat("1.01"), rat("0.25"))))
	assert.Equal(t, 0, worth("ug/kg/min").Cmp(rat("0.06")))
	assert.Equal(t, 0, worth("/d").Cmp(big.NewRat(1, 24)))
}

// Every signature is tried in every field it can occur in.
func TestEverySignatureIsTried(t *testing.T) {
	fields := map[string]map[string]bool{}
	for i := range 1500 {
		r := rand.New(rand.NewPCG(12, uint64(i)))
		p := draw(r)
		all := p.write(careful, p.weight, p.weight)
		if all == nil {
			continue
		}
		for _, v := range (slipper{p, careful, all, r}).some(all, 1000) {
			if fields[v.signature] == nil {
				fields[v.signature] = map[string]bool{}
			}
			fields[v.signature][all[v.at].name] = true
		}
	}
	for _, s := range list(tenfold, neighbour, transposed, anyDigit) {
		least := len(letters)
		if s == tenfold || s == transposed {
			least -= 1 // doses per day have one digit
		}
		assert.GreaterOrEqual(t, len(fields[s]), least, "%s in %v", s, fields[s])
	}
	for s, want := range map[string][]string{
		thousandfold: list("dose", "dosePerKg", "dosePerArea", "concentration", "volume", "drugRate", "drugRatePerKg", "dailyDose"),
		dayAsHour:    list("rate", "drugRate", "drugRatePerKg"), minutesHours: list("rate", "drugRate", "drugRatePerKg", "duration"),
		pounds: list("dosingWeight"), dayEachDose: list("dose", "dosePerKg", "dailyDose"), courseAsDay: list("dose", "dosePerKg", "dosePerArea", "dailyDose"),
		otherKnown: list("concentration", "rate", "volume"),
	} {
		var have []string
		for name := range fields[s] {
			have = append(have, name)
		}
		assert.ElementsMatch(t, want, have, s)
	}
}

func TestTheSameSeedGivesTheSameTable(t *testing.T) {
	r := run{seed: 5, orders: 40, perSet: 1, carried: 3}
	a, b := report([]run{r}, []*tally{r.run()}), report([]run{r}, []*tally{r.run()})
	require.Equal(t, a, b)
}
