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
	// What is not seen as it is: text turned around, nothing, another line.
	for _, c := range []string{"\u202e", "\u200b", "\u0000", "\x7f", "\u0085", "\u2028", "\u2029", "\ue000", "\ufeff", "\ufffd", "\U000e0041", "\u3164", "\ufe0f"} {
		for key, s := range map[string][3]string{"name": {"J." + c + "Example", "pharmacist", "EX 1"}, "role": {"J. Example", "phar" + c + "macist", "EX 1"}, "license": {"J. Example", "pharmacist", "EX" + c + "1"}} {
			_, err := policy.NewSignature(s[0], s[1], s[2], "2026-09-01", hash)
			assert.ErrorContains(t, err, key, "%q", c)
		}
	}
	_, err := policy.NewSignature("...", "pharmacist", "EX 1", "2026-09-01", hash)
	assert.ErrorContains(t, err, "name", "no letter")
	_, err = policy.NewSignature("Zoë Ōta-Nuñez 薬", "pharmacist", "EX 1", "2026-09-01", hash)
	assert.NoError(t, err)
	_, err = policy.NewSignature("J. Example", "pharmacist", "EX 1", "2026-09-01", map[string]string{"dr\u202eugs": hash["drugs"]})
	assert.ErrorContains(t, err, "no name of a table")
}

// One JSON value, each key once and as it is written, and nothing behind it.
func TestASignatureFileIsReadToTheLetterOrNotAtAll(t *testing.T) {
	const good = `{"signatures":[{"name":"J. Example","role":"pharmacist","license":"EX 1","on":"2026-09-01","tables":{"drugs":"` + "HASH" + `"}}]}`
	file := func(old, next string) []byte {
		return []byte(strings.ReplaceAll(strings.Replace(good, old, next, 1), "HASH", strings.Repeat("a", 64)))
	}
	read, err := policy.ReadSignatures(append(file("", ""), " \n"...))
	require.NoError(t, err)
	assert.Len(t, read, 1)
	for says, bad := range map[string][]byte{
		"no JSON":                       []byte("signed"),
		"nothing":                       nil,
		"an unknown key":                file(`{"signatures"`, `{"valid":true,"signatures"`),
		"an unknown key of a signature": file(`"role"`, `"until":"2099-01-01","role"`),
		"a forged one":                  file(`"J. Example"`, `""`),
		"a hash cut short":              file("HASH", "x"),
		"a key twice":                   file(`"on":`, `"on":"2020-01-01","on":`),
		"the list twice":                file(`{"signatures"`, `{"signatures":[],"signatures"`),
		"a table twice":                 file(`"drugs":`, `"drugs":"`+strings.Repeat("b", 64)+`","drugs":`),
		"a key twice by an escape":      file(`"on":`, `"\u006fn":"2020-01-01","on":`),
		"a key in capitals":             file(`"name"`, `"NAME"`),
		"the list in capitals":          file(`"signatures"`, `"Signatures"`),
		"a second value behind it":      file("]}", "]}{}"),
		"a word behind it":              file("]}", "]} signed"),
		"a NUL behind it":               file("]}", "]}\x00"),
		"a byte order mark":             append([]byte("\xef\xbb\xbf"), file("", "")...),
		"a text that is no UTF-8":       file("J. Example", "J. Ex\xffmple"),
		"half a surrogate":              file("J. Example", `J. \ud800Example`),
		"a name turned around":          file("J. Example", `J. \u202eExample`),
		"a blank before a name":         file("J. Example", " J. Example"),
		"a number for a name":           file(`"J. Example"`, "7"),
		"a list for the file":           []byte("[]"),
	} {
		_, err := policy.ReadSignatures(bad)
		if assert.Error(t, err, says) {
			assert.Contains(t, err.Error(), "signature: ", says)
		}
	}
}

func FuzzReadSignatures(f *testing.F) {
	f.Add([]byte(`{"signatures":[{"name":"J. Example","role":"pharmacist","license":"EX 1","on":"2026-09-01","tables":{"drugs":"` + strings.Repeat("a", 64) + `"}}]}`))
	f.Add([]byte(`{"signatures":null}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		list, err := policy.ReadSignatures(data)
		if err != nil {
			return
		}
		again, err := policy.ReadSignatures(list.Write())
		require.NoError(t, err)
		assert.Equal(t, list.Write(), again.Write())
	})
}
