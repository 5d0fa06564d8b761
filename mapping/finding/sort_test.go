package finding_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"weir.example/weir/mapping/finding"
)

// In the order wanted; each differs from the one before in the next key.
func ordered() []finding.Finding {
	at := func(e string, line, column int, span [2]int) finding.Place {
		return finding.Place{Expression: e, Line: line, Column: column, Span: span}
	}
	return []finding.Finding{
		{Code: "document-json"},
		{Code: "record-element-missing"},
		{Code: "dose-arithmetic", Place: at("Bundle.entry[2].resource", 90, 1, [2]int{})},
		{Code: "dose-arithmetic", Place: at("Bundle.entry[10].resource", 7, 1, [2]int{})},
		{Code: "dose-arithmetic", Place: at("Bundle.entry[10].resource", 8, 1, [2]int{})},
		{Code: "dose-arithmetic", Place: at("Bundle.entry[10].resource", 8, 3, [2]int{})},
		{Code: "dose-arithmetic", Place: at("Bundle.entry[10].resource", 8, 3, [2]int{2, 5})},
		{Code: "dose-arithmetic", Place: at("Bundle.entry[10].resource", 8, 3, [2]int{2, 5}), Observed: "2 g"},
		{Code: "dose-arithmetic", Place: at("Bundle.entry[10].resource", 8, 3, [2]int{2, 5}), Observed: "3 g"},
		{Code: "dose-arithmetic", Place: at("Bundle.entry[10].resource", 8, 3, [2]int{2, 5}), Observed: "3 g", Expected: "2 g"},
		{Code: "dose-arithmetic", Place: at("Bundle.entry[10].resource", 8, 3, [2]int{2, 5}), Observed: "3 g", Expected: "2 g", Culprits: []finding.Culprit{{Name: "dose"}}},
		{Code: "dose-arithmetic", Place: at("Bundle.entry[10].resource", 8, 3, [2]int{2, 5}), Observed: "3 g", Expected: "2 g", Culprits: []finding.Culprit{{Name: "rate"}}},
		{Code: "no-such-code"},
		{Code: "record-end-missing"},
		{Code: "device-fill"},
		{Code: "dose-below-usual"},
		{Code: "hazard-listed"},
		{Code: "tables-unsigned"},
	}
}

func TestFindingsStandInOneOrderHoweverTheyCame(t *testing.T) {
	want := ordered()
	rapid.Check(t, func(t *rapid.T) {
		list := rapid.Permutation(ordered()).Draw(t, "list")
		finding.Sort(list)
		if !assert.ObjectsAreEqual(want, list) {
			t.Fatalf("sorted to %v", list)
		}
	})
}

func TestLessIsAStrictTotalOrder(t *testing.T) {
	list := ordered()
	for i, f := range list {
		assert.False(t, f.Less(f))
		for j, g := range list {
			assert.Equal(t, i < j, f.Less(g), "%d and %d", i, j)
		}
	}
	assert.True(t, slices.IsSortedFunc(list, func(a, b finding.Finding) int {
		if a.Less(b) {
			return -1
		}
		return 1
	}))
}

func TestTheNumbersInExpressionsCompareAsNumbers(t *testing.T) {
	place := func(e string) finding.Finding {
		return finding.Finding{Code: "dose-slip", Place: finding.Place{Expression: e}}
	}
	for _, c := range [][2]string{
		{"Bundle.entry[2]", "Bundle.entry[10]"},
		{"Bundle.entry[9].resource.note[10]", "Bundle.entry[10].resource.note[2]"},
		{"Bundle.entry[2]", "Bundle.entry[2].resource"},
		{"", "Bundle"},
	} {
		assert.True(t, place(c[0]).Less(place(c[1])), "%s before %s", c[0], c[1])
		assert.False(t, place(c[1]).Less(place(c[0])), "%s after %s", c[1], c[0])
	}
}
