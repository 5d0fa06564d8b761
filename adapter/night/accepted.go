package night

import (
	"crypto/sha256"

	lru "github.com/hashicorp/golang-lru/v2"
)

// Accepted remembers lines that are nobody's and were accepted as R4. Every
// patient whose orders use a Practitioner or a Medication brings its line, so
// one is judged many times in a night. What is judged hangs on the bytes, the
// type of the file and the judges alone, so the same line is accepted again.
// Lines with faults are judged each time: what is said of them names the line.
// It may be used by several goroutines at once; nil remembers nothing.
type Accepted struct {
	sums *lru.Cache[[32]byte, struct{}]
}

// mostAccepted bounds what is remembered, at about 100 bytes each; our own
// choice: more than a region has prescribers and mixtures.
const mostAccepted = 20_000

// NewAccepted remembers nothing yet. It is for one set of judges.
func NewAccepted() *Accepted {
	sums, err := lru.New[[32]byte, struct{}](mostAccepted)
	if err != nil {
		panic(err) // a fault of this build: the bound is positive
	}
	return &Accepted{sums}
}

// asked gives the sum of a line that may be remembered, and whether it is; no
// sum: it is judged each time.
func (a *Accepted) asked(l feedLine) (sum *[32]byte, known bool) {
	if a == nil || !l.Shared {
		return nil, false
	}
	one := sha256.Sum256([]byte(l.Type + "\n" + l.Data))
	return &one, a.sums.Contains(one)
}

func (a *Accepted) add(sum *[32]byte) {
	if sum != nil {
		a.sums.Add(*sum, struct{}{})
	}
}
