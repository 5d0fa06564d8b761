package element

import "slices"

// Edit is the object v with members replaced or, behind its first member,
// put in; one given as the zero Value is taken out.
func Edit(v Value, changes ...Field) Value {
	old := v.fields
	if v.node.Exists() {
		old = make([]Field, 0, v.node.Len())
		for c := v.node.firstChild(); v.node.Kind() == Object && c.Exists(); c = c.sibling() {
			old = append(old, Field{c.Name(), RawNode(c)})
		}
	}
	named := func(list []Field, name string) int {
		return slices.IndexFunc(list, func(f Field) bool { return f.Name == name })
	}
	out := make([]Field, 0, len(old)+len(changes))
	for i, f := range old {
		if at := named(changes, f.Name); at >= 0 {
			f.Value = changes[at].Value
		}
		out = append(out, f)
		for _, c := range changes {
			if i == 0 && named(old, c.Name) < 0 {
				out = append(out, c)
			}
		}
	}
	return Obj(out...)
}
