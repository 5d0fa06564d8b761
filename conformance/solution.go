package conformance

import (
	"fmt"
	"strings"

	"weir.example/weir/conformance/computation"
	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

var (
	milliosmolar = quantity.MustUnit("mosm/L")
	millilitre   = quantity.MustUnit("mL")
)

// container is the volume of the finished container, 0 when it is not known
// or in dispute.
func (s *state) container() quantity.Number {
	if q, ok := s.numbers["volume"]; ok && !q.Disputed {
		return q.Unit.ToBase(q.Value)
	}
	if a := s.order.Drug.Amount; a != nil && a.Quantity.Unit.Dimension() == quantity.Volume {
		return a.Quantity.Unit.ToBase(a.Quantity.Middle())
	}
	return quantity.Number{}
}

// perVolume is what one ingredient brings into a volume of the finished
// container: an amount, with the volume it stands in. A strength for each
// container (a count) stands in the whole.
func (s *state) perVolume(i order.Ingredient) (amount quantity.Quantity, volume quantity.Number, ok bool) {
	if i.Strength == nil || i.Strength.Numerator.Absent() || i.Strength.Denominator.Absent() {
		return amount, volume, false
	}
	under := i.Strength.Denominator
	switch under.Unit.Dimension() {
	case quantity.Volume:
		volume = under.Unit.ToBase(under.Middle())
	case quantity.None:
		volume = s.container().Mul(under.Unit.ToBase(under.Middle()))
	}
	return i.Strength.Numerator, volume, volume.Sign() > 0
}

// osmolarity is the sum of what every ingredient brings (E22). One that is
// not in the table of solutes leaves it unknown: a part is no total.
func (s *state) osmolarity() (order.Quantity, bool) {
	q, whole := s.osmoles()
	return q, whole && q.Value.Sign() > 0
}

// osmoles is the osmolarity by the ingredients that are in the table of
// solutes, and whether these are all: else it is no more than a least.
func (s *state) osmoles() (q order.Quantity, whole bool) {
	total := quantity.Number{}
	var parts []string
	var inputs []order.Input
	whole = true
	for _, i := range s.order.Drug.Ingredients {
		solute, known := compendium.SoluteOf(i.Concept.Code(compendium.RxNorm), i.Concept.Name())
		amount, volume, ok := s.perVolume(i)
		if !known || !ok {
			whole = false
			continue
		}
		osmoles, ok := solute.Osmoles(amount)
		if !ok {
			whole = false
			continue
		}
		here := osmoles.Quo(volume)
		total = total.Add(here)
		parts = append(parts, fmt.Sprintf("%s %s", solute.Name, notation.Code(milliosmolar.FromBase(here).Significant(4), "mosm/L")))
		inputs = append(inputs, order.Input{Name: solute.Name, Value: amount.Middle().Decimal(), Unit: amount.Unit.Code(), Expression: i.Place.Expression})
	}
	value := milliosmolar.FromBase(total)
	return order.Quantity{Value: value, Low: value, High: value, Unit: milliosmolar, Place: s.order.Drug.Place, Derivation: []order.Derivation{{
		Formula: "osmolarity = Σ amount ÷ molar mass × particles ÷ volume", Inputs: inputs, Value: value.Decimal(), Unit: "mosm/L",
		Citation: "ideal particles, molar masses of the table of solutes (E22); a label can be lower",
		Text:     "osmolarity = " + strings.Join(parts, " + ") + " = " + notation.Code(value.Significant(4), "mosm/L")}}}, whole
}

// dextrose is how much of it the finished container holds in a volume.
func (s *state) dextrose() (order.Quantity, bool) {
	for _, i := range s.order.Drug.Ingredients {
		solute, known := compendium.SoluteOf(i.Concept.Code(compendium.RxNorm), i.Concept.Name())
		amount, volume, ok := s.perVolume(i)
		if known && ok && solute.Name == "dextrose" && amount.Unit.Dimension() == quantity.Mass {
			value := gramPerMillilitre.FromBase(amount.Unit.ToBase(amount.Middle()).Quo(volume))
			return order.Quantity{Value: value, Low: value, High: value, Unit: gramPerMillilitre, Place: i.Place}, true
		}
	}
	return order.Quantity{}, false
}

// glucose is the glucose infusion rate (E24): of a cycle with tapers at the
// plateau that empties the container, else at the rate ordered.
func (s *state) glucose() (order.Quantity, bool) {
	weight := s.body.Weight
	for _, i := range s.order.Drug.Ingredients {
		solute, known := compendium.SoluteOf(i.Concept.Code(compendium.RxNorm), i.Concept.Name())
		amount, volume, ok := s.perVolume(i)
		if !known || solute.Name != "dextrose" || !ok || amount.Unit.Dimension() != quantity.Mass || weight.Quantity.Absent() {
			continue
		}
		gram, litre := amount.Unit.ToBase(amount.Middle()), volume
		given := []computation.Given{
			{Name: "dextroseConcentration", Quantity: quantity.Point(gramPerMillilitre.FromBase(gram.Quo(litre)), gramPerMillilitre)},
			{Name: "weight", Quantity: weight.Quantity, Literal: weight.Literal},
		}
		given = append(given, s.pace()...)
		a, err := computation.Compute(computation.Request{Given: given})
		if q, ok := a.Quantities["glucoseInfusionRate"]; err == nil && ok {
			q.Place = i.Place
			return q, true
		}
	}
	return order.Quantity{}, false
}

var gramPerMillilitre = quantity.MustUnit("g/mL")

// pace is the cycle with its tapers where the words give them, else the rate.
func (s *state) pace() []computation.Given {
	var up, down quantity.Quantity
	for _, r := range s.order.Readings {
		if r.Field != "taper" {
			continue
		}
		q, err := quantity.Parse(r.Value, r.Unit, quantity.Time)
		switch {
		case err != nil:
		case r.Role == "up":
			up = q
		case r.Role == "down":
			down = q
		}
	}
	time, okT := s.numbers["duration"]
	volume := s.container()
	if !up.Absent() && !down.Absent() && okT && !time.Disputed && volume.Sign() > 0 {
		return []computation.Given{{Name: "cycle", Quantity: quantity.Point(time.Value, time.Unit)}, {Name: "rampUp", Quantity: up}, {Name: "rampDown", Quantity: down},
			{Name: "volume", Quantity: quantity.Point(millilitre.FromBase(volume), millilitre)}}
	}
	if q, ok := s.numbers["rate"]; ok && !q.Disputed && up.Absent() && down.Absent() {
		return []computation.Given{{Name: "rate", Quantity: quantity.Range(q.Low, q.High, q.Unit)}}
	}
	return nil
}
