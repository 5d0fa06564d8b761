package equation_test

import (
	"errors"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"weir.example/weir/conformance/equation"
	"weir.example/weir/mapping/quantity"
)

var words = []string{"sex", "start", "end", "step"}

// jagged are the NAMEs in which an equation goes up and down: waste with the
// dose and the vial, a rounded dose with the step it is rounded to. An
// interval of them has no corners, so they are given as one number.
var jagged = map[string][]string{"E33-waste": {"dose", "vialContent"}, "E34": {"roundTo"}}

// sizes are whole numbers of tenths of a plausible unit for each NAME; every
// other NAME takes a mass of 0.1 to 100 mg or the like.
var sizes = map[string]struct {
	unit      string
	low, high int64
}{
	"age": {"a", 10, 1200}, "height": {"cm", 400, 2200}, "weight": {"kg", 30, 2500}, "dosingWeight": {"kg", 30, 2500}, "idealBodyWeight": {"kg", 300, 1200},
	"adjustedBodyWeight": {"kg", 300, 1800}, "serumCreatinine": {"mg/dL", 2, 120}, "adjustmentFactor": {"1", 1, 10}, "bodySurfaceArea": {"m2", 2, 30},
	"absoluteFiltrationRate": {"mL/min", 50, 2000}, "glomerularFiltrationRate": {"mL/min", 50, 1500}, "cycle": {"h", 20, 240}, "rampUp": {"h", 0, 30}, "rampDown": {"h", 0, 30},
	"volume": {"mL", 10, 40000}, "residual": {"mL", 0, 300}, "tolerance": {"%", 0, 1100}, "emittedFraction": {"%", 500, 1050}, "withdrawalFraction": {"%", 10, 1100},
	"duration": {"h", 1, 480}, "dosesPerDay": {"/d", 5, 80}, "window": {"h", 5, 240}, "lockout": {"min", 30, 600}, "courseLength": {"d", 10, 900},
}

func drawn(t *rapid.T, name, label string) quantity.Number {
	s, ok := sizes[name]
	if !ok {
		s.unit, s.low, s.high = "1", 1, 1000
	}
	n := quantity.Ratio(rapid.Int64Range(s.low, s.high).Draw(t, label), 10)
	return quantity.MustUnit(s.unit).ToBase(n)
}

func anyValues(t *rapid.T, e equation.Equation) equation.Values {
	v := equation.Values{By: map[string]equation.Value{}}
	for i, n := range append(slices.Clone(e.Inputs), e.Optional...) {
		optional := i >= len(e.Inputs)
		switch {
		case n == "sex":
			v.By[n] = equation.Value{Word: rapid.SampledFrom([]string{"male", "female"}).Draw(t, "sex")}
		case n == "step":
			for range rapid.IntRange(0, 3).Draw(t, "steps") {
				v.Steps = append(v.Steps, equation.Step{Rate: drawn(t, "volume", "rate").Quo(quantity.Int(3600)), Duration: drawn(t, "duration", "time")})
			}
			v.Steps = append(v.Steps, equation.Step{Rate: drawn(t, "volume", "last rate").Quo(quantity.Int(3600))})
		case !slices.Contains(words, n) && (!optional || rapid.Bool().Draw(t, "with "+n)):
			v.By[n] = equation.Value{Number: drawn(t, n, n)}
		}
	}
	return v
}

// smooth are the numbers an equation goes one way in.
func smooth(e equation.Equation, v equation.Values) []string {
	var out []string
	for _, n := range append(slices.Clone(e.Inputs), e.Optional...) {
		if v.Has(n) && !slices.Contains(words, n) && !slices.Contains(jagged[e.Code], n) {
			out = append(out, n)
		}
	}
	return out
}

// each runs a property on every equation that has numbers to vary.
func each(t *testing.T, property func(*rapid.T, equation.Equation)) {
	for _, e := range equation.All() {
		t.Run(e.Code, func(t *testing.T) { rapid.Check(t, func(t *rapid.T) { property(t, e) }) })
	}
}

// Inside its limits an equation goes only one way in each of its numbers: at
// three values in order the answers are in order. Interval ends are then
// reached at the corners.
func TestEveryEquationIsMonotoneInEachNumber(t *testing.T) {
	each(t, func(t *rapid.T, e equation.Equation) {
		v := anyValues(t, e)
		names := smooth(e, v)
		if len(names) == 0 {
			return
		}
		n := rapid.SampledFrom(names).Draw(t, "varies")
		at := []quantity.Number{drawn(t, n, "first"), drawn(t, n, "second"), drawn(t, n, "third")}
		slices.SortFunc(at, quantity.Number.Cmp)
		var b []equation.Bounds
		for _, x := range at {
			v.By[n] = equation.Value{Number: x}
			s, err := e.Solve(v)
			if err != nil {
				return // outside its limits there
			}
			b = append(b, s)
		}
		up := b[0].Low.Cmp(b[1].High) <= 0 && b[1].Low.Cmp(b[2].High) <= 0
		down := b[1].Low.Cmp(b[0].High) <= 0 && b[2].Low.Cmp(b[1].High) <= 0
		if !up && !down {
			t.Fatalf("%s turns in %s at %v: %v", e.Code, n, at, b)
		}
	})
}

