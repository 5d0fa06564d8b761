package finding_test

import (
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
)

// The fixture was written out from the design's table, not from the data
// file: a code lost or given another gate is seen here.
func TestEveryCodeOfTheDesignStandsInTheTable(t *testing.T) {
	data, err := os.ReadFile("testdata/codes.txt")
	require.NoError(t, err)
	want := map[finding.Code]bool{}
	for _, line := range strings.Split(strings.TrimSpace(string(data)), "\n") {
		if strings.HasPrefix(line, "#") {
			continue
		}
		f := strings.Fields(line)
		require.Len(t, f, 3, line)
		code := finding.Code(f[0])
		want[code] = true
		row, ok := finding.Lookup(code)
		if !assert.True(t, ok, "%s has no row", code) {
			continue
		}
		gate, stage := string(row.Gate), string(row.Stage)
		if gate == "" {
			gate = "none"
		}
		if stage == "" {
			stage = "-"
		}
		assert.Equal(t, f[1], gate, "gate of %s", code)
		assert.Equal(t, f[2], stage, "stage of %s", code)
	}
	for _, row := range finding.Codes() {
		assert.True(t, want[row.Code], "%s stands in no list of the design", row.Code)
	}
}

func TestEveryRowIsComplete(t *testing.T) {
	kebab := regexp.MustCompile(`^[a-z]+(-[a-z]+)+$`)
	practice := regexp.MustCompile(`^([a-q][0-9]{1,2}a?( |$))*$`)
	severity := map[finding.Gate]string{finding.Block: "high", finding.Hold: "moderate", finding.Warn: "moderate", finding.Note: "low",
		finding.Refused: "", finding.NoGate: ""}
	seen, titles := map[finding.Code]bool{}, map[string]finding.Code{}
	for _, r := range finding.Codes() {
		assert.Regexp(t, kebab, string(r.Code))
		assert.False(t, seen[r.Code], "%s stands twice", r.Code)
		seen[r.Code] = true
		if other, taken := titles[r.Title]; taken {
			assert.Fail(t, "one title for two codes", "%s and %s", r.Code, other)
		}
		titles[r.Title] = r.Code
		want, known := severity[r.Gate]
		assert.True(t, known, "%s has the unknown gate %q", r.Code, r.Gate)
		assert.Equal(t, want, r.Severity, "severity of %s", r.Code)
		if r.Gate == finding.Refused {
			assert.Empty(t, r.Stage, "%s: a document is refused before any stage", r.Code)
			assert.True(t, strings.HasPrefix(string(r.Code), "document-"))
		} else {
			assert.True(t, r.Stage.Valid() || r.Stage == finding.Every, "%s has the unknown stage %q", r.Code, r.Stage)
		}
		assert.Regexp(t, practice, r.Practice, "practice row of %s", r.Code)
		assert.NotEmpty(t, r.Group, r.Code)
		assert.Contains(t, []string{"sourced", "memory"}, r.Standing, "standing of %s", r.Code)
		if r.Citation == "common practice, no source" {
			assert.Equal(t, "memory", r.Standing, "%s has no source, so it cannot be sourced", r.Code)
		}
		for name, text := range map[string]string{"title": r.Title, "meaning": r.Meaning, "remedy": r.Remedy, "fires": r.Fires, "quiet": r.Quiet, "citation": r.Citation} {
			assert.NotEmpty(t, text, "%s of %s", name, r.Code)
			assert.Equal(t, strings.Join(strings.Fields(text), " "), text, "%s of %s has stray blanks", name, r.Code)
			for _, p := range notation.Scan(text) {
				assert.Fail(t, "error-prone designation", "%s of %s: %s", name, r.Code, p)
			}
		}
		for name, text := range map[string]string{"meaning": r.Meaning, "remedy": r.Remedy, "fires": r.Fires, "quiet": r.Quiet} {
			assert.True(t, strings.HasSuffix(text, "."), "%s of %s is no sentence", name, r.Code)
		}
		assert.LessOrEqual(t, len([]rune(r.Title)), 72, "title of %s does not fit a line", r.Code)
		assert.NotEqual(t, strings.ReplaceAll(string(r.Code), "-", " "), strings.ToLower(r.Title), "the title of %s is only its code", r.Code)
		assert.NotEqual(t, r.Fires, r.Quiet, r.Code)
		assert.NotContains(t, r.Meaning+r.Remedy+r.Fires+r.Quiet, "TODO", r.Code)
	}
	assert.Len(t, seen, 180)
}

func TestDocumentCodesCiteR4OrPractice(t *testing.T) {
	rows := finding.Rows("document")
	assert.Len(t, rows, 8)
	for _, r := range rows {
		if r.Citation != "common practice, no source" {
			assert.True(t, strings.HasPrefix(r.Citation, "HL7 FHIR R4 4.0.1, "), r.Code)
		}
	}
	assert.Empty(t, finding.Rows("no such group"))
}

func TestASuffixedCodeHasItsStemInTheTable(t *testing.T) {
	suffixes := regexp.MustCompile(`-(minor|review|completed|allergy|pregnancy|push|selected|unlisted|slower|explained|absent|unsupported|long|policy|ph|other|dialysis|recipient)$`)
	exceptions := map[finding.Code]bool{"nightly-absent": true, "document-unsupported": true}
	for _, r := range finding.Codes() {
		stem := suffixes.ReplaceAllString(string(r.Code), "")
		if stem == string(r.Code) || exceptions[r.Code] || stem == "therapy" {
			continue
		}
		row, ok := finding.Lookup(finding.Code(stem))
		if assert.True(t, ok, "%s has no %s", r.Code, stem) && r.Code != "therapy-monitoring-recipient" {
			assert.True(t, row.Gate != r.Gate || row.Stage != r.Stage, "%s and %s have one gate: they are one rule", r.Code, stem)
		}
	}
}

func TestTheGateOfAFindingComesFromTheTable(t *testing.T) {
	assert.Equal(t, finding.Block, finding.Finding{Code: "dose-arithmetic"}.Gate())
	assert.Equal(t, finding.Note, finding.Finding{Code: "hazard-listed"}.Gate())
	assert.Equal(t, finding.NoGate, finding.Finding{Code: "tables-unsigned"}.Gate())
	assert.Equal(t, finding.Block, finding.Finding{Code: "no-such-code"}.Gate(), "what nobody classified must not pass")
	_, ok := finding.Lookup("no-such-code")
	assert.False(t, ok)
}
