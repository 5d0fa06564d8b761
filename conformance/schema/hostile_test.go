package schema_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"weir.example/weir/conformance/schema"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/r4/googlefhir"
	"weir.example/weir/testdata/faults"
)

// A document that is nothing but faults does not make the answer larger than
// itself, and the answer says that it is cut.
func TestTheListOfFaultsIsBounded(t *testing.T) {
	var b strings.Builder
	for i := range 3_000 {
		fmt.Fprintf(&b, `,"wrong%d":1`, i)
	}
	found := whole([]byte(order(b.String())), googlefhir.Judge)
	assert.Len(t, found, 1_000)
	limits := 0
	for _, f := range found {
		if f.Code == "document-limit" {
			limits++
		}
	}
	assert.Equal(t, 1, limits)
}

// A chain of 5,000 orders is judged, and the one reference that closes it to
// a loop is named.
func TestALongChainOfOrders(t *testing.T) {
	const n = 5_000
	var entries []string
	for i := range n {
		prior := fmt.Sprintf(`,"priorPrescription":{"reference":"MedicationRequest/o%d"}`, (i+1)%n)
		entries = append(entries, entry(fmt.Sprintf("http://x.example/MedicationRequest/o%d", i), strings.Replace(order(prior), `"id":"a"`, fmt.Sprintf(`"id":"o%d"`, i), 1)))
	}
	d, strict := element.Read([]byte(bundle("collection", entries...)), element.Limit{})
	require.Empty(t, strict)
	found := schema.Check(d)
	require.Len(t, found, 1, "one reference closes the loop")
	assert.Equal(t, fmt.Sprintf("Bundle.entry[%d].resource.priorPrescription.reference", n-1), found[0].Place.Expression)
}

// Bytes of a valid order changed anywhere never make anything panic, and
// whatever is found stands in the document and is complete.
func TestChangedBytes(t *testing.T) {
	valid, err := faults.Valid()
	require.NoError(t, err)
	rapid.Check(t, func(r *rapid.T) {
		document := []byte(string(valid))
		for range rapid.IntRange(1, 4).Draw(r, "changes") {
			at := rapid.IntRange(0, len(document)-1).Draw(r, "at")
			switch rapid.IntRange(0, 2).Draw(r, "how") {
			case 0:
				document[at] = byte(rapid.IntRange(32, 126).Draw(r, "byte"))
			case 1:
				end := min(len(document), at+rapid.IntRange(1, 30).Draw(r, "cut"))
				document = append(document[:at:at], document[end:]...)
			default:
				word := rapid.SampledFrom([]string{"null", "{}", "[]", `"x"`, "0", "true", `"_id":{"id":"x"},`, `"#"`}).Draw(r, "word")
				document = append(document[:at:at], append([]byte(word), document[at:]...)...)
			}
		}
		lines := strings.Count(string(document), "\n") + 1
		for _, f := range whole(document, googlefhir.Judge) {
			if _, known := finding.Lookup(f.Code); !known || f.Place.Line < 1 || f.Place.Line > lines || f.Place.Expression == "" || f.Remedy == "" {
				r.Fatalf("incomplete: %+v", f)
			}
		}
	})
}

func FuzzCheck(f *testing.F) {
	valid, err := faults.Valid()
	require.NoError(f, err)
	f.Add(valid)
	for _, document := range quiet {
		f.Add([]byte(document))
	}
	f.Fuzz(func(t *testing.T, document []byte) {
		d, _ := element.Read(document, element.Limit{Bytes: 1 << 16})
		first := schema.Check(d)
		assert.Equal(t, first, schema.Check(d))
		for _, x := range first {
			assert.NotEmpty(t, x.Remedy)
			assert.Positive(t, x.Place.Line)
		}
	})
}
