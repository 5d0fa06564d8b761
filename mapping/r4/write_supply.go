package r4

import (
	"weir.example/weir/mapping/element"
)

// writeSupplies writes one SupplyRequest for each line of the kit of every
// delivery that is written (https://hl7.org/fhir/R4/supplyrequest.html). R4
// has no element for the patient it is for and the order it follows; both
// stand in HL7's own R5 extensions. It is a draft: a person releases.
func (b *bundler) writeSupplies() []entry {
	var out []entry
	for _, k := range b.w.Kit {
		if b.blocked && k.Delivery > 1 || k.Quantity == 0 { // enough at home
			continue
		}
		e := b.make("SupplyRequest", "delivery")
		arrival := ""
		if k.Delivery >= 1 && k.Delivery <= len(b.w.Deliveries) {
			arrival = b.w.Deliveries[k.Delivery-1].Arrival
		}
		e.fields = []element.Field{
			element.F("extension", element.List(
				foreignExtension(fromR5+"SupplyRequest.deliverFor", "Reference", b.patient()),
				foreignExtension(fromR5+"SupplyRequest.basedOn", "Reference", b.order()),
				extensionOf("formula", "String", element.Str(k.Formula)))),
			element.F("identifier", ownIdentifier(e)),
			element.F("status", element.Str("draft")),
			element.F("itemCodeableConcept", codeable(ourCodes+"kit-item", k.Item, k.Name, k.Name)),
			element.F("quantity", counted(k.Quantity, k.Unit)),
			element.F("occurrenceDateTime", element.Str(arrival)),
			element.F("authoredOn", element.Str(b.now())),
			element.F("supplier", element.List(reference(b.w.Refs.Pharmacy))),
			element.F("deliverTo", b.patient()),
		}
		out = append(out, e)
	}
	return out
}
