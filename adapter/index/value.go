package index

import (
	"crypto/sha256"
	"encoding/hex"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/cases"
	"golang.org/x/text/runes"
	"golang.org/x/text/transform"
	"golang.org/x/text/unicode/norm"

	"weir.example/weir/adapter"
	"weir.example/weir/mapping/element"
)

// values appends what one element is found by.
func (r *row) values(out []adapter.Value, n element.Node) []adapter.Value {
	switch r.Kind {
	case "date":
		return r.dates(out, n)
	case "string":
		if n.Text() == "" {
			return out
		}
		return append(out, adapter.Value{Name: r.Name, Text: Fold(n.Text())}, adapter.Value{Name: r.exact, Text: Short(n.Text())})
	case "reference":
		return r.references(out, n)
	}
	return r.tokens(out, n)
}

// references go by the literal reference; one to something contained, or by
// an identifier alone, is there but cannot be searched for.
func (r *row) references(out []adapter.Value, n element.Node) []adapter.Value {
	to := Reference(n.Get("reference").Text())
	if r.Only != "" && typeOf(to) != r.Only {
		return out
	}
	if strings.HasPrefix(to, "#") {
		to = ""
	}
	return append(out, adapter.Value{Name: r.Name, Text: Short(to)})
}

// tokens go by the form of the element: code, boolean, Coding,
// CodeableConcept, Identifier or ContactPoint
// (https://hl7.org/fhir/R4/search.html#token).
func (r *row) tokens(out []adapter.Value, n element.Node) []adapter.Value {
	one := func(system, text string) {
		out = append(out, adapter.Value{Name: r.Name, System: Short(system), Text: Short(text)})
	}
	system := n.Get("system").Text()
	switch {
	case n.Kind() == element.String, n.Kind() == element.Bool:
		one(r.System, n.Literal())
	case n.Kind() != element.Object:
	case r.Form == "phone":
		one("", Phone(n.Get("value").Text()))
	case n.Get("value").Exists():
		one(system, n.Get("value").Text())
	case n.Get("code").Exists():
		one(system, n.Get("code").Text())
	default:
		before := len(out)
		for c := range n.Get("coding").All() {
			if c.Get("code").Text() != "" {
				one(c.Get("system").Text(), c.Get("code").Text())
			}
		}
		if len(out) == before {
			one("", "")
		}
	}
	return out
}

// most is the length in bytes up to which a text is kept as it is. An index
// of PostgreSQL takes rows of about 2700 bytes.
const most = 500

// Short is a text as it is kept: one of more than 500 bytes as its SHA-256,
// so that equal texts stay equal.
func Short(s string) string {
	if len(s) <= most {
		return s
	}
	sum := sha256.Sum256([]byte(s))
	return "sha256:" + hex.EncodeToString(sum[:])
}

// Fold is a text without case and accents, for parameters of type string:
// compatible forms are one (NFKC), combining marks and white space that says
// nothing are gone. What is beyond 500 bytes is cut off.
func Fold(s string) string {
	plain := strings.ToLower(s)
	if strings.ContainsFunc(s, func(r rune) bool { return r >= utf8.RuneSelf }) { // most names have no such letter
		bare, _, err := transform.String(transform.Chain(norm.NFKD, runes.Remove(runes.In(unicode.Mn))), s)
		if err != nil {
			bare = s
		}
		plain = norm.NFKC.String(cases.Fold().String(bare))
	}
	plain = strings.Join(strings.Fields(plain), " ")
	for len(plain) > most {
		_, size := utf8.DecodeLastRuneInString(plain[:most+1])
		plain = plain[:most+1-size]
	}
	return plain
}

// Phone is a telephone number by its digits, with the plus before them: how
// it is spaced or bracketed says nothing. A text without digits stays.
func Phone(s string) string {
	var b strings.Builder
	for _, c := range norm.NFKC.String(s) {
		if c >= '0' && c <= '9' || c == '+' && b.Len() == 0 {
			b.WriteRune(c)
		}
	}
	if strings.Trim(b.String(), "+") == "" {
		return s
	}
	return b.String()
}
