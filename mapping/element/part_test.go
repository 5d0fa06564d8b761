package element_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/element"
)

// Places of a line count from the line it is in its file, columns from its
// own beginning.
func TestPlacesOfALine(t *testing.T) {
	text := `{"resourceType":"Patient","active":nope}`
	_, alone := element.Read([]byte(text), element.Limit{})
	_, faults := element.ReadLine([]byte(text), element.Limit{}, 812)
	require.Len(t, faults, 1)
	assert.Equal(t, 812, faults[0].Place.Line)
	assert.Equal(t, alone[0].Place.Column, faults[0].Place.Column)
	doc, faults := element.ReadLine([]byte(`{"resourceType":"Patient","active":true}`), element.Limit{}, 3)
	require.Empty(t, faults)
	line, column := doc.Root().Get("active").Position()
	assert.Equal(t, []int{3, 36}, []int{line, column})
	_, faults = element.ReadLine([]byte(`{"a":{"b":`), element.Limit{}, 9)
	assert.Contains(t, faults[0].Detail, "line 9 column 6", "words and place agree")
}

func TestTheBoundOfALine(t *testing.T) {
	most := `{"resourceType":"Patient"}` + strings.Repeat(" ", element.MostLine-26)
	_, faults := element.ReadLine([]byte(most), element.Limit{}, 1)
	assert.Empty(t, faults)
	_, faults = element.ReadLine([]byte(most+" "), element.Limit{}, 7)
	require.Len(t, faults, 1)
	assert.Equal(t, faults[0], element.Overlong(element.MostLine+1, 7), "read or not, it is the same finding")
	assert.Equal(t, 7, faults[0].Place.Line)
	_, faults = element.ReadLine([]byte(most), element.Limit{Bytes: 100}, 1)
	require.Len(t, faults, 1, "a smaller limit holds")
}

func TestARenamedRoot(t *testing.T) {
	doc, faults := element.Read([]byte(`{"resourceType":"Observation","code":{"text":"x"}}`), element.Limit{})
	require.Empty(t, faults)
	doc.Rename("Observation.where(id='w1')")
	assert.Equal(t, "Observation.where(id='w1').code.text", doc.Root().Get("code").Get("text").Expression())
}
