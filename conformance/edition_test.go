package conformance_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"weir.example/weir/conformance"
	"weir.example/weir/mapping/worksheet"
)

func answered(key, verdict string, findings ...string) worksheet.Worksheet {
	w := worksheet.Worksheet{Order: worksheet.Order{Key: key, Identifier: key, Drug: "cefazolin"}, Verdict: verdict}
	for _, code := range findings {
		w.Findings = append(w.Findings, worksheet.Finding{Code: code, Gate: "hold"})
	}
	return w
}

// What differs is listed order by order; an order that one side lacks is
// never passed over.
func TestOnlyOrdersWithAnotherAnswerAreListed(t *testing.T) {
	before := []worksheet.Worksheet{answered("a", "ready"), answered("b", "hold", "dose-renal"), answered("c", "hold", "dose-renal"), answered("d", "ready")}
	after := []worksheet.Worksheet{answered("a", "ready"), answered("b", "hold", "dose-basis"), answered("c", "ready"), answered("e", "hold", "dose-renal")}
	assert.Equal(t, []conformance.Change{
		{Order: "b", Drug: "cefazolin", Before: "hold", After: "hold", New: []string{"hold dose-basis"}, Gone: []string{"hold dose-renal"}},
		{Order: "c", Drug: "cefazolin", Before: "hold", After: "ready", Gone: []string{"hold dose-renal"}},
		{Order: "d", Drug: "cefazolin", Before: "ready"},
		{Order: "e", Drug: "cefazolin", After: "hold", New: []string{"hold dose-renal"}},
	}, conformance.Changed(before, after))
	assert.Empty(t, conformance.Changed(before, before))
}
