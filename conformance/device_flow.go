package conformance

import (
	"slices"
	"time"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/plan"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/quantity"
)

// madeAhead is how long before its arrival a delivery is reckoned to be made
// where nothing is made yet (common practice, no source).
const madeAhead = 24 * time.Hour

// runRules are what the plan needs to know of the device and of how units are
// made. A category of sterility is the pharmacy's own and is not guessed.
func (s *state) runRules() plan.RunRules {
	storage := "room"
	if s.refrigerated() {
		storage = "refrigerated"
	}
	own := s.ref.Policy.Sterility
	r := plan.RunRules{Make: &plan.Making{Sterility: plan.Sterility{Category: own.Category, Method: own.Method, Components: own.Components, Tested: own.Tested},
		Drug: s.drug, DrugKnown: s.drugKnown, Site: s.ref.Policy, Storage: storage, Ahead: madeAhead},
		Pump: s.pump(), RateError: s.ref.Policy.Device.RateError.Number}
	if n, ok := s.order.Device.Parameter("nominalRate"); ok && s.order.Device.Kind == "elastomeric" && n.Quantity.Unit.Dimension() == quantity.Volume.Per(quantity.Time) {
		r.Nominal = n.Quantity
	}
	return r
}

// pump is how the pump can be set, when one constant rate is programmed: by
// the order's own device, else the one pump of that class in the catalogue,
// else the table of devices.
func (s *state) pump() *plan.Pump {
	class := s.order.Device.Kind
	if class != "electronic-pump" && class != "syringe-pump" || len(s.order.Steps) > 0 || s.order.Controlled != nil {
		return nil
	}
	for _, r := range s.order.Readings {
		if r.Field == "taper" || r.Field == "step" && r.Role == "rate" {
			return nil
		}
	}
	var x plan.Pump
	if rows := compendium.DevicesOf(class); len(rows) > 0 {
		if f, ok := rows[0].Values.One("step", ""); ok {
			x.Step, _ = f.Quantity()
			x.Source = "table of devices, " + rows[0].Name + " (" + f.Source + ")"
		}
		if f, ok := rows[0].Values.One("accuracy", ""); ok {
			if q, ok := f.Quantity(); ok { // the wider of a range
				x.Accuracy = q.Unit.ToBase(q.High)
			}
		}
	}
	var own []policy.CatalogueDevice
	for _, c := range s.ref.Policy.Catalogue {
		if c.Class == class {
			own = append(own, c)
		}
	}
	if len(own) == 1 {
		if q, err := own[0].RateStep.Quantity(); err == nil {
			x.Step, x.Source = q, own[0].Source
		}
		if own[0].Tolerance != nil {
			x.Accuracy = own[0].Tolerance.Number
		}
	}
	if p, ok := s.order.Device.Parameter("rateIncrement"); ok {
		x.Step, x.Source = p.Quantity, "the device as ordered"
	}
	return &x
}

// catalogueResidual takes what stays in a fixed-flow device from the site's
// catalogue, where the order does not state it and exactly one device of the
// catalogue takes the fill and has the nominal rate named.
func (s *state) catalogueResidual(fill order.Quantity) {
	rate, ok := s.numbers["nominalRate"]
	if s.order.Device.Kind != "elastomeric" || !ok || fill.Unit.Dimension() != quantity.Volume {
		return
	}
	volume := fill.Unit.ToBase(fill.Value)
	var found []policy.CatalogueDevice
	for _, c := range s.ref.Policy.Catalogue {
		least, errLeast := c.FillLeast.Quantity()
		most, errMost := c.FillMost.Quantity()
		if c.Class != "elastomeric" || errLeast != nil || errMost != nil || volume.Less(least.Unit.ToBase(least.Low)) || most.Unit.ToBase(most.High).Less(volume) {
			continue
		}
		if slices.ContainsFunc(c.NominalRates, func(a policy.Amount) bool {
			q, err := a.Quantity()
			return err == nil && q.Unit.ToBase(q.Low).Equal(rate.Unit.ToBase(rate.Value))
		}) {
			found = append(found, c)
		}
	}
	if len(found) != 1 {
		return
	}
	q, err := found[0].Residual.Quantity()
	if err != nil {
		return
	}
	s.numbers["residual"] = order.Quantity{Value: q.Low, Low: q.Low, High: q.High, Unit: q.Unit, Place: s.order.Device.Place, Derivation: []order.Derivation{{
		Formula: "residual = that of the one device of the site's catalogue with this fill and nominal rate", Citation: found[0].Source, Value: q.Low.Decimal(), Unit: q.Unit.Code(),
		Text: "residual of " + found[0].Name + " = " + notation.Code(q.Low.Decimal(), q.Unit.Code())}}}
}

// emitted says how much of the dose may leave a fixed-flow device whose
// residual volume nobody states: the share found for such devices, which
// gates nothing.
func (s *state) emitted() string {
	d, ok := s.numbers["dose"]
	if _, known := s.numbers["delivered"]; known || !ok || d.Disputed || s.order.Device.Kind != "elastomeric" {
		return ""
	}
	rows := compendium.DevicesOf("elastomeric")
	if len(rows) == 0 {
		return ""
	}
	f, ok := rows[0].Values.One("delivered", "")
	q, number := f.Quantity()
	if !ok || !number {
		return ""
	}
	part := func(n quantity.Number) string {
		return notation.Code(q.Unit.ToBase(n).Mul(d.Value).Significant(3), d.Unit.Code())
	}
	return "the volume that stays in the device is not stated: such devices deliver " + notation.Code(q.Low.Decimal(), "%") + " to " + notation.Code(q.High.Decimal(), "%") +
		", so about " + part(q.Low) + " to " + part(q.High) + " of the dose (" + f.Source + ")"
}
