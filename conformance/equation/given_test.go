package equation_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"weir.example/weir/conformance/equation"
	"weir.example/weir/mapping/quantity"
)

// given reads "weight=80kg sex=male start=2015-01-16 step=25mL/h@30min".
func given(t require.TestingT, text string) equation.Values {
	v := equation.Values{By: map[string]equation.Value{}}
	for _, field := range strings.Fields(text) {
		name, value, ok := strings.Cut(field, "=")
		require.True(t, ok, field)
		switch name {
		case "sex":
			v.By[name] = equation.Value{Word: value}
		case "start", "end":
			at, err := time.Parse(time.DateOnly, value)
			if err == nil {
				v.By[name] = equation.Value{Time: at, DateOnly: true}
				continue
			}
			at, err = time.Parse(time.RFC3339, value)
			require.NoError(t, err, field)
			v.By[name] = equation.Value{Time: at}
		case "step":
			rate, lasts, _ := strings.Cut(value, "@")
			s := equation.Step{}
			s.Rate, _ = number(t, rate)
			if lasts != "" {
				s.Duration, _ = number(t, lasts)
			}
			v.Steps = append(v.Steps, s)
		default:
			n, u := number(t, value)
			v.By[name] = equation.Value{Number: n, Unit: u}
		}
	}
	return v
}

// number reads digits and a UCUM unit, in base units.
func number(t require.TestingT, text string) (quantity.Number, quantity.Unit) {
	code := strings.TrimLeft(text, "-.0123456789")
	n, err := quantity.ParseNumber(text[:len(text)-len(code)])
	require.NoError(t, err, text)
	if code == "" {
		code = "1"
	}
	u, err := quantity.ParseUnit(code)
	require.NoError(t, err, text)
	return u.ToBase(n), u
}

func find(t require.TestingT, code string) equation.Equation {
	e, ok := equation.Find(code)
	require.True(t, ok, code)
	return e
}

// worked is the answer in a unit, at its middle, with the digits shown.
func worked(t *testing.T, code, inputs, unit string, places int) string {
	t.Helper()
	b, err := find(t, code).Solve(given(t, inputs))
	require.NoError(t, err, "%s of %s", code, inputs)
	u, err := quantity.ParseUnit(unit)
	require.NoError(t, err, unit)
	low, high := u.FromBase(b.Low).Places(places), u.FromBase(b.High).Places(places)
	require.Equal(t, low, high, "%s: the bounds differ in the digits shown", code)
	return low
}
