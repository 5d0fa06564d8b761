package compendium_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/quantity"
)

// Published osmolarities, in mOsm/L: sodium chloride 0.9 % 308, dextrose 5 %
// 252 (the monohydrate), magnesium sulfate 50 % 4,057; globalrph.com, sample
// osmolarity calculations.
func TestOsmolesAgainstPublishedSolutions(t *testing.T) {
	for _, x := range []struct{ rxnorm, name, grams, want string }{
		{"9863", "", "9", "308"}, {"", "Dextrose", "50", "252"}, {"", "magnesium sulfate", "500", "4057"}, {"", "sterile water", "1000", "0"},
	} {
		s, ok := compendium.SoluteOf(x.rxnorm, x.name)
		require.True(t, ok, x.name)
		osm, ok := s.Osmoles(quantity.Point(quantity.MustNumber(x.grams), quantity.MustUnit("g")))
		require.True(t, ok)
		assert.Equal(t, x.want, osm.Mul(quantity.Int(1000)).Places(0), s.Name)
	}
	salt, _ := compendium.SoluteOf("8591", "")
	osm, ok := salt.Osmoles(quantity.Point(quantity.Int(20), quantity.MustUnit("mmol")))
	require.True(t, ok)
	assert.Equal(t, "0.04", osm.Decimal(), "20 mmol of two particles")
	_, ok = salt.Osmoles(quantity.Point(quantity.Int(20), quantity.MustUnit("meq")))
	assert.False(t, ok, "equivalents do not say of what")
}

func TestAnUnknownSubstanceIsUnknown(t *testing.T) {
	for _, name := range []string{"", "sodium", "sodium chloride 0.9 %", "amino acids"} {
		_, ok := compendium.SoluteOf("", name)
		assert.False(t, ok, name)
	}
	_, ok := compendium.SoluteOf("1", "sodium chloride")
	assert.False(t, ok, "another code wins over the name")
}
