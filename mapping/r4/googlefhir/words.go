package googlefhir

import (
	"regexp"
	"strings"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
)

// words are what a report says in ours. None holds a value of the document.
type words struct {
	code                               finding.Code
	observed, expected, remedy, detail string
	missing                            string // the required element that is absent
}

var (
	missing  = regexp.MustCompile(`^missing required field "([A-Za-z]+)"`)
	wanted   = regexp.MustCompile(`^invalid reference to an? ([A-Za-z]+) resource, want ([A-Za-z, ]+)$`)
	expected = regexp.MustCompile(`^(?:expected|invalid) ([A-Za-z0-9 -]+?)(?: format)?$`)
)

var kindWords = map[element.Kind]string{element.None: "nothing", element.Null: "null", element.Bool: "true or false", element.Number: "a number",
	element.String: "a text", element.Array: "an array", element.Object: "an object"}

// words reads the fixed texts of the library, v0.7.4.
func (r report) words(at element.Node) words {
	is := func(prefix string) bool { return strings.HasPrefix(r.text, prefix) }
	structure := func(observed, expected, remedy, detail string) words {
		return words{code: "document-structure", observed: observed, expected: expected, remedy: remedy, detail: detail}
	}
	if m := missing.FindStringSubmatch(r.text); m != nil && m[1] == "resourceType" {
		return structure("no resourceType", "a resource with its resourceType", "Sender: give the resource its resourceType.", "a resource has no resourceType")
	} else if m != nil {
		return words{code: "document-cardinality", observed: "nothing", expected: "the required element " + m[1],
			remedy: "Sender: give the element " + m[1] + ".", detail: "the required element " + m[1] + " is missing", missing: m[1]}
	}
	if m := wanted.FindStringSubmatch(r.text); m != nil {
		allowed := strings.ReplaceAll(m[2], ", ", " or ")
		return words{code: "document-reference", observed: "a reference to " + m[1], expected: "a reference to " + allowed,
			remedy: "Sender: point the reference at the " + allowed + " meant.", detail: "a reference to a type that may not stand here"}
	}
	switch {
	case is("unknown field"):
		return structure("an element of that name", "an element that R4 defines here", "Sender: use the element that FHIR R4 defines.", "an unknown element")
	case is("unknown resource type"), is("invalid resource type"):
		return structure("another resource type", "a resource type of FHIR R4", "Sender: use a resource type of FHIR R4.", "an unknown resource type")
	case is("cannot accept multiple values"):
		return structure("two types of one choice", "one of them", "Sender: say which of the two is meant.", "an element with a choice of types stands twice")
	case is("expected array"):
		return structure(kindWords[at.Kind()], "an array", "Sender: put the value into an array.", "an element that may repeat is not written as an array")
	case is("invalid JSON"):
		return structure(kindWords[at.Kind()], "an object", "Sender: write the element as an object.", "an element with parts is written as a plain value")
	case is("array length mismatch"), is("invalid extension field"), is("invalid field"):
		return structure("an element and extensions that do not fit", "as many extensions as values", "Sender: correct the element with the leading underscore.", "a primitive and its extensions do not fit")
	case is("invalid reference"):
		return words{code: "document-reference", observed: "a reference that cannot be read", expected: "a reference in a form of FHIR R4",
			remedy: "Sender: write the reference in a form of FHIR R4.", detail: "a reference that cannot be read"}
	case is("field exceeded the maximum nesting depth"):
		return words{code: "document-limit", observed: "a deeper element", expected: "at most 64 levels",
			remedy: "Sender: send the document with fewer levels.", detail: "the document is too deep"}
	}
	return r.valueWords(at)
}

// valueWords are for a primitive: of another JSON kind, or not well formed.
func (r report) valueWords(at element.Node) words {
	typ := "value"
	if m := expected.FindStringSubmatch(r.text); m != nil {
		typ = strings.ToLower(m[1])
	}
	want := element.String
	switch {
	case typ == "boolean":
		want = element.Bool
	case typ == "decimal" || strings.Contains(r.text, "integer"):
		want = element.Number
	}
	if k := at.Kind(); typ != "value" && k != element.None && k != want {
		return words{code: "document-structure", observed: kindWords[k], expected: kindWords[want] + ", for the type " + typ,
			remedy: "Sender: write the value as " + kindWords[want] + ".", detail: "the JSON kind does not fit the type " + typ}
	}
	detail := "a value that is not well formed for its type"
	if typ != "value" {
		detail = "the value is no " + typ + " of FHIR R4"
	}
	return words{code: "document-value", observed: "a value in another form", expected: "a value of the type that R4 defines here",
		remedy: "Sender: write the value as FHIR R4 defines it.", detail: detail}
}
