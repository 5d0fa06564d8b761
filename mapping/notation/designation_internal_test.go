package notation

import (
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Every row of the data file is hit by a line of the corpus, names its list,
// and says what to write; else a row could rot unseen.
func TestEveryDesignationHasALineInTheCorpus(t *testing.T) {
	data, err := os.ReadFile("testdata/designations.tsv")
	require.NoError(t, err)
	names := map[string]bool{}
	for _, d := range designations() {
		assert.False(t, names[d.Name], "%s stands twice", d.Name)
		names[d.Name] = true
		assert.NotEmpty(t, d.Write, d.Name)
		assert.NotEmpty(t, d.Why, d.Name)
		assert.NotEmpty(t, d.Source, d.Name)
		assert.Contains(t, []string{"sourced", "memory"}, d.Standing, d.Name)
		hit := false
		for _, l := range strings.Split(string(data), "\n") {
			f := strings.Split(l, "\t")
			if len(f) == 4 && f[0] == "bad" {
				m := d.expr.FindStringSubmatch(mask(f[2]))
				hit = hit || len(m) > 1 && m[1] == f[3]
			}
		}
		assert.True(t, hit, "no bad line of the corpus shows %s", d.Name)
	}
}

func TestWordsOfUnitsAreClean(t *testing.T) {
	for code, w := range units {
		for _, s := range append(w.staff[:], w.household[:]...) {
			assert.Empty(t, Scan("5 "+s), code)
		}
	}
	for code, s := range when {
		assert.Empty(t, Scan(s), code)
	}
	for code, s := range names {
		assert.Empty(t, Scan(s), code)
	}
}
