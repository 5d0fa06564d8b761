package schema_test

import (
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/conformance/schema"
	"weir.example/weir/mapping/r4"
)

// The table of where facts are read names only elements that R4 defines, and
// DEVELOPERS.md shows that table and no older one.
func TestEveryPathThatIsReadExistsInR4(t *testing.T) {
	paths := 0
	for _, row := range r4.Inputs() {
		require.NotEmpty(t, row.First, row.Fact)
		for _, p := range append(row.First, row.Then...) {
			assert.True(t, schema.Known(p), "%s: R4 has no %s", row.Fact, p)
			paths++
		}
	}
	assert.Greater(t, paths, 100)
	assert.False(t, schema.Known("MedicationRequest.dosageInstruction.infuseOver"), "the check can fail")
	page, err := os.ReadFile("../../DEVELOPERS.md")
	require.NoError(t, err)
	assert.Contains(t, string(page), r4.InputTable(), "paste the output of r4.InputTable into DEVELOPERS.md")
}
