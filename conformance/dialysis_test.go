package conformance_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/worksheet"
)

func line(t testing.TB, w worksheet.Worksheet, label string) string {
	for _, l := range w.Summary {
		if l.Label == label {
			return l.Text
		}
	}
	require.Fail(t, "no such line", label)
	return ""
}

// On dialysis a creatinine tells the dialysis: no clearance is printed that a
// person could dose by. Dialysis that is over does not count.
func TestNoClearanceIsPrintedOnDialysis(t *testing.T) {
	w := judgedBy(t, "s1-dialysis", reference(t, false))
	assert.NotContains(t, w.Quantities, "creatinineClearance")
	assert.True(t, strings.HasPrefix(line(t, w, "kidneys"), "on dialysis: no clearance holds"), line(t, w, "kidneys"))
	w = judgedBy(t, "s1-dialysis-over", reference(t, false))
	assert.Contains(t, w.Quantities, "creatinineClearance")
	assert.Contains(t, line(t, w, "kidneys"), "clearance about 102 mL per minute")
}

// What a range leaves open is shown as a range: its middle is ordered by
// nobody.
func TestTheMiddleOfARangeIsNotShownAsOrdered(t *testing.T) {
	assert.Contains(t, line(t, judgedBy(t, "s1-dose-range", reference(t, false)), "ordered"), "1 g to 2 g")
	w := judgedBy(t, "s1-interval-range", reference(t, false))
	assert.Contains(t, line(t, w, "ordered"), "every 6 hours to 8 hours, 6,000 mg per day to 8,000 mg per day")
	require.NotEmpty(t, w.Quantities["interval"].StatedAs)
	assert.Equal(t, [2]string{"6", "8"}, [2]string{w.Quantities["interval"].StatedAs[0].Low, w.Quantities["interval"].StatedAs[0].High})
}
