package computation

import (
	"fmt"
	"slices"
	"strings"

	"weir.example/weir/conformance/arithmetic"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// measure brings what was given into the units the equations are in: drug
// amounts into one measure, creatinine into mass per volume, pounds by the
// factor the source used.
func (c *run) measure() error {
	if err := c.oneDrug(); err != nil {
		return err
	}
	c.creatinine()
	if err := c.pounds(); err != nil {
		return err
	}
	return c.oneStep()
}

// oneDrug settles what the drug is measured in. Mass wins when both mass and
// another are given and molar mass and valence lead from one to the other.
func (c *run) oneDrug() error {
	c.drug = quantity.Mass
	var given []string
	for _, n := range names {
		if k, ok := c.known[n.Name]; ok && n.OfDrug() {
			given = append(given, n.Name)
			if len(given) == 1 {
				c.drug = k.drug
			}
			if k.drug == quantity.Mass {
				c.drug = quantity.Mass
			}
		}
	}
	for _, g := range c.extra {
		if n, _ := lookup(g.Name); n.OfDrug() && g.Drug == quantity.Mass {
			c.drug = quantity.Mass
		}
	}
	for i, g := range c.extra {
		n, _ := lookup(g.Name)
		if !n.OfDrug() || g.Drug == c.drug {
			continue
		}
		factor, _, ok := c.toMass(g.Drug)
		if !ok || c.drug != quantity.Mass {
			return otherMeasure(g.Name, g, c.drug)
		}
		unit, _ := n.InUnit(c.drug)
		c.extra[i].Quantity = quantity.Point(unit.FromBase(g.Quantity.Unit.ToBase(g.Quantity.Middle()).Mul(factor)), unit)
		c.extra[i].Literal, c.extra[i].Drug = "", c.drug
	}
	for _, name := range given {
		k := c.known[name]
		if k.drug == c.drug {
			continue
		}
		factor, says, ok := c.toMass(k.drug)
		if !ok || c.drug != quantity.Mass {
			return otherMeasure(name, *k.stated, c.drug)
		}
		n, _ := lookup(name)
		unit, _ := n.InUnit(c.drug)
		k.ways = []order.Derivation{{Formula: name + " in mass = " + name + says, Citation: "molar mass of the salt and hydrate as weighed (E21)",
			Inputs: c.inputs([]string{name, "molarMass", "valence"})}}
		k.value, k.low, k.high, k.unit, k.drug = k.value.Mul(factor), k.low.Mul(factor), k.high.Mul(factor), unit, c.drug
		c.known[name] = k
	}
	return nil
}

func otherMeasure(name string, g Given, drug quantity.Dimension) error {
	return &ArgumentError{name + "=" + g.Quantity.String(), "is measured in " + g.Drug.String() + ", another value in " + drug.String(),
		"give molarMass (and valence for equivalents), or all in one measure"}
}

// toMass is the mass of one base unit of an amount or of equivalents.
func (c *run) toMass(from quantity.Dimension) (quantity.Number, string, bool) {
	molar, okM := c.known["molarMass"]
	valence, okV := c.known["valence"]
	switch {
	case from == quantity.Amount && okM:
		return molar.value, " × molarMass", true
	case from == quantity.Equivalent && okM && okV:
		return molar.value.Quo(valence.value), " ÷ valence × molarMass", true
	}
	return quantity.Number{}, "", false
}

// creatinine in µmol/L is divided by 88.4 (E19).
func (c *run) creatinine() {
	k, ok := c.known["serumCreatinine"]
	if !ok {
		return
	}
	n, _ := lookup("serumCreatinine")
	want, _ := n.InUnit(c.drug)
	if k.unit.Dimension() == want.Dimension() {
		return
	}
	given := k.stated.Quantity
	value, _ := arithmetic.CreatinineMgPerDL(given)
	scale := want.ToBase(value).Quo(k.value)
	k.ways = []order.Derivation{{Formula: "serumCreatinine in mg/dL = serumCreatinine in umol/L ÷ 88.4", Inputs: c.inputs([]string{"serumCreatinine"}),
		Citation: "molar mass 113.12 g/mol as published, 88.4 µmol/L in each mg/dL (E19)", Value: value.Decimal(), Unit: "mg/dL"}}
	k.value, k.low, k.high, k.unit = want.ToBase(value), k.low.Mul(scale), k.high.Mul(scale), want
	c.known["serumCreatinine"] = k
}

// pounds converts a weight in pounds by the rounded factor a source used.
func (c *run) pounds() error {
	factor, ok := c.known["poundsPerKilogram"]
	if !ok {
		return nil
	}
	perKilogram := factor.stated.Quantity.Low
	for _, name := range []string{"weight", "dosingWeight"} {
		k, ok := c.known[name]
		if !ok {
			continue
		}
		if !strings.Contains(k.unit.Code(), "lb_av") {
			return &ArgumentError{name, "is not in pounds", "poundsPerKilogram goes with a weight in [lb_av]"}
		}
		n, _ := lookup(name)
		kg, _ := n.InUnit(c.drug)
		exact := k.unit.FromBase(k.value)
		scale := kg.ToBase(exact.Quo(perKilogram)).Quo(k.value)
		k.ways = []order.Derivation{{Formula: name + " in kg = " + name + " in [lb_av] ÷ poundsPerKilogram", Inputs: c.inputs([]string{name, "poundsPerKilogram"}),
			Citation: fmt.Sprintf("the source's own factor %s; the exact pound is 0.45359237 kg (E09)", perKilogram.Decimal())}}
		k.value, k.low, k.high, k.unit = k.value.Mul(scale), k.low.Mul(scale), k.high.Mul(scale), kg
		c.known[name] = k
	}
	return nil
}

// oneStep: a single step that lasts to the end is simply the rate.
func (c *run) oneStep() error {
	if len(c.steps) != 1 || !c.steps[0].Duration.Absent() {
		return nil
	}
	rate := c.steps[0].Rate
	for _, name := range []string{"ratePerKg", "rate", "drugRatePerKg", "drugRate"} {
		n, _ := lookup(name)
		g, err := n.fit(Given{Name: name, Literal: rate.Low.Decimal()}, rate)
		if err != nil {
			continue
		}
		if _, twice := c.known[name]; twice && !arithmetic.Knows(name) {
			return &ArgumentError{"step=" + rate.String(), "is a second value of " + name, "give the one that is right"}
		}
		delete(c.words, "step")
		c.steps = nil
		c.take([]Given{g}) // beside a rate that was given the two are compared
		return nil
	}
	return nil
}

// inputs are the named values as a derivation shows them.
func (c *run) inputs(list []string) []order.Input {
	var out []order.Input
	for _, name := range list {
		if k, ok := c.known[name]; ok {
			out = append(out, order.Input{Name: name, Value: k.unit.FromBase(k.value).Decimal(), Unit: k.unit.Code(), Expression: c.where(name)})
		} else if w, ok := c.words[name]; ok {
			out = append(out, order.Input{Name: name, Value: w.Text(), Expression: c.where(name)})
		}
	}
	return out
}

func (c *run) where(name string) string {
	k, ok := c.known[name]
	if ok && k.stated == nil {
		return ""
	}
	return name
}

// Text is what was given, as words.
func (g Given) Text() string {
	switch {
	case g.DateOnly:
		return g.Time.Format("2006-01-02")
	case !g.Time.IsZero():
		return g.Time.Format("2006-01-02T15:04:05Z07:00")
	}
	return g.Word
}

// stepsText is the steps as a person says them, in order.
func stepsText(steps []Step) string {
	var out []string
	for _, s := range steps {
		text := notation.Code(s.Rate.Low.Decimal(), s.Rate.Unit.Code())
		if !s.Duration.Absent() {
			text += " for " + notation.Code(s.Duration.Low.Decimal(), s.Duration.Unit.Code())
		}
		out = append(out, text)
	}
	return strings.Join(out, ", then ")
}

// flow is a step's rate in volume per time.
func (c *run) flow(s Step) (quantity.Number, bool) {
	base := s.Rate.Unit.ToBase(s.Rate.Low)
	dim := s.Rate.Unit.Dimension()
	need := func(name string) quantity.Number { return c.known[name].value }
	perTime := quantity.None.Per(quantity.Time)
	if weight, ok := c.known["dosingWeight"]; ok && slices.Contains([]quantity.Dimension{
		quantity.Volume.Per(quantity.BodyMass).Times(perTime), c.drug.Per(quantity.BodyMass).Times(perTime)}, dim) {
		base, dim = base.Mul(weight.value), dim.Times(quantity.BodyMass)
	}
	if _, ok := c.known["concentration"]; ok && dim == c.drug.Times(perTime) {
		base, dim = base.Quo(need("concentration")), quantity.Volume.Times(perTime)
	}
	return base, dim == quantity.Volume.Times(perTime)
}
