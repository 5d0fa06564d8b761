package r4

import (
	"weir.example/weir/mapping/element"
)

// visits are the tasks that bring a nurse into the home.
var visits = map[string]bool{"first-visit": true, "weekly-visit": true, "disconnect": true, "laboratory-draw": true}

// writeServices proposes the nursing visits, blood draws among them
// (https://hl7.org/fhir/R4/servicerequest.html). What is to be measured in
// the blood is the hospital's order and is not repeated.
func (b *bundler) writeServices() []entry {
	var out []entry
	for _, t := range b.w.Tasks {
		if !visits[t.Code] {
			continue
		}
		says := t.Title
		if t.Says != "" {
			says += " (" + t.Says + ")"
		}
		worker := workers["nurse"]
		e := b.make("ServiceRequest", t.Code)
		e.fields = []element.Field{
			element.F("identifier", ownIdentifier(e)),
			element.F("basedOn", element.List(b.order())),
			element.F("status", element.Str("draft")),
			element.F("intent", element.Str("proposal")),
			element.F("category", element.List(codeable("", "", "", "Home nursing"))),
			element.F("priority", element.Str(t.Priority)),
			element.F("code", codeable(ourCodes+"task", t.Code, t.Title, says)),
			element.F("subject", b.patient()),
			element.F("encounter", b.encounter()),
			element.F("occurrenceDateTime", element.Str(t.Due)),
			element.F("authoredOn", element.Str(b.now())),
			element.F("performerType", codeable(snomed, worker[0], worker[1], "")),
			element.F("locationCode", element.List(codeable("http://terminology.hl7.org/CodeSystem/v3-RoleCode", "PTRES", "Patient's Residence", ""))),
		}
		out = append(out, e)
	}
	return out
}
