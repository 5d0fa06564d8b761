package r4

import (
	"slices"
	"strings"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/order"
)

const afterClock = "it lies after the clock"

// listUnused lists the patient's resources from which nothing was read.
func (c *caseScope) listUnused() {
	for _, s := range c.mine {
		// An order may point at a fact that was then found unfit (after the
		// clock, entered in error): that it does is no use of the fact.
		if s.used && s.why == "" || s.kind == "Patient" {
			continue
		}
		c.notUsed(s.node, "%s", firstText(s.why, reasonFor(s)))
	}
	c.kase.Patient.Conflicts = append(c.kase.Patient.Conflicts, c.notes.faults...)
	c.kase.Patient.Conflicts = distinct(c.kase.Patient.Conflicts)
}

// leftOver lists what belongs to no patient with an order: resources of
// others, and people, places and products nothing points at.
func (r *reader) leftOver() []order.Unused {
	var n notes
	for _, s := range r.all {
		for _, c := range r.contained[s] {
			if !c.used && c.kind != "Patient" && r.personOf(c) == nil {
				n.notUsed(c.node, "nothing that is read points at this contained %s", c.kind)
			}
		}
		p := r.personOf(s)
		switch {
		case s.used:
		case p != nil && len(p.orders) > 0:
			if s.kind == "MedicationRequest" && r.superseded(s) {
				n.notUsed(s.node, "a newer version of it is in the document")
			}
		case p != nil:
			n.notUsed(s.node, "it belongs to a patient without an order in the document")
		default:
			n.notUsed(s.node, "%s", firstText(s.why, reasonFor(s)))
		}
	}
	if r.root.Get("resourceType").Text() == "Bundle" {
		for _, e := range r.root.Get("entry").Each() {
			if !e.Get("resource").Exists() {
				n.notUsed(e, "the entry holds no resource")
			}
		}
	}
	return n.unused
}

func reasonFor(s *resource) string {
	if slices.Contains(readTypes, s.kind) {
		return "nothing in this " + s.kind + " is read by a rule"
	}
	if slices.Contains(pointedTypes, s.kind) {
		return "nothing that is read points at this " + s.kind
	}
	return "no rule reads " + s.kind
}

// Types that are read for the patient, and types that are read only where
// something points at them.
var (
	readTypes = []string{"AllergyIntolerance", "Appointment", "CarePlan", "CareTeam", "Condition", "Device", "DeviceRequest", "DeviceUseStatement",
		"DocumentReference", "Encounter", "EpisodeOfCare", "Flag", "List", "MedicationAdministration", "MedicationDispense", "MedicationRequest",
		"MedicationStatement", "Observation", "Patient", "Procedure", "Provenance", "RelatedPerson", "ServiceRequest", "SupplyRequest", "Task"}
	pointedTypes = []string{"DiagnosticReport", "Location", "Medication", "Organization", "Practitioner", "PractitionerRole", "Specimen", "HealthcareService"}
)

// Elements of the order that are read, or that carry no fact of it. Every
// other one is listed as not used.
var (
	readOrderElements = []string{"resourceType", "id", "meta", "contained", "extension", "modifierExtension", "implicitRules", "identifier", "status",
		"statusReason", "intent", "category", "doNotPerform", "medicationCodeableConcept", "medicationReference", "subject", "encounter",
		"supportingInformation", "authoredOn", "requester", "reasonCode", "reasonReference", "basedOn", "note", "dosageInstruction",
		"dispenseRequest", "priorPrescription"}
	readDosageElements = []string{"sequence", "text", "additionalInstruction", "patientInstruction", "timing", "asNeededBoolean",
		"asNeededCodeableConcept", "site", "route", "method", "doseAndRate", "maxDosePerPeriod", "maxDosePerAdministration", "maxDosePerLifetime",
		"extension", "modifierExtension", "id"}
	readDispenseElements = []string{"initialFill", "validityPeriod", "numberOfRepeatsAllowed", "quantity", "expectedSupplyDuration", "performer",
		"extension", "modifierExtension", "id"}
	readMedicationElements = []string{"resourceType", "id", "meta", "contained", "modifierExtension", "implicitRules", "identifier", "code", "status",
		"form", "amount", "ingredient", "batch"}
	readExtensions = []string{ours + "prior-exposure", ours + "delivery-address", ours + "dose-basis", ours + "rate-step", ours + "access-lumen",
		fromR5 + "MedicationRequest.statusChanged", fromR5 + "MedicationRequest.effectiveDosePeriod", fromR5 + "MedicationRequest.device", mcodeBasis}
)

// listUnreadElements lists members of the order and its Medication that no
// rule reads.
func (o *orderScope) listUnreadElements() {
	o.unreadMembers(o.res.node, readOrderElements)
	for _, d := range o.res.node.Get("dosageInstruction").Each() {
		o.unreadMembers(d, readDosageElements)
	}
	o.unreadMembers(o.res.node.Get("dispenseRequest"), readDispenseElements)
	if o.medication != nil {
		o.unreadMembers(o.medication.node, readMedicationElements)
	}
}

func (o *orderScope) unreadMembers(n element.Node, read []string) {
	for _, m := range n.Members() {
		name := strings.TrimPrefix(m.Name(), "_")
		if !slices.Contains(read, name) {
			o.notUsed(m, "no rule reads this element")
			continue
		}
		if name != "extension" {
			continue
		}
		for _, x := range m.Each() {
			if !slices.Contains(readExtensions, x.Get("url").Text()) {
				o.notUsed(x, "this extension is not known")
			}
		}
	}
}
