package r4

import (
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/worksheet"
)

// writeSupplies writes one SupplyRequest for each line of the kit of every
// delivery that is written (https://hl7.org/fhir/R4/supplyrequest.html).
func (b *bundler) writeSupplies() []entry {
	var out []entry
	for _, k := range b.w.Kit {
		if b.blocked && k.Delivery > 1 {
			continue
		}
		e := b.make("SupplyRequest", "delivery")
		arrival := ""
		if k.Delivery >= 1 && k.Delivery <= len(b.w.Deliveries) {
			arrival = b.w.Deliveries[k.Delivery-1].Arrival
		}
		e.fields = []element.Field{
			element.F("extension", element.List(
				foreignExtension(fromR5+"SupplyRequest.deliverFor", "Reference", reference(b.w.Refs.Patient)),
				foreignExtension(fromR5+"SupplyRequest.basedOn", "Reference", reference(b.w.Refs.Order)),
				extensionOf("formula", "String", element.Str(k.Formula)))),
			element.F("identifier", ownIdentifier(e)),
			element.F("status", element.Str("draft")),
			element.F("itemCodeableConcept", codeable(ourCodes+"kit-item", k.Item, k.Name, k.Name)),
			element.F("quantity", counted(k.Quantity, "{"+k.Unit+"}")),
			element.F("occurrenceDateTime", element.Str(arrival)),
			element.F("authoredOn", element.Str(b.now())),
			element.F("supplier", suppliers(b.w)),
			element.F("deliverTo", reference(b.w.Refs.Patient)),
		}
		out = append(out, e)
	}
	return out
}

func suppliers(w worksheet.Worksheet) element.Value {
	return element.List(reference(w.Refs.Pharmacy))
}

var deviceNames = map[string]string{"elastomeric": "Elastomeric reservoir", "electronic-pump": "Electronic ambulatory pump",
	"syringe-pump": "Syringe pump", "gravity": "Gravity set"}

// writeDevices proposes the infusion device with the nominal rate that fits,
// and closed-system connectors where they are needed
// (https://hl7.org/fhir/R4/devicerequest.html).
func (b *bundler) writeDevices() []entry {
	var out []entry
	kind := b.w.Refs.Source.Device.Kind
	if name, known := deviceNames[kind]; known {
		e := b.make("DeviceRequest", "infusion-device")
		text, parameters := name, element.Value{}
		if rate, ok := b.fittingRate(); ok {
			parameters = element.List(element.Obj(element.F("code", codeable(ourCodes+"device-parameter", "nominal-rate", "Nominal rate", "")),
				element.F("valueQuantity", decimal(rate, "mL/h"))))
			if kind == "elastomeric" {
				text += ", nominal " + notation.Code(rate, "mL/h")
			} else {
				text += ", set to " + notation.Code(rate, "mL/h")
				parameters = element.List(element.Obj(element.F("code", codeable(ourCodes+"device-parameter", "set-rate", "Set rate", "")),
					element.F("valueQuantity", decimal(rate, "mL/h"))))
			}
		}
		e.fields = b.deviceFields(e, codeable(ourCodes+"infusion-device", kind, name, text), parameters)
		out = append(out, e)
	}
	if t := b.w.Hazard.ClosedTransfer; t == "required" || t == "by-policy" {
		e := b.make("DeviceRequest", "closed-transfer")
		e.fields = b.deviceFields(e, codeable(ourCodes+"kit-item", "closed-transfer", "closed-system connector", "Closed-system transfer device ("+t+")"), element.Value{})
		out = append(out, e)
	}
	return out
}

func (b *bundler) deviceFields(e entry, code, parameters element.Value) []element.Field {
	return []element.Field{
		element.F("identifier", ownIdentifier(e)),
		element.F("basedOn", element.List(reference(b.w.Refs.Order))),
		element.F("status", element.Str("draft")),
		element.F("intent", element.Str("proposal")),
		element.F("codeCodeableConcept", code),
		element.F("parameter", parameters),
		element.F("subject", reference(b.w.Refs.Patient)),
		element.F("encounter", reference(b.w.Refs.Encounter)),
		element.F("authoredOn", element.Str(b.now())),
	}
}

// fittingRate is volume over infusion time, in mL per hour.
func (b *bundler) fittingRate() (string, bool) {
	v, okV := b.settled("volume")
	t, okT := b.settled("duration")
	if !okV || !okT || t.Value.Sign() <= 0 {
		return "", false
	}
	return short(rateUnit.FromBase(v.Unit.ToBase(v.Value).Quo(t.Unit.ToBase(t.Value)))), true
}

// visits are the tasks that are home visits, each a ServiceRequest too.
var visits = map[string]bool{"first-visit": true, "weekly-visit": true, "disconnect": true}

// writeServices proposes the nursing visits
// (https://hl7.org/fhir/R4/servicerequest.html). Laboratory orders are the
// hospital's and are not repeated.
func (b *bundler) writeServices() []entry {
	var out []entry
	for _, t := range b.w.Tasks {
		if !visits[t.Code] {
			continue
		}
		e := b.make("ServiceRequest", t.Code)
		e.fields = []element.Field{
			element.F("identifier", ownIdentifier(e)),
			element.F("basedOn", element.List(reference(b.w.Refs.Order))),
			element.F("status", element.Str("draft")),
			element.F("intent", element.Str("proposal")),
			element.F("category", element.List(element.Obj(element.F("text", element.Str("Home nursing"))))),
			element.F("priority", element.Str(t.Priority)),
			element.F("code", codeable(ourCodes+"task", t.Code, t.Title, t.Title)),
			element.F("subject", reference(b.w.Refs.Patient)),
			element.F("encounter", reference(b.w.Refs.Encounter)),
			element.F("occurrenceDateTime", element.Str(t.Due)),
			element.F("authoredOn", element.Str(b.now())),
		}
		out = append(out, e)
	}
	return out
}
