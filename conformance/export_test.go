package conformance

import (
	"time"

	"weir.example/weir/conformance/verification"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/r4"
)

// Outcomes is what every rule answers for each order of a document that can
// be read: a worksheet shows no rule that passed.
func Outcomes(document []byte, ref policy.Reference, now time.Time, at finding.Stage) [][]verification.Outcome {
	doc, _ := element.Read(document, element.Limit{})
	cases, _ := r4.ReadCases(doc, now)
	var out [][]verification.Outcome
	for _, c := range cases {
		var states []*state
		for _, o := range c.Orders {
			states = append(states, prepare(c, o, ref, now))
		}
		layOut(states)
		for _, s := range states {
			out = append(out, s.outcomes(at))
		}
	}
	return out
}