// The answer at any point of a box lies between the answers at its corners.
func TestTheCornersEncloseTheBox(t *testing.T) {
	each(t, func(t *rapid.T, e equation.Equation) {
		v := anyValues(t, e)
		names := smooth(e, v)
		if len(names) > 5 {
			names = names[:5]
		}
		var low, high, inside []quantity.Number
		for _, n := range names {
			x := v.Base(n)
			low, high = append(low, x.Mul(quantity.Ratio(99, 100))), append(high, x.Mul(quantity.Ratio(102, 100)))
			inside = append(inside, x.Mul(quantity.Ratio(rapid.Int64Range(990, 1020).Draw(t, "inside "+n), 1000)))
		}
		at := func(pick func(i int) quantity.Number) (equation.Bounds, error) {
			for i, n := range names {
				v.By[n] = equation.Value{Number: pick(i)}
			}
			return e.Solve(v)
		}
		var least, greatest quantity.Number
		for corner := range 1 << len(names) {
			b, err := at(func(i int) quantity.Number {
				if corner&(1<<i) != 0 {
					return high[i]
				}
				return low[i]
			})
			if err != nil {
				return
			}
			if corner == 0 {
				least, greatest = b.Low, b.High
			}
			least, greatest = quantity.Least(least, b.Low), quantity.Greatest(greatest, b.High)
		}
		b, err := at(func(i int) quantity.Number { return inside[i] })
		if err != nil || b.High.Less(least) || greatest.Less(b.Low) {
			t.Fatalf("%s: %v is not within %s to %s, %v", e.Code, b, least, greatest, err)
		}
	})
}

// Whatever the numbers, an equation answers or says why not; it never
// panics, and its bounds are in order.
func TestNoNumberMakesAnEquationPanic(t *testing.T) {
	wild := []string{"-1", "0", "1e-20", "0.3", "1", "140", "1e9", "1e20", "-1e20"}
	each(t, func(t *rapid.T, e equation.Equation) {
		v := anyValues(t, e)
		for _, n := range smooth(e, v) {
			if rapid.Bool().Draw(t, "wild "+n) {
				v.By[n] = equation.Value{Number: quantity.MustNumber(rapid.SampledFrom(wild).Draw(t, n))}
			}
		}
		b, err := e.Solve(v)
		if err != nil {
			assert.True(t, errors.Is(err, equation.ErrOutside), err)
			return
		}
		assert.True(t, b.Low.Cmp(b.High) <= 0)
	})
}

func TestAMissingInputIsAskedForByName(t *testing.T) {
	for _, e := range equation.All() {
		_, err := e.Solve(equation.Values{})
		assert.ErrorIs(t, err, equation.ErrOutside, e.Code)
		assert.ErrorContains(t, err, "give "+e.Inputs[0], e.Code)
	}
}

// What is weakened, drawn or mixed holds the drug it held before.
func TestMixingKeepsTheDrug(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := anyValues(t, find(t, "E28"))
		strong, err1 := find(t, "E28").Solve(v)
		weak, err2 := find(t, "E28-weaker").Solve(v)
		assert.Equal(t, err1 == nil, err2 == nil)
		if err1 != nil {
			return
		}
		assert.True(t, strong.Low.Add(weak.Low).Equal(v.Base("volume")))
		drug := strong.Low.Mul(v.Base("strongerConcentration")).Add(weak.Low.Mul(v.Base("weakerConcentration")))
		assert.True(t, drug.Equal(v.Base("volume").Mul(v.Base("targetConcentration"))))
	})
}

// Steps of one rate take as long as that rate alone.
func TestEqualStepsAreOneRate(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		e := find(t, "E32")
		v := anyValues(t, e)
		rate := v.Steps[0].Rate
		for i := range v.Steps {
			v.Steps[i].Rate = rate
		}
		b, err := e.Solve(v)
		assert.NoError(t, err)
		assert.True(t, b.Low.Equal(v.Base("volume").Quo(rate)))
	})
}

// Every message is words about what is needed, with NAMEs and no number of
// the patient's.
func TestMessagesAreForPeople(t *testing.T) {
	for _, c := range limits {
		_, err := find(t, c.code).Solve(given(t, c.not))
		if assert.Error(t, err, c.code) {
			says := strings.TrimPrefix(err.Error(), equation.ErrOutside.Error()+": ")
			assert.NotEmpty(t, says)
			assert.NotContains(t, says, "!", "a verb of the format was left: %s", says)
		}
	}
}
