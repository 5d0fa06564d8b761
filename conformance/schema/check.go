package schema

import (
	"strings"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
)

// Judge says what is wrong with a document as FHIR R4. Ours and others have
// this shape, so that changing judges is one line where they are wired.
type Judge func(*element.Document) []finding.Finding

// Check asks every judge and gives one sorted list. What a later judge says
// of an element, its parent or a part of it that an earlier one already
// faulted is the same fault, and the earlier words, which name the element
// and its line, stand.
func Check(d *element.Document, judges ...Judge) []finding.Finding {
	var out []finding.Finding
	for _, judge := range judges {
		earlier := len(out)
		for _, f := range judge(d) {
			if !said(out[:earlier], f) {
				out = append(out, f)
			}
		}
	}
	finding.Sort(out)
	return out
}

func said(list []finding.Finding, f finding.Finding) bool {
	for _, e := range list {
		if related(e.Place.Expression, f.Place.Expression) {
			return true
		}
	}
	return false
}

// related: one path is the other, its parent, or inside it. The root of a
// document is related only to itself and its own members.
func related(a, b string) bool {
	if len(b) < len(a) {
		a, b = b, a
	}
	rest, inside := strings.CutPrefix(b, a)
	if !inside || rest != "" && rest[0] != '.' && rest[0] != '[' {
		return false
	}
	return strings.Contains(a, ".") || strings.Count(rest, ".") <= 1
}
