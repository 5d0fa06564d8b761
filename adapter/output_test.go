package adapter_test

import (
	"bytes"
	"encoding/json"
	"os"
	"strings"
	"testing"
	"time"
	"unicode"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
	"weir.example/weir/mapping/policy"
)

const s1 = "../testdata/orders/s1-cefazolin-elastomeric/s1-cefazolin-elastomeric.json"

func verify(t *testing.T, document []byte) adapter.Answer {
	p, err := policy.Load(nil)
	require.NoError(t, err)
	now, err := time.Parse(time.RFC3339, "2026-11-10T14:20:00-05:00")
	require.NoError(t, err)
	ref, err := adapter.Reference(p, nil, nil)
	require.NoError(t, err)
	return adapter.Verify(document, adapter.Request{Now: now, Stage: "release", Reference: ref})
}

// A name may hold characters that a screen obeys: they are written as
// escapes, and the value read back is the one that was sent.
func TestNoOutputHoldsWhatAScreenObeys(t *testing.T) {
	document, err := os.ReadFile(s1)
	require.NoError(t, err)
	name := "Oko\u202en\u0085kwo\U000e0041"
	answers := []adapter.Answer{verify(t, bytes.ReplaceAll(document, []byte("Okonkwo"), []byte(name)))}
	require.Empty(t, answers[0].Faults)
	for form, text := range map[string][]byte{"fhir": documents("fhir", answers), "worksheet": documents("worksheet", answers), "lines": documents("ndjson", answers)} {
		for _, r := range string(text) {
			require.False(t, r >= 0x7f && unicode.IsControl(r) || unicode.Is(unicode.Cf, r), "%s holds %U", form, r)
		}
		var back any
		require.NoError(t, json.Unmarshal(text, &back), form)
		again, err := json.Marshal(back)
		require.NoError(t, err)
		if form != "fhir" { // the Bundle points at the patient and repeats no name
			assert.True(t, strings.Contains(string(again), name), "%s changed the name", form)
		}
	}
}

// One document is one value; several are one value to a line, refused ones
// in their place.
func TestSeveralDocumentsKeepTheirPlace(t *testing.T) {
	document, err := os.ReadFile(s1)
	require.NoError(t, err)
	good, bad := verify(t, document), verify(t, []byte("{"))
	require.NotEmpty(t, bad.Faults)
	for _, output := range []string{"fhir", "ndjson"} {
		lines := strings.Split(strings.TrimSpace(string(documents(output, []adapter.Answer{good, bad, good}))), "\n")
		require.Len(t, lines, 3)
		assert.Equal(t, lines[0], lines[2])
		assert.Contains(t, lines[1], "OperationOutcome")
		assert.NotContains(t, lines[0], "OperationOutcome")
	}
	var one map[string]any
	require.NoError(t, json.Unmarshal(documents("worksheet", []adapter.Answer{good}), &one))
	var list []any
	require.NoError(t, json.Unmarshal(documents("worksheet", []adapter.Answer{good, bad}), &list))
	assert.Len(t, list, 2)
	require.NoError(t, json.Unmarshal(documents("fhir", []adapter.Answer{bad}), &one))
	assert.Equal(t, "OperationOutcome", one["resourceType"])
}
