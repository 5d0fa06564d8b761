package r4

import (
	"strconv"
	"strings"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/worksheet"
)

// reference points at a resource of the input: by its absolute address and,
// where known, its identifier; never by a relative address.
func reference(r order.Reference) element.Value {
	url := r.URL
	if !strings.Contains(url, "://") && !strings.HasPrefix(url, "urn:") {
		url = ""
	}
	if url == "" && r.Identifier.Value == "" && r.Display == "" {
		return element.Value{}
	}
	return element.Obj(
		element.F("reference", element.Str(url)),
		element.F("type", element.Str(r.Type)),
		element.F("identifier", identifierValue(r.Identifier)),
		element.F("display", element.When(url == "" && r.Identifier.Value == "", element.Str(r.Display))))
}

// required is a reference that R4 or the contract demands: what the input
// gave no address and no identifier is named in words.
func required(r order.Reference, kind, words string) element.Value {
	if v := reference(r); !v.Empty() {
		return v
	}
	return element.Obj(element.F("type", element.Str(kind)), element.F("display", element.Str(words)))
}

// patient, order and encounter stand in nearly every resource, and are made
// once.
func (b *bundler) patient() element.Value   { return b.refs.patient }
func (b *bundler) order() element.Value     { return b.refs.order }
func (b *bundler) encounter() element.Value { return b.refs.encounter }

type refs struct{ patient, order, encounter element.Value }

func refsOf(r worksheet.References) refs {
	return refs{patient: required(r.Patient, "Patient", "the patient of the order received"),
		order: required(r.Order, "MedicationRequest", "the order received"), encounter: reference(r.Encounter)}
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
	return element.List(identifierValue(order.Identifier{System: "urn:ietf:rfc:3986", Value: e.url()}))
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
	var codings []element.Value
	for _, k := range c.Codings {
		codings = append(codings, codingValue(k.System, k.Code, k.Display))
	}
	return element.Obj(element.F("coding", element.List(codings...)), element.F("text", element.Str(c.Text)))
}

// amount writes a number with its UCUM unit. The digits are the exact value
// without trailing zeros, since a person may read them; a value whose
// decimals do not end has six significant digits.
func amount(n quantity.Number, u quantity.Unit) element.Value { return decimal(n.Decimal(), u.Code()) }

// decimal is a Quantity; what is no number is left out, as R4 allows no
// words there. The number is written anew, because a text such as 00.5 is a
// number here and none in JSON. The unit stands in words beside its code.
func decimal(number, ucumCode string) element.Value {
	n, err := quantity.ParseNumber(number)
	if err != nil {
		return element.Value{}
	}
	v := element.Obj(element.F("value", element.Num(n.Decimal())))
	if ucumCode == "" {
		return v
	}
	unit := strings.TrimPrefix(notation.Value(n, ucumCode), notation.Number(n)+" ")
	if strings.HasPrefix(unit, "`") || ucumCode == "1" {
		unit = ucumCode // no words for it
	}
	return v.With(element.F("unit", element.Str(unit)), element.F("system", element.Str(ucum)), element.F("code", element.Str(ucumCode)))
}

// counted is a number of things. UCUM writes what is counted in braces, in
// ASCII without blanks; a thing that cannot be written so is counted by 1.
func counted(n int, thing string) element.Value {
	code := strings.Map(func(r rune) rune {
		if r < '!' || r > '~' || r == '{' || r == '}' {
			return -1
		}
		return r
	}, strings.Join(strings.Fields(thing), "_"))
	if code == "" {
		return decimal(strconv.Itoa(n), "1")
	}
	return decimal(strconv.Itoa(n), "{"+code+"}")
}

// between writes a point as a Quantity under name+"Quantity", an interval
// as a Range under name+"Range".
func between(name string, q quantity.Quantity) element.Field {
	if q.IsPoint() {
		return element.F(name+"Quantity", amount(q.Low, q.Unit))
	}
	return element.F(name+"Range", element.Obj(element.F("low", amount(q.Low, q.Unit)), element.F("high", amount(q.High, q.Unit))))
}

func ratio(numerator, denominator quantity.Quantity) element.Value {
	return element.Obj(element.F("numerator", amount(numerator.Low, numerator.Unit)), element.F("denominator", amount(denominator.Low, denominator.Unit)))
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

// nested is an extension of several parts; a part's url is its bare name.
func nested(name string, parts ...element.Value) element.Value {
	if element.List(parts...).Empty() {
		return element.Value{}
	}
	return element.Obj(element.F("url", element.Str(ours+name)), element.F("extension", element.List(parts...)))
}

// profile claims a US Core profile, which may be done only where it is met.
func profile(met bool, name string) element.Value {
	return element.When(met, element.Obj(element.F("profile", element.Strs("http://hl7.org/fhir/us/core/StructureDefinition/us-core-"+name))))
}

// known reports whether a reference has an address or an identifier.
func known(r order.Reference) bool { return r.URL != "" || r.Identifier.Value != "" }
