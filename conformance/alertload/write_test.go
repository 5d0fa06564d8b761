package alertload_test

import (
	"encoding/json"
	"fmt"
	"time"
)

// object is a JSON object.
type object = map[string]any

const (
	base    = "https://hospital.example/fhir/"
	ucum    = "http://unitsofmeasure.org"
	rxnorm  = "http://www.nlm.nih.gov/research/umls/rxnorm"
	loinc   = "http://loinc.org"
	snomed  = "http://snomed.info/sct"
	weirs   = "https://weir.example/fhir/CodeSystem/"
	extends = "https://weir.example/fhir/StructureDefinition/"
)

func amount(value, unit string) object {
	return object{"value": json.Number(value), "unit": unit, "system": ucum, "code": unit}
}

func coded(system, code, display string) object {
	return object{"coding": []object{{"system": system, "code": code, "display": display}}, "text": display}
}

func drug(code, name string) object {
	if code == "" {
		return object{"text": name}
	}
	return coded(rxnorm, code, name)
}

func to(ref string) object { return object{"reference": ref} }

var (
	patient     = to("Patient/p")
	prescriber  = to("PractitionerRole/r")
	intravenous = coded(snomed, "47625008", "Intravenous route")
)

func when(t time.Time) string { return t.Format(time.RFC3339) }
func date(t time.Time) string { return t.Format("2006-01-02") }

