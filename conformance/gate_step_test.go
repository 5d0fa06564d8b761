package conformance

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"weir.example/weir/conformance/verification"
	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/policy"
)

// Between the table's number and a site's looser one a block holds and a hold
// warns: the site's number loosens the rule, and silences it nowhere.
func TestWhatASiteLoosenedIsOneStepBelowItsRule(t *testing.T) {
	for _, c := range []struct {
		code finding.Code
		own  finding.Gate // set by the site; "" for none
		want finding.Gate
	}{
		{"rate-above-maximum", "", finding.Hold}, {"rate-above-maximum", finding.Hold, finding.Hold},
		{"dose-daily-above-maximum", "", finding.Warn}, {"dose-daily-above-maximum", finding.Warn, finding.Warn}, {"dose-daily-above-maximum", finding.Block, finding.Hold},
		{"dose-below-usual", "", finding.Warn}, {"dose-below-usual", finding.Note, finding.Note}, {"dose-below-usual", finding.Hold, finding.Warn},
	} {
		p := *policy.Default()
		if c.own != "" {
			p.Gates = map[string]string{string(c.code): string(c.own)}
		}
		ref := policy.Reference{Tables: compendium.Embedded(), Policy: &p}
		f := finding.Finding{Code: c.code, Standing: compendium.LocalStanding, Detail: verification.LoosenedDetail}
		assert.Equal(t, c.want, gateOf(f, ref), "%s, the site's %q", c.code, c.own)
	}
}
