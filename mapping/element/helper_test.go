package element

import (
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"

	"weir.example/weir/mapping/finding"
)

// inDocument checks what every finding must have: a code of group document, a
// place that exists, and the four texts in valid UTF-8.
func inDocument(t testing.TB, data []byte, found finding.Finding) {
	t.Helper()
	assert.Contains(t, []code{syntax, limits, structure, value}, found.Code)
	assert.NotEmpty(t, found.Place.Expression)
	for _, text := range []string{found.Observed, found.Expected, found.Remedy, found.Detail, found.Diagnostic, found.Place.Expression} {
		assert.NotEmpty(t, text)
		assert.True(t, utf8.ValidString(text))
	}
	lines := strings.Split(string(data), "\n")
	if !assert.GreaterOrEqual(t, found.Place.Line, 1) || !assert.LessOrEqual(t, found.Place.Line, len(lines)) {
		return
	}
	// The column behind the last character is the end of the document.
	assert.GreaterOrEqual(t, found.Place.Column, 1)
	assert.LessOrEqual(t, found.Place.Column, utf8.RuneCountInString(lines[found.Place.Line-1])+1)
}

// resource is a document with these members behind its resourceType, which
// fills line 1; the members begin at line 2 column 1.
func resource(members string) string {
	return "{\"resourceType\":\"Observation\",\n" + members + "}"
}

type at struct {
	code       code
	expression string
	line, col  int
}

func placed(findings []finding.Finding) []at {
	list := []at{}
	for _, f := range findings {
		list = append(list, at{f.Code, f.Place.Expression, f.Place.Line, f.Place.Column})
	}
	return list
}