// resources writes the order and all that travels with it, by reference.
func (o complete) resources() []object {
	gender := map[bool]string{true: "female", false: "male"}[o.female]
	out := []object{
		{"resourceType": "Patient", "id": "p", "active": true, "identifier": []object{{"type": coded("http://terminology.hl7.org/CodeSystem/v2-0203", "MR", "Medical record number"),
			"system": "https://hospital.example/mrn", "value": fmt.Sprintf("H-%06d", o.number)}}, "name": []object{{"use": "official", "family": "Example", "given": []string{"Patient"}}},
			"telecom": []object{{"system": "phone", "value": "+1-555-0117", "use": "home"}}, "gender": gender, "birthDate": date(o.born),
			"address": []object{{"extension": []object{{"url": extends + "home-time-zone", "valueCode": o.zone}}, "use": "home", "line": []string{"1 Example Road"}, "city": "Exampleton", "state": o.state, "country": "US"}}},
		{"resourceType": "Practitioner", "id": "d", "name": []object{{"family": "Prescriber", "given": []string{"Example"}}}, "telecom": []object{{"system": "phone", "value": "+1-555-0133"}}},
		{"resourceType": "PractitionerRole", "id": "r", "active": true, "practitioner": to("Practitioner/d"), "telecom": []object{{"system": "phone", "value": "+1-555-0133"}}},
		{"resourceType": "Encounter", "id": "e", "status": "in-progress", "class": object{"system": "http://terminology.hl7.org/CodeSystem/v3-ActCode", "code": "IMP"}, "subject": patient,
			"period": object{"start": when(o.discharge.AddDate(0, 0, -9)), "end": when(o.discharge)}},
		{"resourceType": "AllergyIntolerance", "id": "a", "clinicalStatus": coded("http://terminology.hl7.org/CodeSystem/allergyintolerance-clinical", "active", "Active"),
			"verificationStatus": coded("http://terminology.hl7.org/CodeSystem/allergyintolerance-verification", "confirmed", "Confirmed"),
			"code":               coded(snomed, "716186003", "No known allergy"), "patient": patient},
		o.observation("weight", lab{"29463-7", "Body weight"}, o.weight, "kg"), o.observation("height", lab{"8302-2", "Body height"}, o.height, "cm"),
		o.observation("creatinine", creatinine, o.scr, "mg/dL"),
		o.medication(), o.request(), o.device(),
		{"resourceType": "Device", "id": "line", "status": "active", "type": coded(snomed, o.access.code, o.access.text), "patient": patient,
			"property": []object{{"type": coded(weirs+"access-property", "lumen-count", "Number of lumens"), "valueQuantity": []object{amount(fmt.Sprint(o.access.lumens), "{lumen}")}}}},
		{"resourceType": "DeviceUseStatement", "id": "use", "status": "active", "subject": patient, "device": to("Device/line"), "timingPeriod": object{"start": when(o.placed)}},
		{"resourceType": "Procedure", "id": "placing", "status": "completed", "code": object{"text": "Insertion of the line"}, "subject": patient, "performedDateTime": when(o.placed),
			"outcome": object{"text": "Tip position confirmed by radiograph"}, "focalDevice": []object{{"manipulated": to("Device/line")}}},
		{"resourceType": "CareTeam", "id": "team", "status": "active", "subject": patient, "participant": []object{{"role": []object{coded(weirs+"care-role", "follows-after-discharge", "Follows after discharge"),
			coded(weirs+"care-role", "receives-results", "Receives laboratory results")}, "member": prescriber}}},
		{"resourceType": "ServiceRequest", "id": "plan", "status": "active", "intent": "order", "code": coded(weirs+"access-plan", "remove", "Remove after the last dose"), "subject": patient,
			"occurrenceDateTime": date(o.end.AddDate(0, 0, 1))},
	}
	for i, at := range o.given {
		status := "completed"
		if at.Add(time.Duration(o.card.minutes) * time.Minute).After(o.now) {
			status = "in-progress"
		}
		out = append(out, object{"resourceType": "MedicationAdministration", "id": fmt.Sprintf("given-%d", i), "status": status, "category": coded("http://terminology.hl7.org/CodeSystem/medication-admin-category", "inpatient", "Inpatient"),
			"medicationCodeableConcept": drug(o.card.code, o.card.name), "subject": patient, "effectiveDateTime": when(at), "dosage": object{"route": intravenous, "dose": amount(o.dose, o.card.unit)}})
	}
	for i, t := range o.card.tests {
		out = append(out, object{"resourceType": "ServiceRequest", "id": fmt.Sprintf("lab-%d", i), "status": "active", "intent": "order", "category": []object{coded(snomed, "108252007", "Laboratory procedure")},
			"extension": []object{{"url": extends + "results-recipient", "valueReference": prescriber}}, "code": coded(loinc, t.code, t.display), "subject": patient, "performer": []object{to("PractitionerRole/r")},
			"occurrenceTiming": object{"repeat": object{"boundsPeriod": object{"start": date(o.first), "end": date(o.end)}, "frequency": 2, "period": 1, "periodUnit": "wk", "dayOfWeek": []string{"mon", "thu"}}}})
	}
	if o.card.anti {
		out = append(out, object{"resourceType": "DocumentReference", "id": "consult", "status": "current", "type": coded(loinc, "11488-4", "Consult note"), "subject": patient,
			"date": when(o.now.AddDate(0, 0, -2)), "content": []object{{"attachment": object{"contentType": "text/plain", "title": "Infectious disease consult"}}}})
	}
	for i, b := range o.card.with {
		out = append(out, object{"resourceType": "MedicationRequest", "id": fmt.Sprintf("with-%d", i), "status": "active", "intent": "order", "category": []object{coded(weirs+"order-role", b.role, b.role)},
			"identifier": []object{{"system": "https://hospital.example/order", "value": fmt.Sprintf("W-%06d-%d", o.number, i)}}, "medicationCodeableConcept": drug(b.code, b.name), "subject": patient,
			"basedOn": []object{to("MedicationRequest/order")}, "requester": prescriber, "dosageInstruction": []object{{"text": b.text, "route": intravenous, "doseAndRate": []object{{"doseQuantity": amount(b.dose, b.unit)}}}}})
	}
	if o.card.backup {
		second := o.device()
		second["id"] = "device-2"
		out = append(out, second)
	}
	if o.card.check {
		checker := func(id string) object {
			return object{"type": coded("http://terminology.hl7.org/CodeSystem/provenance-participant-type", "verifier", "Verifier"), "who": to("Practitioner/" + id)}
		}
		for _, id := range []string{"c1", "c2"} {
			out = append(out, object{"resourceType": "Practitioner", "id": id, "name": []object{{"family": "Checker " + id}}})
		}
		out = append(out, object{"resourceType": "Provenance", "id": "checked", "target": []object{to("MedicationRequest/order")}, "recorded": when(o.now.Add(-time.Hour)), "agent": []object{checker("c1"), checker("c2")}})
	}
	return out
}

func (o complete) observation(id string, test lab, value, unit string) object {
	return object{"resourceType": "Observation", "id": id, "status": "final", "code": coded(loinc, test.code, test.display), "subject": patient,
		"effectiveDateTime": when(o.now.AddDate(0, 0, -1)), "valueQuantity": amount(value, unit)}
}

