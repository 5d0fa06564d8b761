package r4

import (
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

var deviceNames = map[string]string{"elastomeric": "Elastomeric reservoir", "electronic-pump": "Electronic ambulatory pump",
	"syringe-pump": "Syringe pump", "gravity": "Gravity set"}

// writeDevices proposes the infusion device that was ordered, with the rate
// that fits, and closed-system connectors where they are needed
// (https://hl7.org/fhir/R4/devicerequest.html). Which kind of device is the
// hospital's or the pharmacist's choice: none is proposed when none is known.
func (b *bundler) writeDevices() []entry {
	var out []entry
	kind := b.w.Refs.Source.Device.Kind
	if name, ok := deviceNames[kind]; ok {
		e := b.make("DeviceRequest", "infusion-device")
		parameters, says := b.deviceParameters(kind)
		e.fields = b.deviceFields(e, codeable(ourCodes+"infusion-device", kind, name, name+says), parameters)
		out = append(out, e)
	}
	why := map[string]string{"required": "required", "by-policy": "by the site's policy"}[b.w.Hazard.ClosedTransfer]
	if why != "" {
		e := b.make("DeviceRequest", "closed-transfer")
		code := codeable(ourCodes+"kit-item", "closed-transfer", "closed-system connector", "Closed-system connectors for the connection and the disconnection ("+why+")")
		e.fields = b.deviceFields(e, code, nil)
		out = append(out, e)
	}
	return out
}

func (b *bundler) deviceFields(e entry, code element.Value, parameters []element.Value) []element.Field {
	return []element.Field{
		element.F("identifier", ownIdentifier(e)),
		element.F("basedOn", element.List(b.order())),
		element.F("status", element.Str("draft")),
		element.F("intent", element.Str("proposal")),
		element.F("codeCodeableConcept", code),
		element.F("parameter", element.List(parameters...)),
		element.F("subject", b.patient()),
		element.F("encounter", b.encounter()),
		element.F("authoredOn", element.Str(b.now())),
	}
}

// deviceParameters are the numbers the device is chosen or set by, and the
// rate in words. A number in dispute is left out.
func (b *bundler) deviceParameters(kind string) (list []element.Value, says string) {
	add := func(code, display string, q quantity.Quantity) {
		if q.IsPoint() && !q.Unit.IsZero() {
			list = append(list, element.Obj(
				element.F("code", codeable(ourCodes+"device-parameter", code, display, "")),
				element.F("valueQuantity", amount(q.Low, q.Unit))))
		}
	}
	stated := func(s *order.Stated, code, display string) {
		if s != nil && !b.disputed(s.Name) {
			add(code, display, s.Quantity)
		}
	}
	rate, ok := b.deviceRate()
	switch {
	case kind == "elastomeric":
		if ok {
			add("nominal-rate", "Nominal rate", rate)
			says = ", nominal " + notation.About(rate.Low, rate.Unit, 5)
		}
	case kind == "gravity":
		if s, known := b.w.Refs.Source.Device.Parameter("dropFactor"); known {
			stated(&s, "drop-factor", "Drop factor")
		}
	case b.w.Refs.Source.Controlled != nil:
		p := b.w.Refs.Source.Controlled
		stated(p.Basal, "basal-rate", "Basal rate")
		stated(p.Demand, "demand-dose", "Demand dose")
		stated(p.Lockout, "lockout", "Lockout")
		stated(p.Limit, "dose-limit", "Dose limit")
		stated(p.Window, "limit-window", "Time of the dose limit")
	case ok && len(b.w.Refs.Source.Steps) == 0:
		add("set-rate", "Set rate", rate)
		says = ", set to " + notation.About(rate.Low, rate.Unit, 5)
	}
	if q, known := b.settled("concentration"); known && (kind == "electronic-pump" || kind == "syringe-pump") {
		add("concentration", "Concentration", quantity.Point(q.Value, q.Unit))
	}
	return list, says
}

// deviceRate is the rate of the device as ordered while nothing is said
// against it: devices come in fixed rates, and one that passes stays. Else
// it is the rate that volume and infusion time need.
func (b *bundler) deviceRate() (quantity.Quantity, bool) {
	doubted := b.found("device-family", "device-rate", "device-missing", "device-sheet-differs", "record-text-contradicts")
	if q, ok := b.settled("nominalRate"); ok && q.Stated && !doubted {
		return quantity.Point(q.Value, q.Unit), true
	}
	if q, ok := b.fittingRate(); ok {
		return q, true
	}
	q, ok := b.settled("rate")
	return quantity.Point(q.Value, q.Unit), ok
}
