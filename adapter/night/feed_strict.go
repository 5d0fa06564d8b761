package night

import (
	"slices"

	"weir.example/weir/conformance"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/r4"
)

// strict takes the facts of a line by the strict reader, also of a line that
// it refuses, as far as it could be read. The findings say why it is refused.
// Whether its elements exist in R4 is judged later, when it is read.
func strict(line []byte, number int, f *facts) []finding.Finding {
	doc, faults := element.ReadLine(line, element.Limit{}, number)
	m := r4.Remember(doc)
	k := m.Keys()
	*f = facts{ties: f.ties[:0], points: f.points[:0], carries: f.carries[:0], owner: f.owner[:0],
		kind: []byte(m.Type), id: []byte(m.ID), owned: m.Owned(), failed: len(faults) > 0,
		updated: []byte(doc.Root().Get("meta").Get("lastUpdated").Text())}
	for _, t := range k.Ties {
		f.ties = append(f.ties, textKey(t))
	}
	for _, t := range k.Points {
		f.points = append(f.points, textKey(t))
	}
	for _, t := range k.Carries {
		f.carries = append(f.carries, textKey(t))
	}
	if k.Name != "" {
		f.name = textKey(k.Name)
	}
	if !f.owned {
		return faults
	}
	switch own := "r:" + m.Type + "/" + m.ID; {
	case m.Type == "Patient" && m.ID != "", len(k.Ties) == 0 && m.ID != "":
		f.owner = append(f.owner, own...)
	case len(k.Ties) > 0:
		f.owner = append(f.owner, k.Ties[0]...)
	default: // it says that it is somebody's, and no more
		f.owned = false
	}
	return faults
}

// take gives the facts of a line of a file of that type, and why it is
// refused, if it is.
func (s *scanner) take(line []byte, number int, kind string, f *facts) []finding.Finding {
	var faults []finding.Finding
	if !s.scan(line, f) {
		faults = strict(line, number, f)
	}
	if len(faults) == 0 && (string(f.kind) != kind || kind == "Bundle" || len(f.id) == 0) {
		_, faults = conformance.Resource(line, number, kind, nil)
		faults = slices.Clip(faults)
	}
	if f.failed = len(faults) > 0; f.failed && len(f.kind) == 0 {
		f.kind = []byte(kind)
	}
	return faults
}
