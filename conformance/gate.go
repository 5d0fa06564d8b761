package conformance

import (
	"weir.example/weir/conformance/verification"
	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/policy"
)

// gateOf is the gate of one finding: the one of its rule, except that a
// block resting on a recalled number only holds until a pharmacist has
// signed the table it stands in, that a site may set its own, and that what
// lies between the table's number and the site's looser one is one step
// below the rule's, down to warn. A table value that asks for less than its
// rule does (AtMost) lowers the rule's gate before all of that. What the
// program computes itself rests on no table.
func gateOf(f finding.Finding, ref policy.Reference) finding.Gate {
	row, _ := finding.Lookup(f.Code)
	own := ref.Policy.Gate(f.Code, row.Gate)
	if f.AtMost != finding.NoGate {
		own, row.Gate = weaker(own, f.AtMost), weaker(row.Gate, f.AtMost)
	}
	if f.Detail == verification.LoosenedDetail {
		return stepBelow(own, row.Gate)
	}
	if row.Gate == finding.Block && f.Standing == compendium.Memory {
		if signed, _ := ref.Signatures.Of("drugs", ref.Tables.Hashes["drugs"]); signed == nil {
			return weaker(own, finding.Hold)
		}
	}
	return own
}

// stepBelow is one step below the stricter of two gates, and the first itself
// from warn on: a gate that the site relaxed is not relaxed twice.
func stepBelow(own, rule finding.Gate) finding.Gate {
	strict := rule
	if weaker(own, rule) == rule {
		strict = own
	}
	switch strict {
	case finding.Block:
		return finding.Hold
	case finding.Hold:
		return finding.Warn
	}
	return own
}

func weaker(a, b finding.Gate) finding.Gate {
	if a.Weight() < b.Weight() {
		return a
	}
	return b
}
