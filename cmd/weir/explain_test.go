package main

import (
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
)

const rulesFile = "../../mapping/finding/RULES.md"

// Every code is explained with both of its examples, its gate, what to do and
// its source.
func TestEveryCodeIsExplainedWithTwoExamples(t *testing.T) {
	for _, row := range finding.Codes() {
		r := weir(t, "", "explain", string(row.Code))
		require.Equal(t, 0, r.code, row.Code)
		flat := strings.Join(strings.Fields(r.out), " ")
		require.NotEmpty(t, row.Fires, row.Code)
		require.NotEmpty(t, row.Quiet, row.Code)
		assert.NotEqual(t, row.Fires, row.Quiet, row.Code)
		for _, want := range []string{string(row.Code), row.Title, row.Meaning, "What to do " + row.Remedy, "Example that fires " + row.Fires,
			"Example that does not " + row.Quiet, row.Citation, row.Gate.Passes(), " Rule "} {
			assert.Contains(t, flat, want, row.Code)
		}
		assert.Equal(t, row.Group != "document" && row.Stage != "", strings.Contains(flat, " Stage "), row.Code)
		assert.Empty(t, notation.Scan(r.out), row.Code)
		for line := range strings.Lines(r.out) {
			assert.LessOrEqual(t, len([]rune(line)), 79, "%s: %q", row.Code, line)
		}
	}
}

// The documentation of the rules is what the program says; make it anew with
// go run ./cmd/weir explain --all --output markdown > mapping/finding/RULES.md.
func TestTheDocumentationOfRulesIsTheTables(t *testing.T) {
	made := weir(t, "", "explain", "--all", "--output", "markdown")
	require.Equal(t, 0, made.code)
	file, err := os.ReadFile(rulesFile)
	require.NoError(t, err)
	if made.out != string(file) {
		t.Fatal("mapping/finding/RULES.md is not what the table of codes gives: go run ./cmd/weir explain --all --output markdown > mapping/finding/RULES.md")
	}
	for _, row := range finding.Codes() {
		assert.Equal(t, 1, strings.Count(made.out, "\n### "+string(row.Code)+"\n"), row.Code)
		for _, text := range []string{row.Fires, row.Quiet, row.Meaning, row.Remedy, row.Citation} {
			assert.Contains(t, made.out, text, row.Code)
		}
	}
	assert.Empty(t, notation.Scan(made.out))
}

func TestExplainTakesOneCodeOrAll(t *testing.T) {
	all := weir(t, "", "explain", "--all")
	assert.Equal(t, 0, all.code)
	assert.Equal(t, len(finding.Codes())-1, strings.Count(all.out, "\n"+strings.Repeat("-", 78)+"\n"))
	for _, args := range [][]string{{"explain"}, {"explain", "a", "b"}, {"explain", "--all", "dose-basis"}, {"explain", "--output", "html", "dose-basis"},
		{"explain", "--output", "markdown", "dose-basis"}, {"explain", "dose-bases"}} {
		r := weir(t, "", args...)
		assert.Equal(t, 2, r.code, args)
		assert.Empty(t, r.out)
	}
	assert.Contains(t, weir(t, "", "explain", "dose-bases").err, "dose-basis")
}
