package r4

import (
	"encoding/base64"
	"encoding/hex"
	"strings"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// reference points at a resource of the input: by its absolute address and,
// where known, its identifier; never by a relative address.
func reference(r order.Reference) element.Value {
	v := element.Obj(element.F("reference", element.Str(r.URL)), element.F("type", element.Str(r.Type)),
		element.F("identifier", identifierValue(r.Identifier)))
	if r.URL == "" && r.Identifier.Value == "" {
		if r.Display == "" {
			return element.Value{}
		}
		v = v.With(element.F("display", element.Str(r.Display)))
	}
	return v
}

func identifierValue(i order.Identifier) element.Value {
	if i.Value == "" {
		return element.Value{}
	}
	return element.Obj(element.F("system", element.Str(i.System)), element.F("value", element.Str(i.Value)))
}

// own points at a resource of the same answer.
func own(e entry) element.Value {
	return element.Obj(element.F("reference", element.Str(e.url())), element.F("type", element.Str(e.kind)))
}

// ownIdentifier is the identifier of a resource we made.
func ownIdentifier(e entry) element.Value {
	return element.List(element.Obj(element.F("system", element.Str("urn:ietf:rfc:3986")), element.F("value", element.Str(e.url()))))
}

func codeable(system, code, display, text string) element.Value {
	v := element.Obj()
	if code != "" {
		v = v.With(element.F("coding", element.List(codingValue(system, code, display))))
	}
	return v.With(element.F("text", element.Str(text)))
}

func codingValue(system, code, display string) element.Value {
	return element.Obj(element.F("system", element.Str(system)), element.F("code", element.Str(code)), element.F("display", element.Str(display)))
}

// conceptValue writes a concept of the input again: its codes and words.
func conceptValue(c order.Concept) element.Value {
	if c.Absent() {
		return element.Value{}
	}
	var codings []element.Value
	for _, k := range c.Codings {
		codings = append(codings, codingValue(k.System, k.Code, k.Display))
	}
	return element.Obj(element.F("coding", element.List(codings...)), element.F("text", element.Str(c.Text)))
}

// amount writes a number with its UCUM unit; the unit's words stand beside
// the code for whoever shows them.
func amount(n quantity.Number, u quantity.Unit) element.Value { return decimal(n.Decimal(), u.Code()) }

func decimal(number, ucumCode string) element.Value {
	if number == "" || ucumCode == "" {
		return element.Value{}
	}
	return element.Obj(element.F("value", element.Num(number)), element.F("unit", element.Str(notation.UnitWords(ucumCode))),
		element.F("system", element.Str(ucum)), element.F("code", element.Str(ucumCode)))
}

func counted(n int, annotation string) element.Value {
	return element.Obj(element.F("value", element.Int(n)), element.F("unit", element.Str(strings.Trim(annotation, "{}"))),
		element.F("system", element.Str(ucum)), element.F("code", element.Str(annotation)))
}

func extensionOf(name, kind string, v element.Value) element.Value {
	return foreignExtension(ours+name, kind, v)
}

func foreignExtension(url, kind string, v element.Value) element.Value {
	if v.Empty() {
		return element.Value{}
	}
	return element.Obj(element.F("url", element.Str(url)), element.F("value"+kind, v))
}

// part is one part of an extension that has several.
func part(name, kind string, v element.Value) element.Value { return foreignExtension(name, kind, v) }

// hashName is a content hash as a URI (RFC 6920), from SHA-256 in hex.
func hashName(sum string) string {
	raw, err := hex.DecodeString(sum)
	if err != nil || len(raw) == 0 {
		return ""
	}
	return "ni:///sha-256;" + base64.RawURLEncoding.EncodeToString(raw)
}
