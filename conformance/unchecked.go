package conformance

import (
	"slices"
	"strings"

	"weir.example/weir/conformance/arithmetic"
	"weir.example/weir/conformance/verification"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/worksheet"
)

// notChecked lists rules that lack a fact and numbers no relation reaches. A
// missing fact is said once, by the first rule that asked for it. Where a
// finding already asks for what is missing, the rule is listed without a gate
// of its own: one thing left out of an order is one thing to ask for.
func (s *state) notChecked(outcomes []verification.Outcome) []worksheet.NotChecked {
	out := []worksheet.NotChecked{}
	said := map[verification.Fact]bool{verification.Access: true, verification.Zone: true}
	asked := s.askedFor(outcomes)
	for _, o := range outcomes {
		if o.Kind != verification.Indeterminate {
			continue
		}
		n := worksheet.NotChecked{Code: string(o.Code)}
		fresh := false
		var by []string
		for _, m := range o.Missing {
			n.Missing = append(n.Missing, string(m))
			fresh = fresh || !said[m]
			said[m] = !m.Ours() || said[m]
			switch code := verification.AskedBy(m, asked); {
			case m.Ours():
			case code != "":
				by = append(by, string(code))
			default:
				n.Gate = string(finding.Hold)
			}
		}
		if !fresh {
			continue
		}
		n.Says = "not checked: " + strings.Join(n.Missing, ", ") + " missing"
		if len(by) > 0 {
			slices.Sort(by)
			n.Says += "; see " + strings.Join(slices.Compact(by), ", ")
		}
		out = append(out, n)
	}
	for _, u := range s.agreement.Unchecked {
		out = append(out, uncheckedLine(u))
	}
	return out
}

// askedFor are the findings that hold the order.
func (s *state) askedFor(outcomes []verification.Outcome) map[finding.Code]bool {
	out := map[finding.Code]bool{}
	for _, o := range outcomes {
		for _, f := range o.Findings {
			if gateOf(f, s.ref).Weight() >= finding.Hold.Weight() {
				out[o.Code] = true
			}
		}
	}
	return out
}

// uncheckedLine says of a number that nothing checks it, and what would.
func uncheckedLine(u arithmetic.Unchecked) worksheet.NotChecked {
	n := worksheet.NotChecked{Code: "dose-arithmetic", Name: u.Name, Missing: []string{}}
	n.Says = "no other number reaches the " + notation.Name(u.Name)
	if u.Extra != "" {
		n.Missing = []string{u.Extra}
		n.Says += "; the " + notation.Name(u.Extra) + " would make it checkable"
	}
	return n
}
