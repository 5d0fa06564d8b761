package quantity

import (
	"math/big"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"
)

// Both paths print alike: the slow one is math/big's own formatting.
func TestTheFastPathPrintsAsMathBigDoes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.Int64Range(-1<<50, 1<<50).Draw(t, "n")
		d := rapid.OneOf(rapid.Int64Range(1, 1<<40), rapid.SampledFrom([]int64{1, 2, 5, 8, 10, 125, 1000, 1 << 20})).Draw(t, "d")
		places := rapid.IntRange(0, 9).Draw(t, "places")
		a := Ratio(n, d)
		slow := Number{r: big.NewRat(n, d)}
		assert.Equal(t, trim(slow.r.FloatString(places)), a.Places(places))
		s, ok := a.exact(15)
		w, want := slow.exact(15)
		assert.Equal(t, want, ok)
		assert.Equal(t, w, s)
		if n != 0 {
			assert.Equal(t, slow.magnitude(), a.magnitude())
			assert.Equal(t, slow.Significant(4), a.Significant(4))
		}
	})
}
