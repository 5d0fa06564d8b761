package conformance

import (
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/worksheet"
)

// Lines writes findings as a worksheet does: worst first by the gate that
// holds for the site, with the texts of the table. The nightly comparison has
// no worksheet of its own and answers in the same form.
func Lines(list []finding.Finding, ref policy.Reference) []worksheet.Finding {
	return toFindings(list, ref)
}
