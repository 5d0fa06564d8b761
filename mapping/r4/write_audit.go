package r4

import (
	"encoding/base64"
	"strings"
	"time"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/order"
)

// Audit is one audit row: who did what to what. Action and Outcome are codes
// of R4 (audit-event-action, audit-event-outcome). Patient is an id. Entity
// is Type/id or another id, Also are further ones. Private may hold patient
// data.
type Audit struct {
	ID                                                        string
	At                                                        time.Time
	Action, Outcome, Agent, Patient, Entity, Request, Program string
	Detail                                                    string
	Also                                                      []string
	Private                                                   []byte
}

const (
	auditTypes    = "http://terminology.hl7.org/CodeSystem/audit-event-type"
	entityTypes   = "http://terminology.hl7.org/CodeSystem/audit-entity-type"
	entityRoles   = "http://terminology.hl7.org/CodeSystem/object-role"
	interactions  = "http://hl7.org/fhir/restful-interaction"
	auditElements = "https://profiles.ihe.net/ITI/BALP/CodeSystem/BasicAuditEntityType"
)

// Systems of the names of agents, and of the ids of what is kept, that are no
// resources.
const (
	AgentSystem  = canonical + "agent"
	RecordSystem = canonical + "record"
)

// WriteAudit writes an audit row as an AuditEvent
// (https://hl7.org/fhir/R4/auditevent.html), in the shape of IHE's Basic
// Audit Log Patterns: the patient, what it was done to, and the request's id
// are entities.
func WriteAudit(a Audit) element.Value {
	at := a.At.UTC().Format("2006-01-02T15:04:05.000000Z")
	kind := codingValue(auditTypes, "rest", "Restful Operation")
	if a.Request == "" {
		kind = codingValue("http://dicom.nema.org/resources/ontology/DCM", "110100", "Application Activity")
	}
	var subtype []element.Value
	if code := map[string]string{"C": "create", "R": "read", "U": "update", "D": "delete"}[a.Action]; code != "" && a.Request != "" {
		subtype = append(subtype, codingValue(interactions, code, code))
	}
	patient := ""
	if a.Patient != "" {
		patient = "Patient/" + a.Patient
	}
	return element.Obj(
		element.F("resourceType", element.Str("AuditEvent")),
		element.F("id", element.Str(a.ID)),
		element.F("meta", element.Obj(element.F("versionId", element.Str("1")), element.F("lastUpdated", element.Str(at)))),
		element.F("type", kind),
		element.F("subtype", element.List(subtype...)),
		element.F("action", element.Str(a.Action)),
		element.F("recorded", element.Str(at)),
		element.F("outcome", element.Str(a.Outcome)),
		element.F("outcomeDesc", element.Str(a.Detail)),
		element.F("agent", element.List(element.Obj(element.F("who", named(a.Agent, AgentSystem)), element.F("requestor", element.Boolean(true))))),
		element.F("source", element.Obj(
			element.F("observer", element.Obj(
				element.F("type", element.Str("Device")),
				element.F("identifier", identifierValue(order.Identifier{System: canonical + "software", Value: "weir"})),
				element.F("display", element.Str(strings.TrimSpace("weir "+a.Program))))),
			element.F("type", element.List(codingValue("http://terminology.hl7.org/CodeSystem/security-source-type", "4", "Application Server"))))),
		element.F("entity", element.List(auditEntities(a, patient)...)))
}

// auditEntities: what is private stands in query, where the action was one,
// else as a detail, both in base64 as R4 demands.
func auditEntities(a Audit, patient string) []element.Value {
	var out []element.Value
	private := element.Str(base64.StdEncoding.EncodeToString(a.Private))
	if patient != "" {
		out = append(out, element.Obj(element.F("what", named(patient, "")), element.F("type", codingValue(entityTypes, "1", "Person")), element.F("role", codingValue(entityRoles, "1", "Patient"))))
	}
	detail := element.Value{}
	if len(a.Private) > 0 && a.Action != "E" {
		detail = element.List(element.Obj(element.F("type", element.Str("private")), element.F("valueBase64Binary", private)))
	}
	object := func(name string, detail element.Value) {
		out = append(out, element.Obj(element.F("what", named(name, RecordSystem)), element.F("type", codingValue(entityTypes, "2", "System Object")),
			element.F("role", codingValue(entityRoles, "4", "Domain Resource")), element.F("detail", detail)))
	}
	if a.Entity != "" && a.Entity != patient || !detail.Empty() {
		object(a.Entity, detail)
	}
	for _, name := range a.Also {
		if name != patient {
			object(name, element.Value{})
		}
	}
	if len(a.Private) > 0 && a.Action == "E" {
		out = append(out, element.Obj(element.F("type", codingValue(entityTypes, "2", "System Object")), element.F("role", codingValue(entityRoles, "24", "Query")), element.F("query", private)))
	}
	if a.Request != "" {
		out = append(out, element.Obj(element.F("what", element.Obj(element.F("identifier", identifierValue(order.Identifier{Value: a.Request})))), element.F("type", codingValue(auditElements, "XrequestId", ""))))
	}
	return out
}

// named is a resource of ours by Type/id, or what has no resource by its name.
func named(name, system string) element.Value {
	if kind, id, ok := strings.Cut(name, "/"); ok && id != "" && isResourceType(kind) {
		return element.Obj(element.F("reference", element.Str(name)))
	}
	return element.Obj(element.F("identifier", identifierValue(order.Identifier{System: system, Value: name})))
}

func isResourceType(s string) bool {
	for i, c := range s {
		if (c < 'A' || c > 'Z') && (i == 0 || c < 'a' || c > 'z') {
			return false
		}
	}
	return s != ""
}
