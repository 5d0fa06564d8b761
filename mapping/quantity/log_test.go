package quantity_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"weir.example/weir/mapping/quantity"
)

// The reference is the logarithm of Go's standard library.
func TestMilliLogAgreesWithTheStandardLibrary(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.Int64Range(1, 1<<52).Draw(t, "n")
		d := rapid.Int64Range(1, 1<<52).Draw(t, "d")
		want := 1000 * math.Log(float64(n)/float64(d))
		assert.InDelta(t, want, quantity.MilliLog(quantity.Ratio(n, d)), 1.5)
	})
}

func TestSqrtEnclosesTheRoot(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := quantity.Ratio(rapid.Int64Range(0, 1<<40).Draw(t, "n"), rapid.Int64Range(1, 1<<40).Draw(t, "d"))
		low, high := quantity.Sqrt(a)
		assert.LessOrEqual(t, low.Mul(low).Cmp(a), 0)
		assert.GreaterOrEqual(t, high.Mul(high).Cmp(a), 0)
	})
	low, high := quantity.Sqrt(quantity.Ratio(9, 4))
	assert.True(t, low.Equal(quantity.Ratio(3, 2)) && high.Equal(low), "an exact root is a point")
}
