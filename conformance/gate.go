package conformance

import (
	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/policy"
)

// gateOf is the gate of one finding: the one of its rule, except that a
// block resting on a recalled number only holds until a pharmacist has
// signed the table it stands in, and that a site may set its own. What the
// program computes itself rests on no table.
func gateOf(f finding.Finding, ref policy.Reference) finding.Gate {
	row, _ := finding.Lookup(f.Code)
	own := ref.Policy.Gate(f.Code, row.Gate)
	if row.Gate == finding.Block && f.Standing == compendium.Memory {
		if signed, _ := ref.Signatures.Of("drugs", ref.Tables.Hashes["drugs"]); signed == nil {
			return weaker(own, finding.Hold)
		}
	}
	return own
}

func weaker(a, b finding.Gate) finding.Gate {
	if a.Weight() < b.Weight() {
		return a
	}
	return b
}
