package schema

import (
	"slices"
	"strconv"
	"strings"

	"weir.example/weir/mapping/element"
)

var kindWords = map[element.Kind]string{element.Bool: "true or false", element.Number: "a number", element.String: "a text",
	element.Object: "an object", element.Array: "an array", element.Null: "null"}

func (w *walker) unknownResource(n element.Node, name string) {
	at := n.Get("resourceType")
	switch {
	case !at.Exists():
		w.add("document-structure", n.Place(), "no resourceType", "a resource with its resourceType",
			"Sender: give the resource its resourceType.", "a resource has no resourceType")
	case at.Kind() != element.String:
		w.add("document-structure", at.Place(), kindWords[at.Kind()], "the name of a resource type of FHIR R4",
			"Sender: write the resourceType as a text.", "the resourceType is no text")
	default:
		expected, remedy := "a resource type of FHIR R4", "Sender: use a resource type of FHIR R4."
		detail := "the resourceType is not one of FHIR R4"
		if near := nearest(name, slices.Values(w.table.names)); near != "" {
			expected += ", perhaps " + near
			remedy = "Sender: write " + near + " if that is meant."
		}
		if release := otherRelease(name); release != "" {
			detail += "; " + release + " has it: the document does not look like R4"
			remedy = "Sender: send the document in FHIR R4; this type is of " + release + "."
		}
		w.add("document-structure", at.Place(), token(name), expected, remedy, detail)
	}
}

func (w *walker) notAResource(n element.Node) {
	if w.what&structures != 0 {
		w.add("document-structure", n.Place(), kindWords[n.Kind()], "a resource: an object with its resourceType",
			"Sender: put the resource here as a JSON object.", "where a resource belongs stands no object")
	}
}

func (w *walker) unknownElement(m element.Node, plain string, k *kind, l *level, path string) {
	if w.what&structures == 0 {
		return
	}
	owner := strings.TrimSuffix(k.name+"."+path, ".")
	expected, remedy := "an element that R4 defines in "+owner, "Sender: use the element that FHIR R4 defines, or leave this one out."
	detail := "an element that R4 does not define in " + owner
	near := nearest(plain, func(yield func(string) bool) {
		for name := range l.byName {
			if !yield(name) {
				return
			}
		}
	})
	if near != "" {
		expected += ", perhaps " + near
		remedy = "Sender: write " + near + " if that is meant."
	}
	if release := otherRelease(owner + "." + plain); release != "" {
		detail += "; " + release + " has it: the document does not look like R4"
		remedy = "Sender: send the document in FHIR R4; this element is of " + release + "."
	}
	w.add("document-structure", m.Place(), token(plain), expected, remedy, detail)
}

// mayStand refuses a second type of a choice and an extension beside an
// element that is no primitive.
func (w *walker) mayStand(members []element.Node, m element.Node, c *child, plain string, side bool) bool {
	if side && !c.format.known() {
		if w.what&structures != 0 {
			w.add("document-structure", m.Place(), "extensions beside an element that is no primitive", "extensions inside the element "+plain,
				"Sender: move the extensions into the element.", "a name with a leading underscore belongs to primitive elements only")
		}
		return false
	}
	if !c.def.choice {
		return true
	}
	for _, other := range members {
		if other == m {
			return true
		}
		name := strings.TrimPrefix(other.Name(), "_")
		if name != plain && c.isType(name) {
			if w.what&structures != 0 {
				w.add("document-structure", m.Place(), name+" and "+plain, "one of the types of "+c.def.name+"[x]",
					"Sender: say which of the two is meant and send that one alone.", "an element with a choice of types stands twice")
			}
			return false
		}
	}
	return true
}

// isType says whether a JSON name is one of the types of the same choice.
func (c *child) isType(name string) bool {
	rest, ok := strings.CutPrefix(name, c.def.name)
	return ok && rest != "" && slices.ContainsFunc(c.def.types, func(t string) bool {
		base, _, _ := strings.Cut(t, "(")
		return suffix(base) == rest
	})
}

