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

// of puts an answer into a document.
func of(document, expression string, w worksheet.Worksheet) worksheet.Worksheet {
	w.Sources.Document, w.Order.Expression = document, expression
	return w
}

// Two documents hold the same key at the same place, and one is given twice:
// each order is compared with itself.
func TestEqualKeysInTwoDocumentsAreTwoOrders(t *testing.T) {
	const at = "Bundle.entry[0].resource"
	before := []worksheet.Worksheet{of("one", at, answered("a", "ready")), of("two", at, answered("a", "hold", "dose-renal"))}
	after := []worksheet.Worksheet{of("one", at, answered("a", "hold", "dose-renal")), of("two", at, answered("a", "hold", "dose-renal"))}
	changed := conformance.Change{Order: "a", Drug: "cefazolin", Before: "ready", After: "hold", New: []string{"hold dose-renal"}}
	assert.Equal(t, []conformance.Change{changed}, conformance.Changed(before, after))
	assert.Empty(t, conformance.Changed(before, before))

	twice := func(verdict string) []worksheet.Worksheet {
		return []worksheet.Worksheet{of("one", at, answered("a", "hold")), of("one", at, answered("a", verdict))}
	}
	assert.Equal(t, []conformance.Change{{Order: "a", Drug: "cefazolin", Before: "hold", After: "ready"}}, conformance.Changed(twice("hold"), twice("ready")))
	assert.Len(t, conformance.Changed(twice("hold"), twice("ready")[:1]), 1, "the second is gone")

	// Two entries of one document without any identifier, and two keys whose
	// letters run together the same.
	bare := func(v string) []worksheet.Worksheet {
		return []worksheet.Worksheet{of("one", "Bundle.entry[0].resource", answered("", "hold")), of("one", "Bundle.entry[1].resource", answered("", v)),
			of("one", "bc", answered("a", "hold")), of("one", "c", answered("ab", v))}
	}
	assert.Len(t, conformance.Changed(bare("hold"), bare("ready")), 2)
}

// An order of which nothing is known but that it is gone, or new, is listed.
func TestAnEmptyAnswerIsListedWhenOneSideLacksIt(t *testing.T) {
	nothing := []worksheet.Worksheet{{}}
	assert.Len(t, conformance.Changed(nothing, nil), 1)
	assert.Len(t, conformance.Changed(nil, nothing), 1)
	assert.Empty(t, conformance.Changed(nothing, nothing))
}

// A finding that stands once where it stood twice, a rule that is not
// checked and now gates otherwise, and another number or word in an answer
// with the same verdict: each is another answer.
func TestWhatDiffersBesideTheCodesIsListedToo(t *testing.T) {
	changed := func(a, b worksheet.Worksheet) conformance.Change {
		list := conformance.Changed([]worksheet.Worksheet{a}, []worksheet.Worksheet{b})
		if assert.Len(t, list, 1) {
			return list[0]
		}
		return conformance.Change{}
	}
	assert.Equal(t, []string{"hold dose-renal"}, changed(answered("a", "hold", "dose-renal", "dose-renal"), answered("a", "hold", "dose-renal")).Gone)
	open := func(gate string) worksheet.Worksheet {
		w := answered("a", "hold")
		w.NotChecked = []worksheet.NotChecked{{Code: "dose-renal", Gate: gate}}
		return w
	}
	assert.Equal(t, conformance.Change{Order: "a", Drug: "cefazolin", Before: "hold", After: "hold", New: []string{"warn dose-renal, not checked"}, Gone: []string{"hold dose-renal, not checked"}},
		changed(open("hold"), open("warn")))
	other := answered("a", "hold", "dose-renal")
	other.Findings[0].Observed = "another number"
	assert.Equal(t, conformance.Change{Order: "a", Drug: "cefazolin", Before: "hold", After: "hold", Else: true}, changed(answered("a", "hold", "dose-renal"), other))
	from := answered("a", "ready")
	from.Sources.Tables = "another edition"
	assert.Empty(t, conformance.Changed([]worksheet.Worksheet{answered("a", "ready")}, []worksheet.Worksheet{from}), "other tables alone are no other answer")
}
