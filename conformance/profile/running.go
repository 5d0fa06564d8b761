package profile

import "weir.example/weir/mapping/element"

// Running is one server as its CapabilityStatement describes it.
type Running struct {
	Version, Date string
	Address       string   // of the FHIR base
	Definitions   []string // types of which our own definitions are read and searched by url
}

// Capability says what a running server does (kind instance): only what works.
func Capability(x Running) element.Value {
	resources := []element.Value{element.Obj(element.F("type", element.Str("MedicationRequest")), element.F("supportedProfile", element.Strs(address("home-infusion-order"))),
		element.F("operation", element.List(element.Obj(element.F("name", element.Str("verify")), element.F("definition", element.Str(Canonical+"OperationDefinition/verify"))))))}
	for _, kind := range x.Definitions {
		resources = append(resources, element.Obj(element.F("type", element.Str(kind)),
			element.F("interaction", element.List(element.Obj(element.F("code", element.Str("read"))), element.Obj(element.F("code", element.Str("search-type"))))),
			element.F("versioning", element.Str("no-version")),
			element.F("searchParam", element.List(element.Obj(element.F("name", element.Str("url")), element.F("definition", element.Str("http://hl7.org/fhir/SearchParameter/conformance-url")), element.F("type", element.Str("uri")))))))
	}
	return element.Obj(
		element.F("resourceType", element.Str("CapabilityStatement")),
		element.F("status", element.Str("active")),
		element.F("date", element.Str(x.Date)),
		element.F("kind", element.Str("instance")),
		element.F("software", element.Obj(element.F("name", element.Str("Weir")), element.F("version", element.Str(x.Version)))),
		element.F("implementation", element.Obj(element.F("description", element.Str("Home-infusion orders are judged; nothing is stored")), element.F("url", element.Str(x.Address)))),
		element.F("fhirVersion", element.Str(fhirVersion)),
		element.F("format", element.Strs("application/fhir+json", "json")),
		element.F("rest", element.List(element.Obj(
			element.F("mode", element.Str("server")),
			element.F("documentation", element.Str("An unknown parameter is refused unless the request says Prefer: handling=lenient.")),
			element.F("resource", element.List(resources...))))))
}
