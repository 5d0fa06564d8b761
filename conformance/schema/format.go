package schema

import (
	"strconv"
	"strings"
	"time"

	"weir.example/weir/mapping/element"
)

// format is a primitive type of R4
// (https://hl7.org/fhir/R4/datatypes.html#primitive).
type format byte

const (
	noFormat format = iota // a complex type
	boolean
	integer
	positiveInt
	unsignedInt
	decimal
	text // string and markdown
	uri  // uri, url and canonical
	code
	id
	oid
	uuid
	base64
	date
	dateTime
	instant
	clock // time
	xhtml
)

var formats = map[string]format{"boolean": boolean, "integer": integer, "positiveInt": positiveInt, "unsignedInt": unsignedInt,
	"decimal": decimal, "string": text, "markdown": text, "uri": uri, "url": uri, "canonical": uri, "code": code, "id": id, "oid": oid,
	"uuid": uuid, "base64Binary": base64, "date": date, "dateTime": dateTime, "instant": instant, "time": clock, "xhtml": xhtml}

func (f format) known() bool { return f != noFormat }

// json is the JSON kind the type is written as.
func (f format) json() element.Kind {
	switch f {
	case boolean:
		return element.Bool
	case integer, positiveInt, unsignedInt, decimal:
		return element.Number
	}
	return element.String
}

// Years outside these are refused: nothing about a living patient or a
// course of therapy lies there, and a mistyped century does. Our decision, no
// source.
const firstYear, lastYear = 1900, 2100

// fault says what a well-formed value would have been, "" when s is one. The
// texts are for people and hold nothing of s. Strings, numbers and what they
// may hold at all have been judged when the document was read.
func (f format) fault(s string) string {
	switch f {
	case integer:
		return whole(s, -1<<31)
	case positiveInt:
		return whole(s, 1)
	case unsignedInt:
		return whole(s, 0)
	case uri:
		if !each(s, func(c byte) bool { return c > ' ' }) {
			return "an address without blanks"
		}
	case code:
		if s[0] <= ' ' || s[len(s)-1] <= ' ' || strings.Contains(s, "  ") || strings.ContainsAny(s, "\t\r\n") {
			return "a code without blanks at its ends and no two blanks together"
		}
	case id:
		if len(s) > 64 || !each(s, idCharacter) {
			return "an id of 1 to 64 letters, digits, hyphens or full stops"
		}
	case oid:
		if !isOID(s) {
			return "an object identifier such as urn:oid:2.16.840.1.113883.4.6"
		}
	case uuid:
		if !isUUID(s) {
			return "a UUID such as urn:uuid:9f1ea0d7-dc47-5cc8-b021-f5437e5a5aa9, in lower case"
		}
	case base64:
		if !isBase64(s) {
			return "data in base64"
		}
	case date:
		return day(s, false)
	case dateTime:
		return day(s, true)
	case instant:
		if len(s) < 20 {
			return "a date and time with seconds and zone, such as 2026-11-10T14:20:00-05:00"
		}
		return moment(s)
	case clock:
		if !isClock(s) {
			return "a time of day with seconds and without zone, such as 14:20:00"
		}
	case xhtml:
		return narrative(s)
	}
	return ""
}

func each(s string, ok func(byte) bool) bool {
	for i := 0; i < len(s); i++ {
		if !ok(s[i]) {
			return false
		}
	}
	return s != ""
}

func digit(c byte) bool { return c >= '0' && c <= '9' }

