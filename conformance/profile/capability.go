package profile

import (
	_ "embed"
	"encoding/json"
	"slices"
	"sync"

	"weir.example/weir/mapping/element"
)

//go:embed capability.json
var capabilityFile []byte

// served is one resource type of the server: what may be done with it and by
// what it is searched.
type served struct {
	Type, Profile string
	Interactions  []string
	Searches      []struct{ Name, Type, Definition string }
	Include       []string
	Revinclude    []string
}

var servedRows = sync.OnceValue(func() []served {
	var file struct{ Resources []served }
	must(json.Unmarshal(capabilityFile, &file))
	return file.Resources
})

// capability is what a whole server is to offer (kind requirements). It is
// no statement that one does: a running server answers for itself
// (Capability).
func (m maker) capability() Resource {
	var resources []element.Value
	for _, s := range servedRows() {
		var interactions, searches []element.Value
		for _, i := range s.Interactions {
			interactions = append(interactions, element.Obj(element.F("code", element.Str(i))))
		}
		for _, p := range s.Searches {
			searches = append(searches, element.Obj(element.F("name", element.Str(p.Name)), element.F("definition", element.Str(p.Definition)), element.F("type", element.Str(p.Type))))
		}
		fields := []element.Field{element.F("type", element.Str(s.Type))}
		if s.Profile != "" {
			fields = append(fields, element.F("supportedProfile", element.Strs(address(s.Profile))))
		}
		fields = append(fields, element.F("interaction", element.List(interactions...)), element.F("versioning", element.Str("versioned-update")),
			element.F("conditionalCreate", element.Boolean(slices.Contains(s.Interactions, "create"))), element.F("conditionalUpdate", element.Boolean(slices.Contains(s.Interactions, "update"))),
			element.F("updateCreate", element.Boolean(false)), element.F("searchInclude", element.Strs(s.Include...)), element.F("searchRevInclude", element.Strs(s.Revinclude...)),
			element.F("searchParam", element.List(searches...)))
		if s.Type == "MedicationRequest" {
			fields = append(fields, element.F("operation", element.List(element.Obj(element.F("name", element.Str("verify")), element.F("definition", element.Str(Canonical+"OperationDefinition/verify"))))))
		}
		resources = append(resources, element.Obj(fields...))
	}
	mode := func(kind, message string) element.Value {
		return element.Obj(element.F("mode", element.Str(kind)), element.F("definition", element.Str(Canonical+"MessageDefinition/"+message)))
	}
	return m.head("CapabilityStatement", "server", "Home-infusion integration server", "What a whole server is to offer. What a running one does it says itself, at /metadata.",
		element.F("kind", element.Str("requirements")),
		element.F("fhirVersion", element.Str(fhirVersion)),
		element.F("format", element.Strs("application/fhir+json", "json")),
		element.F("rest", element.List(element.Obj(
			element.F("mode", element.Str("server")),
			element.F("documentation", element.Str("An unknown or malformed search parameter is refused unless the request says Prefer: handling=lenient. Conditional create goes by identifier only; a match with other content is answered with an OperationOutcome and a task, so that no change vanishes.")),
			element.F("resource", element.List(resources...)),
			element.F("interaction", element.List(element.Obj(element.F("code", element.Str("transaction"))), element.Obj(element.F("code", element.Str("batch")))))))),
		element.F("messaging", element.List(element.Obj(element.F("supportedMessage", element.List(mode("receiver", "home-infusion-order"), mode("sender", "home-infusion-response")))))))
}
