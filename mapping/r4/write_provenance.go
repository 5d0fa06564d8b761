package r4

import (
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/order"
)

// writeProvenance ties every resource of the answer to what it was made from
// (https://hl7.org/fhir/R4/provenance.html): the document by its content
// hash, tables, policy, program and zone data.
func (b *bundler) writeProvenance(e entry, targets []entry) entry {
	var all []element.Value
	for _, t := range targets {
		all = append(all, own(t))
	}
	s := b.w.Sources
	pharmacy := reference(b.w.Refs.Pharmacy)
	if pharmacy.Empty() {
		pharmacy = element.Obj(element.F("display", element.Str("the pharmacy that runs this program")))
	}
	document := element.Obj(element.F("reference", element.Str(b.w.Refs.Document.URL)),
		element.F("identifier", identifierValue(order.Identifier{System: "urn:ietf:rfc:3986", Value: hashName(s.Document)})), element.F("display", element.Str("document received")))
	named := func(what, value string) element.Value {
		return element.Obj(element.F("identifier", element.Obj(element.F("system", element.Str(canonical+"source/"+what)), element.F("value", element.Str(value)))), element.F("display", element.Str(what)))
	}
	var sources []element.Value
	for _, what := range []element.Value{document, named("tables", s.Tables), named("policy", s.Policy), named("program", s.Program), named("zones", s.Zones)} {
		sources = append(sources, element.Obj(element.F("role", element.Str("source")), element.F("what", what)))
	}
	e.fields = []element.Field{
		element.F("target", element.List(all...)),
		element.F("recorded", element.Str(b.now())),
		element.F("activity", codeable("http://terminology.hl7.org/CodeSystem/v3-DataOperation", "CREATE", "create", "")),
		element.F("agent", element.List(element.Obj(
			element.F("type", codeable("http://terminology.hl7.org/CodeSystem/provenance-participant-type", "author", "Author", "")),
			element.F("who", software(b.w)),
			element.F("onBehalfOf", pharmacy)))),
		element.F("entity", element.List(sources...)),
	}
	return e
}
