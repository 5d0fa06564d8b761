package profile

import (
	"slices"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/r4"
)

// Running is one server as its CapabilityStatement describes it.
type Running struct {
	Version, Date string
	Address       string   // of the FHIR base
	Definitions   []string // types of which our own definitions are read and searched by url
	Kinds         []Kind   // what is stored and can be read and searched, sorted by type; none without a store
	Write         bool     // what is read as input can be created and updated, one by one and in Bundles
	Messages      bool     // $process-message is answered
}

// Kind is a resource type that a running server has stored.
type Kind struct {
	Type     string
	Searches []Search
	Includes []string // Type:parameter
}

// Search is a search parameter of a type, by its canonical address.
type Search struct{ Name, Type, Definition string }

// Written says whether a client may write a resource type: those that an
// order and what it rests on are read from (mapping/r4/inputs.json).
func Written(kind string) bool { return slices.Contains(r4.InputTypes(), kind) }

// profileOf is the profile of ours that a type is held to, "" for none.
func profileOf(kind string) string {
	for _, s := range servedRows() {
		if s.Type == kind {
			return s.Profile
		}
	}
	return ""
}

func coded(list ...string) element.Value {
	var out []element.Value
	for _, code := range list {
		out = append(out, element.Obj(element.F("code", element.Str(code))))
	}
	return element.List(out...)
}

// stored is what can be done with a type that is stored.
func (x Running) stored(k Kind) element.Value {
	var searches []element.Value
	for _, s := range k.Searches {
		searches = append(searches, element.Obj(element.F("name", element.Str(s.Name)), element.F("definition", element.Str(s.Definition)), element.F("type", element.Str(s.Type))))
	}
	written := x.Write && Written(k.Type)
	interactions := []string{"read", "vread", "history-instance", "search-type"}
	if written {
		interactions = append(interactions, "create", "update")
	}
	fields := []element.Field{element.F("type", element.Str(k.Type))}
	if p := profileOf(k.Type); p != "" {
		fields = append(fields, element.F("supportedProfile", element.Strs(address(p))))
	}
	fields = append(fields, element.F("interaction", coded(interactions...)), element.F("versioning", element.Str("versioned")), element.F("readHistory", element.Boolean(true)))
	if written {
		fields[len(fields)-2] = element.F("versioning", element.Str("versioned-update"))
		fields = append(fields, element.F("updateCreate", element.Boolean(false)), element.F("conditionalCreate", element.Boolean(true)))
	}
	fields = append(fields, element.F("conditionalRead", element.Str("not-match")))
	if written {
		fields = append(fields, element.F("conditionalUpdate", element.Boolean(true)))
	}
	fields = append(fields, element.F("referencePolicy", element.Strs("literal", "logical")), element.F("searchInclude", element.Strs(k.Includes...)),
		element.F("searchRevInclude", element.Strs("Provenance:target")), element.F("searchParam", element.List(searches...)))
	if k.Type == "MedicationRequest" {
		fields = append(fields, verifyOperation())
	}
	return element.Obj(fields...)
}

func verifyOperation() element.Field {
	return element.F("operation", element.List(element.Obj(element.F("name", element.Str("verify")), element.F("definition", element.Str(Canonical+"OperationDefinition/verify")))))
}

// Capability says what a running server does (kind instance): only what works.
func Capability(x Running) element.Value {
	var resources []element.Value
	does, says := "Home-infusion orders are judged; nothing is stored", "An unknown parameter is refused unless the request says Prefer: handling=lenient."
	if len(x.Kinds) == 0 {
		resources = append(resources, element.Obj(element.F("type", element.Str("MedicationRequest")), element.F("supportedProfile", element.Strs(address("home-infusion-order"))), verifyOperation()))
	} else {
		does = "Home-infusion orders are judged; what was received and what was made of it can be read"
		says += " Searches take _count up to 500, _sort by one parameter, _include and _revinclude as listed for each type; modifiers :exact and :contains of strings, :not of tokens, :missing of all but _id and _lastUpdated; patient.identifier beside patient (not of AuditEvent). Tokens are compared to the byte, and a time without a zone is one of UTC. AuditEvents come newest first, and one value of a parameter at a time is compared."
	}
	for _, k := range x.Kinds {
		resources = append(resources, x.stored(k))
	}
	for _, kind := range x.Definitions {
		resources = append(resources, element.Obj(element.F("type", element.Str(kind)),
			element.F("interaction", coded("read", "search-type")),
			element.F("versioning", element.Str("no-version")),
			element.F("searchParam", element.List(element.Obj(element.F("name", element.Str("url")), element.F("definition", element.Str("http://hl7.org/fhir/SearchParameter/conformance-url")), element.F("type", element.Str("uri")))))))
	}
	rest := element.Obj(element.F("mode", element.Str("server")))
	var operations, messaging element.Value
	if x.Write {
		does = "Home-infusion orders are received, judged and stored"
		says += " Conditional create and update go by identifier only; a match with other content is answered with an OperationOutcome and a task, so that no change vanishes."
	}
	rest = rest.With(element.F("documentation", element.Str(says)), element.F("resource", element.List(resources...)))
	if x.Write {
		rest = rest.With(element.F("interaction", coded("transaction", "batch")))
	}
	if x.Messages {
		operations = element.List(element.Obj(element.F("name", element.Str("process-message")), element.F("definition", element.Str("http://hl7.org/fhir/OperationDefinition/MessageHeader-process-message"))))
		messaging = element.List(element.Obj(element.F("supportedMessage", element.List(
			element.Obj(element.F("mode", element.Str("receiver")), element.F("definition", element.Str(Canonical+"MessageDefinition/home-infusion-order"))),
			element.Obj(element.F("mode", element.Str("sender")), element.F("definition", element.Str(Canonical+"MessageDefinition/home-infusion-response")))))))
	}
	return element.Obj(
		element.F("resourceType", element.Str("CapabilityStatement")),
		element.F("status", element.Str("active")),
		element.F("date", element.Str(x.Date)),
		element.F("kind", element.Str("instance")),
		element.F("software", element.Obj(element.F("name", element.Str("Weir")), element.F("version", element.Str(x.Version)))),
		element.F("implementation", element.Obj(element.F("description", element.Str(does)), element.F("url", element.Str(x.Address)))),
		element.F("fhirVersion", element.Str(fhirVersion)),
		element.F("format", element.Strs("application/fhir+json", "json")),
		element.F("rest", element.List(rest.With(element.F("operation", operations)))),
		element.F("messaging", messaging))
}
