package element

// The plainest form of AppendAs, which tests compare it with.

// Rewrite is v with the text of every string that f changes. F is given the
// name of the member the string stands in (of a string in a list, that of
// the list) and its text. What holds no changed string stays as it is.
func Rewrite(v Value, f func(name, text string) string) Value {
	out, _ := rewrite(v, "", f)
	return out
}

func rewrite(v Value, name string, f func(name, text string) string) (Value, bool) {
	if v.node.Exists() {
		return rewriteNode(v.node, name, f)
	}
	switch v.kind {
	case String:
		if text := f(name, v.text); text != v.text {
			v.text = text
			return v, true
		}
	case Object:
		var fields []Field
		for i, m := range v.fields {
			x, changed := rewrite(m.Value, m.Name, f)
			if changed && fields == nil {
				fields = append(make([]Field, 0, len(v.fields)), v.fields[:i]...)
			}
			if fields != nil {
				fields = append(fields, Field{m.Name, x})
			}
		}
		if fields != nil {
			v.fields = fields
			return v, true
		}
	case Array:
		var items []Value
		for i, item := range v.items {
			x, changed := rewrite(item, name, f)
			if changed && items == nil {
				items = append(make([]Value, 0, len(v.items)), v.items[:i]...)
			}
			if items != nil {
				items = append(items, x)
			}
		}
		if items != nil {
			v.items = items
			return v, true
		}
	}
	return v, false
}

func rewriteNode(n Node, name string, f func(name, text string) string) (Value, bool) {
	switch n.Kind() {
	case String:
		if text := f(name, n.Text()); text != n.Text() {
			return Str(text), true
		}
	case Object:
		var fields []Field
		members := n.Members()
		for i, m := range members {
			x, changed := rewriteNode(m, m.Name(), f)
			if changed && fields == nil {
				for _, before := range members[:i] {
					fields = append(fields, Field{before.Name(), RawNode(before)})
				}
			}
			if fields != nil || changed {
				fields = append(fields, Field{m.Name(), x})
			}
		}
		if fields != nil {
			return Obj(fields...), true
		}
	case Array:
		var items []Value
		list := n.Each()
		for i, item := range list {
			x, changed := rewriteNode(item, name, f)
			if changed && items == nil {
				for _, before := range list[:i] {
					items = append(items, RawNode(before))
				}
			}
			if items != nil || changed {
				items = append(items, x)
			}
		}
		if items != nil {
			return List(items...), true
		}
	}
	return RawNode(n), false
}