func (o complete) medication() object {
	form := "Solution for infusion, in a bag"
	switch {
	case o.card.device == "elastomeric":
		form = "Solution for infusion, in an elastomeric reservoir"
	case o.continuous():
		form = "Solution for infusion, in a pump reservoir"
	case o.card.mixed:
		form = "Powder in a vial"
	}
	return object{"resourceType": "Medication", "id": "bag", "code": drug(o.card.code, o.card.name), "form": object{"text": form}, "amount": object{"numerator": amount(fmt.Sprint(o.card.volume), "mL"), "denominator": amount("1", "{container}")},
		"ingredient": []object{{"itemCodeableConcept": drug(o.card.code, o.card.name), "isActive": true, "strength": object{"numerator": amount(o.dose, o.card.unit), "denominator": amount(fmt.Sprint(o.card.volume), "mL")}},
			{"itemCodeableConcept": object{"text": o.card.fluid}, "isActive": false}}}
}

func (o complete) request() object {
	repeat := object{"boundsPeriod": object{"start": when(o.first), "end": when(o.end)}, "duration": o.card.minutes, "durationUnit": "min", "frequency": 1, "period": o.card.hours, "periodUnit": "h"}
	if o.doses == 1 {
		repeat["count"] = 1
	}
	rate := object{"doseQuantity": amount(o.dose, o.card.unit)}
	if o.rate != "" {
		rate["rateQuantity"] = amount(o.rate, "mL/h")
	}
	text := o.card.name + " " + o.dose + " " + o.card.unit + " IV"
	if o.card.mixed {
		text += ", mixed just before use"
	}
	return object{"resourceType": "MedicationRequest", "id": "order", "identifier": []object{{"use": "official", "type": coded("http://terminology.hl7.org/CodeSystem/v2-0203", "PLAC", "Placer Identifier"),
		"system": "https://hospital.example/order", "value": fmt.Sprintf("O-%06d", o.number)}}, "status": "active", "intent": "order", "category": []object{coded("http://terminology.hl7.org/CodeSystem/medicationrequest-category", "discharge", "Discharge")},
		"medicationReference": to("Medication/bag"), "subject": patient, "encounter": to("Encounter/e"), "authoredOn": when(o.now.Add(-2 * time.Hour)), "requester": prescriber, "reasonCode": []object{{"text": o.card.reason}},
		"dosageInstruction": []object{{"sequence": 1, "text": text, "timing": object{"repeat": repeat}, "route": intravenous, "doseAndRate": []object{rate}}},
		"dispenseRequest":   object{"quantity": amount(fmt.Sprint(o.doses), "{dose}")}}
}

func (o complete) device() object {
	parameter := func(code, value, unit string) object {
		return object{"code": coded(weirs+"device-parameter", code, code), "valueQuantity": amount(value, unit)}
	}
	list := []object{parameter("rate-minimum", "0.1", "mL/h"), parameter("rate-maximum", "500", "mL/h"), parameter("rate-increment", "0.1", "mL/h")}
	if o.card.device == "elastomeric" {
		volume := fmt.Sprint(o.card.volume)
		list = []object{parameter("nominal-rate", number(float64(o.card.volume)*60/float64(o.card.minutes)), "mL/h"), parameter("nominal-volume", volume, "mL"), parameter("residual-volume", "1", "mL"),
			parameter("fill-minimum", number(float64(o.card.volume)*0.8), "mL"), parameter("fill-maximum", number(float64(o.card.volume)*1.25), "mL")}
	}
	return object{"resourceType": "DeviceRequest", "id": "device", "basedOn": []object{to("MedicationRequest/order")}, "status": "active", "intent": "order",
		"codeCodeableConcept": coded(weirs+"infusion-device", o.card.device, o.card.device), "parameter": list, "subject": patient}
}

// bundle writes resources as one collection.
func bundle(list []object) []byte {
	entries := make([]object, len(list))
	for i, r := range list {
		entries[i] = object{"fullUrl": base + r["resourceType"].(string) + "/" + r["id"].(string), "resource": r}
	}
	out, err := json.Marshal(object{"resourceType": "Bundle", "type": "collection", "entry": entries})
	if err != nil {
		panic(err)
	}
	return out
}
