package element

import (
	"fmt"
	"strings"
	"unicode/utf8"
)

const byteOrderMark = "\uFEFF"

var marked = what{observed: "the byte order mark U+FEFF", expected: "a document that begins with {",
	remedy: "Send the document in UTF-8 without a byte order mark.", detail: "the document begins with a byte order mark"}

// recognise names what the document is when it is plainly something else than
// JSON, so that the sender is told that and not which byte was unexpected.
func recognise(text string) (what, bool) {
	const want = "FHIR R4 in JSON"
	other := func(is, remedy string) (what, bool) {
		return what{observed: is, expected: want, remedy: remedy, detail: "the document is " + is + ", not JSON"}, true
	}
	body := strings.TrimLeft(strings.TrimPrefix(text, byteOrderMark), " \t\r\n")
	switch {
	case body == "":
		return what{observed: "nothing", expected: want, remedy: "Send a FHIR R4 resource in JSON; check that the file or the body arrived whole.",
			detail: "the document is empty"}, true
	case strings.HasPrefix(text, "\xFE\xFF"), strings.HasPrefix(text, "\xFF\xFE"),
		looksWide(text):
		return other("text in UTF-16 or UTF-32", "Send the document in UTF-8.")
	case strings.HasPrefix(text, "\x1F\x8B"):
		return other("compressed with gzip", "Send it uncompressed, or name the compression (Content-Encoding: gzip; a file name ending in .gz).")
	case strings.HasPrefix(text, "PK\x03\x04"):
		return other("a ZIP archive", "Unpack it and send the FHIR JSON files in it.")
	case strings.HasPrefix(text, "%PDF"):
		return other("a PDF", "Send the order as FHIR JSON; a printed page cannot be checked.")
	case strings.HasPrefix(body, "MSH|"):
		return other("an HL7 version 2 message", "Send the order as FHIR R4 JSON.")
	case strings.HasPrefix(body, "<"):
		if start := strings.ToLower(cut(body, 256)); strings.Contains(start, "<html") || strings.Contains(start, "<!doctype html") {
			return other("an HTML page", "This is a page for people, perhaps of a sign-in or an error; send FHIR JSON.")
		}
		return other("XML", "This is XML; send FHIR JSON (application/fhir+json).")
	}
	return what{}, false
}

// looksWide says whether the text has the zero bytes that ASCII gets in
// UTF-16 or UTF-32: in its first bytes, one of every two is zero, always on
// the same side.
func looksWide(text string) bool {
	if len(text) < 4 || len(text)%2 != 0 || (text[0] == 0) == (text[1] == 0) {
		return false
	}
	side := 0
	if text[1] == 0 {
		side = 1
	}
	for i := 0; i+1 < min(len(text), 16); i += 2 {
		if text[i+side] != 0 {
			return false
		}
	}
	return true
}

// trailing describes what stands behind the end of the document.
func trailing(rest string) what {
	w := what{observed: shownCharacter(rest), expected: "nothing after the end of the document",
		remedy: "Remove what follows the document.", detail: "something follows the end of the document"}
	switch {
	case rest[0] == '{' || rest[0] == '[':
		w.remedy = "Send one document; several, one a line, go in a file whose name ends in .ndjson."
		w.detail = "a second document follows the first"
	case strings.HasPrefix(rest, "//"), strings.HasPrefix(rest, "/*"), rest[0] == '#':
		w.remedy = "Remove the comment; JSON has none."
		w.detail = "a comment follows the document"
	}
	return w
}

// malformed describes a fault of JSON's grammar at the offset; inside is the
// position of the array or object it is in, "" at the root.
func malformed(text string, offset int, inString bool, inside string) what {
	if offset >= len(text) {
		w := what{observed: "the end of the document", expected: "the rest of it",
			remedy: "Send the document again, whole.", detail: "the document ends before it is complete"}
		if inside != "" {
			w.detail += "; what begins at " + inside + " is not closed"
		}
		return w
	}
	w := what{observed: shownCharacter(text[offset:]), expected: "strict JSON (RFC 8259)",
		remedy: "Send strict JSON; any JSON library writes it.", detail: "the document is not JSON from here on"}
	if inside == "" {
		w.detail, w.remedy = "the document is not JSON", "Send a FHIR R4 resource in JSON."
	}
	if inString {
		w.detail = "a string holds a character or an escape that JSON does not allow"
		w.remedy = `Write control characters, quotes and backslashes inside a string as escapes, such as \n.`
		return w
	}
	var before, after byte
	if b := strings.TrimRight(text[:offset], " \t\r\n"); b != "" {
		before = b[len(b)-1]
	}
	if a := strings.TrimLeft(text[offset+1:], " \t\r\n"); a != "" {
		after = a[0]
	}
	switch c := text[offset]; {
	case c == '/' || c == '#':
		w.detail, w.remedy = "there is a comment", "Remove the comment; JSON has none."
	case inside != "" && strings.IndexByte("NIu", c) >= 0:
		w.detail, w.remedy = "there is a word such as NaN or Infinity", "Leave the element out when it has no value."
	case inside != "" && isLetter(c):
		w.detail, w.remedy = "there is a word that JSON does not know", "Write true, false and null in small letters and every other word in double quotes."
	case c == '\'':
		w.detail, w.remedy = "there is a single quote", `Put names and strings in double quotes (").`
	case c == ',' && (after == '}' || after == ']'), (c == '}' || c == ']') && before == ',':
		w.detail, w.remedy = "a comma stands before a closing sign", "Remove the comma, and check that no element is missing after it."
	case c == ',':
		w.detail, w.remedy = "a comma stands where a value was expected", "Remove the comma, and check that no value is missing before it."
	case c >= '0' && c <= '9' && text[offset-min(offset, 1)] == '0':
		w.detail, w.remedy = "a number begins with a zero that JSON does not allow", "Write the number without zeros before it, as in 1 or 0.5, and check that no decimal point is missing."
	case c == '+' || c == '.':
		w.detail, w.remedy = "a number is not written as JSON demands", "Write the number without a plus sign and with a digit on both sides of the point, as in 0.5."
	case c == '"':
		w.detail, w.remedy = "a comma or colon is missing", "Put a comma between members and a colon after a name."
	case c < 0x20:
		w.detail = "there is a control character between values"
	}
	return w
}

// shownCharacter names the first character of a text so that it can be read
// whatever it is.
func shownCharacter(text string) string {
	r, size := utf8.DecodeRuneInString(text)
	switch {
	case r == utf8.RuneError && size <= 1:
		return fmt.Sprintf("the byte 0x%02X", text[0])
	case r <= ' ' || r >= 0x7F:
		return fmt.Sprintf("the character U+%04X", r)
	}
	return "the character " + string(r)
}
