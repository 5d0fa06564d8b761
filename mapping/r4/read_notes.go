package r4

import (
	"cmp"
	"fmt"
	"slices"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
)

// notes collects what is to be said about what was read: faults, and what
// was not used.
type notes struct {
	lenient bool // published spellings of units are read, and said
	faults  []finding.Finding
	unused  []order.Unused
}

func (n *notes) fault(code finding.Code, at element.Node, observed, expected, detail string, evidence ...string) {
	n.faults = append(n.faults, finding.Finding{Code: code, Place: at.Place(), Observed: observed, Expected: expected, Detail: detail, Evidence: evidence})
}

// notUsed lists an element with the reason, which begins "not used: ".
func (n *notes) notUsed(at element.Node, format string, args ...any) {
	n.unused = append(n.unused, order.Unused{Place: at.Place(), Reason: "not used: " + fmt.Sprintf(format, args...)})
}

// said lists an element that was used in a way a person should know of.
func (n *notes) said(at element.Node, format string, args ...any) {
	n.unused = append(n.unused, order.Unused{Place: at.Place(), Reason: fmt.Sprintf(format, args...)})
}

func sortUnused(list []order.Unused) {
	slices.SortStableFunc(list, func(a, b order.Unused) int {
		return cmp.Or(cmp.Compare(a.Place.Line, b.Place.Line), cmp.Compare(a.Place.Column, b.Place.Column),
			cmp.Compare(a.Place.Expression, b.Place.Expression), cmp.Compare(a.Reason, b.Reason))
	})
}

// distinct drops findings that say the same of the same element.
func distinct(list []finding.Finding) []finding.Finding {
	type key struct {
		code     finding.Code
		place    finding.Place
		observed string
	}
	seen := map[key]bool{}
	var out []finding.Finding
	for _, f := range list {
		k := key{f.Code, f.Place, f.Observed}
		if !seen[k] {
			seen[k] = true
			out = append(out, f)
		}
	}
	return out
}

// fault is a finding at a place that is known only as a place.
func fault(code finding.Code, at finding.Place, observed, expected, detail string) finding.Finding {
	return finding.Finding{Code: code, Place: at, Observed: observed, Expected: expected, Detail: detail}
}
