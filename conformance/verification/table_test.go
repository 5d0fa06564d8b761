package verification

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// Where a rule and a table hold the same number, they hold the same.
func TestTheNumbersOfTheRulesAreThoseOfTheTables(t *testing.T) {
	for _, kind := range []string{"picc", "tunnelled", "non-tunnelled", "port", "dialysis", "central"} {
		assert.True(t, endsCentral(order.Access{Kind: kind}), kind)
	}
	for _, kind := range []string{"midline", "peripheral", "subcutaneous", ""} {
		assert.False(t, endsCentral(order.Access{Kind: kind}), kind)
	}
	midline, ok := compendium.AccessOf("midline")
	require.True(t, ok)
	dwell, ok := midline.Values.One("dwell", "")
	require.True(t, ok)
	assert.Equal(t, quantity.Int(longestMidline).Decimal(), dwell.High)
	// The lock rules ask the table; these are the limits they rest on.
	adultLock, childLock, deadlyCitrate := quantity.Int(100), quantity.Int(10), quantity.MustNumber("0.3")
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

// Above a table of bands an order passes only where the source says that
// nothing changes there. Penicillin G's says the contrary (half the dose every
// 4 to 5 h with uraemia), aztreonam's is silent; milrinone's points end at 50.
func TestWhatStandsAboveTheHighestBand(t *testing.T) {
	says := map[string]bool{"cefepime-011": true, "cefepime-012": true, "cefepime-013": true, // cefepime-010: adjust at 60 mL/min or less
		"ceftazidime-010": true, // ceftazidime-009: reduce at 50 mL/min or less
		"cidofovir-013":   true, // contraindicated at or below 55 mL/min
		"ampicillin-009":  false, "aztreonam-007": false, "cefazolin-012": false, "cefoxitin-006": false, "dalbavancin-005": false,
		"milrinone-007": false, "penicillin-g-potassium-015": false, "voriconazole-008": false}
	seen := map[string]bool{}
	for _, d := range compendium.Embedded().Drugs {
		for _, f := range d.Facts {
			if len(f.Value.Bands) > 0 && beyond(f.Value.Bands, quantity.Int(1000)) {
				seen[f.ID] = f.Value.NoChangeAbove
			}
			assert.False(t, f.Value.NoChangeAbove && !beyond(f.Value.Bands, quantity.Int(1000)), "%s has nothing above it", f.ID)
		}
	}
	assert.Equal(t, says, seen)
}
