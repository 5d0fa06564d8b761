package policy_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/policy"
)

// A site that writes a list of its own, or none, loses nothing of the
// program's.
func TestASiteAddsToTheSecondCheckAndTakesNothingAway(t *testing.T) {
	d := policy.Default().SecondCheck
	require.Equal(t, []string{"antineoplastic", "opioid", "inotrope", "nutrition", "insulin", "heparin"}, d.Kinds)
	require.Len(t, d.Names, 13)
	for _, file := range []string{"secondCheck:\n  kinds: []\n  names: []\n", "secondCheck:\n  kinds: [opioid]\n  names: [morphine]\n", "secondCheck: {}\n"} {
		assert.Equal(t, d, load(t, file).SecondCheck, file)
	}
	own := load(t, "secondCheck:", "  kinds: [potassium, opioid]", "  names: [site mixture]").SecondCheck
	assert.Equal(t, append(append([]string{}, d.Kinds...), "potassium"), own.Kinds)
	assert.Equal(t, append(append([]string{}, d.Names...), "site mixture"), own.Names)
	assert.Equal(t, d, policy.Default().SecondCheck, "the defaults themselves are untouched")
}
