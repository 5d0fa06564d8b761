package r4

import (
	"maps"
	"slices"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/worksheet"
)

// reasons are the findings a task is about: for the parent all of them, for
// a task made from a finding that one, for a task that waits the worst. The
// worst is the reason, since R4 has room for one; the others are inputs of
// type finding.
func (b *bundler) reasons(t worksheet.Task, parent, waits bool) (element.Value, []element.Value) {
	about := b.issues
	switch {
	case parent:
	case t.Finding != "":
		about = slices.DeleteFunc(slices.Clone(b.issues), func(i issue) bool { return i.code != t.Finding })
	case waits:
		about = b.issues[:min(1, len(b.issues))]
	default:
		about = nil
	}
	if len(about) == 0 {
		return element.Value{}, nil
	}
	var inputs []element.Value
	for _, i := range about[1:] {
		inputs = append(inputs, input("finding", "Reference", own(i.entry)))
	}
	return own(about[0].entry), inputs
}

// inputs are what the task closes with and the numbers a person needs for
// it. A number that is settled is written as a Quantity; one in dispute is
// not handed on.
func (b *bundler) inputs(t worksheet.Task) []element.Value {
	out := []element.Value{input("closes only with", "String", element.Str(t.Closes))}
	for _, words := range slices.Sorted(maps.Keys(t.Inputs)) {
		name := words
		if n, ok := b.names[words]; ok {
			name = n
		}
		q, ok := b.interval(name)
		switch {
		case b.disputed(name):
		case ok && q.IsPoint():
			out = append(out, input(words, "Quantity", amount(q.Low, q.Unit)))
		default:
			out = append(out, input(words, "String", element.Str(t.Inputs[words])))
		}
	}
	return out
}

func input(words, kind string, v element.Value) element.Value {
	if v.Empty() {
		return element.Value{}
	}
	return element.Obj(element.F("type", codeable("", "", "", words)), element.F("value"+kind, v))
}
