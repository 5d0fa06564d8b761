package policy_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/schedule"
)

func whole() policy.Reference {
	return policy.Reference{Tables: compendium.Embedded(), Policy: policy.Default(), Zones: schedule.LoadZones()}
}

func signature(t testing.TB, name, on string, tables map[string]string) policy.Signature {
	s, err := policy.NewSignature(name, "pharmacist", "EX 000000", on, tables)
	require.NoError(t, err)
	return s
}

func TestAChangedByteVoidsTheSignatureOfItsTableOnly(t *testing.T) {
	ref := whole()
	assert.False(t, ref.Signed(), "nobody signed")
	assert.Len(t, ref.Unsigned(), len(ref.Hashes()))
	ref.Signatures = policy.Signatures{signature(t, "J. Example", "2026-09-01", ref.Hashes())}
	assert.True(t, ref.Signed())
	assert.Equal(t, "J. Example, pharmacist on 2026-09-01", ref.SignedBy())
	for table, hash := range ref.Hashes() {
		changed := strings.Repeat("0", 64)
		require.NotEqual(t, hash, changed)
		valid, void := ref.Signatures.Of(table, changed)
		assert.Nil(t, valid, table)
		require.NotNil(t, void, table)
		assert.Equal(t, "J. Example", void.Name)
	}
	p, err := policy.Load([]byte("# one more word\n"))
	require.NoError(t, err)
	ref.Policy = p
	assert.Equal(t, []string{policy.PolicyTable}, ref.Unsigned(), "the site's own file changed, the rest stands")
	assert.Empty(t, ref.SignedBy())
}

func TestSeveralPharmacistsMaySignSeveralTables(t *testing.T) {
	ref := whole()
	most := ref.Hashes()
	delete(most, "hazards")
	ref.Signatures = policy.Signatures{signature(t, "J. Example", "2026-09-01", most)}
	assert.Equal(t, []string{"hazards"}, ref.Unsigned())
	ref.Signatures = ref.Signatures.Add(signature(t, "M. Sample", "2026-10-02", map[string]string{"hazards": ref.Tables.Hashes["hazards"]}))
	assert.True(t, ref.Signed())
	assert.Equal(t, "M. Sample, pharmacist on 2026-10-02; J. Example, pharmacist on 2026-09-01", ref.SignedBy())
	again := ref.Signatures.Add(signature(t, "J. Example", "2026-11-01", most))
	assert.Len(t, again, 2, "the same person signs anew: the old word is replaced")
	read, err := policy.ReadSignatures(again.Write())
	require.NoError(t, err)
	assert.Equal(t, again, read)
	assert.Equal(t, again.Write(), read.Write(), "the same content, the same bytes")
}

func TestASignatureOfNobodyOrUnderNothingIsRefused(t *testing.T) {
	hash := map[string]string{"drugs": strings.Repeat("a", 64)}
	for says, c := range map[string]struct {
		name, role, license, on string
		tables                  map[string]string
		need                    string
	}{
		"no name":          {" ", "pharmacist", "EX 1", "2026-09-01", hash, "name"},
		"no role":          {"J. Example", "", "EX 1", "2026-09-01", hash, "role"},
		"no license":       {"J. Example", "pharmacist", "", "2026-09-01", hash, "license"},
		"two lines":        {"J. Example\nsigned: all", "pharmacist", "EX 1", "2026-09-01", hash, "one line"},
		"no day":           {"J. Example", "pharmacist", "EX 1", "", hash, "calendar"},
		"no such day":      {"J. Example", "pharmacist", "EX 1", "2026-02-30", hash, "calendar"},
		"no table":         {"J. Example", "pharmacist", "EX 1", "2026-09-01", nil, "no table"},
		"a hash cut short": {"J. Example", "pharmacist", "EX 1", "2026-09-01", map[string]string{"drugs": "abc"}, "64 hexadecimal"},
	} {
		_, err := policy.NewSignature(c.name, c.role, c.license, c.on, c.tables)
		assert.ErrorContains(t, err, c.need, says)
	}
	for says, file := range map[string]string{"no JSON": "signed", "an unknown key": `{"signatures":[],"valid":true}`, "a forged one": `{"signatures":[{"name":"","role":"r","license":"l","on":"2026-09-01","tables":{"drugs":"x"}}]}`} {
		_, err := policy.ReadSignatures([]byte(file))
		assert.Error(t, err, says)
	}
}
