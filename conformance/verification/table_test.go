package verification

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/quantity"
)

// Where a rule and a table hold the same number, they hold the same.
func TestTheNumbersOfTheRulesAreThoseOfTheTables(t *testing.T) {
	for _, a := range compendium.AccessDevices() {
		if centralKinds[a.Kind] {
			assert.Equal(t, compendium.Yes, a.Central(), a.Kind)
		}
	}
	midline, ok := compendium.AccessOf("midline")
	require.True(t, ok)
	dwell, ok := midline.Values.One("dwell", "")
	require.True(t, ok)
	assert.Equal(t, quantity.Int(longestMidline).Decimal(), dwell.High)
	units := func(n quantity.Number) quantity.Quantity { return quantity.Point(n, quantity.MustUnit("[USP'U]/mL")) }
	_, reached, _ := compendium.Lock("heparin", "picc", "adult", units(adultLock))
	assert.False(t, reached, "the most for an adult")
	limit, reached, _ := compendium.Lock("heparin", "picc", "adult", units(adultLock.Add(quantity.Int(1))))
	assert.True(t, reached)
	assert.Equal(t, "block", limit.Gate)
	_, reached, _ = compendium.Lock("heparin", "picc", "pediatric", units(childLock))
	assert.False(t, reached, "the usual for a child")
	limit, _, _ = compendium.Lock("heparin", "picc", "neonate", units(adultLock))
	assert.Equal(t, "block", limit.Gate)
	percent := quantity.Point(deadlyCitrate.Mul(quantity.Int(100)), quantity.MustUnit("%"))
	limit, _, _ = compendium.Lock("citrate", "picc", "adult", percent)
	assert.Equal(t, "block", limit.Gate)
}
