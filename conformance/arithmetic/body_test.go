package arithmetic

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

func measurement(literal, unit string) order.Measurement {
	return order.Measurement{Literal: literal, Quantity: quantity.Point(quantity.MustNumber(literal), quantity.MustUnit(unit))}
}

func body(years int, female bool, kg, cm, scr string) Body {
	now := time.Date(2026, 11, 10, 12, 0, 0, 0, time.UTC)
	return Body{Weight: measurement(kg, "kg"), Height: measurement(cm, "cm"), Creatinine: measurement(scr, "mg/dL"), Female: female, SexKnown: true,
		Born: now.AddDate(-years, -1, 0), Now: now, Adult: 18}
}

// Mosteller, N Engl J Med 1987;317:1098: √(cm × kg ÷ 3600). By hand:
// 172 cm, 70 kg: √3.34444 = 1.8288; 180 cm, 80 kg: √4 = 2.
func TestSurfaceByMosteller(t *testing.T) {
	for _, x := range []struct{ cm, kg, want string }{{"172", "70", "1.829"}, {"180", "80", "2"}, {"104", "16.2", "0.6841"}} {
		s, q, ok := body(40, false, x.kg, x.cm, "1").Surface()
		require.True(t, ok)
		assert.Equal(t, x.want, q.Value.Significant(4))
		assert.True(t, s.Quantity.Low.Less(q.Value) && q.Value.Less(s.Quantity.High), "the interval holds the value")
	}
	_, _, ok := Body{Weight: measurement("70", "kg")}.Surface()
	assert.False(t, ok, "no height, no surface")
}

// Cockcroft and Gault, Nephron 1976;16:31. By hand: woman of 47 years, 74 kg,
// 0.8 mg/dL: 93 × 74 ÷ 57.6 × 0.85 = 101.6; woman of 72, 61 kg: 68 × 61 ÷
// 64.8 × 0.85 = 54.4 at 0.9 and 68 × 61 ÷ 136.8 × 0.85 = 25.8 at 1.9.
func TestClearanceByCockcroftAndGault(t *testing.T) {
	for _, x := range []struct {
		years   int
		kg, scr string
		want    string
	}{{47, "74", "0.8", "101.6"}, {72, "61", "0.9", "54.4"}, {72, "61", "1.9", "25.8"}} {
		q, ok := body(x.years, true, x.kg, "165", x.scr).Clearance()
		require.True(t, ok)
		assert.Equal(t, x.want, q.Value.Places(1))
	}
	micromolar := body(47, true, "74", "168", "0.8")
	micromolar.Creatinine = measurement("70.72", "umol/L") // 0.8 × 88.4
	q, ok := micromolar.Clearance()
	require.True(t, ok)
	assert.Equal(t, "101.6", q.Value.Places(1))
	for name, b := range map[string]Body{"a child": body(17, true, "40", "150", "0.6"), "sex unknown": {Weight: measurement("70", "kg"), Creatinine: measurement("1", "mg/dL"), Born: time.Date(1970, 1, 1, 0, 0, 0, 0, time.UTC), Now: time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC), Adult: 18}} {
		_, ok := b.Clearance()
		assert.False(t, ok, name)
	}
}

// Devine 1974: 45.5 + 2.3 × (inches − 60) for a woman of 163 cm (64.17 in) is
// 55.1 kg; 50 + 2.3 × 10.866 for a man of 180 cm (70.87 in) is 75 kg.
func TestIdealAndAdjustedWeight(t *testing.T) {
	woman, ok := body(72, true, "61", "163", "1").Ideal()
	require.True(t, ok)
	assert.Equal(t, "55.1", woman.Value.Places(1))
	man, ok := body(69, false, "91", "180", "1").Ideal()
	require.True(t, ok)
	assert.Equal(t, "75", man.Value.Places(0))
	adjusted, ok := body(69, false, "91", "180", "1").Adjusted() // 74.99 + 0.4 × 16.01 = 81.4
	require.True(t, ok)
	assert.Equal(t, "81.4", adjusted.Value.Places(1))
	_, ok = body(40, false, "45", "150", "1").Ideal()
	assert.False(t, ok, "below 60 inches the equation is not defined")
}

func TestWholeYears(t *testing.T) {
	b := Body{Born: time.Date(1979, 8, 22, 0, 0, 0, 0, time.UTC)}
	b.Now = time.Date(2026, 8, 21, 0, 0, 0, 0, time.UTC)
	assert.Equal(t, 46, b.Years(), "the day before the birthday")
	b.Now = time.Date(2026, 8, 22, 0, 0, 0, 0, time.UTC)
	assert.Equal(t, 47, b.Years(), "on the birthday")
	assert.Equal(t, -1, Body{}.Years())
}
