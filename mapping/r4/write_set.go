package r4

import (
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/worksheet"
)

// WriteSet writes the answer to a set of NDJSON files as one value: as
// WriteBundles does, with an OperationOutcome as the last entry when there
// are faults, and it alone when no order could be judged. With line it is one
// line.
func WriteSet(list []worksheet.Worksheet, faults []finding.Finding, line bool) []byte {
	write := element.Encode
	if line {
		write = element.EncodeLine
	}
	switch {
	case len(list) == 0:
		return write(outcome(faults))
	case len(faults) == 0:
		return write(answer(list))
	}
	var entries []element.Value
	ids := ordinals{}
	for _, w := range list {
		e, v := assemble(w, ids)
		entries = append(entries, inEntry(e, v))
	}
	entries = append(entries, element.Obj(element.F("resource", outcome(faults))))
	return write(collection("", list[0].Sources.Now, entries))
}
