package notation_test

import (
	"os"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/notation"
)

// The corpus holds the published lists' own examples, each with the list it
// stands in, and lines of ours that must not alarm.
func TestEveryLineOfThePublishedLists(t *testing.T) {
	data, err := os.ReadFile("testdata/designations.tsv")
	require.NoError(t, err)
	bad, good := 0, 0
	for _, l := range strings.Split(strings.TrimSpace(string(data)), "\n") {
		if strings.HasPrefix(l, "#") {
			continue
		}
		f := strings.Split(l, "\t")
		require.GreaterOrEqual(t, len(f), 3, l)
		t.Run(f[0]+" "+f[2], func(t *testing.T) {
			got := notation.Scan(f[2])
			if f[0] == "good" {
				good++
				assert.Empty(t, got)
				return
			}
			bad++
			require.NotEmpty(t, got)
			var found []string
			for _, p := range got {
				found = append(found, p.Found)
				assert.Equal(t, p.Found, string([]rune(f[2])[p.Start:p.End]), "the position must name the characters found")
				assert.NotEmpty(t, p.Write)
				assert.NotEmpty(t, p.Source)
			}
			assert.Contains(t, found, f[3])
		})
	}
	assert.Greater(t, bad, 70, "the corpus was read")
	assert.Greater(t, good, 25, "the corpus was read")
}

func TestScanTellsEveryProblemInOrder(t *testing.T) {
	got := notation.Scan("give 1.0 mg QD, then .5 mg @ 22:00")
	var found []string
	for _, p := range got {
		found = append(found, p.Found)
	}
	assert.Equal(t, []string{"1.0", "QD", ".5", "@"}, found)
	assert.Equal(t, "daily", got[1].Write)
	assert.Equal(t, `characters 12 to 14: "QD"; write daily (read as 4 times daily, or as the right eye; ISMP list; Joint Commission list)`, got[1].String())
}

func TestNoBreakSpacesHideNothing(t *testing.T) {
	assert.Len(t, notation.Scan("5000\u00a0units"), 1)
}

func FuzzScanPlacesLieInTheText(f *testing.F) {
	for _, s := range []string{"1.0 mg QD", "`U`", "\xff5 cc", "≥ 5 µg/h", "a\x00b"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		n := utf8.RuneCountInString(s)
		last := 0
		for _, p := range notation.Scan(s) {
			if p.Start < last || p.End <= p.Start || p.End > n {
				t.Fatalf("problem at %d to %d of a text of %d characters", p.Start, p.End, n)
			}
			last = p.Start
		}
	})
}
