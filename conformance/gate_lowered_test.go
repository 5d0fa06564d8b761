package conformance

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"weir.example/weir/conformance/verification"
	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/policy"
)

// A table value that asks for no more than a gate lowers its rule's gate and
// raises none; what a site loosened is one step below the lowered one.
func TestATableValueLowersTheGateOfItsRule(t *testing.T) {
	for _, c := range []struct {
		code          finding.Code
		own           finding.Gate // set by the site; "" for none
		atMost        finding.Gate // of the table value
		standing      string
		loosened      bool
		want, ifNever finding.Gate // with it, and without
	}{
		{"rate-above-maximum", "", finding.Hold, compendium.Sourced, false, finding.Hold, finding.Block},
		{"rate-above-maximum", "", finding.Warn, compendium.Sourced, false, finding.Warn, finding.Block},
		{"rate-above-maximum", "", finding.Hold, compendium.Memory, false, finding.Hold, finding.Hold},
		{"rate-above-maximum", "", finding.Warn, compendium.Memory, false, finding.Warn, finding.Hold},
		{"rate-above-maximum", finding.Warn, finding.Hold, compendium.Sourced, false, finding.Warn, finding.Warn},
		{"rate-above-maximum", "", finding.Hold, compendium.Sourced, true, finding.Warn, finding.Hold},
		{"rate-concentration-above-maximum-selected", "", finding.Hold, compendium.Sourced, false, finding.Hold, finding.Hold},
		{"rate-fast-edge", "", finding.Hold, compendium.Sourced, false, finding.Warn, finding.Warn},
		{"dose-below-usual", finding.Note, finding.Hold, compendium.Sourced, false, finding.Note, finding.Note},
	} {
		p := *policy.Default()
		if c.own != "" {
			p.Gates = map[string]string{string(c.code): string(c.own)}
		}
		ref := policy.Reference{Tables: compendium.Embedded(), Policy: &p}
		f := finding.Finding{Code: c.code, Standing: c.standing, AtMost: c.atMost}
		if c.loosened {
			f.Detail = verification.LoosenedDetail
		}
		assert.Equal(t, c.want, gateOf(f, ref), "%+v", c)
		f.AtMost = finding.NoGate
		assert.Equal(t, c.ifNever, gateOf(f, ref), "%+v without", c)
	}
}
