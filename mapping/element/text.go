package element

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/go-json-experiment/json/jsontext"
)

// unquote gives the value of a string literal; what is no Unicode becomes
// U+FFFD (Read has reported it).
func unquote(literal string) string {
	b, _ := jsontext.AppendUnquote(make([]byte, 0, len(literal)), literal)
	return string(b)
}

// text checks the string literal from start to the position: length, UTF-8
// and surrogates, of names and values alike. It says whether there are escapes.
func (s *scanner) text(start int) (escaped bool) {
	inner := s.doc.text[start+1 : s.pos-1]
	at := int32(len(s.doc.nodes)) // the node that this string will become
	if s.expectsName() {
		at = s.open[len(s.open)-1].at
	}
	if len(inner) > s.limit.String {
		s.f.add(fault{code: limits, offset: start, at: at, what: tooLong(s.limit.String)})
	}
	if !s.valid {
		if i := invalidUTF8(inner); i >= 0 {
			s.f.add(fault{code: syntax, offset: start + 1 + i, at: at, what: notUTF8(inner[i])})
		}
	}
	if strings.IndexByte(inner, '\\') < 0 {
		return false
	}
	if i := loneSurrogate(inner); i >= 0 {
		s.f.add(fault{code: syntax, offset: start + 1 + i, at: at, what: halfCharacter(inner[i : i+6])})
	}
	return true
}

// measureName checks the length of the member name that begins at start.
func (s *scanner) measureName(start int) {
	if s.pos-start-2 > maxName {
		s.f.add(fault{code: limits, offset: start, at: s.open[len(s.open)-1].at, what: longName})
	}
}

// invalidUTF8 is the index of the first byte that is not UTF-8, or -1.
func invalidUTF8(s string) int {
	for i := 0; i < len(s); {
		r, size := utf8.DecodeRuneInString(s[i:])
		if r == utf8.RuneError && size == 1 {
			return i
		}
		i += size
	}
	return -1
}

// loneSurrogate is the index of the first \uD800 to \uDFFF that is not one of
// a pair in the right order, or -1. The text is the inside of a string
// literal whose escapes the decoder has accepted.
func loneSurrogate(s string) int {
	for i := strings.IndexByte(s, '\\'); i >= 0 && i < len(s); {
		switch {
		case s[i] != '\\':
			i++
		case s[i+1] != 'u':
			i += 2
		default:
			unit := hex4(s[i+2:])
			switch {
			case unit >= 0xD800 && unit < 0xDC00 && strings.HasPrefix(s[i+6:], `\u`) && hex4(s[i+8:])&0xFC00 == 0xDC00:
				i += 12
			case unit >= 0xD800 && unit <= 0xDFFF:
				return i
			default:
				i += 6
			}
		}
	}
	return -1
}

func hex4(s string) rune {
	var r rune
	for i := range 4 {
		c := rune(s[i])
		switch {
		case c <= '9':
			c -= '0'
		default:
			c = c&^0x20 - 'A' + 10
		}
		r = r<<4 | c
	}
	return r
}

// isBlank says whether nothing in the text would be seen: white space and
// characters that only steer the layout, such as U+200B.
func isBlank(s string) bool {
	for _, r := range s {
		if !unicode.IsSpace(r) && !unicode.Is(unicode.Cf, r) {
			return false
		}
	}
	return true
}

// controlCharacter finds a character below U+0020 that a FHIR string may not
// hold (https://hl7.org/fhir/R4/datatypes.html#string): all but tab, LF, CR.
func controlCharacter(s string) (rune, bool) {
	for i := 0; i < len(s); i++ {
		if c := s[i]; c < 0x20 && c != '\t' && c != '\n' && c != '\r' {
			return rune(c), true
		}
	}
	return 0, false
}
