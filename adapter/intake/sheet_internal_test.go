package intake

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"weir.example/weir/mapping/worksheet"
)

// What lasts of a worksheet is the same, whether it is encoded once or twice.
func TestWhatLastsOfAnEncodedWorksheet(t *testing.T) {
	sources := worksheet.Sources{Now: "2027-01-12T11:00:00Z", Document: "d<&>", Held: "h", Tables: "t", Policy: "p", Program: "weir", Zones: "z"}
	for name, w := range map[string]worksheet.Worksheet{
		"plain":    {Verdict: "ready", Sources: sources},
		"empty":    {},
		"in words": {Stage: `"sources":{"now":"x"}`, Sources: sources, Cautions: []string{`{"sources":`}},
	} {
		assert.Equal(t, string(lasting(w)), string(lastingText(encode(w), w)), name)
	}
	w := worksheet.Worksheet{Sources: sources}
	assert.Equal(t, string(lasting(w)), string(lastingText([]byte(`{"sources":{},"sources":{}}`), w)), "anything else is encoded anew")
}
