package arithmetic

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// Nine independent equations over sixteen quantities. The relations printed
// here were checked against the elementary vectors found by hand for the
// small systems below.
func TestRelationsAreMinimalAndPlain(t *testing.T) {
	for _, list := range [][]relation{pausing(), continuous()} {
		for i, r := range list {
			for _, e := range r.powers {
				assert.LessOrEqual(t, max(e, -e), int8(1), "every exponent is 1 or −1")
			}
			for j, o := range list {
				assert.False(t, i != j && o.mask&r.mask == o.mask, "relation %d lies inside %d", j, i)
			}
		}
	}
	assert.Greater(t, len(continuous()), len(pausing()))
}

// D = C·V and V = Q·T have exactly three elementary vectors: the two
// themselves and D = C·Q·T.
func TestElementaryVectorsOfASmallSystem(t *testing.T) {
	list := generate([]powers{{dose: 1, concentration: -1, volume: -1}, {volume: 1, rate: -1, duration: -1}})
	var masks []uint32
	for _, r := range list {
		masks = append(masks, r.mask)
	}
	assert.ElementsMatch(t, []uint32{
		1<<dose | 1<<concentration | 1<<volume,
		1<<volume | 1<<rate | 1<<duration,
		1<<dose | 1<<concentration | 1<<rate | 1<<duration,
	}, masks)
}

func BenchmarkGenerate(b *testing.B) {
	for b.Loop() {
		generate(equations(false))
	}
}
