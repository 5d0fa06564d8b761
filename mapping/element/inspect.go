package element

import (
	"strconv"
	"strings"
)

// inspect adds the faults of FHIR's JSON form that can be seen without
// knowing any resource (https://hl7.org/fhir/R4/json.html): a resource at the
// root, no duplicate names, nothing empty, nulls only as padding, numbers
// within bounds.
func inspect(d *Document, f *faults) {
	if len(d.nodes) == 0 {
		return
	}
	in := inspector{d: d, f: f}
	in.root()
	for at := range d.nodes {
		switch c := &d.nodes[at]; c.kind {
		case Null:
			in.null(int32(at), c)
		case String:
			in.text(int32(at), c)
		case Number:
			in.number(int32(at), c)
		case Array:
			in.array(int32(at), c)
		case Object:
			if c.count == 0 && !c.open {
				in.add(structure, int32(at), emptyObject)
			}
			in.members(int32(at))
		}
	}
}

type inspector struct {
	d *Document
	f *faults
}

func (in *inspector) add(code code, at int32, what what) {
	in.f.add(fault{code: code, offset: int(in.d.nodes[at].start), at: at, what: what})
}

func (in *inspector) root() {
	root := in.d.Root()
	if root.Kind() != Object {
		in.add(structure, 0, notAnObject(root.Kind()))
		return
	}
	t := root.Get("resourceType")
	switch {
	case t.Kind() == String:
		if v := t.Text(); v != "" && !isTypeName(v) {
			in.add(value, t.at, notAType)
		}
	case t.Exists():
		in.add(structure, t.at, notAType)
	case in.d.nodes[0].open:
		// The type may stand behind the place where reading stopped.
	default:
		for _, m := range root.Members() {
			if strings.EqualFold(m.Name(), "resourceType") {
				in.add(structure, m.at, misspelledType)
				return
			}
		}
		in.add(structure, 0, noType)
	}
}

// isTypeName says whether a resource could have this name: MedicationRequest.
func isTypeName(s string) bool {
	return isIdentifier(s) && s[0] >= 'A' && s[0] <= 'Z' && !strings.Contains(s, "_")
}

// null refuses a null that is a member or the root. Those in arrays are
// judged with their companion array, in pair.
func (in *inspector) null(at int32, c *node) {
	if c.parent < 0 {
		return // root has said what the root must be
	}
	if in.d.nodes[c.parent].kind == Object {
		in.add(structure, at, nullMember)
	}
}

func (in *inspector) text(at int32, c *node) {
	s := in.d.text[c.start+1 : c.end-1]
	if c.escaped {
		s = unquote(in.d.text[c.start:c.end])
		if r, found := controlCharacter(s); found {
			in.add(value, at, forbiddenCharacter(r))
			return
		}
	}
	switch {
	case s == "":
		in.add(value, at, emptyString)
	case (s[0] <= ' ' || s[0] >= 0x80) && isBlank(s):
		in.add(value, at, blankString)
	}
}

func (in *inspector) number(at int32, c *node) {
	if c.open {
		return
	}
	literal := in.d.text[c.start:c.end]
	if what, ok := unfitNumber(literal); ok {
		what.observed = cut(literal, 40)
		in.add(limits, at, what)
	} else if literal[0] == '-' && strings.Trim(literal[:strings.IndexAny(literal+"e", "eE")], "-0.") == "" {
		in.add(value, at, negativeZero)
	}
}

// unfitNumber judges the text alone, so that a number of a million digits
// costs nothing.
func unfitNumber(literal string) (what, bool) {
	mantissa, exponent := literal, ""
	if i := strings.IndexAny(literal, "eE"); i >= 0 {
		mantissa, exponent = literal[:i], literal[i+1:]
	}
	if exponent != "" {
		size := strings.TrimLeft(strings.TrimLeft(exponent, "+-"), "0")
		if len(size) > 2 {
			return exponentOutside, true
		}
		if n, _ := strconv.Atoi("0" + size); n > maxExponent {
			return exponentOutside, true
		}
	}
	digits := 0 // that count, after leading zeros
	written := 0
	for i := 0; i < len(mantissa); i++ {
		if c := mantissa[i]; c >= '0' && c <= '9' {
			written++
			if digits > 0 || c != '0' {
				digits++
			}
		}
	}
	return tooManyDigits, digits > maxDigits || written > maxDigits+maxExponent
}

// array refuses an empty one, one inside another, and nulls in an array that
// is no member of an object and so has no companion. Of arrays nested several
// deep the outermost is named.
func (in *inspector) array(at int32, c *node) {
	if c.count == 0 && !c.open {
		in.add(structure, at, emptyArray)
	}
	if c.parent >= 0 && in.d.nodes[c.parent].kind == Object {
		return
	}
	if c.parent >= 0 {
		if up := in.d.nodes[c.parent].parent; up < 0 || in.d.nodes[up].kind == Object {
			in.add(structure, at, nestedArray)
		}
	}
	for e := (Node{in.d, at}).firstChild(); e.Exists(); e = e.sibling() {
		if e.Kind() == Null {
			in.add(structure, e.at, strayNull)
		}
	}
}
