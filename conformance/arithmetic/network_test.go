package arithmetic

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestCounts(t *testing.T) {
	t.Log(len(pausing()), len(continuous()))
	for _, r := range pausing() {
		for _, e := range r.powers {
			assert.LessOrEqual(t, max(e, -e), int8(1))
		}
	}
}
func BenchmarkGenerate(b *testing.B) {
	for b.Loop() {
		generate(equations(false))
	}
}
