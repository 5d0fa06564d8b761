package r4

import (
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
)

// unknownModifier is the first modifierExtension or implicitRules of a
// resource, contained resources apart. None is known to this program.
func unknownModifier(n element.Node) element.Node {
	for _, m := range n.Members() {
		switch m.Name() {
		case "modifierExtension":
			return m.At(0)
		case "implicitRules":
			return m
		case "contained":
			continue
		}
		for _, one := range m.Each() {
			if one.Kind() != element.Object {
				continue
			}
			if found := unknownModifier(one); found.Exists() {
				return found
			}
		}
	}
	return element.Node{}
}

// readModifiers: an unknown modifier on the order may reverse it.
func (o *orderScope) readModifiers() {
	if m := unknownModifier(o.res.node); m.Exists() {
		o.modifier(m)
	}
}

func (o *orderScope) modifier(m element.Node) {
	o.out.UnknownModifier = append(o.out.UnknownModifier, m.Place())
	observed := m.Get("url").Text()
	if observed == "" {
		observed = m.Literal()
	}
	o.fault("record-modifier-unknown", m, observed, "no modifier, or the meaning from the sender",
		"an element carries a modifier that this program does not know: it may reverse the order")
}

// placeOf is the place of a member, or of the object that lacks it with the
// member's name.
func placeOf(n element.Node, name string) finding.Place {
	if m := n.Get(name); m.Exists() {
		return m.Place()
	}
	p := n.Place()
	p.Expression += "." + name
	return p
}

// usable reports whether a resource may be used: nothing unknown modifies it
// and it was not entered in error. When not, the reason is kept.
func (c *caseScope) usable(s *resource) bool {
	switch m := unknownModifier(s.node); {
	case m.Exists():
		s.why = "it carries a modifier that this program does not know"
	case s.node.Get("status").Text() == "entered-in-error":
		s.why = "it was entered in error"
	case c.superseded(s):
		s.why = "a newer version of it is in the document"
	default:
		return true
	}
	return false
}

// mineOf gives the usable resources of the patient of one type, marked used.
func (c *caseScope) mineOf(kind string) []*resource {
	var list []*resource
	for _, s := range c.mine {
		if s.kind == kind && c.usable(s) {
			s.used = true
			list = append(list, s)
		}
	}
	return list
}
