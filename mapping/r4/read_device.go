package r4

import (
	"slices"
	"strings"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// readDevice finds what the dose runs through: a DeviceRequest based on the
// order, one that the order points at, or words of the instructions.
func (o *orderScope) readDevice() {
	for _, s := range o.deviceRequests() {
		o.readDeviceRequest(s)
	}
	if o.out.Device.Kind == "" {
		if ref := extensionValue(o.res.node, fromR5+"MedicationRequest.device"); ref.Exists() {
			o.readDeviceReference(ref)
		}
	}
	for _, l := range o.out.Lines {
		if o.out.Device.Kind != "" || !slices.Contains([]string{"dosage-text", "method-text", "patient-instruction"}, l.Kind) {
			continue
		}
		if kind := deviceKind(l.Words); kind != "" {
			o.out.Device.Kind, o.out.Device.FromText, o.out.Device.Place = kind, true, l.Place
		}
	}
}

// deviceRequests are the usable device requests for this order: based on it,
// named by it, or, where the patient has only one order, based on nothing.
func (o *orderScope) deviceRequests() []*resource {
	var named []*resource
	for _, ref := range o.res.node.Get("supportingInformation").Each() {
		if t := o.resolve(ref, o.res); t.resource != nil {
			named = append(named, t.resource)
		}
	}
	var list []*resource
	for _, s := range o.mine {
		if s.kind != "DeviceRequest" || !o.usable(s) || isKitItem(s) || !inForce(s) {
			continue
		}
		basis := s.node.Get("basedOn").Each()
		mine := slices.Contains(named, s) || len(basis) == 0 && len(o.person.orders) == 1
		for _, ref := range basis {
			mine = mine || o.nameOf(ref, s) == o.res.name()
		}
		if mine {
			s.used = true
			list = append(list, s)
		}
	}
	return list
}

// inForce reports whether a request still asks for something.
func inForce(s *resource) bool {
	switch st := s.node.Get("status").Text(); st {
	case "revoked", "cancelled", "stopped", "rejected", "ended":
		s.why = "its status is " + st
		return false
	}
	return true
}

func isKitItem(s *resource) bool {
	return kitItem(concept(s.node.Get("codeCodeableConcept"))) != ""
}

// readDeviceRequest reads kind and parameters. A second request of another
// kind for the same order is a disagreement.
func (o *orderScope) readDeviceRequest(s *resource) {
	d := &o.out.Device
	code, suffix := s.node.Choice("code")
	c := concept(code)
	from := s.node
	if suffix == "Reference" {
		if t := o.touch(code, s); t != nil {
			c, from = concept(t.node.Get("type")), t.node
			o.readProperties(t.node)
		}
	}
	kind := c.Code(ourCodes + "infusion-device")
	if kind == "" {
		kind = deviceKind(words(c))
	}
	o.conceptLines(code, "device-text")
	switch {
	case d.Kind == "":
		d.Kind, d.Concept, d.Place = kind, c, s.node.Place()
	case kind != "" && kind != d.Kind:
		o.fault("record-sources-disagree", s.node, kind, d.Kind, "two device requests for one order ask for different kinds of device", d.Place.Expression)
	case kind == d.Kind:
		d.Requests++
	}
	if d.Requests == 0 {
		d.Requests = 1
	}
	if from.Exists() && d.Place.Expression == "" {
		d.Place = s.node.Place()
	}
	for _, p := range s.node.Get("parameter").Each() {
		o.parameter(concept(p.Get("code")), p, p.Get("valueQuantity"))
	}
	for _, note := range s.node.Get("note").Each() {
		o.line(note.Get("text"), "device-text")
	}
}

func (o *orderScope) readDeviceReference(ref element.Node) {
	t := o.follow(ref)
	if t == nil || t.kind != "Device" {
		return
	}
	o.mustBelong(t, ref)
	d := &o.out.Device
	d.Concept, d.Place = concept(t.node.Get("type")), t.node.Place()
	if d.Kind = d.Concept.Code(ourCodes + "infusion-device"); d.Kind == "" {
		d.Kind = deviceKind(words(d.Concept))
	}
	o.readProperties(t.node)
}

func (o *orderScope) readProperties(n element.Node) {
	for _, p := range n.Get("property").Each() {
		for _, q := range p.Get("valueQuantity").Each() {
			o.parameter(concept(p.Get("type")), p, q)
		}
	}
}

// parameter states one number of the device under its name.
func (o *orderScope) parameter(c order.Concept, at, value element.Node) {
	code := c.Code(ourCodes + "device-parameter")
	spec, known := deviceParameters[code]
	if !known {
		o.notUsed(at, "no rule reads this property of the device (%s)", c.Name())
		return
	}
	q, ok := o.quantity(value)
	if !ok {
		return
	}
	for _, dim := range spec.dims {
		if s, ok := q.stated(spec.name, dim, order.Device, c.Name()); ok {
			o.out.Device.Parameters = append(o.out.Device.Parameters, s)
			return
		}
	}
	o.fault("record-unit-unknown", value, quoted(q.unit.Code()), "a unit of "+spec.dims[0].String(), "a number of the device is in a unit that does not fit its name")
}

type parameterSpec struct {
	name string
	dims []quantity.Dimension
}

var volumePerTime = quantity.Volume.Per(quantity.Time)

// deviceParameters are the codes of device-parameter with the names and the
// dimensions they may have.
var deviceParameters = map[string]parameterSpec{
	"nominal-rate":    {"nominalRate", []quantity.Dimension{volumePerTime}},
	"nominal-volume":  {"nominalVolume", []quantity.Dimension{quantity.Volume}},
	"minimum-fill":    {"minimumFill", []quantity.Dimension{quantity.Volume}},
	"maximum-fill":    {"maximumFill", []quantity.Dimension{quantity.Volume}},
	"residual-volume": {"residual", []quantity.Dimension{quantity.Volume}},
	"rate-tolerance":  {"rateTolerance", []quantity.Dimension{quantity.None}},
	"rate-minimum":    {"rateMinimum", []quantity.Dimension{volumePerTime}},
	"rate-maximum":    {"rateMaximum", []quantity.Dimension{volumePerTime}},
	"rate-increment":  {"rateIncrement", []quantity.Dimension{volumePerTime}},
	"drop-factor":     {"dropFactor", []quantity.Dimension{quantity.Drop.Per(quantity.Volume)}},
	"concentration":   {"concentration", perVolume()},
	"set-rate":        {"setRate", append([]quantity.Dimension{volumePerTime}, perTime()...)},
	"basal-rate":      {"basalRate", append([]quantity.Dimension{volumePerTime}, perTime()...)},
	"demand-dose":     {"demandDose", append([]quantity.Dimension{quantity.Volume}, drugDimensions...)},
	"lockout":         {"lockout", []quantity.Dimension{quantity.Time}},
	"dose-limit":      {"doseLimit", append([]quantity.Dimension{quantity.Volume}, drugDimensions...)},
	"limit-window":    {"limitWindow", []quantity.Dimension{quantity.Time}},
	"quantity":        {"quantity", []quantity.Dimension{quantity.None}},
}

func perVolume() []quantity.Dimension {
	var out []quantity.Dimension
	for _, d := range drugDimensions {
		out = append(out, d.Per(quantity.Volume))
	}
	return out
}

func perTime() []quantity.Dimension {
	var out []quantity.Dimension
	for _, d := range drugDimensions {
		out = append(out, d.Per(quantity.Time))
	}
	return out
}

// deviceKind reads the kind of infusion device from words. Anything else
// stays unknown.
func deviceKind(text string) string {
	text = strings.ToLower(text)
	for _, k := range deviceWords {
		if strings.Contains(text, k.word) {
			return k.kind
		}
	}
	return ""
}

var deviceWords = []struct{ word, kind string }{
	{"elastomeric", "elastomeric"}, {"elastomer", "elastomeric"}, {"syringe pump", "syringe-pump"}, {"syringe driver", "syringe-pump"},
	{"electronic pump", "electronic-pump"}, {"ambulatory pump", "electronic-pump"}, {"infusion pump", "electronic-pump"}, {"volumetric pump", "electronic-pump"},
	{"gravity", "gravity"},
}
