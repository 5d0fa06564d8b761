package policy_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/policy"
)

func clock(t testing.TB, s string) time.Time {
	at, err := time.Parse(time.RFC3339, s)
	require.NoError(t, err)
	return at
}

// A signature counts from the day it bears, by the calendar of the place.
func TestASignatureOfTomorrowDoesNotCountToday(t *testing.T) {
	ref := whole()
	most := ref.Hashes()
	delete(most, "hazards")
	ref.Signatures = policy.Signatures{signature(t, "J. Example", "2026-11-25", most), signature(t, "M. Sample", "2026-11-26", map[string]string{"hazards": ref.Tables.Hashes["hazards"]})}
	require.True(t, ref.Signed(), "no clock was asked")
	for now, signed := range map[string]bool{"2026-11-25T23:59:59-05:00": false, "2026-11-26T04:59:59Z": true, "2026-11-26T00:00:00-05:00": true, "2027-11-26T00:00:00Z": true} {
		at := ref.At(clock(t, now))
		assert.Equal(t, signed, at.Signed(), now)
		if !signed {
			assert.Equal(t, []string{"hazards (signed by M. Sample on 2026-11-26, dated in the future)"}, at.Unsigned())
			assert.Equal(t, "signed by M. Sample on 2026-11-26, dated in the future", at.Later("hazards"))
			assert.Empty(t, at.SignedBy())
			assert.Equal(t, at, at.At(clock(t, now)), "asked again")
		}
		assert.Empty(t, at.Later("drugs"))
	}
	assert.True(t, ref.Signed(), "the reference itself is as it was")
	// An older signature that holds is not spoiled by a later one.
	ref.Signatures = append(policy.Signatures{signature(t, "J. Example", "2026-11-25", ref.Hashes())}, ref.Signatures...)
	at := ref.At(clock(t, "2026-11-25T12:00:00Z"))
	assert.True(t, at.Signed())
	assert.Empty(t, at.Later("hazards"))
}

// A number dated in the future is not in force, the table's own is; and the
// policy counts as unsigned until the day comes or the date is mended.
func TestANumberOfTomorrowIsNotInForceAndHoldsTheSite(t *testing.T) {
	p := load(t, "overrides:", "  - {fact: vancomycin-010, value: 12 mg/min, source: site protocol 7, reason: observed, by: J. Example, on: 2027-01-01}",
		"  - {fact: vancomycin-014, value: 6 mg/mL, source: site protocol 7, reason: observed, by: J. Example, on: 2026-09-01}")
	own, err := p.Overrule(compendium.Embedded())
	require.NoError(t, err)
	ref := whole()
	ref.Tables, ref.Shipped, ref.Policy = own, compendium.Embedded(), p
	ref.Signatures = policy.Signatures{signature(t, "J. Example", "2026-09-01", ref.Hashes())}
	value := func(r policy.Reference, id string) compendium.Fact {
		d, _ := r.Tables.Find(compendium.Named("", "vancomycin"))
		f, ok := d.Fact(id)
		require.True(t, ok)
		return f
	}
	today := ref.At(clock(t, "2026-12-31T23:59:59-05:00"))
	assert.Equal(t, "10", value(today, "vancomycin-010").Value.Band.Value.String(), "the table's own")
	assert.Nil(t, value(today, "vancomycin-010").Override)
	assert.Equal(t, "6", value(today, "vancomycin-014").Value.Band.Value.String(), "the other is in force")
	assert.Equal(t, []string{"policy (its own number for vancomycin-010 on 2027-01-01, dated in the future: not in force)"}, today.Unsigned())
	assert.Equal(t, today.Hashes(), ref.Hashes(), "what is signed is the file")
	then := ref.At(clock(t, "2027-01-01T00:00:00-05:00"))
	assert.Equal(t, "12", value(then, "vancomycin-010").Value.Band.Value.String())
	assert.True(t, then.Signed())
	ref.Shipped = nil
	assert.False(t, ref.At(clock(t, "2026-12-31T23:59:59-05:00")).Signed(), "held without the shipped tables, too")
}

// How long a dose lasts is no number to overrule: it would go on saying that
// the label or a study says so.
func TestAStabilityIsNotOverruled(t *testing.T) {
	bad, err := policy.Read("site.yaml", []byte("overrides:\n  - {fact: cefazolin-021, value: 7 d"+by+"}\n"))
	require.NoError(t, err)
	have, err := bad.Overrule(compendium.Embedded())
	require.ErrorContains(t, err, "site.yaml:2:6: overrides[0].fact: cefazolin-021 is how long the label or a study lets it last")
	assert.ErrorContains(t, err, "a formula of the site's own under stability")
	assert.Same(t, compendium.Embedded(), have)
}
