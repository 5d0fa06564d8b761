package element

import (
	"fmt"
	"strconv"
	"strings"
	"unicode/utf8"
)

// The texts of the faults. Each says what stands there, what may stand there
// and what to do; the place is added by faults.finding.

var (
	duplicateName = what{
		expected: "each member of an object once",
		remedy:   "Ask the sender which of the two values is meant and send the document again with that one.",
		detail:   "a member stands twice in one object",
	}
	namelessMember = what{observed: `""`, expected: "the name of an element",
		remedy: "Remove the member or give it its name.", detail: "a member has an empty name"}
	longName = what{observed: "a longer name", expected: "a member name of at most 256 bytes",
		remedy: "Remove the member; no FHIR element has so long a name.", detail: "a member name is longer than 256 bytes"}

	emptyObject = what{observed: "{}", expected: "an object with at least one member",
		remedy: "Leave the element out when it has no value.", detail: "an object is empty"}
	emptyArray = what{observed: "[]", expected: "an array with at least one element",
		remedy: "Leave the element out when it has no value.", detail: "an array is empty"}
	nestedArray = what{observed: "an array inside an array", expected: "a value or an object",
		remedy: "Send the elements in one array; FHIR has no arrays of arrays.", detail: "an array stands directly inside an array"}
	nullMember = what{observed: "null", expected: "a value, or no such member",
		remedy: "Leave the element out when it has no value.", detail: "a member is null"}
	strayNull = what{observed: "null", expected: "a value, or in an array of primitives a null whose counterpart in the companion array (the name with a leading underscore) holds something",
		remedy: "Remove the null, or send the companion array that it makes room for.", detail: "a null in an array has no counterpart"}
	notAnExtension = what{observed: "a member with a leading underscore that is neither an object nor an array of objects", expected: "an object with id or extension, or an array of such objects and nulls",
		remedy: "Send the value itself in the member without the underscore.", detail: "a member with a leading underscore holds something else than ids and extensions"}

	emptyString = what{observed: `""`, expected: "a string with at least one character",
		remedy: "Leave the element out when it has no value.", detail: "a string is empty"}
	blankString = what{observed: "white space only", expected: "a string with at least one visible character",
		remedy: "Leave the element out when it has no value.", detail: "a string holds nothing that can be seen"}
	negativeZero = what{observed: "negative zero", expected: "0, or a number that is not zero",
		remedy: "Ask the sender which number is meant.", detail: "a number is negative zero"}
	exponentOutside = what{expected: "an exponent from -20 to 20",
		remedy: "Write the number with digits and a decimal point.", detail: "the exponent of a number is outside -20 to 20"}
	tooManyDigits = what{expected: "a number of at most 18 digits",
		remedy: "Ask the sender which number is meant.", detail: "a number has more than 18 digits"}

	noType = what{observed: "an object without resourceType", expected: "a FHIR R4 resource, such as a Bundle or a MedicationRequest",
		remedy: "Send a FHIR R4 resource: its first member names its type, for example \"resourceType\": \"Bundle\".", detail: "the document is JSON but no FHIR resource: it has no resourceType"}
	misspelledType = what{observed: "the member in another spelling", expected: "resourceType",
		remedy: "Write the name of the member as resourceType; capital and small letters count.", detail: "resourceType is written with other capital letters"}
	notAType = what{observed: "no name of a type", expected: "the name of a resource type, such as Bundle",
		remedy: "Name the type of the resource, for example \"resourceType\": \"Bundle\".", detail: "resourceType does not hold the name of a type"}
)

var kindWords = map[Kind]string{
	Null: "null", Bool: "true or false", Number: "a number", String: "a string", Array: "an array", Object: "an object", None: "nothing",
}

func notAnObject(k Kind) what {
	remedy := "Send a FHIR R4 resource: a JSON object whose resourceType names its type."
	if k == Array {
		remedy = "Send the resources in one Bundle, or one document each; an array of resources is no FHIR document."
	}
	return what{observed: kindWords[k], expected: "an object with resourceType", remedy: remedy,
		detail: "the document is JSON but no FHIR resource: its root is " + kindWords[k]}
}

func oversize(size, limit int) what {
	return what{observed: thousands(size) + " bytes", expected: "at most " + thousands(limit) + " bytes",
		remedy: "Send fewer orders in one document.",
		detail: fmt.Sprintf("the document has %s bytes, %s are accepted; it was not read", thousands(size), thousands(limit))}
}

func tooDeep(limit int) what {
	return what{observed: "a further level", expected: fmt.Sprintf("at most %d arrays and objects inside each other", limit),
		remedy: "Send contained resources and extensions less deeply nested.",
		detail: fmt.Sprintf("arrays and objects stand more than %d deep in each other; the rest was not read", limit)}
}

func tooMany(limit int, of string) what {
	return what{observed: "one more", expected: fmt.Sprintf("at most %s %s", thousands(limit), of),
		remedy: "Send the document in several parts.",
		detail: fmt.Sprintf("there are more than %s %s; the rest was not read", thousands(limit), of)}
}

func tooLong(limit int) what {
	return what{observed: "a longer string", expected: fmt.Sprintf("a string of at most %s bytes", thousands(limit)),
		remedy: "Shorten the text, or send the attachment by reference.",
		detail: fmt.Sprintf("a string is longer than %s bytes", thousands(limit))}
}

// FewFaults is what the finding expects that only says that more faults were
// found than are listed.
const FewFaults = "a document with few faults"

func tooManyFaults(more int) what {
	return what{observed: thousands(more) + " more faults", expected: FewFaults,
		remedy: "Correct the faults listed and send the document again.",
		detail: fmt.Sprintf("the first %s faults found are listed, %s more are not", thousands(maxFaults), thousands(more))}
}

func unequalArrays(values, companions int) what {
	return what{observed: fmt.Sprintf("%d values and %d companions", values, companions), expected: "arrays of the same length, filled up with null",
		remedy: "Fill the shorter array with null so that each value stands opposite its own id and extensions.",
		detail: "an array of primitives and its companion array differ in length"}
}

func forbiddenCharacter(r rune) what {
	return what{observed: fmt.Sprintf("the character U+%04X", r), expected: "no control characters but tab, line feed and carriage return",
		remedy: "Remove the character and check that the text is whole.", detail: "a string holds a control character"}
}

func notUTF8(b byte) what {
	return what{observed: fmt.Sprintf("the byte 0x%02X", b), expected: "text in UTF-8",
		remedy: "Send the document in UTF-8.", detail: "a string is not UTF-8"}
}

func halfCharacter(escape string) what {
	return what{observed: escape, expected: "both halves of a surrogate pair",
		remedy: "Send the character itself in UTF-8.", detail: "a string holds half of a surrogate pair"}
}

// shown is a member for an observed text: name and value, a long value cut, a
// container only named.
func (d *Document) shown(at int32) string {
	n := Node{d, at}
	text := ""
	switch n.Kind() {
	case Array, Object:
		text = kindWords[n.Kind()]
	default:
		text = strings.ToValidUTF8(cut(d.text[n.node().start:n.node().end], 40), "\uFFFD")
	}
	return fmt.Sprintf("%s: %s", cut(strconv.Quote(n.Name()), 40), text)
}

// cut shortens a text to so many bytes, not inside a character.
func cut(s string, most int) string {
	if len(s) <= most {
		return s
	}
	for most > 0 && !utf8.RuneStart(s[most]) {
		most--
	}
	return s[:most] + "…"
}

// thousands writes a whole number with a comma from 1,000.
func thousands(n int) string {
	s := strconv.Itoa(n)
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	return s
}
