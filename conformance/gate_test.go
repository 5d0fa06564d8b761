package conformance_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/conformance"
	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/worksheet"
	"weir.example/weir/testdata/orders"
)

func named(t testing.TB, name string) orders.Fixture {
	for _, f := range orders.All() {
		if f.Name == name {
			return f
		}
	}
	require.Fail(t, "no such case", name)
	return orders.Fixture{}
}

func judgedBy(t testing.TB, name string, ref policy.Reference) worksheet.Worksheet {
	f := named(t, name)
	j := conformance.Judge(conformance.Input{Document: f.Document, Now: f.Now, Stage: "release", Reference: ref})
	require.NotEmpty(t, j.Worksheets)
	return j.Worksheets[0]
}

func gateOn(w worksheet.Worksheet, code string) (gate, standing string) {
	for _, f := range w.Findings {
		if f.Code == code {
			return f.Gate, f.Standing
		}
	}
	return "", ""
}

// "Never dextrose" stands in the drug table from memory: it holds, and
// blocks once a pharmacist has signed the very bytes of that table.
func TestARecalledNumberHoldsUntilItsTableIsSigned(t *testing.T) {
	const name, code = "s7-dextrose", "rate-diluent"
	ref := reference(t, true)
	gate, standing := gateOn(judgedBy(t, name, ref), code)
	assert.Equal(t, "block", gate)
	assert.Equal(t, compendium.Memory, standing)

	unsigned := ref
	unsigned.Signatures = nil
	gate, _ = gateOn(judgedBy(t, name, unsigned), code)
	assert.Equal(t, "hold", gate, "nobody signed")

	other := ref
	hashes := ref.Hashes()
	hashes["drugs"] = "0" + hashes["drugs"][1:]
	if hashes["drugs"] == ref.Tables.Hashes["drugs"] {
		hashes["drugs"] = "1" + hashes["drugs"][1:]
	}
	s, err := policy.NewSignature("J. Example", "pharmacist", "EX 000000", "2026-09-01", hashes)
	require.NoError(t, err)
	other.Signatures = policy.Signatures{s}
	w := judgedBy(t, name, other)
	gate, _ = gateOn(w, code)
	assert.Equal(t, "hold", gate, "a changed byte voids the signature")
	assert.Contains(t, w.Sources.Tables, "unsigned: drugs")
}

// The clock of the judgement decides which signatures count, and which of the
// site's own numbers are in force.
func TestWhatIsDatedInTheFutureHoldsTheSite(t *testing.T) {
	ref := reference(t, true)
	s, err := policy.NewSignature("J. Example", "pharmacist", "EX 000000", "2031-01-01", ref.Hashes())
	require.NoError(t, err)
	ref.Signatures = policy.Signatures{s}
	const name, code = "s7-dextrose", "rate-diluent"
	w := judgedBy(t, name, ref)
	gate, _ := gateOn(w, code)
	assert.Equal(t, "hold", gate, "nobody has signed yet")
	assert.Contains(t, w.Sources.Tables, "drugs (signed by J. Example on 2031-01-01, dated in the future)")

	p, err := policy.Load([]byte("overrides:\n  - {fact: vancomycin-010, value: 12 mg/min, source: site protocol 7, reason: observed, by: J. Example, on: 2031-01-01}\n"))
	require.NoError(t, err)
	ref = reference(t, true)
	ref.Policy = p
	w = judgedBy(t, name, ref)
	assert.Contains(t, w.Sources.Tables, "policy (its own number for vancomycin-010 on 2031-01-01, dated in the future: not in force)")
}