func (w *walker) missing(n element.Node, d *definition) {
	p := n.Place()
	p.Expression += "." + d.name
	name := d.name
	if d.choice {
		name += "[x]"
	}
	w.add("document-cardinality", p, "nothing", "the element "+name+", which R4 requires here",
		"Sender: give the element "+name+".", "the required element "+name+" is missing")
}

func (w *walker) notAnArray(m element.Node) {
	if w.what&structures != 0 {
		w.add("document-structure", m.Place(), kindWords[m.Kind()], "an array, also for one element",
			"Sender: put the value into an array.", "an element that may repeat is not written as an array")
	}
}

func (w *walker) notSingle(m element.Node) {
	if w.what&structures != 0 {
		w.add("document-structure", m.Place(), "an array of "+strconv.Itoa(m.Len()), "one value without brackets",
			"Sender: give the element once and without an array.", "an element that does not repeat is written as an array")
	}
}

func (w *walker) notAnObject(v element.Node, c *child) {
	if w.what&structures != 0 {
		w.add("document-structure", v.Place(), kindWords[v.Kind()], "an object of type "+strings.TrimPrefix(c.typ, "#"),
			"Sender: write the element as an object.", "an element with parts is written as a plain value")
	}
}

// primitive judges JSON kind, format and required code.
func (w *walker) primitive(v element.Node, c *child) {
	if want := c.format.json(); v.Kind() != want {
		w.add("document-structure", v.Place(), kindWords[v.Kind()], kindWords[want]+", for the type "+c.typ,
			"Sender: write the value as "+kindWords[want]+".", "the JSON kind does not fit the type "+c.typ)
		return
	}
	s := v.Literal()
	if s == "" {
		return // refused when the document was read
	}
	if expected := c.format.fault(s); expected != "" {
		w.add("document-value", v.Place(), shown(s, c), expected,
			"Sender: write "+expected+".", "the value is no "+c.typ+" that can be accepted")
		return
	}
	if len(c.def.codes) == 0 || slices.Contains(c.def.codes, s) {
		return
	}
	expected := "a code of the value set that R4 requires"
	if len(c.def.codes) <= 20 && letter(c.def.codes[0][0]) { // comparators are signs, which nobody should read
		expected = "one of " + strings.Join(c.def.codes, ", ")
	}
	remedy := "Sender: use one of the codes that R4 requires here."
	if near := nearest(s, slices.Values(c.def.codes)); near != "" {
		remedy = "Sender: write " + near + " if that is meant."
	}
	w.add("document-value", v.Place(), shown(s, c), expected, remedy, "the code of "+c.def.name+" is outside the set that R4 requires")
}

// shown is a value for an observed text as far as it cannot be about a
// person: codes, numbers and moments are shown, save a birth date; of names,
// identifiers, addresses and free text only the length is said.
func shown(s string, c *child) string {
	switch c.format {
	case boolean, integer, positiveInt, unsignedInt, decimal:
		return strings.ToValidUTF8(s[:min(len(s), 40)], "")
	case code:
		return token(s)
	case dateTime, instant, clock:
		if len(s) <= 40 && each(s, func(c byte) bool { return digit(c) || strings.IndexByte("TtZz:+-., /", c) >= 0 }) {
			return s
		}
	}
	return "a text of " + count(len([]rune(s)), "character")
}

// token shows a word of machine-readable letters, and of anything else only
// its length.
func token(s string) string {
	if len(s) <= 60 && each(s, func(c byte) bool { return letter(c) || digit(c) || strings.IndexByte("_-.[]$:#", c) >= 0 }) {
		return strconv.Quote(s)
	}
	return "a text of " + count(len([]rune(s)), "character")
}

func count(n int, what string) string {
	if n != 1 {
		what += "s"
	}
	return strconv.Itoa(n) + " " + what
}