func letter(c byte) bool { return c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' }

func idCharacter(c byte) bool { return letter(c) || digit(c) || c == '-' || c == '.' }

// whole judges a whole number; R4's are 32 bits wide and have no exponent.
func whole(s string, least int64) string {
	n, err := strconv.ParseInt(s, 10, 64)
	if err != nil || n < least || n > 1<<31-1 {
		if least < 0 {
			return "a whole number of at most 10 digits, between minus 2,147,483,648 and 2,147,483,647"
		}
		return "a whole number from " + strconv.FormatInt(least, 10) + " to 2,147,483,647"
	}
	return ""
}

func isOID(s string) bool {
	s, ok := strings.CutPrefix(s, "urn:oid:")
	first, rest, dotted := strings.Cut(s, ".")
	if !ok || !dotted || len(first) != 1 || first[0] > '2' || !digit(first[0]) {
		return false
	}
	for part := range strings.SplitSeq(rest, ".") {
		if !each(part, digit) || len(part) > 1 && part[0] == '0' {
			return false
		}
	}
	return true
}

func isUUID(s string) bool {
	s, ok := strings.CutPrefix(s, "urn:uuid:")
	if !ok || len(s) != 36 {
		return false
	}
	for i := 0; i < len(s); i++ {
		if i == 8 || i == 13 || i == 18 || i == 23 {
			ok = ok && s[i] == '-'
		} else {
			ok = ok && (digit(s[i]) || s[i] >= 'a' && s[i] <= 'f')
		}
	}
	return ok
}

// isBase64 counts whole groups of four; R4 allows white space between them.
func isBase64(s string) bool {
	n, pad := 0, 0
	for i := 0; i < len(s); i++ {
		switch c := s[i]; {
		case c == ' ' || c == '\t' || c == '\r' || c == '\n':
		case c == '=':
			n, pad = n+1, pad+1
		case pad == 0 && (letter(c) || digit(c) || c == '+' || c == '/'):
			n++
		default:
			return false
		}
	}
	return n > 0 && n%4 == 0 && pad <= 2
}

const dayShape = "a date such as 2026-11-10, 2026-11 or 2026"

// day judges a date, and with timed a date with time of day as well.
func day(s string, timed bool) string {
	layout := ""
	switch len(s) {
	case 4:
		layout = "2006"
	case 7:
		layout = "2006-01"
	case 10:
		layout = time.DateOnly
	default:
		if timed {
			return moment(s)
		}
		return dayShape
	}
	t, err := time.Parse(layout, s)
	if err != nil {
		return dayShape + " that exists in the calendar"
	}
	return year(t)
}

func year(t time.Time) string {
	if t.Year() < firstYear || t.Year() > lastYear {
		return "a year from 1900 to 2100"
	}
	return ""
}

const momentShape = "a date, or a date and time with seconds and zone such as 2026-11-10T14:20:00-05:00"

// moment judges an instant. Hour 24 and second 60 do not exist for us; a zone
// is at most 14 hours from UTC; a fraction has at most nine digits, the
// nanoseconds we can hold.
func moment(s string) string {
	if len(s) < 20 || s[10] != 'T' || strings.ContainsRune(s, ',') {
		return momentShape
	}
	t, err := time.Parse(time.RFC3339Nano, s)
	if err != nil {
		return momentShape + ", that exists"
	}
	rest := strings.TrimRight(s[19:], "Zz")
	if i := strings.IndexAny(rest, "+-"); i >= 0 {
		hours, minutes := rest[i+1:i+3], rest[i+4:]
		if minutes > "59" || hours > "14" || hours == "14" && minutes != "00" {
			return "a zone of at most 14:00 from UTC"
		}
		rest = rest[:i]
	}
	switch {
	case s[len(s)-1] == 'z':
		return momentShape + ", with a capital Z"
	case rest == ".":
		return momentShape
	case len(rest) > 10:
		return "at most nine digits of a second"
	}
	return year(t)
}

func isClock(s string) bool {
	seconds, fraction, _ := strings.Cut(s, ".")
	_, err := time.Parse(time.TimeOnly, seconds)
	return err == nil && len(seconds) == 8 && (len(seconds) == len(s) || each(fraction, digit) && len(fraction) <= 9)
}

// narrative asks only for what makes it XHTML and no way into the machine:
// one div, and no declarations, with which entities could be defined.
func narrative(s string) string {
	s = strings.TrimSpace(s)
	if !strings.HasPrefix(s, "<div") || !strings.HasSuffix(s, "</div>") && !strings.HasSuffix(s, "/>") {
		return "one div of XHTML"
	}
	if strings.Contains(s, "<!") && !strings.HasPrefix(s[strings.Index(s, "<!"):], "<!--") || strings.Contains(s, "<?") {
		return "a div of XHTML without DOCTYPE, entity declarations and processing instructions"
	}
	return ""
}
