package policy_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/policy"
)

// How the pharmacy makes its units is a row of the table of sterility limits,
// or not told at all.
func TestTheSterilityCategoryIsARowOfTheTable(t *testing.T) {
	p, err := policy.Load([]byte("sterility: {category: \"2\", method: aseptic, components: sterile, source: site manual 1}\n"))
	require.NoError(t, err)
	assert.Equal(t, []any{"2", "aseptic", "sterile", false}, []any{p.Sterility.Category, p.Sterility.Method, p.Sterility.Components, p.Sterility.Tested})
	assert.Empty(t, policy.Default().Sterility.Category, "nothing is assumed")
	for _, bad := range []string{
		"sterility: {category: \"4\", method: aseptic, components: sterile, source: s}\n",
		"sterility: {category: \"2\", method: boiled, components: sterile, source: s}\n",
		"sterility: {category: \"2\", method: aseptic, source: s}\n",
		"sterility: {category: \"2\", method: aseptic, components: sterile}\n",
		"sterility: {category: \"3\", method: aseptic, components: sterile, source: s}\n", // Category 3 untested is no row
		"sterility: {method: aseptic}\n",
	} {
		_, err := policy.Load([]byte(bad))
		assert.Error(t, err, bad)
	}
}
