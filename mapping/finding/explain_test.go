package finding_test

import (
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
)

func TestThePageOfACodeSaysEverything(t *testing.T) {
	page, ok := finding.Explain("hazard-closed-transfer")
	require.True(t, ok)
	flat := strings.Join(strings.Fields(page), " ")
	for _, want := range []string{
		"hazard-closed-transfer Closed-system connectors are missing from the kit",
		"Gate block. Nobody can pass it",
		"Stage Gates from pack on; before that it is an open task.",
		"What it says", "What to do Supply team:", "Example that fires Fluorouracil kit",
		"Example that does not", "Source USP <800>", "(sourced)", "Practice row g2",
	} {
		assert.Contains(t, flat, want)
	}
	_, ok = finding.Explain("no-such-code")
	assert.False(t, ok)
}

func TestEveryPageFitsTheScreenAndIsClean(t *testing.T) {
	for _, r := range finding.Codes() {
		page, ok := finding.Explain(r.Code)
		require.True(t, ok)
		lines := strings.Split(page, "\n")
		for i, line := range lines {
			if i+1 < len(lines) && strings.HasPrefix(lines[i+1], "  ") && strings.HasPrefix(line, "  ") {
				assert.NotRegexp(t, `[0-9]$`, line, "%s: a number parted from its unit", r.Code)
			}
			assert.LessOrEqual(t, utf8.RuneCountInString(line), 78, "%s: %q", r.Code, line)
			assert.Equal(t, strings.TrimRight(line, " "), line, "%s has blanks at a line's end", r.Code)
		}
		assert.Empty(t, notation.Scan(page), "%s", r.Code)
		assert.True(t, strings.HasSuffix(page, "\n") && !strings.HasSuffix(page, "\n\n"), r.Code)
		flat := strings.Join(strings.Fields(page), " ")
		for _, text := range []string{r.Title, r.Meaning, r.Remedy, r.Fires, r.Quiet, r.Citation} {
			assert.Contains(t, flat, text, "the page of %s drops a text", r.Code)
		}
	}
}

func TestEveryGateSaysWhoMayPass(t *testing.T) {
	for _, g := range []finding.Gate{finding.Refused, finding.Block, finding.Hold, finding.Warn, finding.Note, finding.NoGate} {
		assert.NotEmpty(t, g.Passes())
		assert.Empty(t, notation.Scan(g.Passes()))
	}
}
