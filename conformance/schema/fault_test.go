package schema_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/conformance/schema"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/r4/googlefhir"
	"weir.example/weir/testdata/faults"
	"weir.example/weir/testdata/orders"
	official "weir.example/weir/testdata/r4"
)

// whole is what happens to a document before any order is read: the strict
// reader, then ours and the judges given.
func whole(document []byte, judges ...schema.Judge) []finding.Finding {
	d, found := element.Read(document, element.Limit{})
	if len(found) > 0 {
		return found
	}
	return schema.Check(d, judges...)
}

// library is google/fhir on the same bytes, without our reader's verdict.
// What our tokenizer cannot make a tree of, its own refuses too.
func library(document []byte) []finding.Finding {
	d, found := element.Read(document, element.Limit{})
	if !d.Root().Exists() {
		return found
	}
	return googlefhir.Judge(d)
}

func TestAValidOrderHasNoFault(t *testing.T) {
	for _, f := range orders.All() {
		if e := f.At("release"); len(e) > 0 && e[0].Kind == "refused" {
			continue
		}
		t.Run(f.Name, func(t *testing.T) {
			assert.Empty(t, whole(f.Document, googlefhir.Judge))
			assert.Empty(t, official.Errors(f.Document))
		})
	}
}

// Every document with one fault is refused with one finding, at the fault,
// with what stands there, what should and what to do.
func TestOneFaultGivesOneFinding(t *testing.T) {
	list, err := faults.All()
	require.NoError(t, err)
	for _, f := range list {
		t.Run(f.Source+" "+f.Name, func(t *testing.T) {
			document, err := f.Document()
			require.NoError(t, err)
			found := whole(document, googlefhir.Judge)
			require.Len(t, found, 1, "%s", said(found))
			x := found[0]
			assert.Equal(t, f.Code, string(x.Code), said(found))
			assert.True(t, x.Place.Expression == f.Place || strings.HasSuffix(x.Place.Expression, "."+f.Place) || f.Place == "", "want …%s, have %s", f.Place, said(found))
			isComplete(t, x)
			assert.Equal(t, found, whole(document), "ours alone says the same, a second time")
		})
	}
}

func isComplete(t *testing.T, f finding.Finding) {
	t.Helper()
	row, ok := finding.Lookup(f.Code)
	require.True(t, ok, f.Code)
	assert.Equal(t, finding.Refused, row.Gate)
	assert.Positive(t, f.Place.Line)
	assert.Positive(t, f.Place.Column)
	for name, text := range map[string]string{"expression": f.Place.Expression, "observed": f.Observed, "expected": f.Expected, "remedy": f.Remedy, "detail": f.Detail} {
		assert.NotEmpty(t, text, name)
	}
	for name, text := range map[string]string{"expected": f.Expected, "remedy": f.Remedy, "detail": f.Detail} {
		assert.Empty(t, notation.Scan(text), "error-prone designation in %s: %s", name, text)
	}
}

// Who would have seen how many. The figures are of this set and these
// versions; only "all together sees all" must hold.
func TestWhoSeesTheFaults(t *testing.T) {
	list, err := faults.All()
	require.NoError(t, err)
	bySource := map[string][5]int{}
	var order []string
	for _, f := range list {
		document, err := f.Document()
		require.NoError(t, err)
		if _, known := bySource[f.Source]; !known {
			order = append(order, f.Source)
		}
		theirs := library(document)
		all := whole(document, func(*element.Document) []finding.Finding { return theirs })
		for _, key := range []string{f.Source, "all"} {
			n := bySource[key]
			n[0]++
			n[1] += seen(len(theirs))
			n[2] += seen(len(official.Errors(document)))
			n[3] += seen(len(whole(document)))
			n[4] += seen(len(all))
			bySource[key] = n
		}
	}
	table := fmt.Sprintf("%-10s %6s %12s %10s %6s %6s\n", "source", "faults", "google/fhir", "R4 schema", "ours", "all")
	for _, key := range append(order, "all") {
		n := bySource[key]
		table += fmt.Sprintf("%-10s %6d %12d %10d %6d %6d\n", key, n[0], n[1], n[2], n[3], n[4])
	}
	t.Log("\n" + table)
	assert.Equal(t, bySource["all"][0], bySource["all"][4], "all judges together see every fault")
	assert.Equal(t, bySource["all"][0], bySource["all"][3], "ours alone sees every fault")
	assert.Less(t, bySource["all"][1], bySource["all"][0], "the library is not asked in vain: it misses some")
}

func seen(findings int) int { return min(findings, 1) }

func said(list []finding.Finding) string {
	var out []string
	for _, f := range list {
		out = append(out, fmt.Sprintf("%s at %s: %s; observed %s; expected %s (%s)", f.Code, f.Place.Expression, f.Detail, f.Observed, f.Expected, f.Diagnostic))
	}
	return strings.Join(out, "\n")
}
