package r4

import (
	"strings"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/order"
)

// writeProvenance ties every resource of the answer to what it was made from
// (https://hl7.org/fhir/R4/provenance.html): the document by its content
// hash, the order, tables, policy, program, zone data and what was held. A
// hash is an ni URI (RFC 6920).
func (b *bundler) writeProvenance(targets []entry) {
	var all []element.Value
	for _, t := range targets {
		all = append(all, own(t))
	}
	s := b.w.Sources
	pharmacy := required(b.w.Refs.Pharmacy, "Organization", "the pharmacy that runs this program")
	document := reference(order.Reference{Type: "Bundle", URL: b.w.Refs.Document.URL})
	if b.w.Refs.Document.URL == "" {
		document = element.Value{}
	}
	sources := []element.Value{source(document, "document received", s.Document), used(b.order())}
	for _, x := range [][2]string{{"reference tables", s.Tables}, {"site policy", s.Policy}, {"program", s.Program}, {"time zone data", s.Zones}, {"what was held", s.Held}} {
		sources = append(sources, source(element.Value{}, x[0], x[1]))
	}
	b.proof.fields = []element.Field{
		element.F("meta", profile(known(b.w.Refs.Pharmacy), "provenance")),
		element.F("target", element.List(all...)),
		element.F("recorded", element.Str(b.now())),
		element.F("activity", codeable("http://terminology.hl7.org/CodeSystem/v3-DataOperation", "CREATE", "create", "")),
		element.F("agent", element.List(element.Obj(
			element.F("type", codeable("http://terminology.hl7.org/CodeSystem/provenance-participant-type", "author", "Author", "")),
			element.F("who", software(b.w)),
			element.F("onBehalfOf", pharmacy)))),
		element.F("entity", element.List(sources...)),
	}
}

func used(what element.Value) element.Value {
	return element.Obj(element.F("role", element.Str("source")), element.F("what", what))
}

// source is one thing the answer rests on, by its hash; words beside the
// hash (unsigned, signed by whom, version) are shown with its name. Without
// a hash it is named in words.
func source(what element.Value, name, text string) element.Value {
	if text == "" && what.Empty() {
		return element.Value{}
	}
	uri, words := hashName(text)
	return used(what.With(
		element.F("identifier", identifierValue(order.Identifier{System: "urn:ietf:rfc:3986", Value: uri})),
		element.F("display", element.Str(strings.TrimSuffix(name+", "+words, ", ")))))
}
