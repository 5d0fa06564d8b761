package night_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"weir.example/weir/adapter/night"
	"weir.example/weir/adapter/night/nightgen"
)

// A run does not ask for the work of a million orders before the first is
// judged: with a bound of 2 jobs those of the first 500 patients (25) are done
// before the next are asked for. The answer is the same with the bound and
// without, also where some patients are passed over and their words put aside.
func TestARunIsNotFarAheadOfItsWorkers(t *testing.T) {
	h := nightgen.Hospital{Orders: 560, Seed: 5, Churn: 60}
	first, next := folder(t, h, 0), folder(t, h, 1)
	answers := map[int][]string{}
	defer night.MostWaiting(night.MostWaiting(400))
	for _, bound := range []int{2, 400} {
		night.MostWaiting(bound)
		s := newSite(t)
		most, asked := 0, 0
		s.progress = func(p night.Progress) { asked, most = p.Jobs, max(most, p.Jobs-p.Done) }
		text, _, _ := s.counted(t, first, nightgen.Clock(0), 2)
		assert.Greater(t, asked, 27)
		if bound == 2 {
			assert.LessOrEqual(t, most, 25)
		} else {
			assert.Equal(t, asked, most, "all are asked for at once")
		}
		again, _, passed := s.counted(t, next, nightgen.Clock(0).Add(time.Minute), 2)
		assert.Positive(t, passed)
		answers[bound] = []string{text, again}
	}
	assert.Equal(t, answers[400], answers[2])
}
